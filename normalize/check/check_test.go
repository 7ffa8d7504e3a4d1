package check

import (
	"math"
	"strings"
	"testing"
	"testing/fstest"
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
		return &Report{Samples: []Sample{{Results: []Result{mg("K", 221, 390.983), mg("Mg", 28, 121.525), mg("Ca", 400, 200.39), mg("Na", 12, 229.898),
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

// What the list refuses is told; what is listed finds nothing in nothing.
func TestCodesAreUniqueAndWhole(t *testing.T) {
	if _, err := parseList(listYAML, runs); err != nil {
		t.Fatal(err)
	}
	for _, c := range All() {
		c.Run(&Report{}, func(f Found) { t.Errorf("%s found %+v in nothing", c.Code, f) })
		c.Run(&Report{Samples: []Sample{{}, {}}, Arrived: "2026-01-01"}, func(f Found) { t.Errorf("%s found %+v in empty samples", c.Code, f) })
		if !strings.HasSuffix(c.Title, ".") || strings.HasSuffix(c.When, ".") || strings.HasSuffix(c.Why, ".") {
			t.Errorf("%s: the title is a sentence, when and why are not", c.Code)
		}
	}
	const whole = "- {id: a, about: x, severity: flag, tests: T., when: w, why: y, source: s}\n"
	does := map[string]func(*Report, func(Found)){"a": func(*Report, func(Found)) {}}
	for want, in := range map[string]string{
		"listed twice": whole + whole, "is not whole": "- {id: a, about: x, severity: flag, tests: T., when: w, source: s}", "none of note": strings.Replace(whole, "flag", "fail", 1),
		"unknown field": strings.Replace(whole, "why", "because", 1), "does nothing": strings.Replace(whole, "id: a", "id: b", 1), "is not listed": "[]"} {
		if _, err := parseList([]byte(in), does); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("want an error with %q, got %v", want, err)
		}
	}
	if l, err := parseList([]byte(whole), does); err != nil || len(l) != 1 {
		t.Error(l, err)
	}
}

func TestTablesRefuse(t *testing.T) {
	ranges, extracts := "analyte,method,low,high,source,provenance,note\n", "analytes,weaker,stronger,allow_percent,not_on_lime,reason,source,provenance\n"
	for want, f := range map[string][2]string{
		"no source":       {"P,olsen,0,500,,common practice,\n", ""},
		"not a range":     {"P,olsen,500,0,s,p,\n", ""},
		"a second range":  {"P,olsen,0,5,s,p,\nP,olsen,0,6,s,p,\n", ""},
		"not an order":    {"", "P,,olsen,5,no,r,s,p\n"},
		"no source or no": {"", "P,olsen,colwell,5,no,r,,p\n"},
	} {
		fsys := fstest.MapFS{"ranges.csv": {Data: []byte(ranges + f[0])}, "extracts.csv": {Data: []byte(extracts + f[1])}}
		if _, err := loadTables(fsys); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("want an error with %q, got %v", want, err)
		}
	}
	if len(Ranges()) < 40 || len(Orders()) < 8 {
		t.Errorf("%d ranges and %d orders", len(Ranges()), len(Orders()))
	}
}

// The saturation that goes with a ratio of 13 is the handbook's 15.19, and
// with 30 it is 30.07 (rows C037 and D012 of the published checks).
func TestPublishedESP(t *testing.T) {
	for sar, want := range map[float64]float64{13: 15.19315, 30: 30.06504, 0.5: 0} {
		if got := ESPOfSAR(sar); math.Abs(got-want) > 1e-4 {
			t.Errorf("SAR %v: %v, want %v", sar, got, want)
		}
	}
}
