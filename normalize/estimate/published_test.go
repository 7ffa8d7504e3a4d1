package estimate

import (
	"encoding/csv"
	"maps"
	"math"
	"math/big"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// The published tables lie under testdata/published; each row names its
// source there.

func published(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open("../../testdata/published/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, r := range all[1:] {
		m := map[string]string{}
		for i, h := range all[0] {
			m[h] = r[i]
		}
		if m["source"] == "" {
			t.Errorf("%s: row %s names no source", name, m["id"])
		}
		out = append(out, m)
	}
	return out
}

var anything = Known{Analyte: func(string) bool { return true }, Method: func(string, string) bool { return true }, Source: func(string) bool { return true }}

func loaded(t *testing.T) *Table {
	t.Helper()
	tb, err := Load(Embedded(), anything)
	if err != nil {
		t.Fatal(err)
	}
	return tb
}

// ours is what the published tables call the inputs that we name by the
// analyte.
var ours = map[string]map[string]string{"F046": {"A": "clay"}, "F047": {"A": "clay"}, "F048": {"A": "clay"}, "F057": {"p": "pH", "C": "Ca", "A": "Al"}}

func inputsOf(t *testing.T, text string) map[string]float64 {
	t.Helper()
	m := map[string]float64{}
	for _, p := range strings.Split(text, ";") {
		k, v, ok := strings.Cut(strings.TrimSpace(p), "=")
		f, err := strconv.ParseFloat(v, 64)
		if !ok || err != nil {
			t.Fatalf("inputs %q", text)
		}
		m[k] = f
	}
	return m
}

// Both the equation as published and ours give both published check values of
// every row, which are printed with seven digits.
func TestPublishedEquations(t *testing.T) {
	tb := loaded(t)
	rows, equations, values, activeValues := 0, 0, 0, 0
	for _, p := range published(t, "conversions-methods.csv") {
		rows++
		r, ok := tb.Row(p["id"])
		if !ok {
			t.Errorf("row %s is not in our table", p["id"])
			continue
		}
		if p["equation"] == "" {
			if r.Equation != nil || r.Active {
				t.Errorf("%s: an equation where none was published", r.ID)
			}
			continue
		}
		equations++
		text, _ := strings.CutPrefix(p["equation"], "y = ")
		theirs, err := Parse(text)
		if err != nil || r.Equation == nil {
			t.Errorf("%s: %v, ours %v", r.ID, err, r.Equation)
			continue
		}
		for _, c := range []string{"check1", "check2"} {
			in := inputsOf(t, p[c+"_in"])
			want, err := strconv.ParseFloat(p[c+"_out"], 64)
			if err != nil {
				t.Fatal(err)
			}
			renamed := map[string]float64{}
			for k, v := range in {
				if k2, ok := ours[r.ID][k]; ok {
					k = k2
				}
				renamed[k] = v
			}
			a, err1 := theirs.Eval(in)
			b, err2 := r.Equation.Eval(renamed)
			values++
			if r.Active {
				activeValues++
			}
			if err1 != nil || err2 != nil || math.Abs(a-want) > 1e-6*math.Abs(want) || math.Abs(b-want) > 1e-6*math.Abs(want) {
				t.Errorf("%s at %s: published %v, their equation %v (%v), ours %v (%v)", r.ID, p[c+"_in"], want, a, err1, b, err2)
			}
		}
		n := strings.ReplaceAll(p["n"], "more than ", ">")
		if n != r.N {
			t.Errorf("%s: n is %q, published %q", r.ID, r.N, p["n"])
		}
	}
	if rows != len(tb.Rows) {
		t.Errorf("%d published rows, ours %d", rows, len(tb.Rows))
	}
	t.Logf("%d rows, %d equations, %d check values (%d of active rows)", rows, equations, values, activeValues)
	if equations < 120 {
		t.Errorf("only %d equations checked", equations)
	}
}

// What was not read or is from memory never works, whatever our table says of
// it: the published table's own word for it decides.
func TestOnlyWhatWasReadIsActive(t *testing.T) {
	tb := loaded(t)
	by := map[string]int{}
	for _, p := range published(t, "conversions-methods.csv") {
		r, _ := tb.Row(p["id"])
		if r == nil {
			continue
		}
		by[r.Inactive]++
		firm := strings.HasPrefix(p["provenance"], "handbook text seen") || strings.HasPrefix(p["provenance"], "page seen via search") || strings.HasPrefix(p["provenance"], "computed here")
		if r.Active && !firm {
			t.Errorf("%s is active and is %s", r.ID, p["provenance"])
		}
		if strings.Contains(p["provenance"], "memory") && r.Provenance != "from memory" {
			t.Errorf("%s: provenance %q, published %q", r.ID, r.Provenance, p["provenance"])
		}
	}
	for _, why := range slices.Sorted(maps.Keys(by)) {
		t.Logf("%3d %s", by[why], why)
	}
}

// The rows of the published checks that belong to conversions between
// methods: those that give inputs, and worked examples.
func TestPublishedChecks(t *testing.T) {
	tb := loaded(t)
	covered := 0
	worked := map[string]string{"C001": "x=7.70", "C012": "x=6.3", "C033": "x=22", "C060": "x=2.0"}
	for _, c := range published(t, "conversions-checks.csv") {
		in, eq := c["input"], strings.Contains(c["input"], "=")
		if w, ok := worked[c["id"]]; ok {
			in, eq = w, true
			delete(worked, c["id"])
		}
		r, ok := tb.Row(c["row_ref"])
		if !ok || !eq || r.Equation == nil {
			continue
		}
		want, err := strconv.ParseFloat(c["expected"], 64)
		if err != nil {
			t.Errorf("%s: expected %q", c["id"], c["expected"])
			continue
		}
		values := map[string]float64{}
		for k, v := range inputsOf(t, in) {
			if k2, ok := ours[r.ID][k]; ok {
				k = k2
			}
			values[k] = v
		}
		tol, err := strconv.ParseFloat(strings.Fields(c["tolerance"] + " x")[0], 64)
		if err != nil || strings.Contains(c["tolerance"], "rel") {
			tol = 1e-6 * math.Abs(want)
		}
		got, err := r.Equation.Eval(values)
		covered++
		if err != nil || math.Abs(got-want) > tol+1e-12 {
			t.Errorf("%s (%s, %s): %v (%v), published %v", c["id"], r.ID, c["source"], got, err, want)
		}
	}
	if len(worked) > 0 {
		t.Errorf("the published table has no rows %v", worked)
	}
	t.Logf("%d rows of the published checks", covered)
	if covered < 70 {
		t.Errorf("only %d", covered)
	}
}

// Rows DS28 and DS29 of the published checks: fits to the open turf data,
// made there with R.
func TestTurfFits(t *testing.T) {
	for _, c := range []struct {
		row  string
		x    float64
		want float64
	}{
		{"F053", 60, 1.00733655 + 0.24994319*60}, {"F054", 60, math.Pow(10, -0.47840895+0.9291893*math.Log10(60))},
		{"F056", 20, math.Pow(10, 0.97847688+0.69853546*math.Log10(20))},
	} {
		r, _ := loaded(t).Row(c.row)
		if got, err := r.Equation.Eval(map[string]float64{"x": c.x}); err != nil || math.Abs(got-c.want) > 5e-4*c.want {
			t.Errorf("%s: %v, fit %v", c.row, got, c.want)
		}
	}
	r, _ := loaded(t).Row("F054")
	if r.Interval.Error != 0.192 || math.Abs(r.Interval.Error-0.1917135) > 5e-4 {
		t.Errorf("the error of F054 is %v", r.Interval.Error)
	}
}

// Rows C062 to C065 and R-I of the published checks: the bounds of scales.
func TestPublishedScales(t *testing.T) {
	tb := loaded(t)
	check := func(id, amount, want string) {
		t.Helper()
		s, ok := tb.Scale(id)
		v, ok2 := new(big.Rat).SetString(amount)
		if !ok || !ok2 {
			t.Fatalf("%s %s", id, amount)
		}
		c, why := s.IndexOf(v)
		if c == nil {
			if want != "" {
				t.Errorf("%s of %s: none (%s), want %s", id, amount, why, want)
			}
			return
		}
		if k, ok := s.ClassOf(want); !ok || k != c {
			t.Errorf("%s of %s: %s, want %s", id, amount, c.Index, want)
		}
	}
	named := map[string]string{"C062": "northern-ireland-p-index", "C063": "ireland-p-grassland-index", "C064": "ireland-p-tillage-index", "C065": "new-jersey-p-level"}
	single := map[string][2]string{"R-I001": {"northern-ireland-p-index", "18"}, "R-I003": {"ireland-p-grassland-index", "4.2"}, "R-I004": {"ireland-k-index", "120"},
		"R-I005": {"ireland-mg-index", "60"}, "R-I006": {"new-jersey-p-level", "60"}, "R-I007": {"delaware-p-class", "75"}, "R-I021": {"iowa-p-optimum-m3-icp", "30"},
		"R-I022": {"base-saturation-rating", "37"}, "R-I023": {"australia-salinity-1-5", "0.30"}, "R-I024": {"usda-reaction-class", "5.3"}}
	seen := 0
	for _, c := range published(t, "conversions-checks.csv") {
		if id, ok := named[c["id"]]; ok {
			amounts, want := strings.Split(c["input"], ", "), strings.Split(c["expected"], ", ")
			for i, a := range amounts {
				if c["id"] == "C062" && i == len(amounts)-1 {
					want[i] = "4"
				}
				check(id, strings.Fields(a)[0], want[i])
				seen++
			}
		}
		if x, ok := single[c["id"]]; ok {
			check(x[0], x[1], c["expected"])
			seen++
		}
	}
	if seen < 40 {
		t.Errorf("only %d bounds checked", seen)
	}
	// The second checks of conversions-derived.csv, rows I001 to I007.
	for _, c := range [][3]string{{"northern-ireland-p-index", "3", "26-45"}, {"ireland-p-tillage-index", "3", "6.1-10.0"}, {"ireland-k-index", "2", "51-100"}, {"ireland-mg-index", "2", "26-50"},
		{"new-jersey-k-level", "High", "146-277"}} {
		s, _ := tb.Scale(c[0])
		if k, ok := s.ClassOf(c[1]); !ok || k.Low+"-"+k.High != c[2] {
			t.Errorf("%s %s: %v, want %s", c[0], c[1], k, c[2])
		}
	}
	check("northern-ireland-p-index", "9.5", "")
	check("northern-ireland-p-index", "71", "")
	check("iowa-p-optimum-bray", "15", "")
	check("australia-salinity-1-5", "0.15", "low")
	check("australia-salinity-1-5", "0.90", "high")
	check("ireland-p-grassland-index", "8.05", "4")
	// Factors of North Carolina are from memory: there, and not at work.
	for _, s := range tb.Scales {
		if strings.HasPrefix(s.ID, "north-carolina") && (s.Active || s.Factor == nil || s.Inactive != "from memory") {
			t.Errorf("%s: active %v, factor %v, %q", s.ID, s.Active, s.Factor, s.Inactive)
		}
	}
}

// The linear indices of conversions-derived.csv, rows I010 to I015 and I027:
// both check values each.
func TestPublishedLinearIndices(t *testing.T) {
	tb := loaded(t)
	n := 0
	for _, p := range published(t, "conversions-derived.csv") {
		for _, s := range tb.Scales {
			if s.Row != p["id"] || s.Factor == nil {
				continue
			}
			for _, c := range []string{"check1", "check2"} {
				in, want := new(big.Rat), new(big.Rat)
				in.SetString(strings.TrimPrefix(p[c+"_in"], "x="))
				want.SetString(p[c+"_out"])
				n++
				if got := new(big.Rat).Mul(in, s.Factor); got.Cmp(want) != 0 {
					t.Errorf("%s %s: %s, published %s", s.ID, p[c+"_in"], got.FloatString(4), p[c+"_out"])
				}
			}
		}
	}
	if n != 16 {
		t.Errorf("%d values", n)
	}
}
