package normalize

import (
	"fmt"
	"math/big"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
	"example.org/windrow/normalize/unit"
)

// An area is what a report or mapping states about an amount per area.
type area struct {
	name    string
	ab      *mappings.AreaBasis
	missing string // what it lacks, "" for nothing
}

var areas = []area{
	{"nothing", nil, "depth"},
	{"depth alone", &mappings.AreaBasis{DepthIn: "6", Source: "report"}, "weight of soil unknown"},
	{"weight alone", &mappings.AreaBasis{LbPerAcre: "2000000", Source: "mapping"}, "depth unknown"},
	{"depth and weight", slice, ""},
	{"depth of the report, weight of the mapping", &mappings.AreaBasis{DepthIn: "8", LbPerAcre: "2400000", Source: "report", SoilSource: "mapping"}, ""},
	{"depth and bulk density", &mappings.AreaBasis{DepthCm: "20", BulkDensity: "1.3", Source: "report"}, ""},
	{"bulk density alone", &mappings.AreaBasis{BulkDensity: "1.3", Source: "mapping"}, "depth unknown"},
	{"a bulk density of nothing", &mappings.AreaBasis{DepthCm: "20", BulkDensity: "0", Source: "report"}, "density unknown"},
	{"by volume", &mappings.AreaBasis{DepthCm: "20", ByVolume: true, Source: "mapping"}, ""},
	{"by volume without depth", &mappings.AreaBasis{ByVolume: true, Source: "mapping"}, "depth unknown"},
	{"by volume to no depth", &mappings.AreaBasis{DepthCm: "0", ByVolume: true, Source: "mapping"}, "depth unknown"},
}

// expected says what a reading lacks, by what its unit is and what was
// stated: a second opinion, from the words of the reference page.
func expected(rd mappings.Reading, u *unit.Unit, a area, density string) (missing []string, possible bool) {
	volume := rd.Per == "volume"
	need := func(ok bool, what string) {
		if !ok {
			missing = append(missing, what)
		}
	}
	capacity := rd.Analyte == "CEC"
	switch u.Dimension {
	case unit.MassFraction, unit.SoilVolume:
		possible = !capacity
		need(density == "1.25" || u.Dimension == unit.MassFraction && !volume, "density unknown")
	case unit.Solution:
		possible = !capacity
		if rd.Method == "saturated-paste" && !volume {
			break
		}
		need(volume, "basis unknown")
		need(!volume || density == "1.25", "density unknown")
	case unit.SolutionCharge:
		possible = !capacity && rd.Method == "saturated-paste"
	case unit.AreaMass:
		possible = !capacity
		byVolume := a.ab != nil && (a.ab.ByVolume || volume)
		if byVolume {
			need(a.ab.DepthCm != "" && a.ab.DepthCm != "0" || a.ab.DepthIn != "", "depth unknown")
			need(density == "1.25", "density unknown")
		} else {
			need(a.missing == "", a.missing)
		}
	case unit.Charge, unit.ChargeVolume:
		possible = capacity || rd.Analyte == "K" && rd.Basis != "K2O"
		need(u.Dimension == unit.Charge || density == "1.25", "density unknown")
	case unit.Amount:
		possible = !capacity && rd.Basis != "K2O" && rd.Basis != "P2O5"
	case unit.AmountOrCharge:
		possible = capacity || rd.Analyte == "K" && rd.Basis != "K2O"
	}
	if possible && !capacity && u.Dimension != unit.SolutionCharge && u.Dimension != unit.Charge && u.Dimension != unit.ChargeVolume {
		need(rd.Basis != UnstatedBasis, "basis unknown")
	}
	return missing, possible
}

// Context is never assumed: each unit with each way in which depth, weight,
// density and basis can be stated or not. A value is given exactly where
// nothing is missing, and otherwise the result names something that is.
func TestContextIsNeverAssumed(t *testing.T) {
	type try struct {
		rd      mappings.Reading
		u       *unit.Unit
		a       area
		density string
	}
	var tries []try
	for _, u := range unit.Standard().Units {
		for i, a := range areas {
			if u.Dimension != unit.AreaMass && i != 0 && i != 3 {
				continue // says nothing about this unit
			}
			for _, analyte := range []string{"P", "K", "CEC"} {
				bases := []string{""}
				if analyte != "CEC" {
					bases = []string{"", analyte + "2O", UnstatedBasis}
					if analyte == "P" {
						bases[1] = "P2O5"
					}
				}
				for _, basis := range bases {
					for _, per := range []string{"", "volume"} {
						if analyte == "CEC" && per != "" {
							continue
						}
						for _, m := range []string{"", "saturated-paste"} {
							if m != "" && u.Dimension != unit.Solution && u.Dimension != unit.SolutionCharge {
								continue
							}
							for _, d := range []string{"", "1.25", "<1", "0"} {
								tries = append(tries, try{mappings.Reading{Analyte: analyte, Number: "120", Printed: "120", Unit: u.ID, PrintedUnit: u.ID, Basis: basis, Per: per, Method: m, Area: a.ab}, u, a, d})
							}
						}
					}
				}
			}
		}
	}
	ex := &mappings.Extract{Source: ingest.SourceRef{SHA256: strings.Repeat("0", 64)}}
	for _, x := range tries {
		s := &mappings.SampleExtract{Readings: []mappings.Reading{x.rd}}
		if n := strings.TrimPrefix(x.density, "<"); n != "" {
			s.Density = &mappings.Reading{Analyte: "density", Number: n, Unit: "g/cm3", Censor: strings.TrimSuffix(x.density, n)}
		}
		ex.Samples = append(ex.Samples, s)
	}
	given, kept := 0, 0
	for i, rec := range Build(ex, Options{}).Records {
		x, res := tries[i], rec.Results[0]
		missing, possible := expected(x.rd, x.u, x.a, x.density)
		if x.density == "0" {
			// A density of nothing can't be used, in other words than a missing one.
			for j := range missing {
				if missing[j] == "density unknown" && !strings.Contains(res.Why, "bulk") {
					missing[j] = "density"
				}
			}
		}
		say := fmt.Sprintf("%s of %s in %s, per %q, basis %q, method %q, area %s, density %q", x.rd.Number, x.rd.Analyte, x.u.ID, x.rd.Per, x.rd.Basis, x.rd.Method, x.a.name, x.density)
		switch own := res.Unit == "index"; {
		case own:
		case possible && len(missing) == 0:
			given++
			if res.Value == "" {
				t.Errorf("%s: no value, though nothing is missing: %s", say, res.Why)
			}
		case res.Value != "":
			t.Errorf("%s: a value %s, though it lacks %v (possible: %v)", say, res.Value, missing, possible)
		default:
			kept++
			if res.Why == "" {
				t.Errorf("%s: no value and no reason", say)
			}
			if possible && !slices.ContainsFunc(missing, func(m string) bool { return strings.Contains(res.Why, m) }) {
				t.Errorf("%s: it lacks %v, and the reason is %q", say, missing, res.Why)
			}
		}
		accounted(t, say, res)
	}
	t.Logf("%d cases: %d converted, %d not, each with its reason", len(tries), given, kept)
}

// accounted holds what is true of every result: its steps are rows of the
// table of steps that are in use, each input says where it comes from, and an
// amount per acre names depth and weight of soil.
func accounted(t *testing.T, say string, res *Result) {
	t.Helper()
	for _, s := range append(slices.Clone(res.Steps), res.FormSteps...) {
		if c := stepOf(s.Rule); c == nil || !c.Active {
			t.Errorf("%s: step %s is in no table of steps, or not in use", say, s.Rule)
		}
		for _, in := range s.Inputs {
			if in.Value == "" || !slices.Contains([]string{"report", "mapping", "definition"}, in.Origin) {
				t.Errorf("%s: step %s: input %+v says no value or not whose it is", say, s.Rule, in)
			}
		}
		if s.Rule == "area/by-mass" || s.Rule == "form/lb-per-acre" {
			if len(s.Inputs) != 2 || s.Inputs[0].Name != "soil per acre" || s.Inputs[1].Name != "depth" {
				t.Errorf("%s: step %s does not name weight and depth of soil: %+v", say, s.Rule, s.Inputs)
			}
		}
	}
	if f := res.Forms.LbAc; f != nil && (f.DepthIn == "" || f.SoilLb == "" || !slices.Contains([]string{"report", "mapping", "convention"}, f.Source)) {
		t.Errorf("%s: lb/acre without its soil: %+v", say, f)
	}
}

// stepOf is the row of the table of steps that a rule belongs to.
func stepOf(rule string) *unit.Conversion {
	kind, _, _ := strings.Cut(rule, "/")
	var found *unit.Conversion
	for _, c := range unit.Standard().Conversions {
		if c.ID == rule {
			return c
		}
		if c.ID == kind {
			found = c
		}
	}
	return found
}

// Every step of every record of the test laboratories is in the table, and in
// use.
func TestEveryStepIsInTheTable(t *testing.T) {
	rules := map[string]int{}
	for _, f := range truths(t) {
		for _, rec := range Build(f.extract(t), Options{}).Records {
			for _, res := range rec.Results {
				accounted(t, rec.ID+" "+res.Analyte, res)
				for _, s := range append(slices.Clone(res.Steps), res.FormSteps...) {
					rules[s.Rule]++
				}
			}
		}
	}
	t.Logf("%d rules: %v", len(rules), rules)
	if len(rules) < 10 {
		t.Error("the test laboratories use too few conversions for this to say much")
	}
}

// Moles, and charge in moles: 1 mmol of an element is its atomic weight in mg
// (G036 of the published checks: one cmol of charge of a divalent ion is half
// a cmol of it).
func TestMoles(t *testing.T) {
	for _, c := range []struct{ analyte, unit, number, value string }{
		{"Ca", "cmol(el)/kg", "1.00", "400.8"}, {"Ca", "cmol(+)/kg", "1.00", "200.4"}, {"P", "mmol(el)/kg", "10.0", "309.7"},
		{"K", "mmol/kg", "1.00", "39.1"}, {"K", "cmol/kg", "1.00", "391"}, {"K", "cmol(+)/kg", "1.00", "391"}, {"CEC", "mmol/kg", "125", "12.5"}, {"CEC", "cmol/kg", "12.5", "12.5"}, {"acidity", "cmol/kg", "2.4", "2.4"},
	} {
		res := built(t, mappings.Reading{Analyte: c.analyte, Number: c.number, Unit: c.unit, PrintedUnit: c.unit}, "")
		if string(res.Value) != c.value {
			t.Errorf("%s %s of %s: %s (%s), want %s", c.number, c.unit, c.analyte, res.Value, res.Why, c.value)
		}
	}
	for _, a := range []string{"Ca", "Mg", "Al", "S", "P", "Fe", "Zn"} {
		res := built(t, mappings.Reading{Analyte: a, Number: "5", Unit: "mmol/kg", PrintedUnit: "mmol/kg"}, "")
		if res.Value != "" || !strings.Contains(res.Why, "atoms") || res.Status != Flagged {
			t.Errorf("mmol/kg of %s: %q, %q", a, res.Value, res.Why)
		}
	}
}

// A laboratory that prints plain moles says in its guide what it counts, and
// its mapping repeats it.
func TestMappingSaysWhichMoles(t *testing.T) {
	m, reasons := mappings.Decode("x.yaml", []byte(`windrow mapping: 1
lab: X
id: x
recognise: [X]
dates: YYYY-MM-DD
units:
  cmol/kg: cmol(+)/kg
  mmol/kg: mmol(el)/kg
  t/ha: {depth: 20 cm, bulk density: 1.3 g/cm3}
tests:
  Ca: {analyte: Ca, unit: cmol/kg, method: Mehlich-3}
layouts:
  - name: one
    format: workbook
    one sample each: row
    tables:
      - name: samples
        each row: a sample
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: Ca, unit: cmol/kg, test: Ca}
`), Vocabulary())
	for _, r := range reasons {
		t.Log(r)
	}
	if m == nil {
		t.Fatal("no mapping")
	}
	ids := map[string]string{}
	for k, u := range m.Units {
		ids[k] = u.ID
	}
	if len(ids) != 3 || ids["cmol/kg"] != "cmol(+)/kg" || ids["mmol/kg"] != "mmol(el)/kg" || m.Units["t/ha"].Area == nil || m.Units["t/ha"].Area.BulkDensity != "1.3" {
		t.Errorf("%v", m.Units)
	}
}

// Steps commute: an oxide per area, and its element per area worked out by
// hand beforehand, come to the same value within half of its last digit.
func TestStepsCommute(t *testing.T) {
	tb := unit.Standard()
	var perArea []*unit.Unit
	for _, u := range tb.Units {
		if u.Dimension == unit.AreaMass {
			perArea = append(perArea, u)
		}
	}
	var layers []area
	for _, a := range areas {
		if a.missing == "" {
			layers = append(layers, a)
		}
	}
	rapid.Check(t, func(r *rapid.T) {
		n := rapid.StringMatching(`[1-9][0-9]{0,3}(\.[0-9]{1,2})?`).Draw(r, "number")
		form := rapid.SampledFrom([]string{"P2O5", "PO4"}).Draw(r, "form")
		u := rapid.SampledFrom(perArea).Draw(r, "unit")
		a := rapid.SampledFrom(layers).Draw(r, "area")
		x, ok := new(big.Rat).SetString(n)
		b, ok2 := tb.Basis(form)
		if !ok || !ok2 {
			r.Fatal("no number or no form")
		}
		first := built(t, mappings.Reading{Analyte: "P", Number: n, Unit: u.ID, Basis: form, Area: a.ab}, "1.21")
		second := built(t, mappings.Reading{Analyte: "P", Number: new(big.Rat).Mul(x, b.Factor).FloatString(40), Unit: u.ID, Area: a.ab}, "1.21")
		v, err := unit.ParseNumber(string(first.Value))
		w, ok := new(big.Rat).SetString(string(second.Value))
		if err != nil || !ok {
			r.Fatalf("%q %q: %s %s", first.Value, second.Value, first.Why, second.Why)
		}
		d := new(big.Rat).Sub(v.Rat, w)
		if d.Abs(d).Cmp(v.Half()) > 0 {
			r.Fatalf("%s %s as %s, %s: %s, and by the element first %s", n, u.ID, form, a.name, first.Value, w.FloatString(8))
		}
	})
}

// Significance never grows: a value has at most the digits that the rule of
// unit.Digits allows, whatever its unit, form and layer of soil were, except
// digits before the point, which can't be left out.
func TestSignificanceNeverGrows(t *testing.T) {
	units := unit.Standard().Units
	rapid.Check(t, func(r *rapid.T) {
		n := rapid.StringMatching(`(0|[1-9][0-9]{0,3})(\.[0-9]{1,3})?`).Draw(r, "number")
		u := rapid.SampledFrom(units).Draw(r, "unit")
		rd := mappings.Reading{Analyte: rapid.SampledFrom([]string{"K", "P", "CEC", "EC"}).Draw(r, "analyte"), Number: n, Unit: u.ID, Area: rapid.SampledFrom(areas).Draw(r, "area").ab,
			Basis: rapid.SampledFrom([]string{"", "K2O"}).Draw(r, "basis"), Per: rapid.SampledFrom([]string{"", "volume"}).Draw(r, "per")}
		res := built(t, rd, "1.21")
		p, err := unit.ParseNumber(n)
		if err != nil {
			r.Fatal(err)
		}
		for _, v := range []Decimal{res.Value, lbOf(res)} {
			if v == "" {
				continue
			}
			m, err := unit.ParseNumber(string(v))
			whole, _, _ := strings.Cut(string(v), ".")
			if limit := max(unit.Digits(p.Sig)+1, len(whole)); err != nil || m.Sig > limit { // 999.96 may round up to one digit more
				r.Fatalf("%s %s with %d digits became %s", n, u.ID, p.Sig, v)
			}
		}
	})
}

func lbOf(res *Result) Decimal {
	if res.Forms.LbAc == nil {
		return ""
	}
	return res.Forms.LbAc.Value
}
