package apart

import (
	"fmt"

	"example.org/windrow/ingest"
)

func crashed(found string) *ingest.Reason {
	return &ingest.Reason{Code: "parser-crashed", Severity: ingest.Fail, What: "the file couldn't be read, and stopped what was reading it",
		Expected: "a file that is whole and means no harm", Found: found,
		Next: "ask the sender for the file again; if it happens again, keep the file and send it to whoever looks after Windrow"}
}

func tooLarge(what, expected, found, limit string) *ingest.Reason {
	return &ingest.Reason{Code: "too-large", Severity: ingest.Fail, What: what, Expected: expected, Found: found,
		Next: "if the file is really meant to be that large, raise the limit \"" + limit + "\" in the settings and try again"}
}

func outOfMemory(lim ingest.Limits) *ingest.Reason {
	return tooLarge("reading the file takes more memory than allowed", fmt.Sprintf("at most %d MiB", lim.MemoryMiB), "more; such files are often damaged or made to do harm", "memory_mib")
}

func notStarted(err error) *ingest.Reason {
	return &ingest.Reason{Code: "parser-not-started", Severity: ingest.Fail, What: "the part of the program that reads files couldn't be started",
		Found: err.Error(), Next: "check that the program may start itself again and that there is memory left, then try again"}
}
