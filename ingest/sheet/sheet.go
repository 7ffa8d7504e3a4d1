package sheet

import (
	"context"
	"errors"
	"fmt"

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
	if r := stopped(ctx, lim); r != nil {
		return nil, r
	}
	if n := int64(len(src.Bytes)); n > lim.Bytes {
		return nil, tooLarge("the workbook is larger than a file may be", size(lim.Bytes), size(n), "bytes")
	}
	if r := checkContainer(src.Bytes, lim); r != nil {
		return nil, r
	}
	b, r := open(src.Bytes, lim)
	if r != nil {
		return nil, r
	}
	defer b.close()
	if r := stopped(ctx, lim); r != nil {
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

// stopped is the reason why reading has to end now, or nil.
func stopped(ctx context.Context, lim ingest.Limits) *ingest.Reason {
	switch err := ctx.Err(); {
	case err == nil:
		return nil
	case errors.Is(err, context.DeadlineExceeded):
		return &ingest.Reason{Code: "too-slow", Severity: ingest.Fail, What: "the workbook took longer to read than a file may take",
			Expected: fmt.Sprintf("at most %d seconds", lim.Seconds),
			Next:     "open the workbook in a spreadsheet program and see whether it is far larger than usual; if it is sound, raise the limit of seconds in the settings"}
	default:
		return &ingest.Reason{Code: "stopped", Severity: ingest.Fail, What: "reading was stopped before the workbook was read",
			Next: "nothing is wrong with the file; read it again"}
	}
}

func tooLarge(what, expected, found, limit string) *ingest.Reason {
	return &ingest.Reason{Code: "too-large", Severity: ingest.Fail, What: what, Expected: "at most " + expected, Found: found,
		Next: "see whether the file is really one report; if it is, raise the limit of " + limit + " in the settings"}
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
