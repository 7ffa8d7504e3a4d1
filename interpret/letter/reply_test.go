package letter_test

import (
	"bytes"
	"encoding/base64"
	"errors"
	"io"
	"mime"
	"mime/multipart"
	"net/mail"
	"strings"
	"testing"

	"example.org/windrow/interpret"
	"example.org/windrow/interpret/letter"
	"example.org/windrow/normalize"
)

func replyOf(t *testing.T, l *letter.Letter, to string) ([]byte, *mail.Message) {
	t.Helper()
	var b bytes.Buffer
	if err := l.Reply(&b, to); err != nil {
		t.Fatal(err)
	}
	m, err := mail.ReadMessage(bytes.NewReader(b.Bytes()))
	if err != nil {
		t.Fatalf("%v\n%.400s", err, b.Bytes())
	}
	return b.Bytes(), m
}

// The reply is a draft that a mail program reads: to whom, from whom, a
// subject, a text and the PDF, byte for byte.
func TestReply(t *testing.T) {
	word := mime.WordDecoder{}
	for _, lang := range letter.Languages() {
		for _, c := range cases() {
			l := of(t, c, lang)
			b, m := replyOf(t, l, "hester@example.org")
			if again, _ := replyOf(t, of(t, c, lang), "hester@example.org"); !bytes.Equal(b, again) {
				t.Errorf("%s: twice the same letter gave other bytes", c.name)
			}
			if m.Header.Get("X-Unsent") != "1" || m.Header.Get("Content-Language") != string(lang) {
				t.Errorf("%s: %v", c.name, m.Header)
			}
			to, err := m.Header.AddressList("To")
			if err != nil || len(to) != 1 || to[0].Address != "hester@example.org" || to[0].Name != c.rec.Client.Name {
				t.Errorf("%s: to %v, %v", c.name, to, err)
			}
			from, err := m.Header.AddressList("From")
			if err != nil || len(from) != 1 || from[0].Address != office.Email || from[0].Name != office.Name {
				t.Errorf("%s: from %v, %v", c.name, from, err)
			}
			subject, err := word.DecodeHeader(m.Header.Get("Subject"))
			if err != nil || !strings.HasSuffix(subject, ": "+c.rec.Sample.ClientLabel) {
				t.Errorf("%s: subject %q, %v", c.name, subject, err)
			}
			text, file := parts(t, m)
			if !bytes.Equal(file, pdfOf(t, l)) {
				t.Errorf("%s: the PDF with the mail is another", c.name)
			}
			if amounts := strings.Contains(text, "how much."); lang == letter.English && amounts != tellsAmounts(l.Advice) {
				t.Errorf("%s: the mail promises amounts: %v, the letter has some: %v", c.name, amounts, tellsAmounts(l.Advice))
			}
			for _, q := range l.Advice.Questions {
				if lang == letter.English && !strings.HasSuffix(q.Code, "-doubtful") && !strings.Contains(text, q.Text) {
					t.Errorf("%s: the mail doesn't ask %q", c.name, q.Text)
				}
			}
			if !strings.Contains(text, c.rec.ID) || !strings.Contains(text, office.Phone) {
				t.Errorf("%s: %s", c.name, text)
			}
			for line := range strings.SplitSeq(string(b), "\r\n") {
				if len(line) > 998 || strings.ContainsAny(line, "\r\n") {
					t.Errorf("%s: a line that no mail may have: %.80q", c.name, line)
				}
			}
		}
	}
}

// tellsAmounts reports whether an advice has an amount to print.
func tellsAmounts(a *interpret.Advice) bool {
	for _, l := range a.Lines {
		if l.When != interpret.Not && (l.Product != nil || l.Amount != nil) {
			return true
		}
	}
	return false
}

// parts are the text and the file of a mail.
func parts(t *testing.T, m *mail.Message) (text string, file []byte) {
	t.Helper()
	kind, params, err := mime.ParseMediaType(m.Header.Get("Content-Type"))
	if err != nil || kind != "multipart/mixed" {
		t.Fatal(kind, err)
	}
	r := multipart.NewReader(m.Body, params["boundary"])
	for n := 0; ; n++ {
		p, err := r.NextPart() // reads quoted-printable by itself
		if errors.Is(err, io.EOF) {
			if n != 2 {
				t.Fatalf("%d parts", n)
			}
			return text, file
		}
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(p)
		if err != nil {
			t.Fatal(err)
		}
		switch {
		case strings.HasPrefix(p.Header.Get("Content-Type"), "text/plain"):
			text = string(b)
		case p.FileName() == "":
			t.Error("the file has no name")
		default:
			if file, err = base64.StdEncoding.DecodeString(strings.ReplaceAll(string(b), "\r\n", "")); err != nil {
				t.Fatal(err)
			}
		}
	}
}

// What reports and settings say can't add a line to the head of the mail, a
// recipient or a part.
func TestReplyHeadIsSafe(t *testing.T) {
	for _, n := range []string{"A\r\nBcc: all@example.org", "A\nBcc: all@example.org\n\nHello", "A\r\n\r\n--windrow-R1\r\nContent-Type: text/html\r\n\r\n<b>", "\"x\" <a@b>, c@d", "=?utf-8?q?=0D=0ABcc:_x?=", "\x00\x0b\x0c\u2028\u0085Bcc: x", "a@example.org, b@example.org", strings.Repeat("ñ", 500)} {
		rec := record("lawn", n, n, n, r("pH", "6.5"))
		rec.ID, rec.Sample.LabID = n, n
		a := interpret.Advise(rec, report, ruleSet(t), interpret.Ask{On: "2026-04-15"})
		rep := &normalize.Report{ID: n, Lab: normalize.Lab{Name: n}}
		for _, to := range []string{n, "hester@example.org", ""} {
			b, m := replyOf(t, &letter.Letter{Advice: a, Record: rec, Report: rep, Office: letter.Office{Name: n, Email: n, Phone: n, Signature: n}}, to)
			for name := range m.Header {
				switch name {
				case "X-Unsent", "Date", "From", "To", "Subject", "Mime-Version", "Content-Type", "Content-Language":
				default:
					t.Errorf("%q added %s", n, name)
				}
			}
			if list, err := m.Header.AddressList("To"); err == nil && (len(list) != 1 || to != "hester@example.org" || list[0].Address != to) {
				t.Errorf("%q goes to %v", n, list)
			}
			if m.Header.Get("From") != "" {
				t.Errorf("%q became the address of the office", n)
			}
			head, _, _ := bytes.Cut(b, []byte("\r\n\r\n"))
			if bytes.Count(head, []byte("\n")) != bytes.Count(head, []byte("\r\n")) {
				t.Errorf("%q left a bare line end in the head", n)
			}
			parts(t, m)
		}
	}
}
