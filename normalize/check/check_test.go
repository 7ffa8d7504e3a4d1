package check

import (
	"testing"
)

// The centres and some corners of the classes, as drawn on the triangle of
// the USDA Soil Survey Manual. From memory, unverified.
func TestTextureTriangle(t *testing.T) {
	for _, c := range []struct {
		sand, silt, clay float64
		want             string
	}{{92, 5, 3, "sand"}, {82, 12, 6, "loamy sand"}, {65, 25, 10, "sandy loam"}, {40, 40, 20, "loam"}, {20, 65, 15, "silt loam"}, {7, 87, 6, "silt"}, {60, 13, 27, "sandy clay loam"}, {32, 34, 34, "clay loam"},
		{10, 56, 34, "silty clay loam"}, {52, 7, 41, "sandy clay"}, {6, 47, 47, "silty clay"}, {20, 20, 60, "clay"}} {
		if got := TextureClass(c.sand, c.silt, c.clay); got != c.want {
			t.Errorf("%v/%v/%v: %s, want %s", c.sand, c.silt, c.clay, got, c.want)
		}
	}
	// Every point of the triangle has a class, and all twelve occur.
	seen := map[string]int{}
	for sand := 0.0; sand <= 100; sand++ {
		for clay := 0.0; clay <= 100-sand; clay++ {
			seen[TextureClass(sand, 100-sand-clay, clay)]++
		}
	}
	if len(seen) != 12 {
		t.Errorf("%d classes: %v", len(seen), seen)
	}
	for _, full := range textureCodes {
		if seen[full] == 0 {
			t.Errorf("%s is nowhere on the triangle", full)
		}
	}
}

// The worked CEC of a public laboratory (row C006 of the published checks:
// 221 K, 28 Mg, 400 Ca, 12 Na in lb/acre, acidity 2.40, total 3.83) passes;
// with the acidity left out of the total, as if misread, it doesn't.
func TestPublishedCEC(t *testing.T) {
	sample := func(cec float64) *Report {
		mg := func(a string, lb, per float64) Result {
			return Result{Analyte: a, Name: a, Unit: "mg/kg", Has: true, Value: lb / 2, Half: .25, PerCharge: per, MethodFits: true}
		}
		return &Report{[]Sample{{Results: []Result{mg("K", 221, 390.983), mg("Mg", 28, 121.525), mg("Ca", 400, 200.39), mg("Na", 12, 229.898),
			{Analyte: "acidity", Unit: "cmol(+)/kg", Has: true, Value: 2.40, Half: .005}, {Analyte: "CEC", Method: "summation", Unit: "cmol(+)/kg", Has: true, Value: cec, Half: .005}}}}}
	}
	for cec, want := range map[float64]int{3.83: 0, 1.43: 1, 4.2: 1} {
		n := 0
		cecSum(sample(cec), func(Found) { n++ })
		if n != want {
			t.Errorf("CEC %v: %d findings, want %d", cec, n, want)
		}
	}
}

func TestCodesAreUniqueAndWhole(t *testing.T) {
	seen := map[string]bool{}
	for _, c := range All() {
		if seen[c.Code] || c.Title == "" || c.Source == "" || c.Severity == "" || c.Run == nil {
			t.Errorf("%q is twice, or not whole", c.Code)
		}
		seen[c.Code] = true
		c.Run(&Report{}, func(f Found) { t.Errorf("%s found %+v in nothing", c.Code, f) })
		c.Run(&Report{[]Sample{{}, {}}}, func(f Found) { t.Errorf("%s found %+v in empty samples", c.Code, f) })
	}
	if len(seen) < 10 {
		t.Errorf("only %d checks", len(seen))
	}
}
