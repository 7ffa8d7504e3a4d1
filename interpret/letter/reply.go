package letter

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"io"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	"net/mail"
	"net/textproto"
	"strings"
	"time"
	"unicode"
)

// Reply writes the letter as a draft of a mail (RFC 5322) with the PDF with
// it, for the office's own mail program to open and send: X-Unsent tells the
// program that it is a draft. to is the address it goes to; where it is "" or
// no address, the line is left for a person to fill in. Nothing that a report
// or a setting says can add a line to the head. The same letter gives the same
// bytes.
func (l *Letter) Reply(w io.Writer, to string) error {
	v := newView(l)
	var file bytes.Buffer
	if err := l.PDF(&file); err != nil {
		return err
	}
	var head bytes.Buffer
	field := func(name, value string) {
		if value != "" {
			fmt.Fprintf(&head, "%s: %s\r\n", name, value)
		}
	}
	field("X-Unsent", "1")
	if on, err := time.Parse(time.DateOnly, l.Advice.On); err == nil {
		field("Date", on.Format(time.RFC1123Z))
	}
	field("From", address(l.Office.Name, l.Office.Email))
	name := ""
	if c := l.Record.Client; c != nil {
		name = c.Name
	}
	field("To", address(name, to))
	subject := v.say("mail_subject")
	if label := oneLine(l.Record.Sample.ClientLabel); label != "" {
		subject = v.say("mail_subject_of", "label", label)
	}
	field("Subject", encoded(subject))
	field("MIME-Version", "1.0")
	m := multipart.NewWriter(w)
	if err := m.SetBoundary("windrow-" + strings.Map(boundary, l.Advice.Record)); err != nil {
		if err := m.SetBoundary("windrow-letter"); err != nil {
			return err
		}
	}
	field("Content-Type", "multipart/mixed; boundary=\""+m.Boundary()+"\"")
	field("Content-Language", v.Lang())
	head.WriteString("\r\n")
	if _, err := w.Write(head.Bytes()); err != nil {
		return err
	}
	part, err := m.CreatePart(textproto.MIMEHeader{"Content-Type": {"text/plain; charset=utf-8"}, "Content-Transfer-Encoding": {"quoted-printable"}})
	if err != nil {
		return err
	}
	q := quotedprintable.NewWriter(part)
	if _, err := io.WriteString(q, v.mailText()); err != nil {
		return err
	}
	if err := q.Close(); err != nil {
		return err
	}
	fileName := v.say("mail_file") + ".pdf"
	part, err = m.CreatePart(textproto.MIMEHeader{"Content-Type": {"application/pdf; name=\"" + fileName + "\""}, "Content-Transfer-Encoding": {"base64"},
		"Content-Disposition": {"attachment; filename=\"" + fileName + "\""}})
	if err != nil {
		return err
	}
	if err := base64Lines(part, file.Bytes()); err != nil {
		return err
	}
	return m.Close()
}

// mailText is what the mail says beside the letter: the bottom line, what is
// asked, and who writes.
func (v *view) mailText() string {
	var b strings.Builder
	para := func(s string) {
		if s = strings.Map(notMark, s); s != "" {
			b.WriteString(s + "\r\n\r\n")
		}
	}
	para(oneLine(v.Dear))
	para(strings.Join(v.Bottom, " "))
	if len(v.Questions) > 0 {
		para(v.Need + ":")
		for _, q := range v.Questions {
			para("- " + oneLine(q))
		}
	}
	para(v.mailOf() + " " + v.say("mail_answer"))
	para(strings.Join(v.Small[:2], " "))
	for _, s := range append(append([]string{}, v.Sign...), v.Office.Name, v.Office.Phone) {
		if s = oneLine(s); s != "" {
			b.WriteString(s + "\r\n")
		}
	}
	return b.String()
}

// mailOf is the phrase that says what the letter tells: a mail promises no
// amounts, and nothing to do, where the letter has none.
func (v *view) mailOf() string {
	switch {
	case v.Fit && len(v.Columns) > 0:
		return v.say("mail_letter")
	case v.Fit:
		return v.say("mail_letter_do")
	case len(v.Found) > 0:
		return v.say("mail_letter_found")
	}
	return v.say("mail_letter_only")
}

// oneLine is a text without anything that could end a line or steer a
// program.
func oneLine(s string) string {
	return strings.TrimSpace(strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r):
			return ' '
		case unicode.IsControl(r) || unicode.Is(unicode.Cf, r):
			return -1
		}
		return r
	}, s))
}

// encoded is a text as a field of the head has it (RFC 2047).
func encoded(s string) string { return mime.QEncoding.Encode("utf-8", oneLine(s)) }

// address is a name with an address, "" where that is none.
func address(name, at string) string {
	a, err := mail.ParseAddress(at)
	if err != nil || oneLine(a.Address) != a.Address || strings.ContainsAny(a.Address, " ,;<>") {
		return ""
	}
	return (&mail.Address{Name: oneLine(name), Address: a.Address}).String()
}

func boundary(r rune) rune {
	if r < 128 && (unicode.IsLetter(r) || unicode.IsDigit(r) || r == '-') {
		return r
	}
	return -1
}

// base64Lines writes bytes in lines of 76 characters (RFC 2045).
func base64Lines(w io.Writer, b []byte) error {
	s := base64.StdEncoding.EncodeToString(b)
	for len(s) > 0 {
		n := min(76, len(s))
		if _, err := io.WriteString(w, s[:n]+"\r\n"); err != nil {
			return err
		}
		s = s[n:]
	}
	return nil
}
