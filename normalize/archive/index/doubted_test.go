package index_test

import (
	"encoding/json"
	"path/filepath"
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
	"example.org/windrow/normalize"
)

// A record with a flag is listed until a later report of its laboratory on the
// sample comes; one of another laboratory, label or day of sampling settles
// nothing, as laboratories use a number again.
func TestDoubted(t *testing.T) {
	n := 0
	build := func(lab, no, label, sampled, reported, method string) *normalize.Report {
		n++
		s := &mappings.SampleExtract{Fields: map[mappings.FieldID]mappings.Field{}, Readings: []mappings.Reading{
			{Analyte: "P", Unit: "mg/kg", PrintedUnit: "ppm", Printed: "12", Number: "12", Method: method},
			{Analyte: "K", Unit: "mg/kg", PrintedUnit: "ppm", Printed: "80", Number: "80", Method: "mehlich-3-icp"}}}
		for id, v := range map[mappings.FieldID]string{mappings.LabSampleID: no, mappings.ClientSampleID: label, mappings.DateSampled: sampled, mappings.DateReported: reported} {
			s.Fields[id] = mappings.Field{Printed: v, Value: v}
		}
		rep := normalize.Build(&mappings.Extract{Source: ingest.SourceRef{Name: "x", SHA256: strings.Repeat(string(rune('a'+n)), 64)}, Mapping: mappings.Ref{ID: lab, Lab: lab}, Samples: []*mappings.SampleExtract{s}}, normalize.Options{})
		if method == "" { // as the checks do
			r := rep.Records[0].Results[0]
			r.Status, r.Findings = normalize.Flagged, []normalize.Finding{{Check: "method-missing", Severity: ingest.Flag, What: "no method is printed"}}
		}
		return rep
	}
	ix := open(t, filepath.Join(t.TempDir(), "index.db"))
	add := func(r *normalize.Report) *normalize.Report {
		t.Helper()
		b, err := json.Marshal(r)
		if err != nil {
			t.Fatal(err)
		}
		if err := ix.AddReport(t.Context(), r.ID, 1, b); err != nil {
			t.Fatal(err)
		}
		return r
	}
	listed := func(want ...string) {
		t.Helper()
		got, err := ix.Doubted(t.Context(), "")
		if err != nil {
			t.Fatal(err)
		}
		var ids []string
		for _, d := range got {
			ids = append(ids, d.Record)
		}
		if strings.Join(ids, " ") != strings.Join(want, " ") {
			t.Errorf("listed %q, want %q", ids, want)
		}
	}
	listed()
	add(build("a", "1", "Beans", "2026-04-02", "2026-04-10", "mehlich-3-icp"))
	listed() // nothing is flagged
	doubt := add(build("a", "2", "Beans", "2026-04-02", "2026-04-11", ""))
	id := doubt.Records[0].ID
	listed(id)
	if got, err := ix.Doubted(t.Context(), "another office"); err != nil || len(got) != 0 {
		t.Errorf("another office is told of it: %v %v", got, err)
	}
	add(build("b", "2", "Beans", "2026-04-02", "2026-04-20", "mehlich-3-icp"))
	add(build("a", "2", "Roses", "2026-04-02", "2026-04-20", "mehlich-3-icp"))
	add(build("a", "2", "Beans", "2026-08-02", "2026-08-20", "mehlich-3-icp"))
	listed(id)
	add(build("a", "2", "Beans", "2026-04-02", "2026-04-20", "mehlich-3-icp"))
	listed()
}
