package normalize

import (
	"encoding/json"
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// The trace names the label that was printed and the lines of the mapping that
// say what the soil weighs, for people and for programs; a record from before
// these were kept has the name of the mapping alone.
func TestTraceNamesLabelAndLines(t *testing.T) {
	label := &mappings.PrintedLabel{Text: "Nutrients > Phosphate (P2O5)", Place: ingest.Place{Line: 1, Col: 3}}
	area := &mappings.AreaBasis{DepthIn: "20/3", LbPerAcre: "2000000", Source: "mapping", Rule: &ingest.Place{File: "quarry.yaml", Line: 12, Col: 3}}
	rd := mappings.Reading{Analyte: "P", Method: "mehlich-3-icp", Basis: "P2O5", Printed: "255", Number: "255", Unit: "lb/acre", PrintedUnit: "lb/A", Area: area, Label: label, Place: ingest.Place{Line: 2, Col: 3}}
	res, _ := (&converter{}).result(&rd)
	if res.Printed.Label != label {
		t.Fatal("the record does not share the label of its column")
	}
	rep := &Report{Source: ingest.SourceRef{Name: "april.csv"}, Mapping: MappingRef{File: "quarry.yaml"}}
	rec := &Record{}
	var b strings.Builder
	Trace(&b, rep, rec, res)
	for _, want := range []string{"  label     “Nutrients > Phosphate (P2O5)” at april.csv:1:3\n", "soil per acre: 2,000,000 lb/acre (stated by the mapping quarry.yaml:12:3)\n", "depth: 6.667 in (stated by the mapping quarry.yaml:12:3)\n"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("the trace does not say %q:\n%s", want, b.String())
		}
	}
	l := LineageOf(rep, rec, res)
	j, err := json.Marshal(l)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`"label":{"text":"Nutrients \u003e Phosphate (P2O5)","place":{"file":"april.csv","line":1,"col":3}}`, `"rule":{"file":"quarry.yaml","line":12,"col":3}`} {
		if !strings.Contains(string(j), want) {
			t.Errorf("the lineage does not have %s:\n%s", want, j)
		}
	}
	if label.Place.File != "" {
		t.Error("the lineage changed the label that the record shares")
	}
	res.Printed.Label = nil
	for i := range res.Steps {
		for k := range res.Steps[i].Inputs {
			res.Steps[i].Inputs[k].Rule = nil
		}
	}
	b.Reset()
	Trace(&b, rep, rec, res)
	if got := b.String(); strings.Contains(got, "label  ") || !strings.Contains(got, "soil per acre: 2,000,000 lb/acre (stated by the mapping quarry.yaml)\n") {
		t.Errorf("the trace of an older record:\n%s", got)
	}
}
