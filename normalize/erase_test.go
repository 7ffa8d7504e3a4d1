package normalize_test

import (
	"bytes"
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
)

// personal is a report of two clients whose names stand in many places.
func personal() *normalize.Report {
	where := ingest.Place{File: "marrow ilse.zip > marrow.csv", Line: 3}
	rec := func(id, name, label string) *normalize.Record {
		return &normalize.Record{ID: id, Status: normalize.OK, Client: &normalize.Client{Name: name, Email: "post@" + strings.ToLower(strings.Fields(name)[0]) + ".example"},
			Sample: normalize.Sample{LabID: "L-" + label, ClientLabel: label, County: "Finch", LandUse: "garden", LandUseText: "garden of " + name, Reported: "2026-04-02", Register: &normalize.RegisterRef{Row: "G0123456789", Confidence: "exact"}},
			Checks: []normalize.Finding{{Check: "x", Severity: ingest.Note, What: "as in the report of Ilse Marrow", Source: "s"}}, Place: where,
			Results: []*normalize.Result{{Analyte: "P", MethodName: "not stated", Basis: "P", Status: normalize.OK, Value: "31", Unit: "mg/kg", Steps: []normalize.Step{},
				Printed:  normalize.Printed{Text: "31", Number: "31", Unit: "ppm", UnitID: "ppm", Place: where, Rule: ingest.Place{File: "garden.yaml", Line: 4}},
				Findings: []normalize.Finding{{Check: "y", Severity: ingest.Flag, What: "unlike " + label, Found: name, Source: "s"}}}}}
	}
	return &normalize.Report{Schema: "windrow-report/1", ID: "R0123456789abcdef", Status: normalize.OK, Lab: normalize.Lab{ID: "garden", Name: "Garden Desk"}, Number: "N-77",
		Source:  ingest.SourceRef{Name: "marrow ilse.zip", Member: "marrow.csv", SHA256: strings.Repeat("a", 64), Size: 9},
		Mapping: normalize.MappingRef{ID: "garden", Layout: "l", File: "garden.yaml", SHA256: strings.Repeat("b", 64)}, Version: "1", Tables: strings.Repeat("c", 64),
		Records: []*normalize.Record{rec("R0123456789abcdef-1", "Ilse Marrow", "garden"), rec("R0123456789abcdef-2", "Odo Finch", "plot 2")},
		Reasons: []*ingest.Reason{{Code: "z", Severity: ingest.Flag, Where: where, What: "Ilse Marrow is not in the register", Found: "Ilse Marrow"}}}
}

// What stays says nothing of who the client is, everything of the soil, is
// valid, and stays the same a second time.
func TestWithoutPerson(t *testing.T) {
	for _, c := range []struct {
		name    string
		records []string
		gone    []string
		stays   []string
	}{
		{"all", nil, []string{"Marrow", "marrow", "Odo", "post@", "L-", "plot 2", "N-77", "G0123456789"}, nil},
		{"one", []string{"R0123456789abcdef-1"}, []string{"Marrow", "marrow", "post@ilse", "L-garden"}, []string{"Odo Finch", "plot 2", "N-77", "L-plot 2"}},
	} {
		rep := personal()
		before, _ := rep.JSON()
		out, err := normalize.WithoutPerson(rep, c.records)
		if err != nil {
			t.Fatal(err)
		}
		b, err := out.JSON()
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range c.gone {
			if bytes.Contains(b, []byte(s)) {
				t.Errorf("%s: still says %q: %s", c.name, s, b)
			}
		}
		for _, s := range append(c.stays, `"land_use": "garden"`, `"id": "garden"`, `"file": "garden.yaml"`, `"county": "Finch"`, `"date_reported": "2026-04-02"`, `"value": "31"`, `"text": "31"`, `"code": "z"`, `"check": "y"`, strings.Repeat("a", 64)) {
			if !bytes.Contains(b, []byte(s)) {
				t.Errorf("%s: lost %q", c.name, s)
			}
		}
		if err := normalize.Validate(b); err != nil {
			t.Errorf("%s: %v", c.name, err)
		}
		if !normalize.Erased(out) || normalize.Erased(rep) {
			t.Errorf("%s: erased %v, before %v", c.name, normalize.Erased(out), normalize.Erased(rep))
		}
		again, err := normalize.WithoutPerson(out, c.records)
		if err != nil {
			t.Fatal(err)
		}
		if b2, _ := again.JSON(); !bytes.Equal(b2, b) {
			t.Errorf("%s: another a second time: %s", c.name, b2)
		}
		if now, _ := rep.JSON(); !bytes.Equal(now, before) {
			t.Errorf("%s: the report itself was changed", c.name)
		}
	}
}
