package draft

import (
	"testing"
)

func TestUnderstand(t *testing.T) {
	v := vocabulary()
	for _, c := range []struct {
		label   string
		context []string
		want    string // analyte basis method unit
		asks    bool
	}{
		{"Soil pH", nil, "pH|||", false},
		{"Buffer pH (Sikora)", nil, "buffer_pH||Sikora|", false},
		{"SMP buffer pH", nil, "buffer_pH||SMP buffer pH|", false},
		{"P, Bray-P1", nil, "P||Bray-P1|", false},
		{"Phosphate, P2O5", nil, "P|P2O5||", false},
		{"Phosphorus as P2O5", nil, "P|P2O5||", false},
		{"Potash", nil, "K|not stated||", true},
		{"Phosphate", nil, "P|not stated||", true},
		{"Magnesia, soluble", nil, "Mg|not stated||", true},
		{"Lead, total", nil, "Pb|||", false},
		{"Zn DTPA", nil, "Zn||DTPA|", false},
		{"O.M. (W-B)", nil, "OM||W-B|", false},
		{"E.C. 1:2", nil, "EC||1:2|", false},
		{"H + Al", nil, "acidity|||", false},
		{"K ppm", nil, "K|||ppm", false},
		{"K", []string{"Percent base saturation", "%"}, "base_sat_K|||%", false},
		{"K", []string{"Mehlich-3 extractable", "mg/kg"}, "K||Mehlich-3|mg/kg", false},
		{"% H (acidity)", nil, "base_sat_H|||%", false},
		{"pH", []string{"Reaction", "1:1 water"}, "pH||1:1 water|", false},
		{"Org. Mat.", []string{"Org.", "%"}, "OM|||%", false},
		{"Density, estimated", nil, "density|||", false},
		{"Pb total ppm", nil, "Pb|||ppm", false},
		{"Bray P1 ppm", nil, "P||Bray P1|ppm", false},
		{"Salts dS/m", nil, "EC|||dS/m", false},
		{"NO3-N ppm", nil, "NO3-N|||ppm", false},
	} {
		m, ok := understand(v, c.label, c.context...)
		got := m.analyte + "|" + m.basis + "|" + m.method + "|" + m.unit
		want := c.want
		if !ok || got != want || (len(m.ask) > 0) != c.asks {
			t.Errorf("%s %q: %s (%v, asks %q), want %s", c.label, c.context, got, ok, m.ask, want)
		}
	}
	for _, label := range []string{"Block H1", "Remarks", "Winifred Plumtree", "Sheet 1", "Average of this report"} {
		if m, ok := understand(v, label); ok {
			t.Errorf("%q is taken for %s", label, m.analyte)
		}
	}
}
