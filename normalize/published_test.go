package normalize

import (
	"encoding/csv"
	"math"
	"math/big"
	"os"
	"regexp"
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

func publishedTable(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open("../testdata/published/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rd := csv.NewReader(f)
	rd.FieldsPerRecord = -1
	recs, err := rd.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, r := range recs[1:] {
		m := map[string]string{}
		for i, h := range recs[0] {
			if i < len(r) {
				m[h] = r[i]
			}
		}
		if m["source"] == "" {
			t.Errorf("%s: row %s names no source", name, m["id"])
		}
		out = append(out, m)
	}
	return out
}

func float(r *big.Rat) float64 { f, _ := r.Float64(); return f }

var (
	ionOf   = regexp.MustCompile(`^meq/100 g (Ca|Mg|K|Na|H|Al)$`)
	massOf  = regexp.MustCompile(`^mg ([A-Za-z0-9-]+)$`)
	aside   = regexp.MustCompile(` \([^)(]*\)$`)
	numUnit = regexp.MustCompile(`^(-?[\d.]+) (.+)$`)
)

// linear is the factor between two units as the published tables spell
// them, from our tables alone.
func linear(from, to string) (*big.Rat, bool) {
	t := unit.Standard()
	from, to = aside.ReplaceAllString(from, ""), aside.ReplaceAllString(to, "")
	clean := strings.NewReplacer("[ppm]", "ppm", "[ppb]", "ppb", "[lb_av]/[acr_us]", "lb/acre", "kg/har", "kg/ha", "t/har", "t/ha",
		"[lb_av]/(1000.[sft_i])", "lb/1000 ft2", "short ton/acre", "ton/acre", "[in_i]", "in")
	f, g := clean.Replace(from), clean.Replace(to)
	// Identity of volume units, as the table's own note says.
	if f == "mg/L" && g == "mg/dm3" {
		a, _ := t.Unit(f)
		b, _ := t.Unit(g)
		return new(big.Rat).Quo(a.Factor, b.Factor), true
	}
	if m := ionOf.FindStringSubmatch(f); m != nil && strings.HasPrefix(g, "mg/kg") {
		return t.PerCharge(m[1])
	}
	if f == "mg/kg K" && g == "cmol(+)/kg" {
		k, ok := t.PerCharge("K")
		return new(big.Rat).Inv(k), ok
	}
	if a, ok := t.Unit(f); ok {
		if b, ok := t.Unit(g); ok {
			return new(big.Rat).Quo(a.Factor, b.Factor), a.Dimension == b.Dimension
		}
	}
	strip := strings.NewReplacer("NO3-N", "N", "SO4-S", "S", "PO4-P", "P", "NH4-N", "N", "NO2-N", "N", "BO3-B", "B")
	f, g = strip.Replace(f), strip.Replace(g)
	if m := massOf.FindStringSubmatch(f); m != nil {
		f = m[1]
	}
	if m := massOf.FindStringSubmatch(g); m != nil {
		g = m[1]
	}
	if b, ok := t.Basis(f); ok && b.ID == f && b.Element == g {
		return b.Factor, true
	}
	if b, ok := t.Basis(g); ok && b.ID == g && b.Element == f {
		return new(big.Rat).Inv(b.Factor), true
	}
	return nil, false
}

func TestPublishedUnits(t *testing.T) {
	covered, values := 0, 0
	var rest []string
	for _, r := range publishedTable(t, "conversions-units.csv") {
		k, ok := linear(r["from"], r["to"])
		if !ok {
			rest = append(rest, r["id"])
			continue
		}
		covered++
		for _, c := range []string{"check1", "check2"} {
			in, err1 := strconv.ParseFloat(strings.TrimPrefix(r[c+"_in"], "x="), 64)
			want, err2 := strconv.ParseFloat(r[c+"_out"], 64)
			if err1 != nil || err2 != nil {
				t.Errorf("%s: %s -> %s", r["id"], r[c+"_in"], r[c+"_out"])
				continue
			}
			values++
			// The table is printed to seven digits; a column with fewer is not more exact.
			if got := in * float(k); math.Abs(got-want) > 6e-7*want {
				t.Errorf("%s (%s): %s %s is %v %s, published %v", r["id"], r["source"], r[c+"_in"], r["from"], got, r["to"], want)
			}
		}
	}
	t.Logf("%d rows of the table of units covered, %d values; not covered (another dimension, lime, EC temperature, moisture): %s", covered, values, strings.Join(rest, " "))
	if covered < 45 {
		t.Errorf("only %d rows covered", covered)
	}
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
	oxide := func(b string) func() float64 {
		return func() float64 { x, _ := unit.Standard().Basis(b); return 1 / float(x.Factor) }
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
		"C040": oxide("NO3"), "C041": oxide("SO4"), "C042": oxide("P2O5"), "C043": oxide("K2O"), "C044": oxide("CaO"), "C045": oxide("MgO"),
		"C055": func() float64 { k, _ := unit.Standard().PerCharge("K"); return 391 / float(k) },
		"C056": func() float64 {
			return valueOf(t, built(t, mappings.Reading{Analyte: "P", Number: "120", Unit: "mg/dm3"}, "1.25").Value)
		},
	}
}

func tolerance(text string, want float64) float64 {
	first, _, _ := strings.Cut(text, " ")
	f, err := strconv.ParseFloat(first, 64)
	switch {
	case strings.Contains(text, "rel") && err == nil:
		return f * math.Abs(want)
	case err == nil:
		return f
	}
	return 1e-6 * math.Abs(want) // "exact", or a remark on a slip in print
}

func TestPublishedChecks(t *testing.T) {
	covered := 0
	var rest []string
	w := worked(t)
	for _, r := range publishedTable(t, "conversions-checks.csv") {
		want, err := strconv.ParseFloat(r["expected"], 64)
		var got float64
		ok := false
		if f := w[r["id"]]; f != nil && err == nil {
			got, ok = f(), true
			delete(w, r["id"])
		} else if from, to, arrow := strings.Cut(r["what"], " -> "); arrow && err == nil {
			if m := numUnit.FindStringSubmatch(from); m != nil {
				if k, lin := linear(m[2], to); lin {
					n, _ := strconv.ParseFloat(m[1], 64)
					got, ok = n*float(k), true
				}
			}
		}
		if !ok {
			rest = append(rest, r["id"])
			continue
		}
		covered++
		// The expected column is printed to about ten digits.
		if math.Abs(got-want) > max(tolerance(r["tolerance"], want), 1e-9*math.Abs(want), 5e-10) {
			t.Errorf("%s %s (%s): ours %v, published %v, tolerance %s", r["id"], r["what"], r["source"], got, want, r["tolerance"])
		}
	}
	for id := range w {
		t.Errorf("the published table has no row %s", id)
	}
	t.Logf("%d rows of the published checks covered; not covered (estimates between methods, lime, pH, ratings, data sets): %s", covered, strings.Join(rest, " "))
	if covered < 45 {
		t.Errorf("only %d rows covered", covered)
	}
}

// Rows DS12 and DS20 of the same table: statistics of open data sets,
// computed there with R.
func TestPublishedDataSets(t *testing.T) {
	for _, c := range []struct {
		analyte, number string
		want            float64
	}{{"Ca", "16.35", 3276.376}, {"Mg", "7.65", 929.6663}, {"K", "0.72", 281.5078}, {"Na", "1.14", 262.0837}} {
		res := built(t, mappings.Reading{Analyte: c.analyte, Number: c.number, Unit: "cmol(+)/kg"}, "")
		if got := valueOf(t, res.Value); math.Abs(got-c.want) > 5e-4*c.want {
			t.Errorf("DS12 %s %s: %v, want %v", c.analyte, c.number, got, c.want)
		}
	}
}

// What the published tables say of amounts per volume and per area, rows
// U014, U017, U022 and U023, with the depth and density that they name.
func TestPublishedVolumesAndAreas(t *testing.T) {
	cm := func(d string) *mappings.AreaBasis {
		return &mappings.AreaBasis{DepthCm: d, ByVolume: true, Source: "mapping"}
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
		{"U018", mappings.Reading{Analyte: "P", Number: "89.21791", Unit: "lb/acre", Area: cm("20")}, "", 50, true},
		{"U022", mappings.Reading{Analyte: "P", Number: "60", Unit: "lb/acre", Area: slice}, "", 30, false},
		{"U022", mappings.Reading{Analyte: "P", Number: "72", Unit: "lb/acre", Area: &mappings.AreaBasis{DepthIn: "8", LbPerAcre: "2400000", Source: "report"}}, "", 30, false},
		{"U023", mappings.Reading{Analyte: "P", Number: "137", Unit: "lb/acre", Area: slice}, "", 68.5, false},
	} {
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
}

// Rows N06, N07, N08 and N10 of the published checks say what must not be
// converted; the other N rows ask for another extraction method, and no value
// of one method becomes one of another anywhere in this package.
func TestPublishedRefusals(t *testing.T) {
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
}

// The rows of derived values: a sample that prints the row's inputs and its
// published outcome agrees with itself; one that prints the outcome a third
// too high doesn't.
func TestPublishedDerived(t *testing.T) {
	inputs := func(text string) map[string]string {
		m := map[string]string{}
		for _, p := range strings.Split(text, ";") {
			k, v, _ := strings.Cut(strings.TrimSpace(p), "=")
			m[k] = v
		}
		return m
	}
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
		"D010": func(in map[string]string, out string) string {
			return "SAR " + out + " ratio saturated-paste; Na " + in["Na"] + " meq/L saturated-paste; Ca " + in["Ca"] + " meq/L saturated-paste; Mg " + in["Mg"] + " meq/L saturated-paste"
		},
	}
	ran := 0
	var rest []string
	for _, r := range publishedTable(t, "conversions-derived.csv") {
		row, ok := rows[r["id"]]
		if !ok {
			rest = append(rest, r["id"])
			continue
		}
		for _, c := range []string{"check1", "check2"} {
			out, err := strconv.ParseFloat(r[c+"_out"], 64)
			if err != nil {
				t.Errorf("%s: outcome %q", r["id"], r[c+"_out"])
				continue
			}
			for factor, want := range map[float64]Status{1: OK, 1.3: Flagged} {
				s := reads(row(inputs(r[c+"_in"]), strconv.FormatFloat(out*factor, 'f', 2, 64)))
				rep := Build(&mappings.Extract{Samples: []*mappings.SampleExtract{s}}, Options{})
				if rep.Status != want {
					t.Errorf("%s (%s) %s, outcome × %v: %s, want %s", r["id"], r["source"], r[c+"_in"], factor, rep.Status, want)
				}
				ran++
			}
		}
	}
	t.Logf("%d cases of derived values; rows not covered (no such value is computed or tested here): %s", ran, strings.Join(rest, " "))
	if ran != 4*len(rows) {
		t.Errorf("%d cases ran of %d", ran, 4*len(rows))
	}
}
