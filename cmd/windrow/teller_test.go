package main

import (
	"errors"
	"io"
	"strings"
	"testing"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/ingest"
	"example.org/windrow/ingest/folder"
)

// A file that can't be opened is no success, even when there is no other.
func TestAFileThatCantBeOpenedIsTold(t *testing.T) {
	var out, told strings.Builder
	tl := &teller{e: &env{stdout: &out, stderr: &told}}
	tl.aside(&ingest.Reason{Code: folder.CodeNotOpened, Severity: ingest.Flag, Where: ingest.Place{File: "a.pdf"}, What: "the file can't be opened", Found: "the rights do not allow it"})
	tl.summary(&config.Config{})
	if err := tl.end(); !errors.Is(err, errTold) {
		t.Errorf("ends with %v", err)
	}
	if got := told.String(); !strings.Contains(got, "a.pdf") || !strings.Contains(got, "1 file could not be opened") || strings.Contains(got, "no file to work on") {
		t.Errorf("told %q", got)
	}
	if tl := (&teller{e: &env{stdout: io.Discard, stderr: io.Discard}}); tl.end() != nil {
		t.Error("a run without files is no failure")
	}
}
