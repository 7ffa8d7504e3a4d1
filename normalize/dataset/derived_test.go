package dataset_test

import (
	"crypto/sha256"
	"encoding/hex"
	"maps"
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/dataset"
)

// withCations is a report of one sample with two cations by one extract.
func withCations(calcium string) *normalize.Report {
	s := &mappings.SampleExtract{Readings: []mappings.Reading{
		{Analyte: "Ca", Number: calcium, Printed: calcium, Unit: "mg/kg", Method: "mehlich-3"},
		{Analyte: "Mg", Number: "146", Printed: "146", Unit: "mg/kg", Method: "mehlich-3"},
	}}
	return normalize.Build(&mappings.Extract{Source: ingest.SourceRef{SHA256: strings.Repeat("1", 64)}, Samples: []*mappings.SampleExtract{s}}, normalize.Options{})
}

// What follows from results has a table of its own, every column of it
// explained, and is never among what was measured.
func TestDerivedStandsApart(t *testing.T) {
	got, sum := write(t, dataset.Options{}, withCations("1200"))
	rows, results := table(t, got["derived.csv"]), table(t, got["results.csv"])
	if len(rows) != 1 || sum.Derived != 1 || len(results) != 2 {
		t.Fatalf("%d derived, %d in the summary, %d results", len(rows), sum.Derived, len(results))
	}
	// By hand: 1200 / 200.39 = 5.98832 and 146 / 121.525 = 1.20140; 4.98445.
	d := rows[0]
	for col, want := range map[string]string{"quantity": "Ca:Mg", "computed_value": "4.98", "unit": "ratio", "method": "mehlich-3", "inputs": "Ca 1200 mg/kg; Mg 146 mg/kg",
		"row": "D017", "in_domain": "unknown", "status": "ok", "source": "rayment-lyons-2011", "sample": results[0]["sample"], "report": results[0]["report"]} {
		if d[col] != want {
			t.Errorf("%s is %q, want %q", col, d[col], want)
		}
	}
	for _, r := range results {
		if r["analyte"] == "Ca:Mg" {
			t.Errorf("among the results: %v", r)
		}
	}
	h := sha256.Sum256([]byte(got["derived.csv"]))
	for _, must := range []string{hex.EncodeToString(h[:]), "Nobody measured them", "`rayment-lyons-2011`"} {
		if !strings.Contains(got["codebook.md"], must) {
			t.Errorf("the codebook doesn't say %q", must)
		}
	}
	for _, c := range dataset.DerivedColumns() {
		if c.About == "" || !strings.Contains(got["codebook.md"], "| `"+c.Name+"` |") || !strings.Contains(got["columns-derived.csv"], "\n"+c.Name+",") || !strings.Contains(got["codebook.json"], `"`+c.Name+`"`) {
			t.Errorf("column %q is not explained", c.Name)
		}
	}
	if again, _ := write(t, dataset.Options{Memory: 1}, withCations("1200")); !maps.Equal(got, again) {
		t.Error("with little memory the files differ")
	}
}

func TestNothingDerivedOfWhatIsHeld(t *testing.T) {
	r := withCations("1200")
	r.Records[0].Results[0].Status = normalize.Held
	got, sum := write(t, dataset.Options{}, r)
	if rows := table(t, got["derived.csv"]); len(rows) > 0 || sum.Derived > 0 {
		t.Errorf("%v", rows)
	}
}
