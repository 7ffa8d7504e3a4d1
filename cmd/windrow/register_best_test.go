package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/normalize/register"
)

// A sample whose good report has come is not held because a bad one came
// first.
func TestBestOfSeveralRecords(t *testing.T) {
	held := pipeline.Taken{Record: "held", Status: "held", Confidence: register.Exact}
	good := pipeline.Taken{Record: "good", Status: "clean", Confidence: register.Exact}
	likely := pipeline.Taken{Record: "likely", Status: "clean", Confidence: register.Likely}
	for _, c := range []struct {
		list []pipeline.Taken
		want string
	}{{[]pipeline.Taken{held, good}, "good"}, {[]pipeline.Taken{good, held}, "good"}, {[]pipeline.Taken{held}, "held"}, {[]pipeline.Taken{likely, held}, "held"}, {[]pipeline.Taken{likely, good, held}, "good"}} {
		if got := best(c.list).Record; got != c.want {
			t.Errorf("%v: %s, want %s", c.list, got, c.want)
		}
	}
}

// --register is a path from the current folder, and all that is amiss is told
// at once: a date, a client that is missing, a line that stands twice.
func TestRegisterFlagFromHere(t *testing.T) {
	dir, here := filepath.Join(t.TempDir(), "office"), t.TempDir()
	must(t, exitDone, "demo", "--dir", dir)
	text := "label,client,land use,area,date sent\nX,Y,lawn,3 acres,2026-10-13\nZ,,lawn,500 sq ft,2026-10-13\nX,Y,lawn,10 sq ft,2026-10-13\nQ,R,lawn,10 sq ft,04/05/2026\n"
	if err := os.WriteFile(filepath.Join(here, "mine.csv"), []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	c := program(t, "register", "check", "--register", "mine.csv", "--office", dir)
	c.Dir = here
	out, err := c.CombinedOutput()
	for _, want := range []string{"mine.csv:5:19: error [register-date]", "mine.csv:3:1: flagged [register-no-client]", "mine.csv:4:1: flagged [register-same-sample]"} {
		if err == nil || !strings.Contains(string(out), want) {
			t.Errorf("no %q in\n%s", want, out)
		}
	}
}
