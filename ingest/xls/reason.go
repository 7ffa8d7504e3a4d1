package xls

import (
	"context"
	"errors"
	"fmt"

	"example.org/windrow/ingest"
)

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

func notWorkbook(found string) *ingest.Reason {
	return &ingest.Reason{Code: "damaged", Severity: ingest.Fail, What: "the file is not a workbook that can be read",
		Expected: "an .xls workbook of 1997 to 2003", Found: found,
		Next: "open the file to see what it is; if it should be a workbook, ask for it again as .xlsx"}
}

func oldWorkbook(found string) *ingest.Reason {
	return &ingest.Reason{Code: "old-workbook", Severity: ingest.Hold, What: "the file is a workbook in the form that Excel used before 1997, which is not read",
		Expected: "an .xls workbook of 1997 to 2003, or an .xlsx workbook", Found: found,
		Next: "ask the laboratory for an .xlsx, or open the file in a spreadsheet program and save it as .xlsx"}
}

func locked() *ingest.Reason {
	return &ingest.Reason{Code: "locked", Severity: ingest.Hold, What: "the workbook can be opened only with a password",
		Expected: "a workbook that opens without a password", Found: "an encrypted workbook",
		Next: "open it with the password that the laboratory gave you, save a copy without one, and drop that copy in instead"}
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
