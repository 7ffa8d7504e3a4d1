package htmltable

import (
	"bytes"
	"fmt"
	"unicode/utf8"

	"golang.org/x/net/html/charset"

	"example.org/windrow/ingest"
)

// prescanned is how much of a document is searched for its encoding, as the
// HTML standard has it.
const prescanned = 1024

// decode gives the document in UTF-8. The order is that of the HTML standard:
// a byte-order mark, then what the document says of itself; and where it says
// nothing, UTF-8 if it is that, and windows-1252 otherwise.
func (b *builder) decode(raw []byte) []byte {
	enc, name, certain := charset.DetermineEncoding(raw, "")
	declared := certain || bytes.Contains(bytes.ToLower(raw[:min(len(raw), prescanned)]), []byte("charset"))
	if !declared && utf8.Valid(raw) {
		return raw
	}
	if !declared {
		b.notes.Add(&ingest.Reason{Code: CodeEncoding, Severity: ingest.Note,
			What:  "the web page doesn't say in which encoding it is written, so the one that browsers take was taken; digits are the same in all of them",
			Found: name})
	}
	var out []byte
	if name == "utf-8" {
		out = bytes.ToValidUTF8(bytes.TrimPrefix(raw, []byte("\xef\xbb\xbf")), []byte("\uFFFD"))
	} else {
		var err error
		if out, err = enc.NewDecoder().Bytes(raw); err != nil {
			out = bytes.ToValidUTF8(raw, []byte("\uFFFD"))
		}
	}
	if n := bytes.Count(out, []byte("\uFFFD")) - bytes.Count(raw, []byte("\uFFFD")); n > 0 {
		b.notes.Add(&ingest.Reason{Code: CodeUndecodable, Severity: ingest.Flag,
			What:     "the web page holds bytes that are no letters in the encoding it says it has; they show as \uFFFD",
			Expected: name, Found: fmt.Sprintf("%d such bytes", n),
			Next: "look for \uFFFD in what was read, and compare it with the printed report"})
	}
	return out
}
