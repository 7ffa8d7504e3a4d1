package mail

import (
	"bytes"
	"encoding/base64"
	"errors"
	"fmt"
	"image"
	_ "image/gif" // the sizes of pictures of these three kinds are looked up
	_ "image/jpeg"
	_ "image/png"
	"io"
	"mime/quotedprintable"
	"net/url"
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/jhillyerd/enmime/v2"
	"golang.org/x/net/html/charset"

	"example.org/windrow/ingest"
)

// A collector goes through the parts of one mail.
type collector struct {
	*expander
	raw      []byte // of this mail
	within   string
	depth    int
	info     *MailInfo
	enclosed int
	cited    map[string]bool // ids of the parts that the pages of this mail show in their text
}

// cites notes which parts a page shows in its text. Some programs send those as
// attachments although they are none (RFC 2392 has the form of the link).
func (c *collector) cites(page []byte) {
	for _, m := range citation.FindAllSubmatch(page, -1) {
		id := string(m[1])
		if plain, err := url.PathUnescape(id); err == nil {
			id = plain
		}
		if c.cited == nil {
			c.cited = map[string]bool{}
		}
		c.cited[id] = true
	}
}

var citation = regexp.MustCompile(`(?i)<img\b[^>]*\bsrc\s*=\s*["']?cid:([^"'\s>]+)`)

// part hands on a part or goes into it. related says that it stands beside an
// HTML text, as its pictures do; cut that the mail ends where it should not,
// and this is the last part.
func (c *collector) part(p *enmime.Part, related, cut bool) {
	if c.stop != nil {
		return
	}
	if c.parts++; c.parts > mostMembers {
		c.stop = tooLarge("the mail has more parts than a mail may have", fmt.Sprint(mostMembers), "more than that", "parts, which is fixed,")
		return
	}
	for _, e := range p.Errors {
		if e.Severe && e.Name == enmime.ErrorMalformedChildPart {
			c.complain(strings.TrimSuffix(c.within, " > "), &ingest.Reason{Code: CodeDecode, Severity: ingest.Fail, What: "a part of the mail can't be read, so that an attachment may be missing",
				Found: "a part whose own header is broken", Next: "open the mail in a mail program, compare its attachments with those listed here, and ask the sender to send it again if one is missing"})
		}
	}
	kind := strings.ToLower(p.ContentType)
	switch {
	case kind == "multipart/encrypted":
		c.complain(c.name(p, "encrypted message"), locked())
		return
	case p.FirstChild != nil:
		// Where the line that ends the parts is missing, the last of them may
		// have been cut off anywhere.
		open := p.Boundary != "" && !bytes.Contains(c.raw, []byte("--"+p.Boundary+"--"))
		for k := p.FirstChild; k != nil; k = k.NextSibling {
			c.part(k, related || kind == "multipart/related", (open || cut) && k.NextSibling == nil)
		}
		return
	}
	c.leaf(p, kind, related, cut)
}

// name is the name of a part for people: that which it has, made harmless, or
// what it is.
func (c *collector) name(p *enmime.Part, otherwise string) string {
	n := harmless(p.FileName)
	if n == "" {
		n = otherwise
	}
	return c.within + n
}

// harmless is the last part of a name, without anything that a path or a
// screen could take for more than a name.
func harmless(s string) string {
	s = strings.ToValidUTF8(s, "\uFFFD")
	if i := strings.LastIndexAny(s, `/\`); i >= 0 {
		s = s[i+1:]
	}
	s = strings.Map(func(r rune) rune {
		switch {
		case strings.ContainsRune(`<>:"|?*`, r):
			return '_'
		case unicode.IsControl(r) || unicode.Is(unicode.Cf, r): // also those that turn the direction of text
			return -1
		case unicode.IsSpace(r):
			return ' '
		}
		return r
	}, s)
	s = strings.TrimLeft(strings.TrimSpace(s), ".")
	if r := []rune(s); len(r) > 120 {
		s = string(r[:80]) + "…" + string(r[len(r)-30:])
	}
	return s
}

func (c *collector) leaf(p *enmime.Part, kind string, related, cut bool) {
	attached := p.Disposition == "attachment"
	body := !attached && p.FileName == ""
	switch {
	case strings.HasPrefix(kind, "multipart/"):
		c.complain(c.name(p, "part"), damaged("a part that should hold others holds none"))
		return
	case kind == "message/rfc822" || kind == "message/global":
		c.mail(p, cut)
		return
	case kind == "message/external-body":
		c.complain(c.name(p, "attachment"), &ingest.Reason{Code: CodeElsewhere, Severity: ingest.Hold, What: "the mail names an attachment that was not sent with it",
			Next: "ask the sender for the file itself"})
		return
	case kind == "application/ms-tnef":
		c.complain(c.name(p, "winmail.dat"), &ingest.Reason{Code: CodePacked, Severity: ingest.Hold, What: "the attachments are packed in a form that only Outlook opens (winmail.dat)",
			Next: "open the mail in Outlook, save its attachments, and drop those in; or ask the sender to send the mail as HTML or plain text"})
		return
	case kind == "application/pkcs7-mime" || kind == "application/x-pkcs7-mime":
		c.complain(c.name(p, "smime.p7m"), locked())
		return
	case strings.HasSuffix(kind, "-signature") || strings.HasSuffix(kind, "/pkcs7-signature"), kind == "text/calendar", kind == "text/vcard", kind == "text/x-vcard",
		kind == "message/delivery-status", kind == "message/disposition-notification", kind == "text/rfc822-headers":
		c.leaveOut(c.name(p, kind), "the part is no report ("+kind+") and was left out")
		return
	}
	name := c.name(p, "attachment")
	switch {
	case body && (kind == "text/plain" || kind == ""):
		name = c.within + "message text"
	case body && kind == "text/html":
		name = c.within + "message page"
	}
	b, r := decode(p)
	if r == nil && cut {
		r = cutShort()
	}
	if r != nil {
		c.complain(name, r)
		return
	}
	switch {
	case body && (kind == "text/plain" || kind == ""):
		if len(bytes.TrimSpace(b)) == 0 {
			return
		}
		text, r := toUTF8(b, p.Charset)
		if r != nil {
			c.complain(name, r)
			return
		}
		c.hand(name, text)
	case body && kind == "text/html":
		if len(bytes.TrimSpace(b)) == 0 {
			return
		}
		c.cites(b)
		c.page(name, b, p.Charset)
	case strings.HasPrefix(kind, "image/") && c.inText(p, attached, related) && !asLargeAsAPage(b):
		c.leaveOut(name, "the picture stands within the message and is smaller than a scanned page, as those of a signature are, and was left out")
	case len(b) == 0:
		c.complain(name, &ingest.Reason{Code: CodeEmpty, Severity: ingest.Fail, What: "the attachment is empty", Next: "ask the sender to send it again"})
	default:
		c.hand(name, b)
	}
}

// inText reports whether a picture stands in the text of the mail rather than
// beside it.
func (c *collector) inText(p *enmime.Part, attached, related bool) bool {
	id := strings.Trim(p.ContentID, "<>")
	return id != "" && c.cited[id] || !attached && (related || id != "" || p.Disposition == "inline")
}

func (c *collector) leaveOut(name, what string) {
	c.complain(name, &ingest.Reason{Code: CodeLeftOut, Severity: ingest.Note, What: what})
}

// mail goes into an enclosed mail.
func (c *collector) mail(p *enmime.Part, cut bool) {
	c.enclosed++
	name := "enclosed message"
	if c.enclosed > 1 {
		name = fmt.Sprintf("enclosed message %d", c.enclosed)
	}
	name = c.within + name
	b, r := decode(p)
	switch {
	case r != nil:
	case c.depth+1 > deepest:
		r = &ingest.Reason{Code: CodeDeep, Severity: ingest.Hold, What: "a mail lies within a mail deeper than mails are taken apart",
			Expected: fmt.Sprintf("at most %d mails within one another", deepest), Found: "more than that",
			Next: "open the mail in a mail program, save the attachment that holds the report, and drop that in"}
	case cut && !bytes.Contains(b, []byte("\n--")):
		r = cutShort() // not in parts, so that its own end can't be told
	}
	if r != nil {
		c.complain(name, r)
		return
	}
	c.info.Enclosed = append(c.info.Enclosed, c.message(b, name+" > ", c.depth+1))
}

// page hands on the HTML of the mail, in UTF-8 with a byte-order mark where
// the mail says what it is in, so that nothing has to guess; otherwise as it
// is, with what it says of itself.
func (c *collector) page(name string, b []byte, label string) {
	if label != "" {
		text, r := toUTF8(b, label)
		if r != nil {
			c.complain(name, r)
			return
		}
		b = text
	}
	if ingest.Sniff(name, b) != ingest.KindHTML {
		b = append([]byte("<!DOCTYPE html>\n"), b...) // a fragment, as mails have
	}
	if label != "" {
		b = append([]byte("\xef\xbb\xbf"), b...)
	}
	c.hand(name, b)
}

// pageSide is the shorter side, in pixels, that a picture of a page has at
// least: 8.5 inches at less than a hundred dots an inch.
const pageSide = 800

// asLargeAsAPage reports whether a picture could be a scanned page. One whose
// size isn't known is judged by its bytes.
func asLargeAsAPage(b []byte) bool {
	c, _, err := image.DecodeConfig(bytes.NewReader(b))
	if err != nil {
		return len(b) > 100<<10
	}
	return min(c.Width, c.Height) >= pageSide
}

// decode undoes the transfer encoding of a part, or says why it can't be
// undone without loss.
func decode(p *enmime.Part) ([]byte, *ingest.Reason) {
	switch enc := strings.ToLower(strings.TrimSpace(p.Header.Get("Content-Transfer-Encoding"))); enc {
	case "", "7bit", "8bit", "binary":
		return p.Content, nil
	case "base64":
		s := bytes.Map(func(r rune) rune {
			if r == ' ' || r == '\t' || r == '\r' || r == '\n' {
				return -1
			}
			return r
		}, p.Content)
		out := make([]byte, base64.StdEncoding.DecodedLen(len(s)))
		n, err := base64.StdEncoding.Decode(out, s)
		if err != nil {
			return nil, broken("signs that base64 doesn't have, or an end in the middle")
		}
		return out[:n], nil
	case "quoted-printable":
		if strayEquals(p.Content) {
			return nil, broken("signs that quoted-printable doesn't have")
		}
		out, err := io.ReadAll(quotedprintable.NewReader(bytes.NewReader(p.Content)))
		if err != nil && !errors.Is(err, io.EOF) {
			return nil, broken("signs that quoted-printable doesn't have")
		}
		return out, nil
	default:
		return nil, broken("an encoding called " + quote(enc))
	}
}

// strayEquals reports whether an equals sign stands before anything but two
// hexadecimal digits or the end of its line; the library reads over it.
func strayEquals(b []byte) bool {
	hex := func(c byte) bool { return c >= '0' && c <= '9' || c >= 'A' && c <= 'F' || c >= 'a' && c <= 'f' }
	for {
		i := bytes.IndexByte(b, '=')
		if i < 0 {
			return false
		}
		b = b[i+1:]
		if len(b) >= 2 && hex(b[0]) && hex(b[1]) {
			continue
		}
		line, _, _ := bytes.Cut(b, []byte("\n"))
		if len(bytes.TrimSpace(line)) > 0 {
			return true
		}
	}
}

// toUTF8 turns a text of the mail into UTF-8.
func toUTF8(b []byte, label string) ([]byte, *ingest.Reason) {
	switch strings.ToLower(strings.Trim(label, `"' `)) {
	case "", "utf-8", "utf8", "us-ascii", "ascii":
		if utf8.Valid(b) {
			return b, nil
		}
	}
	if label == "" {
		label = "us-ascii"
	}
	enc, _ := charset.Lookup(label)
	if enc == nil {
		return nil, &ingest.Reason{Code: CodeCharset, Severity: ingest.Fail, What: "the text of the mail is in an encoding that is not known", Found: quote(label),
			Next: "open the mail in a mail program and see whether its text holds a report; if it does, ask for it as an attachment"}
	}
	out, err := enc.NewDecoder().Bytes(b)
	if err != nil {
		return nil, &ingest.Reason{Code: CodeCharset, Severity: ingest.Fail, What: "the text of the mail is not in the encoding that the mail names", Found: quote(label),
			Next: "open the mail in a mail program and see whether its text holds a report; if it does, ask for it as an attachment"}
	}
	return bytes.ToValidUTF8(out, []byte("\uFFFD")), nil
}

// quote shows a word of the mail's, in part.
func quote(s string) string {
	s = strings.ToValidUTF8(s, "\uFFFD")
	if r := []rune(s); len(r) > 40 {
		s = string(r[:40]) + "…"
	}
	return fmt.Sprintf("%q", s)
}
