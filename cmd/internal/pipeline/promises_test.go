package pipeline

import (
	"encoding/json"
	"path/filepath"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/interpret"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/archive/index"
)

// What a letter promised is remembered, and looked at again when there is later
// advice.
func TestPromisesAreRememberedUntilTheyChange(t *testing.T) {
	a, err := archive.Open(filepath.Join(t.TempDir(), "archive"))
	if err != nil {
		t.Fatal(err)
	}
	ix, err := index.Open(t.Context(), filepath.Join(t.TempDir(), "index.sqlite"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = ix.Close() })
	const id = "R0123456789abcdef"
	rep := &normalize.Report{Schema: normalize.SchemaVersion, ID: id, Status: normalize.Flagged, Lab: normalize.Lab{ID: "l", Name: "L"}, Source: ingest.SourceRef{Name: "a.pdf", SHA256: archive.RefOf([]byte("a")).SHA256(), Size: 1},
		Records: []*normalize.Record{{ID: id + "-1", Status: normalize.Flagged, Sample: normalize.Sample{ClientLabel: "north"}, Checks: []normalize.Finding{{Check: "cec-sum", Severity: ingest.Flag, What: "the sum is not the sum"}}}}}
	b, err := json.Marshal(rep)
	if err != nil {
		t.Fatal(err)
	}
	if err := ix.AddReport(t.Context(), id, 1, b); err != nil {
		t.Fatal(err)
	}
	var all Promises
	promised := func(want int) []Promise {
		t.Helper()
		got, err := all.List(t.Context(), a, ix, "")
		if err != nil || len(got) != want {
			t.Fatalf("%v, %v; want %d", got, err, want)
		}
		return got
	}
	advise := func(on string, asks ...interpret.Question) {
		t.Helper()
		b, err := json.Marshal(interpret.Advice{On: on, Questions: asks})
		if err != nil {
			t.Fatal(err)
		}
		if _, _, err := a.PutAdvice(id+"-1", b); err != nil {
			t.Fatal(err)
		}
	}
	promised(0)
	advise("2026-05-12", interpret.Question{Code: "record-doubtful", Text: "we ask", Blocks: "all"})
	for range 2 { // read, and remembered
		if p := promised(1)[0]; p.Since != "2026-05-12" || p.Asks[0] != "we ask" || p.Label != "north" || p.About[0] != "the whole report" {
			t.Errorf("promised %+v", p)
		}
	}
	advise("2026-05-20", interpret.Question{Code: "record-doubtful", Text: "we ask once more", Blocks: "all"})
	if p := promised(1)[0]; p.Since != "2026-05-20" || p.Asks[0] != "we ask once more" {
		t.Errorf("after later advice %+v", p)
	}
	advise("2026-06-01")
	promised(0)
}
