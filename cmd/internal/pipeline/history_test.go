package pipeline

import (
	"path/filepath"
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive/index"
)

// Two issues of one report that are read at the same time: neither is in the
// index when the other is looked at, and yet the one that gets so far second
// is told of the first, and only that one. A held report is nobody's earlier
// one, and what is done with is known from the index alone.
func TestReportsUnderwayKnowOfEachOther(t *testing.T) {
	ix, err := index.Open(t.Context(), filepath.Join(t.TempDir(), "index.sqlite"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = ix.Close() })
	var u underway
	read := func(source, pH string, hold bool) *normalize.Report {
		s := &mappings.SampleExtract{Fields: map[mappings.FieldID]mappings.Field{}}
		for id, v := range map[mappings.FieldID]string{mappings.LabSampleID: "NF702-001", mappings.DateReported: "2026-03-04", mappings.ReportNo: "NF702"} {
			s.Fields[id] = mappings.Field{Printed: v, Value: v}
		}
		for _, r := range [][2]string{{"pH", pH}, {"P", "87"}, {"K", "295"}} {
			s.Readings = append(s.Readings, mappings.Reading{Analyte: r[0], Unit: map[bool]string{true: "pH", false: "mg/kg"}[r[0] == "pH"], Printed: r[1], Number: r[1]})
		}
		ex := &mappings.Extract{Source: ingest.SourceRef{Name: source, SHA256: strings.Repeat(source, 64)}, Mapping: mappings.Ref{ID: "ninefold", Lab: "Ninefold"}, Samples: []*mappings.SampleExtract{s}}
		if hold {
			ex.Reasons = []*ingest.Reason{{Code: "layout-changed", Severity: ingest.Hold, What: "held"}}
		}
		return normalize.Build(ex, normalize.Options{Earlier: history{t.Context(), ix, func(err error) { t.Error(err) }, &u}})
	}
	found := func(r *normalize.Report) (codes string) {
		for _, f := range r.Records[0].Checks {
			codes += f.Check + " "
		}
		return codes
	}
	read("0", "5.5", true)
	first := read("1", "5.5", false)
	again := read("2", "6.5", false)
	blank := read("3", "5.5", false)
	if found(first) != "" || first.Status != normalize.OK {
		t.Errorf("the first: %s, %q", first.Status, found(first))
	}
	if found(again) != "sample-number-again " || again.Status != normalize.Held {
		t.Errorf("the second issue: %s, %q", again.Status, found(again))
	}
	if !strings.Contains(found(blank), "results-before") {
		t.Errorf("the same results: %s, %q", blank.Status, found(blank))
	}
	u.done([]*Reading{{Report: first}, {Report: again}, {Report: blank}})
	if got := read("4", "6.5", false); found(got) != "" {
		t.Errorf("after the others were given up: %q", found(got))
	}
}
