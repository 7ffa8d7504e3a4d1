package htmltable

import (
	"bytes"
	"context"
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
	if r := lim.Over(ctx.Err(), "the web page"); r != nil {
		return nil, r
	}
	if n := int64(len(src.Bytes)); n > lim.Bytes {
		return nil, ingest.TooLarge("the web page is larger than a file may be", ingest.Size(lim.Bytes), ingest.Size(n), "bytes")
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
	if r := lim.Over(ctx.Err(), "the web page"); r != nil {
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

func tangled() *ingest.Reason {
	return &ingest.Reason{Code: "damaged", Severity: ingest.Fail, What: "the web page is damaged, so nothing was taken from it",
		Expected: "a web page that a browser shows", Found: "elements within elements, hundreds deep",
		Next: "open the file in a browser, compare it with the printed report, and ask the laboratory for the report in another form"}
}

func empty(found string) *ingest.Reason {
	return &ingest.Reason{Code: "empty-file", Severity: ingest.Fail, What: "the web page shows nothing", Expected: "a report", Found: found,
		Next: "open the file in a browser to see whether it shows anything; if it does, ask the laboratory for the report in another form"}
}
