package letter_test

import (
	"bytes"
	"strings"
	"testing"

	"example.org/windrow/interpret"
	"example.org/windrow/interpret/letter"
)

// A rating from an estimate is told as one, where it stands and at the end.
func TestAnEstimateIsTold(t *testing.T) {
	rec := record("lawn", "Front lawn", "Odo Castellan", "1 Quarry Bank, Finch, CX", r("pH", "6.5"), r("P", "22", by("bray-p1", "Bray-P1")))
	rating := interpret.Rating{Analyte: "P", Value: "22", Unit: "mg/kg", Printed: "22", PrintUnit: "ppm", Method: "Bray-P1", Class: interpret.Medium}
	show := func(g interpret.Rating) string {
		var b bytes.Buffer
		if err := (&letter.Letter{Advice: &interpret.Advice{Ratings: []interpret.Rating{g}}, Record: rec, Report: report}).HTML(&b); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	if page := show(rating); strings.Contains(page, "estimate") {
		t.Error("a measured value is called an estimate")
	}
	rating.Estimate = &interpret.Estimated{Equation: "F002", Method: "Mehlich-3 (ICP)", Value: "29.7", Unit: "mg/kg"}
	page := show(rating)
	for _, want := range []string{"(from an estimate)", "The laboratory tested phosphorus in another way than our tables are made for.", "That is an estimate and no measurement."} {
		if !strings.Contains(page, want) {
			t.Errorf("the letter doesn't say %q", want)
		}
	}
}
