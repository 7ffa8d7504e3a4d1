package mail

import "example.org/windrow/ingest"

func tooLarge(what, expected, found, limit string) *ingest.Reason {
	return &ingest.Reason{Code: "too-large", Severity: ingest.Fail, What: what, Expected: "at most " + expected, Found: found,
		Next: "see whether the mail is really one that brings reports; if it is, raise the limit of " + limit + " in the settings, or save its attachments and drop those in"}
}

func damaged(detail string) *ingest.Reason {
	return &ingest.Reason{Code: "damaged", Severity: ingest.Fail, What: "the mail is damaged, so nothing was taken from it",
		Expected: "a mail as a mail program saves it", Found: detail,
		Next: "open the mail in a mail program, save its attachments, and drop those in; or ask the sender to send it again"}
}

func broken(found string) *ingest.Reason {
	return &ingest.Reason{Code: CodeDecode, Severity: ingest.Fail, What: "the attachment was damaged on its way, so nothing was taken from it",
		Expected: "an attachment that can be unpacked without loss", Found: found,
		Next: "ask the sender to send it again; the other parts of the mail wait until then"}
}

func cutShort() *ingest.Reason {
	return &ingest.Reason{Code: CodeCut, Severity: ingest.Fail, What: "the mail ends before this part of it does, so nothing was taken from the part",
		Expected: "a line that ends the part", Found: "the end of the file",
		Next: "save the mail again from the mail program, or ask the sender to send it again"}
}

func locked() *ingest.Reason {
	return &ingest.Reason{Code: CodeLocked, Severity: ingest.Hold, What: "the mail is encrypted",
		Next: "open it in the mail program that has the key, save its attachments, and drop those in"}
}
