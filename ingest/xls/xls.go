package xls

import (
	"context"
	"fmt"

	"example.org/windrow/ingest"
)

// New returns a reader of .xls workbooks. It holds no state and no file.
//
// Its documents have the format [ingest.XLSX], which stands for workbooks of
// either kind: a mapping doesn't ask in which a laboratory saved its sheet.
func New() ingest.Reader { return bookReader{} }

type bookReader struct{}

var _ ingest.Reader = bookReader{}

// Read implements [ingest.Reader]. Codes of its reasons: too-large, too-slow,
// stopped, locked (a password is needed), old-workbook (of before 1997), and
// damaged, which is also the code of a file that is no workbook at all.
func (bookReader) Read(ctx context.Context, src *ingest.Source, lim ingest.Limits) (doc *ingest.Document, err error) {
	defer func() {
		// The library that opens the container is not ours. What it stumbles
		// over is a damaged file to the person who sent it.
		if p := recover(); p != nil {
			doc, err = nil, damaged("its inner structure can't be followed").In(src.Title())
		}
	}()
	doc, r := read(ctx, src, lim.OrDefault())
	if r != nil {
		return nil, r.In(src.Title())
	}
	return doc, nil
}

func read(ctx context.Context, src *ingest.Source, lim ingest.Limits) (*ingest.Document, *ingest.Reason) {
	if r := lim.Over(ctx.Err(), "the workbook"); r != nil {
		return nil, r
	}
	if n := int64(len(src.Bytes)); n > lim.Bytes {
		return nil, ingest.TooLarge("the workbook is larger than a file may be", ingest.Size(lim.Bytes), ingest.Size(n), "bytes")
	}
	c, r := openContainer(src.Bytes)
	if r != nil {
		return nil, r
	}
	b := &book{stream: c.stream, lim: lim}
	if r := b.globals(ctx); r != nil {
		return nil, r
	}
	if n := len(b.sheets); n > lim.Pages {
		return nil, ingest.TooLarge("the workbook has more sheets than a file may have", fmt.Sprint(lim.Pages), fmt.Sprint(n), "pages")
	}
	if c.macros {
		b.notes.Add(&ingest.Reason{Code: CodeMacros, Severity: ingest.Note,
			What: "the workbook carries macros (small programs); they were neither run nor looked at"})
	}
	doc := &ingest.Document{Source: src.Ref(), Format: ingest.XLSX}
	left := lim.Cells
	for i := range b.sheets {
		page, r := b.readSheet(ctx, i, left)
		if r != nil {
			return nil, r
		}
		left -= len(page.Cells)
		doc.Pages = append(doc.Pages, page)
	}
	b.judgeEmptyResults(doc)
	for _, n := range b.notes.List() {
		doc.Notes = append(doc.Notes, n.In(src.Title()))
	}
	return doc, nil
}
