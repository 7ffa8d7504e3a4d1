package delimited

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"example.org/windrow/ingest"
)

// New returns a reader of files that are cut in the way the dialect says. A
// dialect that is not possible gives the reason "dialect-not-possible" for
// every file.
func New(d ingest.Dialect) ingest.Reader { return reader{d} }

type reader struct{ dialect ingest.Dialect }

var _ ingest.Reader = reader{}

// Read implements [ingest.Reader]. Codes of its reasons: too-large, too-slow,
// stopped, empty, dialect-not-possible, encoding-differs, encoding-invalid,
// nul-byte, line-ends, quote-unclosed and quote-stray.
func (rd reader) Read(ctx context.Context, src *ingest.Source, lim ingest.Limits) (*ingest.Document, error) {
	doc, r := rd.read(ctx, src, lim.OrDefault())
	if r != nil {
		return nil, r.In(src.Title())
	}
	return doc, nil
}

func (rd reader) read(ctx context.Context, src *ingest.Source, lim ingest.Limits) (*ingest.Document, *ingest.Reason) {
	if r := lim.Over(ctx.Err(), "the file"); r != nil {
		return nil, r
	}
	if n := int64(len(src.Bytes)); n > lim.Bytes {
		return nil, ingest.TooLarge("the file is larger than a file may be", fmt.Sprintf("%d bytes", lim.Bytes), fmt.Sprintf("%d bytes", n), "bytes")
	}
	delim, n := utf8.DecodeRuneInString(rd.dialect.Delimiter)
	if n == 0 || n != len(rd.dialect.Delimiter) || delim == utf8.RuneError || strings.ContainsRune("\"\r\n\x00", delim) {
		return nil, notPossible("a delimiter of one character that is no quote and no line end", fmt.Sprintf("%q", rd.dialect.Delimiter))
	}
	text, r := decode(src.Bytes, rd.dialect.Encoding)
	if r != nil {
		return nil, r
	}
	if r := checkText(text); r != nil {
		return nil, r
	}
	t := table{text: text, delim: delim, lim: lim, page: &ingest.Page{Number: 1}}
	if r := t.read(ctx); r != nil {
		return nil, r
	}
	d := rd.dialect
	doc := &ingest.Document{Source: src.Ref(), Format: ingest.CSV, Dialect: &d, Pages: []*ingest.Page{t.page}}
	for _, n := range t.ragged() {
		doc.Notes = append(doc.Notes, n.In(src.Title()))
	}
	return doc, nil
}

func notPossible(expected, found string) *ingest.Reason {
	return &ingest.Reason{Code: "dialect-not-possible", Severity: ingest.Fail, What: "the mapping says that the file is written in a way that is not possible",
		Expected: expected, Found: found, Next: "correct the dialect in the laboratory's mapping"}
}

// checkText refuses what no text file holds, and what would make one long
// line of all of them.
func checkText(text []byte) *ingest.Reason {
	if len(bytes.TrimSpace(text)) == 0 {
		return &ingest.Reason{Code: "empty-file", Severity: ingest.Fail, What: "the file is empty", Expected: "a table", Found: "nothing, or only blank lines",
			Next: "ask for the file again"}
	}
	if i := bytes.IndexByte(text, 0); i >= 0 {
		return &ingest.Reason{Code: "nul-byte", Severity: ingest.Hold, Where: placeOf(text, i), What: "the file holds a character that no text has (NUL)",
			Expected: "plain text", Found: "NUL, as in a file that was damaged, is not text at all, or is UTF-16",
			Next: "open the file in a text editor; if it looks right there, save it as the laboratory usually sends it, otherwise ask for it again"}
	}
	if bytes.IndexByte(text, '\n') < 0 && bytes.IndexByte(bytes.TrimRight(text, "\r"), '\r') >= 0 {
		return &ingest.Reason{Code: "line-ends", Severity: ingest.Hold, What: "the lines of the file end in a way that only very old programs use",
			Expected: "lines that end with a line feed, or carriage return and line feed", Found: "carriage returns alone",
			Next: "open the file in a spreadsheet program or editor and save it with usual line ends"}
	}
	return nil
}

// placeOf is the line and the column in characters of a byte of the text.
func placeOf(text []byte, i int) ingest.Place {
	start := bytes.LastIndexByte(text[:i], '\n') + 1
	return ingest.Place{Line: bytes.Count(text[:i], []byte("\n")) + 1, Col: utf8.RuneCount(text[start:i]) + 1}
}

// A table is one file while it is cut.
type table struct {
	text  []byte // decoded, UTF-8, without byte-order mark
	delim rune
	lim   ingest.Limits
	page  *ingest.Page
	rows  []row

	// How far columns have been counted:
	line      int // number of the line
	start     int // its offset in text
	col, char int // a byte of the line and the number of characters before it
}

// A row is what the rule for ragged rows has to know of a record.
type row struct {
	line, fields int
	blank        bool // all fields empty
	gap          bool // at least one empty line lies before it
	word         bool // one field without a space in it
}

// every is how often, in records, a long file looks whether it should stop.
const every = 1024

func (t *table) read(ctx context.Context) *ingest.Reason {
	r := csv.NewReader(bytes.NewReader(t.text))
	r.Comma = t.delim
	r.FieldsPerRecord = -1
	r.ReuseRecord = true
	lines := bytes.Count(t.text, []byte("\n")) + 1
	// Empty fields are not stored, so that this is an upper bound.
	cut := bytes.Count(t.text, []byte(string(t.delim)))
	t.page.Cells = make([]ingest.Cell, 0, min(cut+lines, t.lim.Cells))
	t.rows = make([]row, 0, lines)
	t.line = 1
	end := int64(0) // of the record before
	for n := 1; ; n++ {
		if n%every == 0 {
			if r := t.lim.Over(ctx.Err(), "the file"); r != nil {
				return r
			}
		}
		fields, err := r.Read()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return t.quoteReason(err)
		}
		first, _ := r.FieldPos(0)
		t.advance(first)
		rw := row{line: first, fields: len(fields), blank: true, gap: int64(t.start) > end}
		end = r.InputOffset()
		for i, f := range fields {
			if f == "" {
				continue
			}
			if len(t.page.Cells) == t.lim.Cells {
				return ingest.TooLarge("the file has more filled fields than a file may have", fmt.Sprint(t.lim.Cells), "more than that", "cells")
			}
			line, col := r.FieldPos(i)
			t.page.Cells = append(t.page.Cells, ingest.Cell{Row: first, Col: i + 1, Text: f, Kind: ingest.TextCell, Line: line, LineCol: t.character(line, col)})
			t.page.Rows, t.page.Cols = first, max(t.page.Cols, i+1)
			rw.blank = rw.blank && strings.TrimSpace(f) == ""
		}
		rw.word = len(fields) == 1 && !strings.ContainsAny(strings.TrimSpace(fields[0]), " \t")
		t.rows = append(t.rows, rw)
	}
}

// character turns a column in bytes from 1, as encoding/csv counts, into one
// in characters. Fields come in order, so that each byte is looked at once.
func (t *table) character(line, col int) int {
	t.advance(line)
	t.char += utf8.RuneCount(t.text[t.start+t.col : t.start+col-1])
	t.col = col - 1
	return t.char + 1
}

func (t *table) advance(line int) {
	for t.line < line {
		t.start += bytes.IndexByte(t.text[t.start:], '\n') + 1
		t.line++
		t.col, t.char = 0, 0
	}
}

// quoteReason words an error of encoding/csv. It is always about quotes: the
// number of fields is not checked there.
func (t *table) quoteReason(err error) *ingest.Reason {
	var pe *csv.ParseError
	if !errors.As(err, &pe) {
		return &ingest.Reason{Code: "quote-stray", Severity: ingest.Hold, What: "the file can't be cut into fields", Found: err.Error(), Next: "open the file in a text editor and look at its quotes"}
	}
	if errors.Is(pe.Err, csv.ErrBareQuote) {
		return &ingest.Reason{Code: "quote-stray", Severity: ingest.Hold, Where: t.place(pe.Line, pe.Column),
			What:     "a field has a quote in its middle, so it isn't sure where it ends",
			Expected: `a field with a quote in it stands in quotes, and the quote is doubled: "5"" deep"`, Found: t.excerpt(pe.Line),
			Next: "ask the laboratory to send the file with its quotes put right, or put them right in a copy and drop that in"}
	}
	open := t.openQuote(pe.StartLine)
	r := &ingest.Reason{Code: "quote-unclosed", Severity: ingest.Hold, Where: open,
		What:     "a quote opens here and is not closed where its field ends, so it runs on over what follows",
		Expected: "a closing quote before the next " + nameOf(t.delim) + " or line end", Found: t.excerpt(open.Line),
		Next: "look at this line in a text editor; ask the laboratory to send the file with its quotes put right, or close the quote in a copy and drop that in"}
	if pe.Line > open.Line {
		r.Found += fmt.Sprintf("   (taken up to line %d as one field)", pe.Line)
	}
	return r
}

func nameOf(delim rune) string {
	switch delim {
	case ',':
		return "comma"
	case ';':
		return "semicolon"
	case '\t':
		return "tab"
	}
	return fmt.Sprintf("%q", delim)
}

func (t *table) lineText(line int) []byte {
	rest := t.text
	for ; line > 1; line-- {
		_, rest, _ = bytes.Cut(rest, []byte("\n"))
	}
	rest, _, _ = bytes.Cut(rest, []byte("\n"))
	return bytes.TrimRight(rest, "\r")
}

func (t *table) place(line, col int) ingest.Place {
	l := t.lineText(line)
	return ingest.Place{Line: line, Col: utf8.RuneCount(l[:min(max(col-1, 0), len(l))]) + 1}
}

func (t *table) excerpt(line int) string {
	const most = 60
	r := []rune(string(t.lineText(line)))
	if len(r) > most {
		return string(r[:most]) + " …"
	}
	return string(r)
}

// openQuote finds the quote that the failed record opened last and did not
// close properly, reading as encoding/csv does from the record's first line.
func (t *table) openQuote(line int) ingest.Place {
	offset := 0
	for n := 1; n < line; n++ {
		offset += bytes.IndexByte(t.text[offset:], '\n') + 1
	}
	text := t.text[offset:]
	open, quoted, begin := 0, false, true
	for i := 0; i < len(text); {
		c, n := utf8.DecodeRune(text[i:])
		switch {
		case quoted && c == '"':
			next, _ := utf8.DecodeRune(text[i+1:])
			if next == '"' {
				n = 2
				break
			}
			quoted = false
			if i+1 < len(text) && next != t.delim && next != '\n' && next != '\r' {
				return placeOf(t.text, offset+open)
			}
		case quoted:
		case begin && c == '"':
			open, quoted = i, true
		}
		begin = !quoted && c == t.delim
		i += n
	}
	return placeOf(t.text, offset+open)
}
