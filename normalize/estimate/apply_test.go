package estimate

import (
	"math"
	"strconv"
	"strings"
	"testing"
)

// number is a measured value as printed.
func number(t *testing.T, analyte, methodID, text, unit string) Measured {
	t.Helper()
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	_, frac, _ := strings.Cut(text, ".")
	return Measured{Analyte: analyte, Method: methodID, Value: v, Text: text, Unit: unit, Sig: len(strings.TrimLeft(strings.Replace(text, ".", "", 1), "0")),
		Half: 0.5 * math.Pow(10, -float64(len(frac))), Origin: "report"}
}

func by(out []Outcome) map[string]Outcome {
	m := map[string]Outcome{}
	for _, o := range out {
		m[o.Row.ID] = o
	}
	return m
}

// Check value R-F001 of the published checks: 22 mg/kg gives 10.224, printed
// there as 10. F003 disagrees, and both are given.
func TestBothAreGivenWhereTwoDisagree(t *testing.T) {
	out := by(loaded(t).For(number(t, "P", "mehlich-3-icp", "22", "mg/kg"), &Sample{Measured: []Measured{number(t, "pH", "ph-water-1-1", "6.4", "pH")}}))
	a, b := out["F001"], out["F003"]
	if a.Value != "10" || b.Value != "16" {
		t.Errorf("F001 %q, F003 %q", a.Value, b.Value)
	}
	// No report says that the soil is one of Ohio.
	if a.Standing != Unknown || len(a.Unknown) != 1 || !strings.Contains(a.Unknown[0], "Ohio") {
		t.Errorf("F001: %v %v", a.Standing, a.Unknown)
	}
	if a.Percent != 0 || a.None == "" {
		t.Errorf("F001 has an interval that its source does not support: %+v", a)
	}
}

func TestDomain(t *testing.T) {
	tb := loaded(t)
	ph := func(v string) *Sample { return &Sample{Measured: []Measured{number(t, "pH", "ph-water-1-1", v, "pH")}} }
	for _, c := range []struct {
		row      string
		m        Measured
		s        *Sample
		standing Standing
		say      string
	}{
		{"F001", number(t, "P", "mehlich-3-icp", "22", "mg/kg"), ph("7.8"), Outside, "pH < 7.4: pH is 7.8"},
		{"F001", number(t, "P", "mehlich-3-icp", "22", "mg/kg"), ph("7.4"), Outside, "pH < 7.4"},
		{"F001", number(t, "P", "mehlich-3-icp", "22", "mg/kg"), &Sample{}, Unknown, "no pH in water"},
		{"F001", number(t, "P", "mehlich-3-icp", "9", "mg/kg"), ph("6"), Outside, "nothing above zero"},
		{"F001", number(t, "P", "mehlich-3-icp", "10", "mg/kg"), ph("6"), Outside, "nothing above zero"}, // 0.24, which is 0 with the digits printed
		// The paste holds less water than the thinner extract, and so can't be
		// less salty: common practice, no source.
		{"E002", number(t, "EC", "ph-water-1-1", "0.30", "dS/m"), &Sample{Texture: "loam"}, Outside, "the outcome not below the number converted: the outcome is 0.133"},
		{"E003", number(t, "EC", "ph-water-1-1", "0.50", "dS/m"), &Sample{Texture: "clay"}, Outside, "not below the number converted"},
		{"E005", number(t, "EC", "ph-water-1-1", "0.60", "dS/m"), &Sample{}, Outside, "not below the number converted"},
		{"E011", number(t, "EC", "ph-water-1-2", "0.20", "dS/m"), &Sample{Texture: "loam"}, Outside, "not below the number converted"},
		{"E005", number(t, "EC", "ph-water-1-1", "0.70", "dS/m"), &Sample{}, Unknown, "by mass"},
		{"F054", number(t, "P", "mehlich-3-icp", "250", "mg/kg"), ph("7"), Outside, "x from 1 to 200: the number converted is 250"}, // N17
		{"F054", number(t, "P", "mehlich-3-icp", "60", "mg/kg"), &Sample{LandUse: "lawn"}, Unknown, "pH in water"},
		{"E001", number(t, "EC", "ph-water-1-1", "1.0", "dS/m"), &Sample{Texture: "sand"}, Unknown, "by mass"},
		{"E001", number(t, "EC", "ph-water-1-1", "1.0", "dS/m"), &Sample{Texture: "sandy loam"}, Unknown, "lies between"},
		{"E001", number(t, "EC", "ph-water-1-1", "1.0", "dS/m"), &Sample{Texture: "muck"}, Unknown, "texture of the soil is not known"},
		{"O021", number(t, "OM", "loi", "3.0", "%"), &Sample{}, Unknown, "Karkonosze"},
		{"L004", number(t, "buffer_pH", "modified-mehlich-buffer", "6.1", "pH"), &Sample{}, Inside, ""},
		{"O001", number(t, "OC", "combustion", "2.0", "%"), &Sample{}, Inside, ""},
	} {
		o, ok := by(tb.For(c.m, c.s))[c.row]
		all := strings.Join(append(append([]string{}, o.Outside...), o.Unknown...), "; ")
		if !ok || o.Standing != c.standing || !strings.Contains(all, c.say) {
			t.Errorf("%s of %s: %v %q (%v), want %v %q", c.row, c.m.Text, o.Standing, all, ok, c.standing, c.say)
		}
		if o.Standing == Outside && (o.Percent != 0 || o.Low != "") {
			t.Errorf("%s: an interval outside the domain", c.row)
		}
	}
	// What is for others only is not asked.
	for _, c := range []struct {
		row string
		m   Measured
		s   *Sample
	}{
		{"F054", number(t, "P", "mehlich-3-icp", "60", "mg/kg"), &Sample{LandUse: "vegetable garden"}},
		{"F058", number(t, "P", "mehlich-3-icp", "60", "mg/kg"), ph("7")},
		{"E001", number(t, "EC", "ph-water-1-1", "1.0", "dS/m"), &Sample{Texture: "clay"}},
		{"O021", number(t, "OM", "loi", "4.5", "%"), &Sample{}},
	} {
		if o, ok := by(tb.For(c.m, c.s))[c.row]; ok {
			t.Errorf("%s of %s: %+v", c.row, c.m.Text, o)
		}
	}
	two := &Sample{Measured: []Measured{number(t, "pH", "ph-water-1-1", "7.3", "pH"), number(t, "pH", "ph-water-1-5", "7.6", "pH")}}
	if o := by(tb.For(number(t, "P", "mehlich-3-icp", "22", "mg/kg"), two))["F001"]; o.Standing != Unknown {
		t.Errorf("pH on both sides: %v", o)
	}
	salt := &Sample{Measured: []Measured{number(t, "pH", "ph-cacl2", "6.0", "pH")}}
	if o := by(tb.For(number(t, "P", "mehlich-3-icp", "22", "mg/kg"), salt))["F001"]; !strings.Contains(strings.Join(o.Unknown, " "), "no pH in water") {
		t.Errorf("a pH in salt was taken for one in water: %v", o)
	}
}

// The rows N01 to N17 of the published checks that ask for another method:
// nothing is given, or an estimate that says what is unknown or outside.
func TestPublishedRefusals(t *testing.T) {
	tb := loaded(t)
	calcareous := &Sample{Measured: []Measured{number(t, "pH", "ph-water-1-1", "8.1", "pH")}}
	for _, c := range []struct {
		row      string
		m        Measured
		s        *Sample
		analyte  string
		to       []string
		refusals string
	}{
		{"N01", number(t, "P", "bray-p1", "30", "mg/kg"), calcareous, "P", []string{"olsen"}, "F026 F028"},
		{"N02", number(t, "Ca", "mehlich-3-icp", "6000", "mg/kg"), calcareous, "Ca", []string{"ammonium-acetate"}, "K007"},
		{"N03", number(t, "Mn", "mehlich-3-icp", "12", "mg/kg"), calcareous, "Mn", []string{"dtpa"}, "K014"},
		{"N04", number(t, "buffer_pH", "smp-buffer", "6.2", "pH"), &Sample{}, "buffer_pH", []string{"mehlich-buffer", "modified-mehlich-buffer"}, "L005"},
		{"N05", number(t, "P", "modified-morgan", "7", "mg/kg"), &Sample{}, "P", []string{"mehlich-3", "mehlich-3-icp"}, ""},
		{"N09", number(t, "P", "mehlich-3", "30", "mg/kg"), &Sample{}, "P", []string{"bray-p1", "bray-p1-colorimetric"}, ""},
		{"N12", number(t, "P", "mehlich-3", "20", "mg/kg"), &Sample{}, "P", []string{"morgan"}, "F050"},
		{"N13", number(t, "P", "bray-p2", "60", "mg/kg"), &Sample{}, "P", []string{"mehlich-3", "mehlich-3-icp"}, "F061 F062"},
		{"N14", number(t, "P", "bray-p1", "20", "mg/kg"), &Sample{}, "P", []string{"olsen"}, "F060"},
		{"N15", number(t, "buffer_pH", "smp-buffer", "6.2", "pH"), &Sample{}, "acidity", []string{"calcium-acetate"}, ""},
		{"N16", number(t, "P", "mehlich-1", "20", "mg/kg"), &Sample{}, "P", []string{"mehlich-3", "mehlich-3-icp"}, ""},
	} {
		for _, o := range tb.For(c.m, c.s) {
			for _, to := range c.to {
				if o.Analyte == c.analyte && o.Method == to {
					t.Errorf("%s: %s gives %s by %s", c.row, o.Row.ID, o.Value, to)
				}
			}
		}
		for _, id := range strings.Fields(c.refusals) {
			found := false
			for _, r := range tb.From(c.m.Analyte, c.m.Method) {
				found = found || r.ID == id && r.Verdict == DoNotConvert
			}
			if !found {
				t.Errorf("%s: nothing says %s", c.row, id)
			}
		}
	}
}

// A chain of two regressions is refused: what is not measured is no input.
func TestEstimatesAreNeverInputs(t *testing.T) {
	tb := loaded(t)
	// pH 1:2.5 in water to CaCl2 needs a measured EC at 1:5.
	m := number(t, "pH", "ph-water-1-2.5", "6.5", "pH")
	if _, ok := by(tb.For(m, &Sample{}))["P007"]; ok {
		t.Error("P007 without EC")
	}
	ec := number(t, "EC", "ph-water-1-5", "0.15", "dS/m")
	o, ok := by(tb.For(m, &Sample{Measured: []Measured{ec}}))["P007"]
	// Check value of the published table: 5.8675.
	if !ok || o.Value != "5.9" || len(o.Inputs) != 1 || o.Inputs[0].Text != "0.15" {
		t.Errorf("P007: %+v", o)
	}
	if _, ok := by(tb.For(m, &Sample{Measured: []Measured{ec, ec}}))["P007"]; ok {
		t.Error("P007 with two EC")
	}
	// What was measured is not estimated.
	measured := number(t, "pH", "ph-cacl2-1-2.5", "5.8", "pH")
	if _, ok := by(tb.For(m, &Sample{Measured: []Measured{ec, measured}}))["P007"]; ok {
		t.Error("an estimate beside the measurement of the same")
	}
}

// The intervals from what the sources state: 90 percent of a normal error lie
// within 1.645 standard errors (any table of the normal distribution).
func TestIntervals(t *testing.T) {
	tb := loaded(t)
	turf := &Sample{LandUse: "lawn", Measured: []Measured{number(t, "pH", "ph-water-1-1", "7.6", "pH")}}
	out := by(tb.For(number(t, "P", "mehlich-3-icp", "60.0", "mg/kg"), turf))
	for _, c := range []struct {
		row     string
		lo, hi  float64
		between float64
	}{
		{"F053", 16.001 - 1.645*9.76, 16.001 + 1.645*9.76, 16.001},
		{"F054", 14.92307 / math.Pow(10, 1.645*0.192), 14.92307 * math.Pow(10, 1.645*0.192), 14.92307},
		{"F055", 7.2, 28.02, 15.18},
	} {
		o := out[c.row]
		lo, err1 := strconv.ParseFloat(o.Low, 64)
		hi, err2 := strconv.ParseFloat(o.High, 64)
		v, err3 := strconv.ParseFloat(o.Value, 64)
		if err1 != nil || err2 != nil || err3 != nil || o.Percent != 90 || math.Abs(v-c.between) > 0.06 {
			t.Errorf("%s: %+v", c.row, o)
			continue
		}
		// Rounded outwards, by less than one digit.
		if lo > max(0, c.lo)+1e-3 || lo < max(0, c.lo)-0.11 || hi < c.hi-2e-3 || hi > c.hi+0.11 {
			t.Errorf("%s: %v to %v, want %v to %v", c.row, lo, hi, c.lo, c.hi)
		}
	}
	if o := by(tb.For(number(t, "pH", "ph-water-1-1", "6.5", "pH"), &Sample{}))["P001"]; o.Value != "6.4" || o.Low != "5.6" || o.High != "7.2" {
		t.Errorf("P001: %+v", o)
	}
}

// Digits never grow: an estimate has no more significant digits than its
// number, save those before the point, and no more decimals for a pH.
func TestSignificanceNeverGrows(t *testing.T) {
	tb := loaded(t)
	s := &Sample{Measured: []Measured{number(t, "pH", "ph-water", "6.5", "pH"), number(t, "clay", "hydrometer", "23", "%"), number(t, "EC", "ph-water-1-5", "0.15", "dS/m")}}
	n := 0
	for _, r := range tb.Rows {
		if !r.Active {
			continue
		}
		for _, text := range []string{"1", "3", "5", "6.5", "6.50", "7", "9", "12", "19.4", "0.8", "0.25", "99", "100", "135", "180.25"} {
			m := number(t, r.Analytes[0], r.From[0], text, r.Unit)
			o, ok := r.apply(m, s)
			if !ok || o.Value == "" {
				continue
			}
			n++
			whole, frac, _ := strings.Cut(o.Value, ".")
			_, printed, _ := strings.Cut(text, ".")
			if r.ToUnit == "pH" {
				if len(frac) > len(printed) {
					t.Errorf("%s: %s becomes %s", r.ID, text, o.Value)
				}
			} else if sig := len(strings.TrimLeft(whole+frac, "0")); sig > m.Sig && frac != "" {
				t.Errorf("%s: %s (%d digits) becomes %s", r.ID, text, m.Sig, o.Value)
			}
		}
	}
	if n < 500 {
		t.Errorf("only %d outcomes", n)
	}
}

// Every active equation rises with what it converts, or falls over all of its
// range as one of buffer acidity does: no test reads lower in a richer soil.
func TestMonotony(t *testing.T) {
	for _, r := range loaded(t).Rows {
		if !r.Active {
			continue
		}
		lo, hi := 1.0, 120.0
		switch r.Unit {
		case "pH":
			lo, hi = 4, 7.5
		case "dS/m":
			lo, hi = 0.1, 12
		case "%":
			lo, hi = 0.3, 25
		}
		values := map[string]float64{"pH": 6.5, "clay": 23, "EC": 0.15, "Ca": 1200, "Al": 400}
		last, rises := math.NaN(), r.Target(r.Analytes[0]) != "acidity"
		for i := range 100 {
			values["x"] = lo + (hi-lo)*float64(i)/99
			y, err := r.Equation.Eval(values)
			if err != nil {
				t.Errorf("%s: %v", r.ID, err)
				break
			}
			if i > 0 && (y > last) != rises {
				t.Errorf("%s: %v then %v at %v", r.ID, last, y, values["x"])
				break
			}
			last = y
		}
	}
}

// A conversion published as equal gives the very number.
func TestEqualKeepsItsDigits(t *testing.T) {
	for _, text := range []string{"26.5", "55.64", "3", "0.50"} {
		m := number(t, "P", "mehlich-1-icp", text, "mg/kg")
		m.Sig, m.Half = 2, 0.5
		if o := by(loaded(t).For(m, &Sample{}))["F052"]; o.Value != text {
			t.Errorf("%s equals %q", text, o.Value)
		}
	}
}

// What is said of the error of an exact conversion does not contradict what is
// said of the sample.
func TestExactWordsFitTheSample(t *testing.T) {
	n := 0
	for _, r := range loaded(t).Rows {
		if r.Verdict != Exact || !r.Active {
			continue
		}
		for _, s := range []Standing{Inside, Unknown} {
			o := Outcome{Row: r, Standing: s}
			r.Interval.interval(&o, 6, 6, 1)
			if strings.Contains(o.None, "not known") != (s == Unknown) {
				t.Errorf("%s, %s: %q", r.ID, s, o.None)
			}
			n++
		}
	}
	if n == 0 {
		t.Error("no exact conversion")
	}
}
