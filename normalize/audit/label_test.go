package audit

import (
	"encoding/json"
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
	"example.org/windrow/normalize"
)

// labelled is the sound report with a label for its first result, and the
// lines of the mapping for what the mapping states.
func labelled(t *testing.T) *normalize.Report {
	t.Helper()
	rep := sound(t)
	res := rep.Records[0].Results[0]
	res.Printed.Label = &mappings.PrintedLabel{Text: "Nutrients > Phosphate (P2O5)", Place: ingest.Place{Line: 1, Col: 3}}
	for _, s := range append(res.Steps, res.FormSteps...) {
		for i := range s.Inputs {
			if s.Inputs[i].Origin == "mapping" {
				s.Inputs[i].Rule = &ingest.Place{File: "quarry.yaml", Line: 12, Col: 3}
			}
		}
	}
	return rep
}

// Records of earlier versions have no labels and no lines of the mapping
// beside what it states. They fit the schema and are audited like all others,
// and so are those that have them.
func TestRecordsWithAndWithoutLabels(t *testing.T) {
	with := clone(t, labelled(t))
	if p := with.Records[0].Results[0].Printed.Label; p == nil || p.Text != "Nutrients > Phosphate (P2O5)" || p.Place.Line != 1 {
		t.Fatalf("the label did not come back: %+v", p)
	}
	b, err := with.JSON()
	if err != nil {
		t.Fatal(err)
	}
	var doc map[string]any
	if err := json.Unmarshal(b, &doc); err != nil {
		t.Fatal(err)
	}
	taken := 0
	var strip func(any)
	strip = func(v any) {
		switch v := v.(type) {
		case map[string]any:
			for k, x := range v {
				if _, place := x.(map[string]any); k == "label" || k == "rule" && place {
					delete(v, k)
					taken++
					continue
				}
				strip(x)
			}
		case []any:
			for _, x := range v {
				strip(x)
			}
		}
	}
	strip(doc)
	if taken < 4 {
		t.Fatalf("only %d fields were taken out", taken)
	}
	old, err := json.Marshal(doc)
	if err != nil {
		t.Fatal(err)
	}
	for name, b := range map[string][]byte{"new": b, "old": old} {
		if err := normalize.Validate(b); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		rep := &normalize.Report{}
		if err := json.Unmarshal(b, rep); err != nil {
			t.Fatal(err)
		}
		for _, d := range NewChecker(normalize.Sources()).Report(rep, 1) {
			t.Errorf("%s: %v", name, d)
		}
	}
}

// The worked examples name the label, so that a steward finds the number.
func TestExampleNamesTheLabel(t *testing.T) {
	rep := labelled(t)
	k := NewClerk(Scope{}, normalize.Sources())
	k.Take(rep, Document{Report: rep.ID, Version: 1})
	seen := false
	for _, c := range k.Account().Conversions {
		if c.Rule != "area/by-mass" {
			continue
		}
		if seen = true; c.Example.Label != "Nutrients > Phosphate (P2O5)" {
			t.Errorf("the label of the example is %q", c.Example.Label)
		}
	}
	if !seen {
		t.Error("no example of an amount per area")
	}
}

// A label that does not stand at its place in the original is told; one whose
// words come in another order there, as those of a turned heading do, is not.
func TestLabelsAreReadAgain(t *testing.T) {
	cells := []ingest.Cell{{Line: 1, Row: 1, Col: 3, Text: "(P2O5) Phosphate"}, {Line: 2, Row: 2, Col: 3, Text: "255"}}
	page := &ingest.Page{Number: 1, Cells: cells}
	docs := []*ingest.Document{{Format: ingest.CSV, Pages: []*ingest.Page{page}}}
	for label, want := range map[string]string{
		"Nutrients > Phosphate (P2O5)": "",
		"Phosphate (P2O5)":             "",
		"Phosphorus (P)":               "the original, read again, does not show the label of the result at its place",
	} {
		rep := labelled(t)
		res := rep.Records[0].Results[0]
		rep.Records[0].Results = rep.Records[0].Results[:1]
		res.Printed.Label = &mappings.PrintedLabel{Text: label, Place: page.PlaceOfCell(&cells[0])}
		res.Printed.Place = page.PlaceOfCell(&cells[1])
		found, texts := Again(rep, 1, docs)
		got := ""
		for _, d := range found {
			got += d.What + " expected " + d.Expected + " found " + d.Found
		}
		if texts != 1 || (want == "") != (got == "") || !strings.Contains(got, want) || want != "" && !strings.Contains(got, "expected “(P2O5) Phosphate” found “Phosphorus (P)”") {
			t.Errorf("%s: %d texts, %q", label, texts, got)
		}
	}
}
