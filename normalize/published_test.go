package normalize

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
	"example.org/windrow/normalize/unit"
)

// Outside checks: the published tables under testdata/published. Each row
// names its source there. What of them the conversions of this package cover
// is run; the rest is named, so that nobody takes it for covered.

// agree runs checks against our tables and gives the ids that ran.
func agree(t *testing.T, checks []outsideCheck) map[string]bool {
	t.Helper()
	ran := map[string]bool{}
	for _, c := range checks {
		ran[c.id] = true
		if f := c.fault(unit.Standard()); f != "" {
			t.Errorf("%s (%s): %s", c.id, c.source, f)
		}
	}
	return ran
}

func TestPublishedUnits(t *testing.T) {
	checks := linearUnits(t)
	ran := agree(t, checks)
	t.Logf("%d rows of the published table of units are factors, %d values", len(ran), len(checks))
	coverageIs(t, "conversions-units.csv", "TestPublishedUnits", ran)
}

func TestPublishedFactors(t *testing.T) {
	coverageIs(t, "conversions-checks.csv", "TestPublishedFactors", agree(t, linearChecks(t)))
}

func TestHandbookIonsAndLime(t *testing.T) {
	t.Logf("%d figures of ions and liming materials", len(agree(t, handbook(t))))
}

// built is the value of one reading through Build.
func built(t *testing.T, rd mappings.Reading, density string) *Result {
	t.Helper()
	rd.Printed = rd.Number
	s := &mappings.SampleExtract{Readings: []mappings.Reading{rd}}
	if density != "" {
		s.Density = &mappings.Reading{Analyte: "density", Number: density, Unit: "g/cm3"}
	}
	return Build(&mappings.Extract{Source: ingest.SourceRef{SHA256: strings.Repeat("0", 64)}, Samples: []*mappings.SampleExtract{s}}, Options{}).Records[0].Results[0]
}

var slice = &mappings.AreaBasis{DepthIn: "20/3", LbPerAcre: "2000000", Source: "mapping"}

func valueOf(t *testing.T, d Decimal) float64 {
	t.Helper()
	f, err := strconv.ParseFloat(string(d), 64)
	if err != nil {
		t.Fatalf("value %q", d)
	}
	return f
}

// worked are the published worked examples that this package's conversions
// cover, by the row's id; each gives our number for the row's first figure.
func worked(t *testing.T) map[string]func() float64 {
	cmol := func(a, lb string) float64 {
		k, _ := unit.Standard().PerCharge(a)
		return valueOf(t, built(t, mappings.Reading{Analyte: a, Number: lb, Unit: "lb/acre", Area: slice}, "").Value) / float(k)
	}
	total := func() float64 {
		return 2.40 + cmol("K", "221") + cmol("Mg", "28") + cmol("Ca", "400") + cmol("Na", "12")
	}
	return map[string]func() float64{
		"C002": func() float64 { return cmol("K", "221") },
		"C003": func() float64 { return cmol("Mg", "28") },
		"C004": func() float64 { return cmol("Ca", "400") },
		"C005": func() float64 { return cmol("Na", "12") },
		"C006": total,
		"C007": func() float64 { return 100 * (total() - 2.40) / total() },
		"C030": func() float64 {
			return valueOf(t, built(t, mappings.Reading{Analyte: "P", Number: "60", Unit: "lb/acre", Area: slice}, "").Value)
		},
		"C031": func() float64 {
			return valueOf(t, built(t, mappings.Reading{Analyte: "P", Number: "30", Unit: "mg/kg"}, "").Forms.LbAc.Value)
		},
		"C032": func() float64 { return float(conventionSoil) / float(conventionDepth) * 8 },
		"G015": func() float64 { return 8.82559933333 * float(acreInch) },
		"G016": func() float64 { return 300000 / float(acreInch) },
		"G017": func() float64 { return 333333.333333 / float(acreInch) },
		"C017": func() float64 { // kg of soil in a hectare to 10 cm at 1.0 g/cm3
			ab := &mappings.AreaBasis{DepthCm: "10", BulkDensity: "1.0", Source: "report"}
			return 1e6 / valueOf(t, built(t, mappings.Reading{Analyte: "P", Number: "1", Unit: "kg/ha", Area: ab}, "").Value)
		},
		"C056": func() float64 {
			return valueOf(t, built(t, mappings.Reading{Analyte: "P", Number: "120", Unit: "mg/dm3"}, "1.25").Value)
		},
	}
}

func TestPublishedWorkedExamples(t *testing.T) {
	ran := map[string]bool{}
	w := worked(t)
	for _, r := range publishedTable(t, "conversions-checks.csv") {
		f := w[r["id"]]
		if f == nil {
			continue
		}
		want, err := strconv.ParseFloat(r["expected"], 64)
		if err != nil {
			t.Errorf("%s expects %q", r["id"], r["expected"])
			continue
		}
		ran[r["id"]] = true
		if got := f(); math.Abs(got-want) > max(tolerance(r["tolerance"], want), 1e-9*math.Abs(want)) {
			t.Errorf("%s %s (%s): ours %v, published %v, tolerance %s", r["id"], r["what"], r["source"], got, want, r["tolerance"])
		}
	}
	coverageIs(t, "conversions-checks.csv", "TestPublishedWorkedExamples", ran)
}

// What the published tables say of amounts per volume and per area, rows
// U014, U017 to U025 and U049, with the depth and density that they name.
func TestPublishedVolumesAndAreas(t *testing.T) {
	ran := map[string]bool{}
	cm := func(d string) *mappings.AreaBasis {
		return &mappings.AreaBasis{DepthCm: d, ByVolume: true, Source: "mapping"}
	}
	bd := func(density, d string) *mappings.AreaBasis {
		return &mappings.AreaBasis{DepthCm: d, BulkDensity: density, Source: "report"}
	}
	bdIn := func(density, d string) *mappings.AreaBasis {
		return &mappings.AreaBasis{DepthIn: d, BulkDensity: density, Source: "report"}
	}
	for _, c := range []struct {
		row     string
		rd      mappings.Reading
		density string
		want    float64
		volume  bool
	}{
		{"U014", mappings.Reading{Analyte: "P", Number: "120", Unit: "mg/dm3"}, "1.25", 96, false},
		{"U014", mappings.Reading{Analyte: "P", Number: "120", Unit: "mg/dm3"}, "0.8", 150, false},
		{"U017", mappings.Reading{Analyte: "P", Number: "100", Unit: "kg/ha", Area: cm("20")}, "", 50, true},
		{"U017", mappings.Reading{Analyte: "P", Number: "75", Unit: "kg/ha", Area: cm("15")}, "", 50, true},
		{"U020", mappings.Reading{Analyte: "P", Number: "1", Unit: "kg/ha", Area: bd("1", "10")}, "", 1, false},
		{"U020", mappings.Reading{Analyte: "P", Number: "39", Unit: "kg/ha", Area: bd("1.3", "15")}, "", 20, false},
		{"U049", mappings.Reading{Analyte: "CEC", Number: "12", Unit: "meq/100 cm3"}, "1", 12, false},
		{"U021", mappings.Reading{Analyte: "P", Number: "2", Unit: "lb/acre", Area: bdIn("1.32384", "20/3")}, "", 1, false},
		{"U021", mappings.Reading{Analyte: "P", Number: "47.13561", Unit: "lb/acre", Area: bdIn("1.3", "8")}, "", 20, false},
		{"U018", mappings.Reading{Analyte: "P", Number: "89.21791", Unit: "lb/acre", Area: cm("20")}, "", 50, true},
		{"U022", mappings.Reading{Analyte: "P", Number: "60", Unit: "lb/acre", Area: slice}, "", 30, false},
		{"U022", mappings.Reading{Analyte: "P", Number: "72", Unit: "lb/acre", Area: &mappings.AreaBasis{DepthIn: "8", LbPerAcre: "2400000", Source: "report"}}, "", 30, false},
		{"U023", mappings.Reading{Analyte: "P", Number: "137", Unit: "lb/acre", Area: slice}, "", 68.5, false},
	} {
		ran[c.row] = true
		res := built(t, c.rd, c.density)
		got := res.Value
		if c.volume {
			if res.Value != "" || res.Volumetric == nil {
				t.Errorf("%s: value %q without a density", c.row, res.Value)
				continue
			}
			got = res.Volumetric.Value
		}
		if g := valueOf(t, got); math.Abs(g-c.want) > 1e-6*c.want {
			t.Errorf("%s: %s %s is %v, published %v", c.row, c.rd.Number, c.rd.Unit, g, c.want)
		}
	}
	// U025: the weight of a layer at 1 g/cm3, beside the lb/acre form.
	form := built(t, mappings.Reading{Analyte: "P", Number: "30", Unit: "mg/kg", Area: bdIn("1", "20/3")}, "").Forms.LbAc
	if form == nil || math.Abs(valueOf(t, form.SoilLb)-1510756.69) > 0.1 || form.Source != "report" {
		t.Errorf("U025: %+v, published 1510756.69 lb", form)
	}
	ran["U025"] = true
	coverageIs(t, "conversions-units.csv", "TestPublishedVolumesAndAreas", ran)
}

// Rows N06, N07, N08 and N10 of the published checks say what must not be
// converted; the other N rows ask for another extraction method, and no value
// of one method becomes one of another anywhere in this package.
func TestPublishedRefusals(t *testing.T) {
	ran := map[string]bool{"N06": true}
	for _, c := range []struct {
		row string
		rd  mappings.Reading
	}{
		{"N07", mappings.Reading{Analyte: "P", Number: "30", Unit: "mg/kg", Per: "volume"}},
		{"N08", mappings.Reading{Analyte: "P", Number: "60", Unit: "lb/acre"}},
		{"N08, depth but no weight", mappings.Reading{Analyte: "P", Number: "60", Unit: "lb/acre", Area: &mappings.AreaBasis{DepthIn: "6", Source: "report"}}},
		{"N10", mappings.Reading{Analyte: "OM", Number: "4.0", Unit: "%", Basis: "C"}},
		{"U009, mg/L of what?", mappings.Reading{Analyte: "P", Number: "5", Unit: "mg/L", Method: "mehlich-3-icp"}},
		{"oxide of another element", mappings.Reading{Analyte: "P", Number: "5", Unit: "mg/kg", Basis: "K2O"}},
		{"basis not stated", mappings.Reading{Analyte: "P", Number: "5", Unit: "mg/kg", Basis: UnstatedBasis}},
		{"cmol/kg of what?", mappings.Reading{Analyte: "Ca", Number: "5", Unit: "cmol/kg"}},
		{"moles as oxide", mappings.Reading{Analyte: "K", Number: "5", Unit: "mmol/kg", Basis: "K2O"}},
		{"a label that is a slip", mappings.Reading{Analyte: "B", Number: "5", Unit: "mg/kg", Basis: "BO4"}},
		{"charge as oxide", mappings.Reading{Analyte: "K", Number: "5", Unit: "cmol(+)/kg", Basis: "K2O"}},
		{"charge without one meaning", mappings.Reading{Analyte: "Fe", Number: "5", Unit: "cmol(+)/kg"}},
		{"unit of another kind", mappings.Reading{Analyte: "P", Number: "5", Unit: "dS/m"}},
		{"saturation in mg/kg", mappings.Reading{Analyte: "base_sat_K", Number: "5", Unit: "mg/kg"}},
	} {
		if strings.HasPrefix(c.row, "N") {
			ran[c.row[:3]] = true
		}
		res := built(t, c.rd, "")
		if res.Value != "" || res.Why == "" {
			t.Errorf("%s: value %q, why %q", c.row, res.Value, res.Why)
		}
		if res.Printed.Number != Decimal(c.rd.Number) {
			t.Errorf("%s: the printed number was lost", c.row)
		}
	}
	if res := built(t, mappings.Reading{Analyte: "P", Number: "77", Unit: "index", Basis: IndexBasis}, ""); res.Value != "77" || res.Unit != "index" || res.Forms.PPM != nil {
		t.Errorf("N06: an index became %s %s", res.Value, res.Unit)
	}
	coverageIs(t, "conversions-checks.csv", "TestPublishedRefusals", ran)
}

// The rows of derived values: a sample that prints the row's inputs and its
// published outcome agrees with itself; one that prints the outcome a third
// too high doesn't.
func TestPublishedDerived(t *testing.T) {
	bases := func(in map[string]string, u string) string {
		s := ""
		for _, a := range []string{"Ca", "Mg", "K", "Na"} {
			s += a + " " + in[a] + " " + u + " mehlich-3-icp; "
		}
		return s
	}
	// Each row as a sample, from its inputs and the outcome to be printed.
	rows := map[string]func(in map[string]string, out string) string{
		"D001": func(in map[string]string, out string) string {
			b, _ := strconv.ParseFloat(in["B"], 64)
			return bases(in, "lb/acre") + "acidity " + strconv.FormatFloat(8*(8-b), 'f', 2, 64) + " cmol(+)/kg adams-evans-buffer; CEC " + out + " cmol(+)/kg summation"
		},
		"D003": func(in map[string]string, out string) string {
			return bases(in, "mg/kg") + "acidity " + in["H"] + " cmol(+)/kg sikora-buffer; CEC " + out + " cmol(+)/kg summation"
		},
		"D007": func(in map[string]string, out string) string {
			c, _ := strconv.ParseFloat(in["CEC"], 64)
			for _, a := range []string{"Ca", "Mg", "K", "Na"} {
				x, _ := strconv.ParseFloat(in[a], 64)
				c -= x
			}
			return "CEC " + in["CEC"] + " cmol(+)/kg summation; acidity " + strconv.FormatFloat(c, 'f', 2, 64) + " cmol(+)/kg sikora-buffer; base_sat_total " + out + " % from-cec"
		},
		"D008": func(in map[string]string, out string) string {
			return "CEC " + in["CEC"] + " cmol(+)/kg summation; Ca " + in["c"] + " cmol(+)/kg ammonium-acetate; base_sat_Ca " + out + " % from-cec"
		},
		"D009": func(in map[string]string, out string) string {
			return "CEC " + in["CEC"] + " cmol(+)/kg summation; Na " + in["Na"] + " cmol(+)/kg ammonium-acetate; base_sat_Na " + out + " % from-cec"
		},
		"D002": func(in map[string]string, out string) string {
			h, sum := 0.0, 0.0
			for k, per := range map[string]float64{"K": 782, "Mg": 240, "Ca": 400, "Na": 460} { // the laboratory's own equivalents
				x, _ := strconv.ParseFloat(in[k], 64)
				sum += x / per
			}
			b, _ := strconv.ParseFloat(in["B"], 64)
			h = 8 * (8 - b)
			return bases(in, "lb/acre") + "acidity " + strconv.FormatFloat(h, 'f', 2, 64) + " cmol(+)/kg adams-evans-buffer; CEC " + strconv.FormatFloat(h+sum, 'f', 2, 64) + " cmol(+)/kg summation; base_sat_total " + out + " % from-cec"
		},
		"D010": func(in map[string]string, out string) string {
			return "SAR " + out + " ratio saturated-paste; Na " + in["Na"] + " meq/L saturated-paste; Ca " + in["Ca"] + " meq/L saturated-paste; Mg " + in["Mg"] + " meq/L saturated-paste"
		},
	}
	ran, derived, checks := 0, map[string]bool{}, map[string]bool{}
	agrees := func(id, source, outcome string, row func(map[string]string, string) string, in map[string]string) {
		out, err := strconv.ParseFloat(outcome, 64)
		if err != nil {
			t.Errorf("%s: outcome %q", id, outcome)
			return
		}
		for factor, want := range map[float64]Status{1: OK, 1.3: Flagged} {
			s := reads(row(in, strconv.FormatFloat(out*factor, 'f', 2, 64)))
			rep := Build(&mappings.Extract{Samples: []*mappings.SampleExtract{s}}, Options{})
			if rep.Status != want {
				t.Errorf("%s (%s) %v, outcome × %v: %s, want %s", id, source, in, factor, rep.Status, want)
			}
		}
		ran++
	}
	for _, r := range publishedTable(t, "conversions-derived.csv") {
		row, ok := rows[r["id"]]
		if !ok {
			continue
		}
		derived[r["id"]] = true
		for _, c := range []string{"check1", "check2"} {
			agrees(r["id"], r["source"], r[c+"_out"], row, inputsOf(r[c+"_in"]))
		}
	}
	// The published checks that are of one of these rows and give its inputs.
	for _, r := range publishedTable(t, "conversions-checks.csv") {
		row, in := rows[r["row_ref"]], inputsOf(r["input"])
		if r["id"] == "C036" {
			in = map[string]string{"Na": "2.5", "CEC": "10"} // "Na 2.5, CEC 10 meq/100 g"
		}
		if row == nil || !strings.HasPrefix(r["id"], "R-") && r["id"] != "C036" {
			continue
		}
		checks[r["id"]] = true
		agrees(r["id"], r["source"], r["expected"], row, in)
	}
	t.Logf("%d derived values agree, and don't when a third too high", ran)
	coverageIs(t, "conversions-derived.csv", "TestPublishedDerived", derived)
	coverageIs(t, "conversions-checks.csv", "TestPublishedDerived", checks)
	if ran != 2*len(rows)+3 {
		t.Errorf("%d values of %d rows", ran, len(rows))
	}
}

// Derived values that are sums and ratios of charges: by our weights alone.
func TestPublishedCharges(t *testing.T) {
	charge := func(in map[string]string, element string, perLitre bool) float64 {
		x, err := strconv.ParseFloat(in[element], 64)
		if err != nil {
			t.Fatal(err)
		}
		k, _ := unit.Standard().PerCharge(element)
		if perLitre { // meq/L from mg/L: no tenth of a kilogram in it
			return x * 10 / float(k)
		}
		return x / float(k)
	}
	rows := map[string]func(in map[string]string) float64{
		"D004": func(in map[string]string) float64 {
			return charge(in, "Ca", false) + charge(in, "Mg", false) + charge(in, "K", false) + charge(in, "Na", false)
		},
		"D011": func(in map[string]string) float64 {
			return charge(in, "Na", true) / math.Sqrt((charge(in, "Ca", true)+charge(in, "Mg", true))/2)
		},
		"D018": func(in map[string]string) float64 {
			x, _ := strconv.ParseFloat(in["x"], 64)
			f, _ := perUnit["D018"](unit.Standard())
			return x * f
		},
	}
	covered := map[string]bool{}
	for _, r := range publishedTable(t, "conversions-derived.csv") {
		f := rows[r["id"]]
		if f == nil {
			continue
		}
		covered[r["id"]] = true
		for _, c := range []string{"check1", "check2"} {
			want, err := strconv.ParseFloat(r[c+"_out"], 64)
			// D011 rounds the equivalent weights to four figures.
			if got := f(inputsOf(r[c+"_in"])); err != nil || math.Abs(got-want) > 2e-4*want {
				t.Errorf("%s (%s) %s: ours %v, published %v", r["id"], r["source"], r[c+"_in"], got, want)
			}
		}
	}
	coverageIs(t, "conversions-derived.csv", "TestPublishedCharges", covered)
}
