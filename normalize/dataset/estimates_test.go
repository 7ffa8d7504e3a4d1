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

// withEstimates is a report as Build makes it, of one lawn.
func withEstimates() *normalize.Report {
	s := &mappings.SampleExtract{Readings: []mappings.Reading{
		{Analyte: "P", Number: "60.0", Printed: "60.0", Unit: "mg/kg", Method: "mehlich-3-icp"},
		{Analyte: "pH", Number: "7.6", Printed: "7.6", Unit: "pH", Method: "ph-water-1-1"},
	}}
	return normalize.Build(&mappings.Extract{Source: ingest.SourceRef{SHA256: strings.Repeat("1", 64)}, Samples: []*mappings.SampleExtract{s}}, normalize.Options{DefaultLandUse: "lawn"})
}

// Estimates have a table of their own and no place in the one of measured
// values; those outside the domain of their equation have none at all.
func TestEstimatesStandApart(t *testing.T) {
	got, sum := write(t, dataset.Options{}, withEstimates())
	rows := table(t, got["estimates.csv"])
	by := map[string]map[string]string{}
	for _, r := range rows {
		by[r["equation"]] = r
		if r["estimate"] == "" || r["in_domain"] == "outside" || r["source"] == "" || r["estimated_method"] == "" || r["estimated_method"] == r["method"] && r["estimated_analyte"] == r["analyte"] {
			t.Errorf("%v", r)
		}
	}
	if len(rows) == 0 || sum.Estimates != len(rows) {
		t.Fatalf("%d rows, summary %d", len(rows), sum.Estimates)
	}
	// The published check of F054: 60 mg/kg gives 14.92307.
	e := by["F054"]
	if e["estimate"] != "14.9" || e["measured"] != "60.0" || e["estimated_method"] != "olsen" || e["percent"] != "90" || e["low"] == "" || e["high"] == "" || e["in_domain"] != "unknown" || e["not_known"] == "" {
		t.Errorf("%v", e)
	}
	if by["F001"] != nil { // pH 7.6: outside
		t.Errorf("an estimate outside its domain left: %v", by["F001"])
	}
	results := table(t, got["results.csv"])
	if len(results) != 2 {
		t.Errorf("%d results", len(results))
	}
	for _, r := range results {
		if r["value_is"] != "printed" || r["sample"] != rows[0]["sample"] || r["report"] != rows[0]["report"] {
			t.Errorf("%v", r)
		}
	}
	h := sha256.Sum256([]byte(got["estimates.csv"]))
	for _, must := range []string{hex.EncodeToString(h[:]), "They are no measurements", "`woods-2016`"} {
		if !strings.Contains(got["codebook.md"], must) {
			t.Errorf("the codebook doesn't say %q", must)
		}
	}
	for _, c := range dataset.EstimateColumns() {
		if c.About == "" || !strings.Contains(got["codebook.md"], "| `"+c.Name+"` |") || !strings.Contains(got["columns-estimates.csv"], "\n"+c.Name+",") || !strings.Contains(got["codebook.json"], `"`+c.Name+`"`) {
			t.Errorf("column %q is not explained", c.Name)
		}
	}
	if again, _ := write(t, dataset.Options{Memory: 1}, withEstimates()); !maps.Equal(got, again) {
		t.Error("with little memory the files differ")
	}
}

func TestNoEstimatesOfWhatIsHeld(t *testing.T) {
	r := withEstimates()
	r.Records[0].Results[0].Status = normalize.Held
	got, _ := write(t, dataset.Options{}, r)
	for _, e := range table(t, got["estimates.csv"]) {
		if e["analyte"] == "P" {
			t.Errorf("%v", e)
		}
	}
}
