package normalize

import (
	"math"
	"math/big"
	"testing"

	"example.org/windrow/normalize/estimate"
	"example.org/windrow/normalize/method"
)

// Published rows that are there to be doubted: an equation printed so that it
// can be read in two ways, one sample that four laboratories found four things
// in, a ratio that nobody stated, and a line beyond the soils it was made from.
func TestPublishedDoubts(t *testing.T) {
	tb := Equations()
	ran := map[string]bool{}
	// C035: both readings of the ambiguous line, and neither is used.
	for id, want := range map[string]float64{"F011": 15.27, "F012": 22.44} {
		r, ok := tb.Row(id)
		if !ok || r.Equation == nil {
			t.Fatalf("no row %s", id)
		}
		if got, err := r.Equation.Eval(map[string]float64{"x": 60}); err != nil || math.Abs(got-want) > 0.01 {
			t.Errorf("C035, %s at 60: %v (%v), published %v", id, got, err, want)
		}
		if r.Active || r.Verdict != estimate.DoNotConvert {
			t.Errorf("C035: %s is used", id)
		}
	}
	ran["C035"] = true
	// C034: nothing turns Mehlich-3 or Bray into Morgan, or back.
	for _, m := range method.Standard().Methods {
		for _, r := range tb.From("P", m.ID) {
			for _, to := range r.To {
				if morgan := to == "morgan" || to == "modified-morgan"; r.Active && morgan && m.ID != "morgan" && m.ID != "modified-morgan" {
					t.Errorf("C034: %s turns %s into %s", r.ID, m.ID, to)
				}
			}
		}
	}
	if r, ok := tb.Row("F034"); !ok || r.Active || r.Verdict != estimate.DoNotConvert {
		t.Errorf("C034: F034 is %+v", r)
	}
	ran["C034"] = true
	// N11: a conductivity whose ratio of soil to water is not stated is not
	// turned into that of the saturated paste.
	for _, o := range tb.For(estimate.Measured{Analyte: "EC", Method: "", Unit: "dS/m", Value: 1, Half: 0.05, Text: "1.0"}, &estimate.Sample{}) {
		t.Errorf("N11: %s gives %s", o.Row.ID, o.Value)
	}
	ran["N11"] = true
	// N17: beyond 200 mg/kg the turf line says that it is outside its domain.
	found := 0
	for _, o := range tb.For(estimate.Measured{Analyte: "P", Method: "mehlich-3-icp", Unit: "mg/kg", Value: 250, Half: 0.5, Text: "250"}, &estimate.Sample{LandUse: "lawn", Measured: []estimate.Measured{{Analyte: "pH", Method: "ph-water-1-1", Value: 7.6, Text: "7.6", Unit: "pH"}}}) {
		if o.Row.ID == "F053" || o.Row.ID == "F054" {
			found++
			if o.Standing != estimate.Outside {
				t.Errorf("N17: %s at 250 mg/kg is %s", o.Row.ID, o.Standing)
			}
		}
	}
	if found == 0 {
		t.Error("N17: the turf lines were not asked")
	}
	ran["N17"] = true
	coverageIs(t, "conversions-checks.csv", "TestPublishedDoubts", ran)
	// I002 is from memory: there, right, and not used.
	for id, c := range map[string][2]string{"uk-k-index": {"150", "2-"}, "uk-mg-index": {"60", "2"}} {
		s, ok := tb.Scale(id)
		v, _ := new(big.Rat).SetString(c[0])
		if !ok {
			t.Fatalf("no scale %s", id)
		}
		if k, why := s.IndexOf(v); k == nil || k.Index != c[1] || s.Active {
			t.Errorf("I002: %s of %s: %+v (%s), active %v", id, c[0], k, why, s.Active)
		}
	}
	coverageIs(t, "conversions-derived.csv", "TestPublishedDoubts", map[string]bool{"I002": true})
}
