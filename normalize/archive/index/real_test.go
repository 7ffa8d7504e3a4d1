package index_test

import (
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
)

// A report as package normalize writes it goes through archive, Verify with
// the published schema, and index.
func TestReportOfNormalize(t *testing.T) { onBoth(t, testReportOfNormalize) }

func testReportOfNormalize(t *testing.T) {
	a := newArchive(t)
	ix := open(t, fresh(t))
	src := ingest.NewSource("april <1>.csv", []byte("a file that no mapping knows"))
	ref, err := a.PutOriginal(src.Bytes)
	if err != nil || ref.SHA256() != src.SHA256 {
		t.Fatalf("%v, %v", ref, err)
	}
	rep := normalize.HeldReport(src.Ref(), normalize.Lab{}, []*ingest.Reason{{Code: "no-mapping", Severity: ingest.Hold, What: "no mapping knows this report"}},
		normalize.Options{Version: "test", Office: "Finch"})
	b, err := rep.JSON()
	if err != nil {
		t.Fatal(err)
	}
	v, _, err := a.PutReport(rep.ID, b)
	if err != nil {
		t.Fatal(err)
	}
	validate := func(kind string, b []byte) error {
		if kind == archive.Reports {
			return normalize.Validate(b)
		}
		return nil
	}
	if ps, n, err := a.Verify(t.Context(), validate); err != nil || len(ps) != 0 || n.Documents[archive.Reports] != 1 {
		t.Errorf("Verify: %v, %+v, %v", ps, n, err)
	}
	if err := ix.AddReport(t.Context(), rep.ID, v, b); err != nil {
		t.Fatal(err)
	}
	held, err := ix.Held(t.Context())
	if err != nil || len(held) != 1 || held[0].ID != rep.ID || held[0].Name != "april <1>.csv" || held[0].Office != "Finch" ||
		len(held[0].Reasons) != 1 || held[0].Reasons[0].Code != "no-mapping" {
		t.Errorf("Held: %+v, %v", held, err)
	}
	if s, known, err := ix.Known(t.Context(), src.SHA256); err != nil || !known || s.Outcome != "held" || s.Name != "april <1>.csv" {
		t.Errorf("Known: %+v, %v, %v", s, known, err)
	}
}
