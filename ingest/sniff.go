package ingest

import (
	"bytes"
	"strings"
	"unicode/utf8"

	"github.com/gabriel-vasile/mimetype"
)

// A Kind is what the bytes of a file are, whatever its name says.
type Kind string

// The kinds that Sniff tells apart.
const (
	KindPDF   Kind = "pdf"
	KindXLSX  Kind = "xlsx" // also with macros
	KindXLS   Kind = "xls"  // the binary workbook of before 2007
	KindHTML  Kind = "html"
	KindZip   Kind = "zip" // any zip that isn't a workbook
	KindMail  Kind = "mail"
	KindImage Kind = "image"
	KindText  Kind = "text" // such as a delimited file, in any encoding
	KindEmpty Kind = "empty"
	KindOther Kind = "other"
)

// sniffed is how much of a file is looked at where the start decides.
const sniffed = 8192

// Sniff says what a file is by its bytes. The name decides nothing but
// between a mail and another text: both are plain text, and a mail starts
// with header lines that a text may happen to have.
func Sniff(name string, b []byte) Kind {
	if len(b) == 0 {
		return KindEmpty
	}
	// A PDF may have bytes before its header, as some mail gateways leave.
	if head := b[:min(len(b), 1024)]; bytes.Contains(head, []byte("%PDF-")) {
		return KindPDF
	}
	head := b[:min(len(b), sniffed)]
	mt := mimetype.Detect(head)
	for m := mt; m != nil; m = m.Parent() {
		switch m.String() {
		case "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet":
			return KindXLSX
		case "application/zip":
			return zipKind(b)
		case "application/vnd.ms-excel":
			return KindXLS
		case "application/x-ole-storage":
			return oleKind(b)
		case "message/rfc822":
			return KindMail
		}
	}
	typ, _, _ := strings.Cut(mt.String(), ";")
	if strings.HasPrefix(typ, "image/") && typ != "image/svg+xml" {
		return KindImage
	}
	if looksHTML(head) || typ == "text/html" {
		return KindHTML
	}
	if !looksText(head) {
		return KindOther
	}
	if looksMail(head, strings.HasSuffix(strings.ToLower(name), ".eml")) {
		return KindMail
	}
	return KindText
}

// zipKind tells a workbook by the member that every workbook has, as the
// order of members is free and the start of the file may not show it.
func zipKind(b []byte) Kind {
	if bytes.Contains(b, []byte("xl/workbook.xml")) && bytes.Contains(b, []byte("[Content_Types].xml")) {
		return KindXLSX
	}
	return KindZip
}

// oleKind tells a workbook among the compound files by its stream's name,
// "Workbook" or, before 1997, "Book", as UTF-16.
func oleKind(b []byte) Kind {
	for _, s := range []string{"Workbook", "Book"} {
		var u []byte
		for _, c := range []byte(s) {
			u = append(u, c, 0)
		}
		if bytes.Contains(b, append(u, 0, 0)) {
			return KindXLS
		}
	}
	return KindOther
}

func looksHTML(b []byte) bool {
	t := bytes.ToLower(bytes.TrimLeft(bytes.TrimPrefix(b, []byte("\xef\xbb\xbf")), " \t\r\n"))
	for bytes.HasPrefix(t, []byte("<!--")) || bytes.HasPrefix(t, []byte("<?xml")) {
		end, skip := []byte("-->"), 3
		if t[1] == '?' {
			end, skip = []byte("?>"), 2
		}
		i := bytes.Index(t, end)
		if i < 0 {
			return false
		}
		t = bytes.TrimLeft(t[i+skip:], " \t\r\n")
	}
	for _, tag := range []string{"<!doctype html", "<html", "<head", "<body", "<table", "<meta", "<style"} {
		if bytes.HasPrefix(t, []byte(tag)) {
			return true
		}
	}
	return false
}

// looksText accepts UTF-8, UTF-16 and the 8-bit encodings: anything in which
// bytes that no text has are missing. A few NUL bytes are let through, so
// that the reader can name the line they are on.
func looksText(b []byte) bool {
	if bytes.HasPrefix(b, []byte("\xff\xfe")) || bytes.HasPrefix(b, []byte("\xfe\xff")) {
		return true
	}
	var nul, control, even int
	for i, c := range b {
		switch {
		case c == 0:
			nul++
			if i%2 == 0 {
				even++
			}
		case c < 0x20 && c != '\t' && c != '\n' && c != '\r' && c != '\f' && c != 0x1a && c != 0x1b:
			control++
		}
	}
	// UTF-16 without a mark: nearly every second byte is NUL, on one side.
	if nul*3 > len(b) && (even == 0 || even == nul) {
		return control == 0
	}
	if !utf8.Valid(b) && control > 0 {
		return false
	}
	return nul*20 <= len(b) && control*100 <= len(b)
}

// mailHeaders are the fields of RFC 5322 and those that gateways put first.
var mailHeaders = []string{"from", "to", "cc", "subject", "date", "message-id", "received", "return-path", "delivered-to",
	"mime-version", "content-type", "reply-to", "sender", "x-mailer", "dkim-signature", "arc-seal", "authentication-results"}

// looksMail wants header lines from the first line on: two that mails have,
// or one when the name says it is a mail.
func looksMail(b []byte, named bool) bool {
	known := 0
	for line := range strings.SplitSeq(strings.ReplaceAll(string(b), "\r\n", "\n"), "\n") {
		if line == "" {
			break
		}
		if line[0] == ' ' || line[0] == '\t' {
			continue // a folded field
		}
		if known == 0 && strings.HasPrefix(line, "From ") {
			continue // the envelope line of a mailbox file
		}
		field, _, ok := strings.Cut(line, ":")
		if !ok || strings.ContainsAny(field, " \t,;\"") {
			return false
		}
		for _, h := range mailHeaders {
			if strings.EqualFold(field, h) {
				known++
			}
		}
	}
	return known >= 2 || named && known >= 1
}
