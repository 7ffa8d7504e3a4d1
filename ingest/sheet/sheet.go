package sheet

import (
	"context"

	"example.org/windrow/ingest"
)

// New returns a reader of Excel workbooks. It holds no state and no file.
func New() ingest.Reader { return reader{} }

type reader struct{}

var _ ingest.Reader = reader{}

// Read implements [ingest.Reader]. Codes of its reasons: too-large, too-slow,
// stopped, locked (a password is needed), old-workbook (.xls), macros, and
// damaged, which is also the code of a file that is no workbook at all.
func (reader) Read(ctx context.Context, src *ingest.Source, lim ingest.Limits) (doc *ingest.Document, err error) {
	defer func() {
		// The libraries below are not ours. What they stumble over is a
		// damaged file to the person who sent it.
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
	if r := checkContainer(src.Bytes, lim); r != nil {
		return nil, r
	}
	b, r := open(src.Bytes, lim)
	if r != nil {
		return nil, r
	}
	defer b.close()
	if r := lim.Over(ctx.Err(), "the workbook"); r != nil {
		return nil, r
	}
	doc := &ingest.Document{Source: src.Ref(), Format: ingest.XLSX}
	left := lim.Cells
	for i := range b.sheets {
		page, r := b.readSheet(ctx, i, left, lim)
		if r != nil {
			return nil, r
		}
		left -= len(page.Cells)
		doc.Pages = append(doc.Pages, page)
	}
	for _, n := range b.notes.List() {
		doc.Notes = append(doc.Notes, n.In(src.Title()))
	}
	return doc, nil
}

func damaged(detail string) *ingest.Reason {
	return &ingest.Reason{Code: "damaged", Severity: ingest.Fail, What: "the workbook is damaged, so nothing was taken from it",
		Expected: "a workbook that a spreadsheet program opens without repairing it", Found: detail,
		Next: "ask for the file again, or open it in a spreadsheet program, compare it with the printed report and save it under a new name"}
}

func damagedAt(sheet, cell, detail string) *ingest.Reason {
	r := damaged(detail)
	r.Where = ingest.Place{Sheet: sheet, Cell: cell}
	return r
}
