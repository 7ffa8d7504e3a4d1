package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestEarlierReportsAreKnown gives an office a report, and then others made of
// it: what the index knows of the first is part of the cross-examination of
// those that were reported later, and the file's own dates of all of them.
func TestEarlierReportsAreKnown(t *testing.T) {
	first, err := os.ReadFile("../../testdata/labs/marrow-brook-land-water-testing/MB26-0712-export.csv")
	if err != nil {
		t.Fatal(err)
	}
	dir, files := t.TempDir(), t.TempDir()
	if err := makeOffice(dir); err != nil {
		t.Fatal(err)
	}
	run := func(name string, change ...string) (status, codes string) {
		b := first
		for i := 0; i < len(change); i += 2 {
			if !bytes.Contains(b, []byte(change[i])) {
				t.Fatalf("%s: no %q to change", name, change[i])
			}
			b = bytes.ReplaceAll(b, []byte(change[i]), []byte(change[i+1]))
		}
		p := filepath.Join(files, name)
		if err := os.WriteFile(p, b, 0o600); err != nil {
			t.Fatal(err)
		}
		status, _, _ = strings.Cut(must(t, exitDone, "run", "-q", "--office", dir, p), " ")
		for at, b := range tree(t, filepath.Join(dir, "archive", "reports")) {
			if strings.HasSuffix(at, ".json") && strings.Contains(b, `"name": "`+name+`"`) {
				for _, c := range []string{"sample-number-before", "results-before", "same-as-last-time", "dates-future"} {
					if n := strings.Count(b, `"check": "`+c+`"`); n > 0 {
						codes += c + " "
					}
				}
			}
		}
		return status, codes
	}
	for _, c := range []struct {
		name, status, codes string
		change              []string
	}{
		{"first.csv", "ok", "", nil},
		{"sent-again.csv", "flagged", "results-before ", []string{"MB26-0712;", "MB26-9712;", "01.04.2026", "15.04.2026"}},
		{"corrected.csv", "flagged", "sample-number-before results-before ", []string{"01.04.2026", "16.04.2026", ";506,5;", ";406,5;"}},
		{"next-year.csv", "flagged", "same-as-last-time dates-future ", []string{".2026", ".2027", ";MB64", ";MB74"}},
		{"same-day.csv", "ok", "", []string{"MB26-0712;", "MB26-9713;"}},
	} {
		if status, codes := run(c.name, c.change...); status != c.status || codes != c.codes {
			t.Errorf("%s: %s, %q; want %s, %q", c.name, status, codes, c.status, c.codes)
		}
	}
	// Read anew, each is told the same of those before it.
	if out := must(t, exitDone, "replay", "--office", dir); !strings.HasPrefix(out, "5 reports read anew, 0 would change") {
		t.Errorf("replay: %s", out)
	}
}
