package index_test

import (
	"encoding/json"
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/check"
)

// What the index knows of earlier records is what a memory of the reports
// themselves knows: whatever has a number, a label or all results in common,
// of the same laboratory, of another report, reported before and not held.
func TestEarlier(t *testing.T) { onBoth(t, testEarlier) }

func testEarlier(t *testing.T) {
	build := func(source, lab, no, label, reported, p string, hold bool) *normalize.Report {
		s := &mappings.SampleExtract{Fields: map[mappings.FieldID]mappings.Field{}}
		for id, v := range map[mappings.FieldID]string{mappings.LabSampleID: no, mappings.ClientSampleID: label, mappings.DateReported: reported, mappings.ReportNo: "N-" + source} {
			s.Fields[id] = mappings.Field{Printed: v, Value: v}
		}
		for i, a := range []string{"P", "K", "Ca", "Mg", "Zn", "Mn"} {
			s.Readings = append(s.Readings, mappings.Reading{Analyte: a, Unit: "mg/kg", PrintedUnit: "ppm", Printed: p, Number: "1" + p + "." + strings.Repeat(p, 1+i%2), Method: "mehlich-3-icp"})
		}
		ex := &mappings.Extract{Source: ingest.SourceRef{Name: source, SHA256: strings.Repeat(source, 64)}, Mapping: mappings.Ref{ID: lab, Lab: lab}, Samples: []*mappings.SampleExtract{s}}
		if hold {
			ex.Reasons = []*ingest.Reason{{Code: "seen", Severity: ingest.Hold, What: "held"}}
		}
		return normalize.Build(ex, normalize.Options{})
	}
	reps := []*normalize.Report{
		build("1", "a", "77", "Hill", "2025-03-04", "3", false), // by number
		build("2", "a", "78", "Dale", "2025-03-05", "5", false), // by label
		build("3", "a", "79", "Moor", "2025-03-06", "4", false), // by results
		build("4", "a", "77", "Dale", "2025-03-07", "4", true),  // held
		build("5", "b", "77", "Dale", "2025-03-08", "4", false), // another laboratory's
		build("6", "a", "77", "Dale", "2026-03-09", "4", false), // later
		build("7", "a", "70", "Fold", "2025-03-10", "6", false), // nothing in common
		build("8", "a", "", "", "2025-03-11", "7", false),       // nothing known of it
	}
	ix := open(t, fresh(t))
	for _, r := range reps {
		b, err := r.JSON()
		if err != nil {
			t.Fatal(err)
		}
		if err := ix.AddReport(t.Context(), r.ID, 1, b); err != nil {
			t.Fatal(err)
		}
	}
	now := build("9", "a", "77", "Dale", "2026-03-09", "4", false)
	e := normalize.EarlierOf(now, now.Records[0])
	s := &check.Sample{LabID: e.LabID, Label: e.Label, Reported: e.Last}
	for _, r := range e.Results {
		s.Results = append(s.Results, check.Result{Analyte: r.Analyte, Detail: r.Detail, Method: r.Method, Unit: r.Unit, Written: r.Value, Has: true})
	}
	got, err := ix.Earlier(t.Context(), now.ID, "a", s)
	if err != nil {
		t.Fatal(err)
	}
	by := map[string]string{}
	for _, x := range got {
		b, _ := json.Marshal(x)
		by[x.Number] = string(b)
	}
	if len(got) != 3 || by["N-1"] == "" || by["N-2"] == "" || by["N-3"] == "" {
		t.Fatalf("earlier: %v", by)
	}
	n := 0
	for _, x := range normalize.NewMemory(reps...).Earlier(now.ID, "a", s) {
		if x.Last < e.Last {
			n++
			if b, _ := json.Marshal(x); by[x.Number] != string(b) {
				t.Errorf("the index says\n%s, the memory\n%s", by[x.Number], b)
			}
		}
	}
	if n != 3 {
		t.Errorf("the memory knows %d", n)
	}
	// Of one day: held or not, of the laboratory, and of another report.
	// One that says the same is not asked for.
	for _, c := range []struct{ report, lab, no, day, said, want string }{
		{now.ID, "a", "77", "2026-03-09", "", reps[5].ID}, {reps[5].ID, "a", "77", "2026-03-09", "", ""}, {now.ID, "a", "77", "2025-03-07", "", reps[3].ID},
		{now.ID, "b", "77", "2025-03-07", "", ""}, {now.ID, "", "77", "2025-03-07", "", ""}, {now.ID, "a", "", "2025-03-11", "", ""},
		{now.ID, "a", "77", "2026-03-09", normalize.Said(now.Records[0]), ""}, {now.ID, "a", "77", "2026-03-09", normalize.Said(reps[1].Records[0]), reps[5].ID},
	} {
		if got, err := ix.SameDay(t.Context(), c.report, c.lab, c.no, c.day, c.said); err != nil || strings.Join(got, " ") != c.want {
			t.Errorf("of one day: %+v: %v, %v", c, got, err)
		}
	}
	if got, err := ix.Earlier(t.Context(), now.ID, "a", &check.Sample{LabID: "77"}); err != nil || got != nil {
		t.Errorf("of a sample without a date: %v, %v", got, err)
	}
	if got, err := ix.Earlier(t.Context(), now.ID, "a", &check.Sample{Reported: "2026-03-09"}); err != nil || got != nil {
		t.Errorf("of a sample of which nothing is known, all that nothing is known of: %v, %v", got, err)
	}
}
