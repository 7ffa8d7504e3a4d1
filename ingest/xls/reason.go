package xls

import "example.org/windrow/ingest"

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
