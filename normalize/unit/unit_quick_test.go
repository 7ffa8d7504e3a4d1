package unit

import "testing"

func TestLoad(t *testing.T) {
	tb := Standard()
	for s, id := range map[string]string{"lbs/A": "lb/acre", "µg/g": "mg/kg", "mg kg-1": "mg/kg", "lb/1,000 sq. ft.": "lb/1000ft2", "Mg/m3": "g/cm3", "#/acre": "lb/acre", "me/100 g": "cmol(+)/kg", "mmhos/cm": "dS/m"} {
		u, ok := tb.Unit(s)
		if !ok || u.ID != id {
			t.Errorf("%q: %v", s, u)
		}
	}
	b, _ := tb.Basis("P2O5")
	t.Log(b.Factor.FloatString(10))
}
