package index_test

import (
	"encoding/json"
	"path/filepath"
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/check"
)

// A laboratory's number is one number in capital and in small letters, in
// letters that English does not have as well, and in the index as in the
// records themselves.
func TestSameDayInAnyLetters(t *testing.T) {
	build := func(source, no, value string) *normalize.Report {
		s := &mappings.SampleExtract{Fields: map[mappings.FieldID]mappings.Field{}, Readings: []mappings.Reading{{Analyte: "P", Unit: "mg/kg", PrintedUnit: "ppm", Printed: value, Number: value, Method: "mehlich-3-icp"}}}
		for id, v := range map[mappings.FieldID]string{mappings.LabSampleID: no, mappings.DateReported: "2026-04-14", mappings.ReportNo: "81"} {
			s.Fields[id] = mappings.Field{Printed: v, Value: v}
		}
		return normalize.Build(&mappings.Extract{Source: ingest.SourceRef{Name: source, SHA256: strings.Repeat(source, 64)}, Mapping: mappings.Ref{ID: "a", Lab: "a"}, Samples: []*mappings.SampleExtract{s}}, normalize.Options{})
	}
	ix := open(t, filepath.Join(t.TempDir(), "index.db"))
	for i, c := range []struct {
		one, other string
		same       bool
	}{{"Ä-12", "ä-12", true}, {"øl-3", "ØL-3", true}, {"Ж7", "ж7", true}, {"AB-1", "ab-1", true}, {"Ä-13", "A-13", false}, {"Σ9", "ς9", true}} {
		a, b := build(string(rune('a'+2*i)), c.one, "12"), build(string(rune('b'+2*i)), c.other, "44")
		for _, r := range []*normalize.Report{a, b} {
			text, err := json.Marshal(r)
			if err != nil {
				t.Fatal(err)
			}
			if err := ix.AddReport(t.Context(), r.ID, 1, text); err != nil {
				t.Fatal(err)
			}
		}
		got, err := ix.SameDay(t.Context(), a.ID, "a", c.one, "2026-04-14", normalize.Said(a.Records[0]))
		if err != nil {
			t.Fatal(err)
		}
		if found := len(got) == 1 && got[0] == b.ID; found != c.same || len(got) > 1 {
			t.Errorf("%s and %s: the index gives %v", c.one, c.other, got)
		}
		if normalize.SameSample(a, a.Records[0], b, b.Records[0]) != c.same {
			t.Errorf("%s and %s: the records say otherwise", c.one, c.other)
		}
		if (check.Folded(c.one) == check.Folded(c.other)) != strings.EqualFold(c.one, c.other) {
			t.Errorf("%s and %s: folded otherwise than strings.EqualFold does", c.one, c.other)
		}
	}
}

// What a record says has the layer in it, in the index as in the records: two
// that agree in all but that say different things.
func TestSameDayOfALayer(t *testing.T) {
	build := func(source, top string) *normalize.Report {
		s := &mappings.SampleExtract{Fields: map[mappings.FieldID]mappings.Field{}, Readings: []mappings.Reading{{Analyte: "P", Unit: "mg/kg", PrintedUnit: "ppm", Printed: "12", Number: "12", Method: "mehlich-3-icp"}}}
		for id, v := range map[mappings.FieldID]string{mappings.LabSampleID: "7001", mappings.DateReported: "2026-04-14", mappings.ReportNo: "81", mappings.Depth: "24", mappings.DepthTop: top} {
			s.Fields[id] = mappings.Field{Printed: v, Value: v}
		}
		return normalize.Build(&mappings.Extract{Source: ingest.SourceRef{Name: source, SHA256: strings.Repeat(source, 64)}, Mapping: mappings.Ref{ID: "a", Lab: "a"}, Samples: []*mappings.SampleExtract{s}}, normalize.Options{})
	}
	ix := open(t, filepath.Join(t.TempDir(), "index.db"))
	a, same, other := build("a", "6"), build("b", "6"), build("c", "0")
	for _, r := range []*normalize.Report{a, same, other} {
		text, err := json.Marshal(r)
		if err != nil {
			t.Fatal(err)
		}
		if err := ix.AddReport(t.Context(), r.ID, 1, text); err != nil {
			t.Fatal(err)
		}
	}
	got, err := ix.SameDay(t.Context(), a.ID, "a", "7001", "2026-04-14", normalize.Said(a.Records[0]))
	if err != nil || len(got) != 1 || got[0] != other.ID {
		t.Errorf("the index gives %v (%v), want %s", got, err, other.ID)
	}
}
