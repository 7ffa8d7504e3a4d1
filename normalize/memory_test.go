package normalize

import (
	"strings"
	"testing"

	"example.org/windrow/ingest"
)

// The truth files as the archive of one office, each looked at after all
// others have come: none takes another for its own earlier one but the
// corrected report, which is one, and says so of both of its samples: one has
// other numbers now, and one stands there a second time.
func TestTruthHasNoEarlier(t *testing.T) {
	build := func(f *truthFile, h History) *Report {
		ex := f.extract(t)
		ex.Mapping.ID = f.Lab
		ex.Source.Member = f.path // a source of its own
		return Build(ex, Options{Earlier: h, Arrived: "2026-12-31"})
	}
	var reps []*Report
	var files []truthFile
	for _, f := range truths(t) {
		if !strings.Contains(f.path, "revised") { // those are held, and their numbers are used again
			files = append(files, f)
			reps = append(reps, build(&f, nil))
		}
	}
	past := NewMemory(reps...)
	corrected := ""
	for _, f := range files {
		for _, rec := range build(&f, past).Records {
			for _, c := range rec.Checks {
				switch {
				case strings.Contains(f.path, "corrected"):
					corrected += rec.Sample.LabID + " " + c.Check + "; "
				case c.Severity != ingest.Note:
					t.Errorf("%s: %s: %s: %s", f.path, rec.Sample.LabID, c.Check, c.What)
				}
			}
		}
	}
	if want := "AR2255.01 sample-number-before; AR2255.02 results-before; "; corrected != want {
		t.Errorf("of the corrected report: %q, want %q", corrected, want)
	}
	t.Logf("%d reports looked at with %d others before them", len(files), len(reps)-1)
}
