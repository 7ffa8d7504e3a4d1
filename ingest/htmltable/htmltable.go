package htmltable

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"slices"

	"golang.org/x/net/html"

	"example.org/windrow/ingest"
)

// New returns a reader of HTML documents. It holds no state.
func New() ingest.Reader { return reader{} }

type reader struct{}

var _ ingest.Reader = reader{}

// Read implements [ingest.Reader]. Codes of its reasons: too-large, too-slow,
// stopped, empty (nothing to see), parts-missing (a frame whose contents are
// other files) and damaged.
func (reader) Read(ctx context.Context, src *ingest.Source, lim ingest.Limits) (doc *ingest.Document, err error) {
	defer func() {
		// The parser is not ours, and gives up on elements nested too deep
		// in this way.
		if p := recover(); p != nil {
			doc, err = nil, tangled().In(src.Title())
		}
	}()
	doc, r := read(ctx, src, lim.OrDefault())
	if r != nil {
		return nil, r.In(src.Title())
	}
	return doc, nil
}

func read(ctx context.Context, src *ingest.Source, lim ingest.Limits) (*ingest.Document, *ingest.Reason) {
	if r := stopped(ctx, lim); r != nil {
		return nil, r
	}
	if n := int64(len(src.Bytes)); n > lim.Bytes {
		return nil, tooLarge("the web page is larger than a file may be", size(lim.Bytes), size(n), "bytes")
	}
	if len(bytes.TrimSpace(src.Bytes)) == 0 {
		return nil, empty("an empty file")
	}
	b := &builder{ctx: ctx, lim: lim, page: &ingest.Page{Number: 1, Name: pageName},
		holds: map[*html.Node]bool{}, apart: map[*html.Node]bool{}}
	text := b.decode(src.Bytes)
	root, err := html.ParseWithOptions(bytes.NewReader(text), html.ParseOptionEnableScripting(false))
	if err != nil {
		return nil, tangled()
	}
	if r := stopped(ctx, lim); r != nil {
		return nil, r
	}
	b.rules(root)
	b.measure(root)
	out := &flow{line: b.paragraph}
	b.walk(root, plain, out)
	out.end()
	b.tail()
	switch {
	case b.reason != nil:
		return nil, b.reason
	case b.frames && len(b.page.Cells) == 0:
		return nil, &ingest.Reason{Code: "parts-missing", Severity: ingest.Fail, What: "the file is only the frame of a web page; what it shows is in other files",
			Expected: "a web page that holds its tables itself", Found: "frames that name other files",
			Next: "open the file in a spreadsheet program and save it as .xlsx, or ask the laboratory for one file that holds everything"}
	case len(b.page.Cells) == 0:
		return nil, empty("no text at all")
	}
	slices.Sort(b.short)
	b.page.Short = b.short
	doc := &ingest.Document{Source: src.Ref(), Format: ingest.HTML, Pages: []*ingest.Page{b.page}}
	for _, n := range b.notes.List() {
		doc.Notes = append(doc.Notes, n.In(src.Title()))
	}
	return doc, nil
}

// pageName stands where a workbook has the name of a sheet.
const pageName = "page"

// stopped is the reason why reading has to end now, or nil.
func stopped(ctx context.Context, lim ingest.Limits) *ingest.Reason {
	switch err := ctx.Err(); {
	case err == nil:
		return nil
	case errors.Is(err, context.DeadlineExceeded):
		return &ingest.Reason{Code: "too-slow", Severity: ingest.Fail, What: "the web page took longer to read than a file may take",
			Expected: fmt.Sprintf("at most %d seconds", lim.Seconds),
			Next:     "open the file and see whether it is far larger than usual; if it is sound, raise the limit of seconds in the settings"}
	default:
		return &ingest.Reason{Code: "stopped", Severity: ingest.Fail, What: "reading was stopped before the web page was read",
			Next: "nothing is wrong with the file; read it again"}
	}
}

func tooLarge(what, expected, found, limit string) *ingest.Reason {
	return &ingest.Reason{Code: "too-large", Severity: ingest.Fail, What: what, Expected: "at most " + expected, Found: found,
		Next: "see whether the file is really one report; if it is, raise the limit of " + limit + " in the settings"}
}

func tangled() *ingest.Reason {
	return &ingest.Reason{Code: "damaged", Severity: ingest.Fail, What: "the web page is damaged, so nothing was taken from it",
		Expected: "a web page that a browser shows", Found: "elements within elements, hundreds deep",
		Next: "open the file in a browser, compare it with the printed report, and ask the laboratory for the report in another form"}
}

func empty(found string) *ingest.Reason {
	return &ingest.Reason{Code: "empty", Severity: ingest.Fail, What: "the web page shows nothing", Expected: "a report", Found: found,
		Next: "open the file in a browser to see whether it shows anything; if it does, ask the laboratory for the report in another form"}
}

// size is a number of bytes for people.
func size(n int64) string {
	switch {
	case n >= 10<<20:
		return fmt.Sprintf("%d MiB", n>>20)
	case n >= 10<<10:
		return fmt.Sprintf("%d KiB", n>>10)
	}
	return fmt.Sprintf("%d bytes", n)
}
