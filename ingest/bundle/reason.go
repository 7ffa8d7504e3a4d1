package bundle

import (
	"fmt"

	"example.org/windrow/ingest"
)

func tooLarge(what, expected, found, limit string) *ingest.Reason {
	return &ingest.Reason{Code: "too-large", Severity: ingest.Fail, What: what, Expected: "at most " + expected, Found: found,
		Next: "see whether the zip file is really one of reports; if it is, raise the limit of " + limit + " in the settings, or unpack it and drop the files in one by one"}
}

func bomb(in, found string) *ingest.Reason {
	return &ingest.Reason{Code: CodeBomb, Severity: ingest.Fail, What: "the zip file would grow beyond all measure when unpacked" + in + ", so nothing was unpacked",
		Expected: fmt.Sprintf("files that grow to at most %d times their packed size", mostRatio), Found: found,
		Next: "do not open it; ask the sender what it is, and for the reports one by one"}
}

func damaged(detail string) *ingest.Reason {
	return &ingest.Reason{Code: "damaged", Severity: ingest.Fail, What: "the zip file is damaged, so nothing was taken from it",
		Expected: "a zip file that unpacks without complaint", Found: detail,
		Next: "ask the sender to send it again"}
}

func damagedEntry(detail string) *ingest.Reason {
	return &ingest.Reason{Code: "damaged", Severity: ingest.Fail, What: "the file in the zip is damaged, so nothing was taken from it",
		Expected: "a file that unpacks to the length and the checksum that the zip file names", Found: detail,
		Next: "ask the sender to send it again; the other files of the zip are not affected"}
}
