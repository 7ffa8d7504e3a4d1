package check

import "testing"

// Words as reports print them beside amounts. Common practice, no source.
func TestSoilBasis(t *testing.T) {
	for _, c := range []struct{ words, unit, want string }{
		{"Mehlich-3 (ICP), volume basis", "mg/dm3", PerVolume},
		{"Mehlich-3 (ICP) Volume-Basis", "mg/kg", PerVolume},
		{"Olsen, by vol.", "ppm", PerVolume},
		{"mg per unit volume", "ppm", PerVolume},
		{"ppm w/v", "ppm", PerVolume},
		{"2 M KCl, mass basis", "mg/kg", PerMass},
		{"dry weight basis", "mg/kg", PerMass},
		{"% (w/w)", "%", PerMass},
		{"total, by weight", "mg/dm3", PerMass},
		{"weighed", "mg/dm3", PerMass},
		{"scooped", "mg/kg", PerVolume},
		// What says nothing of it.
		{"scooped", "ppm", ""},
		{"1:2 v/v water", "mg/kg", ""},
		{"1:10 w/v, Olsen", "mg/kg", ""},
		{"1:2 by volume", "mg/kg", ""},
		{"Walkley-Black (volumetric)", "%", ""},
		{"scooped volume weight", "g/cm3", ""},
		{"Mehlich-3", "mg/kg", ""},
		{"volume basis and mass basis", "mg/kg", ""},
		{"1:10 extract, volume basis", "mg/dm3", PerVolume},
	} {
		if got := soilBasis(c.words, c.unit); got != c.want {
			t.Errorf("%q in %s: got %q, want %q", c.words, c.unit, got, c.want)
		}
	}
}
