package pdf

import (
	"strconv"

	"example.org/windrow/ingest"
)

func wrongKind(k ingest.Kind) *ingest.Reason {
	found := map[ingest.Kind]string{ingest.KindImage: "a picture", ingest.KindHTML: "a web page", ingest.KindZip: "a zip archive",
		ingest.KindXLSX: "a workbook", ingest.KindXLS: "an old workbook (.xls)", ingest.KindMail: "a mail", ingest.KindText: "plain text"}[k]
	if found == "" {
		found = "something else"
	}
	next := "save it under a name that says what it is, or ask the sender for the PDF"
	if k == ingest.KindImage {
		next = "ask the laboratory for its own file; a photograph or scan of a report can't be read as text"
	}
	return &ingest.Reason{Code: "wrong-kind", Severity: ingest.Fail, What: "the file is not a PDF",
		Expected: "a PDF, as its name or its folder says", Found: found, Next: next}
}

func locked(found string) *ingest.Reason {
	return &ingest.Reason{Code: "locked", Severity: ingest.Fail, What: "the file is locked with a password or a restriction",
		Expected: "a PDF that opens without a password", Found: found,
		Next: "open it with its password and print or save it to a new PDF, or ask the laboratory for an unlocked copy"}
}

func damaged(what, expected, found string) *ingest.Reason {
	return &ingest.Reason{Code: "damaged", Severity: ingest.Fail, What: what, Expected: expected, Found: found,
		Next: "ask the sender for the file again, and compare its size with theirs; nothing of it was used"}
}

func notSupported(what, found string) *ingest.Reason {
	return &ingest.Reason{Code: "not-supported", Severity: ingest.Fail, What: "the file uses " + what + " that can't be read here",
		Found: found, Next: "open it and print or save it to a new PDF, or ask the laboratory for another form of the report"}
}

func tooLarge(limit, what string, allowed, found int64) *ingest.Reason {
	return &ingest.Reason{Code: "too-large", Severity: ingest.Fail, What: what,
		Expected: "at most " + strconv.FormatInt(allowed, 10) + " " + limitUnit[limit],
		Found:    "at least " + strconv.FormatInt(found, 10),
		Next:     "if the file is really meant to be that large, raise the limit \"" + limit + "\" in the settings and try again"}
}

var limitUnit = map[string]string{"bytes": "bytes", "unzipped": "bytes", "words": "words", "pages": "pages", "glyphs": "characters on a page"}

func textUnreadable(page int, found string) *ingest.Reason {
	return &ingest.Reason{Code: "text-unreadable", Severity: ingest.Fail, Where: ingest.Place{Page: page},
		What:     "the text can be seen but not read: the file doesn't say which characters its shapes stand for",
		Expected: "a PDF whose text can be selected and copied", Found: found,
		Next: "ask the laboratory for its data as a spreadsheet or for a PDF made another way; until then a person must key the report in"}
}

func scan(pages int) *ingest.Reason {
	found := "1 page that is a picture"
	if pages != 1 {
		found = strconv.Itoa(pages) + " pages that are pictures"
	}
	return &ingest.Reason{Code: "scan", Severity: ingest.Fail, What: "the pages are pictures of text, not text",
		Expected: "a PDF with text in it", Found: found,
		Next: "ask the laboratory for its electronic copy; a scan needs optical reading and a person to confirm every number"}
}

func noText() *ingest.Reason {
	return &ingest.Reason{Code: "no-text", Severity: ingest.Fail, What: "there is no text in the file",
		Expected: "a PDF with text in it", Found: "empty pages, or letters that are drawn as lines",
		Next: "open the file: if its pages are empty, ask the sender for it again; if a person can read them, ask the laboratory for another form of the report"}
}
