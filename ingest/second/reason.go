package second

import (
	"strconv"

	"example.org/windrow/ingest"
)

func wrongKind(k ingest.Kind) *ingest.Reason {
	return &ingest.Reason{Code: "wrong-kind", Severity: ingest.Fail, What: "the file is not a PDF",
		Expected: "a PDF, as its name or its folder says", Found: "a file of the kind " + string(k),
		Next: "save it under a name that says what it is, or ask the sender for the PDF"}
}

func locked(tried int) *ingest.Reason {
	found := "a password is needed to open it"
	if tried > 0 {
		found = "none of the passwords in the settings opens it"
	}
	return &ingest.Reason{Code: "locked", Severity: ingest.Fail, What: "the file is locked with a password",
		Expected: "a PDF that opens without a password, or with one from the settings", Found: found,
		Next: "add its password under pdf_passwords in the settings (windrow.yaml) and try again, or ask the laboratory for an unlocked copy"}
}

func lockedOddly() *ingest.Reason {
	return &ingest.Reason{Code: "locked", Severity: ingest.Fail, What: "the file is locked in a way that can't be opened here",
		Expected: "a PDF that opens without a password, or with one from the settings", Found: "a lock that isn't part of the PDF standard",
		Next: "open it with its own program and print it to a new PDF, or ask the laboratory for an unlocked copy"}
}

func damaged() *ingest.Reason {
	return &ingest.Reason{Code: "damaged", Severity: ingest.Fail, What: "the parts of the file don't fit together",
		Expected: "a PDF whose parts can all be found", Found: "parts that are missing or broken, also to a second way of reading it",
		Next: "ask the sender for the file again, and compare its size with theirs; nothing of it was used"}
}

func engineFailed() *ingest.Reason {
	return &ingest.Reason{Code: "parser-crashed", Severity: ingest.Fail, What: "the second way of reading PDF files stopped at this file",
		Expected: "a file that is whole and means no harm", Found: "something that it couldn't work on, or that takes more memory than it may use",
		Next: "ask the sender for the file again; if it happens again, keep the file and send it to whoever looks after Windrow"}
}

func notStarted(err error) *ingest.Reason {
	return &ingest.Reason{Code: "parser-not-started", Severity: ingest.Fail, What: "the second way of reading PDF files couldn't be started",
		Found: err.Error(), Next: "check that there is memory left (it takes 350 MB the first time), then try again"}
}

func tooLarge(limit, what string, allowed, found int64) *ingest.Reason {
	return &ingest.Reason{Code: "too-large", Severity: ingest.Fail, What: what,
		Expected: "at most " + strconv.FormatInt(allowed, 10), Found: "at least " + strconv.FormatInt(found, 10),
		Next: "if the file is really meant to be that large, raise the limit \"" + limit + "\" in the settings and try again"}
}

func textUnreadable(page, bad, all int) *ingest.Reason {
	return &ingest.Reason{Code: "text-unreadable", Severity: ingest.Fail, Where: ingest.Place{Page: page},
		What:     "the text can be seen but not read: the file doesn't say which characters its shapes stand for",
		Expected: "a PDF whose text can be selected and copied", Found: strconv.Itoa(bad) + " of " + strconv.Itoa(all) + " characters without a meaning",
		Next: "ask the laboratory for its data as a spreadsheet or for a PDF made another way; until then a person must key the report in"}
}

func scan(pages int) *ingest.Reason {
	return &ingest.Reason{Code: "scan", Severity: ingest.Fail, What: "the pages are pictures of text, not text",
		Expected: "a PDF with text in it", Found: strconv.Itoa(pages) + " pages with pictures and no text",
		Next: "ask the laboratory for its electronic copy; a scan needs optical reading and a person to confirm every number"}
}

func noText() *ingest.Reason {
	return &ingest.Reason{Code: "no-text", Severity: ingest.Fail, What: "there is no text in the file",
		Expected: "a PDF with text in it", Found: "empty pages, or letters that are drawn as lines",
		Next: "open the file: if its pages are empty, ask the sender for it again; if a person can read them, ask the laboratory for another form of the report"}
}

// onlySecond goes with every document that this engine alone has read.
func onlySecond() *ingest.Reason {
	return &ingest.Reason{Code: "second-engine-only", Severity: ingest.Flag,
		What:     "only one of the two ways of reading PDF files could open this file, so nothing in it was read twice, and text that is hidden on the page was not told apart",
		Expected: "a file that both can open", Found: "a file that is locked, or damaged and repaired while it was read",
		Next: "compare the numbers with the page, or ask the laboratory for a copy that is neither locked nor damaged"}
}

func noPage(page, pages int) *ingest.Reason {
	return &ingest.Reason{Code: "no-such-page", Severity: ingest.Fail, What: "the file has no such page",
		Expected: "a page from 1 to " + strconv.Itoa(pages), Found: "page " + strconv.Itoa(page), Next: "ask for another page"}
}
