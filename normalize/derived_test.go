package normalize

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize/estimate"
	"example.org/windrow/normalize/formula"
	"example.org/windrow/normalize/unit"

	"github.com/cockroachdb/apd/v3"
)

// numbersOf reads the numbers of a published check, such as Ca=3; Mg=1.
func numbersOf(t *testing.T, cell string) map[string]float64 {
	t.Helper()
	out := map[string]float64{}
	for _, f := range strings.Split(cell, ";") {
		k, v, _ := strings.Cut(strings.TrimSpace(f), "=")
		x, err := strconv.ParseFloat(v, 64)
		if err != nil {
			t.Fatalf("%q: %v", cell, err)
		}
		out[k] = x
	}
	return out
}

// What one cmol(+) and one mmol of an element weigh, in mg, as the published
// equations D003 and D014 have it: the checks of sums and ratios give
// cmol(+)/kg and mmol/kg, and records have mg/kg.
var (
	perCharge = map[string]float64{"Ca": 200.39, "Mg": 121.525, "K": 390.983, "Na": 229.8977, "Al": 10 * 26.982 / 3}
	perMole   = map[string]float64{"P": 30.974, "Al": 26.982, "Fe": 55.847}
)

// derivedChecks are the published checks of an equation of derived.csv: the
// numbers in the units of records, and what comes out.
func derivedChecks(t *testing.T, id string) (in []map[string]float64, out []float64) {
	t.Helper()
	table := "conversions-derived.csv"
	if strings.HasPrefix(id, "U") {
		table = "conversions-units.csv"
	}
	for _, r := range publishedTable(t, table) {
		if r["id"] != id && (id != "D019" || r["id"] != "D005") {
			continue
		}
		for _, c := range []string{"check1", "check2"} {
			v := numbersOf(t, r[c+"_in"])
			want, err := strconv.ParseFloat(r[c+"_out"], 64)
			if err != nil {
				t.Fatalf("%s: %v", id, err)
			}
			switch id {
			case "D005", "D006", "D017", "D019":
				if id == "D019" && r["id"] == "D019" { // of a capacity without its parts: all of it acidity
					v = map[string]float64{"Al": v["Al"] * perCharge["Al"], "acidity": v["ECEC"], "Ca": 0, "Mg": 0, "K": 0, "Na": 0}
					break
				}
				if id == "D019" { // of the soils of D005, whose parts are published
					want = 100 * v["Al"] / want
					if c == "check2" {
						continue // has no aluminium
					}
				}
				if id == "D005" || id == "D019" {
					v["acidity"] = v["Al"] + v["H"]
					delete(v, "H")
				}
				if id == "D005" {
					delete(v, "Al")
				}
				if id == "D006" {
					v["acidity"] = v["Ac"]
					delete(v, "Ac")
				}
				for k, per := range perCharge {
					if _, ok := v[k]; ok {
						v[k] *= per
					}
				}
			case "D015":
				for k, per := range perMole {
					v[k] *= per
				}
			case "D012", "U095", "U096":
				v = map[string]float64{map[string]string{"D012": "SAR"}[id] + map[bool]string{true: "EC"}[id != "D012"]: v["x"]}
			case "D013":
				v = map[string]float64{"ESP": v["x"]}
			case "U097", "U098":
				v = map[string]float64{"Cl": v["x"] * 10000} // percent
			}
			in, out = append(in, v), append(out, want)
		}
	}
	return in, out
}

// holdsDerived reports whether an equation passes the checks.
func holdsDerived(t *testing.T, equation string, in []map[string]float64, out []float64) bool {
	t.Helper()
	e, err := estimate.Parse(equation)
	if err != nil {
		t.Fatal(err)
	}
	for i, v := range in {
		got, err := e.Eval(v)
		if err != nil || math.Abs(got-out[i]) > 1e-6*math.Abs(out[i]) {
			return false
		}
	}
	return true
}

// Every equation of a derived quantity gives the published outcomes, and each
// number in it is held by one: wrong by 0.1 %, up or down, it fails.
func TestPublishedDerivedQuantities(t *testing.T) {
	numeral := regexp.MustCompile(`[0-9.]+`)
	derived, units := map[string]bool{}, map[string]bool{}
	mutants := 0
	for _, d := range Equations().Derived {
		if d.Equation == nil {
			if d.Active || d.Inactive == "" {
				t.Errorf("%s has no equation and is active or gives no reason", d.ID)
			}
			derived[d.ID] = true // the published row has none either
			for _, r := range publishedTable(t, "conversions-derived.csv") {
				if r["id"] == d.ID && r["equation"] != "" {
					t.Errorf("%s has a published equation", d.ID)
				}
			}
			continue
		}
		in, out := derivedChecks(t, d.ID)
		text := d.Equation.String()
		if len(in) == 0 || !holdsDerived(t, text, in, out) {
			t.Errorf("%s: %s does not give the published outcomes %v of %v", d.ID, text, out, in)
			continue
		}
		for _, at := range numeral.FindAllStringIndex(text, -1) {
			if strings.HasSuffix(text[:at[0]], "log") {
				continue // part of the name of a function
			}
			x, err := strconv.ParseFloat(text[at[0]:at[1]], 64)
			if err != nil {
				t.Fatal(err)
			}
			for _, by := range []float64{0.999, 1.001} {
				mutants++
				if holdsDerived(t, text[:at[0]]+strconv.FormatFloat(x*by, 'f', -1, 64)+text[at[1]:], in, out) {
					t.Errorf("%s: %s times %v passes every check", d.ID, text[at[0]:at[1]], by)
				}
			}
		}
		if strings.HasPrefix(d.ID, "U") {
			units[d.ID] = true
		} else {
			derived[d.ID] = true
		}
	}
	if mutants < 70 {
		t.Errorf("only %d mutants were tried", mutants)
	}
	coverageIs(t, "conversions-derived.csv", "TestPublishedDerivedQuantities", derived)
	coverageIs(t, "conversions-units.csv", "TestPublishedDerivedQuantities", units)
	for _, r := range publishedTable(t, "conversions-checks.csv") {
		if r["id"] == "C037" {
			y, err := derivationOf(t, "D012").Equation.Eval(map[string]float64{"SAR": 13})
			if err != nil || math.Abs(y-15.19) > 0.01 || r["expected"] != "15.19" {
				t.Errorf("C037: %v, %v", y, err)
			}
		}
	}
	coverageIs(t, "conversions-checks.csv", "TestPublishedDerivedQuantities", map[string]bool{"C037": true})
}

func derivationOf(t *testing.T, id string) *estimate.Derivation {
	t.Helper()
	for _, d := range Equations().Derived {
		if d.ID == id {
			return d
		}
	}
	t.Fatalf("there is no derivation %s", id)
	return nil
}

// soil is a record of results by their analyte, method, unit and value.
func soil(results ...[4]string) *Record {
	rec := &Record{ID: "R0000000000000000-1", Status: OK, Checks: []Finding{}}
	for _, r := range results {
		rec.Results = append(rec.Results, &Result{Analyte: r[0], Method: r[1], Basis: r[0], Status: OK, Unit: r[2], Value: Decimal(r[3]), Steps: []Step{},
			Printed: Printed{Text: r[3], Number: Decimal(r[3])}})
	}
	return rec
}

func byRow(rec *Record) map[string]Derived {
	out := map[string]Derived{}
	for _, d := range Derive(rec) {
		out[d.Row+" "+d.Method] = d
	}
	return out
}

// acidSoil has what the first check of D005 has: 3, 1, 0.1, 0.3 cmol(+)/kg of
// bases and 1.4 of acidity, of which 1.2 are aluminium.
func acidSoil() *Record {
	return soil([4]string{"Ca", "ammonium-acetate", "mg/kg", "601.2"}, [4]string{"Mg", "ammonium-acetate", "mg/kg", "121.5"}, [4]string{"K", "ammonium-acetate", "mg/kg", "117.3"},
		[4]string{"Na", "ammonium-acetate", "mg/kg", "22.99"}, [4]string{"acidity", "kcl-1m", "cmol(+)/kg", "1.40"}, [4]string{"Al", "kcl-1m", "mg/kg", "107.9"}, [4]string{"pH", "ph-water-1-1", "pH", "5.2"})
}

// A record shows what follows from its results, each recomputed here from its
// own text by the evaluator that shares no arithmetic with the one that made it.
func TestDerive(t *testing.T) {
	rec := acidSoil()
	got := byRow(rec)
	for row, want := range map[string]string{"D005 ammonium-acetate": "5.80", "D017 ammonium-acetate": "3.000", "D019 ammonium-acetate": "20.7"} {
		d := got[row]
		w, _ := strconv.ParseFloat(want, 64)
		v, err := strconv.ParseFloat(string(d.Value), 64)
		if err != nil || math.Abs(v-w) > 0.002*w || d.Status != OK || d.InDomain != "inside" || d.Source != "rayment-lyons-2011" {
			t.Errorf("%s: %+v, want %s", row, d, want)
		}
	}
	if len(got) != 3 {
		t.Errorf("derived: %v", got)
	}
	for _, d := range got {
		recomputed(t, &d)
	}
	var b strings.Builder
	TraceDerived(&b, rec)
	for _, want := range []string{"worked out, not measured", "Ca = 601.2 mg/kg", "row D005: exact; this sample: within its limits", "key rayment-lyons-2011"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("the trace has no %q:\n%s", want, b.String())
		}
	}
}

// recomputed holds a derived value against the formula package.
func recomputed(t *testing.T, d *Derived) {
	t.Helper()
	names := map[string]*apd.Decimal{}
	for _, in := range d.Inputs {
		x, err := formula.Number(string(in.Value))
		if err != nil {
			t.Fatal(err)
		}
		names[in.Name] = x
	}
	y, err := formula.Eval(d.Equation, names)
	if err != nil {
		t.Fatalf("%s: %v", d.Row, err)
	}
	v, err := formula.Number(string(d.Value))
	_, frac, _ := strings.Cut(string(d.Value), ".")
	if err != nil || !formula.Within(v, y, len(frac)) {
		t.Errorf("%s: %s, and the second evaluator finds %s", d.Row, d.Value, formula.Text(y, 8))
	}
}

// What is not known is not derived: nothing is added up over a gap, over two
// extracts, over a limit, what is held, an index, or lime in the soil.
func TestDeriveRefuses(t *testing.T) {
	without := func(change func(*Record)) map[string]Derived {
		rec := acidSoil()
		change(rec)
		return byRow(rec)
	}
	const ecec, ratio = "D005 ammonium-acetate", "D017 ammonium-acetate"
	for what, change := range map[string]func(*Record){
		"no sodium":             func(r *Record) { r.Results[3].Value, r.Results[3].Missing = "", "n/a" },
		"a limit":               func(r *Record) { r.Results[3].Censored = "<" },
		"another extract":       func(r *Record) { r.Results[3].Method = "mehlich-3" },
		"no method":             func(r *Record) { r.Results[3].Method = "" },
		"a buffer's acidity":    func(r *Record) { r.Results[4].Method = "mehlich-buffer" },
		"an index":              func(r *Record) { r.Results[3].Basis = IndexBasis },
		"a result twice":        func(r *Record) { r.Results = append(r.Results, r.Results[3]) },
		"a result that is held": func(r *Record) { r.Results[3].Status = Held },
		"held by its finding": func(r *Record) {
			r.Results[3].Findings = []Finding{{Severity: ingest.Hold}}
		},
		"a sample that is held": func(r *Record) { r.Checks = []Finding{{Severity: ingest.Hold}} },
		"free lime":             func(r *Record) { r.Results[6].Value = "7.9" },
	} {
		got := without(change)
		if _, ok := got[ecec]; ok {
			t.Errorf("%s: an effective capacity was derived: %+v", what, got[ecec])
		}
	}
	if d := without(func(r *Record) { r.Results = r.Results[:6] })[ratio]; d.InDomain != "unknown" || len(d.Unknown) != 1 {
		t.Errorf("without a pH the limits are not known: %+v", d)
	}
	if d := without(func(r *Record) { r.Results[0].Status = Flagged })[ratio]; d.Status != Flagged {
		t.Errorf("what rests on a flagged result is %q", d.Status)
	}
}

// A measured sodium percentage stands for itself, and a ratio that gives none
// above zero, or is beyond the data, gives none.
func TestDeriveSodium(t *testing.T) {
	sar := func(v string) [4]string { return [4]string{"SAR", "saturated-paste", "ratio", v} }
	if d := byRow(soil(sar("13.0")))["D012 saturated-paste"]; d.Value != "15.2" || d.Quantity != "ESP" {
		t.Errorf("SAR 13.0: %+v, want 15.2 (Queensland Salinity Management Handbook, equation 43)", d)
	}
	for _, rec := range []*Record{soil(sar("0.8")), soil(sar("70")), soil(sar("13.0"), [4]string{"base_sat_Na", "from-cec", "%", "14"})} {
		if d := Derive(rec); len(d) > 0 {
			t.Errorf("%s %s: derived %+v", rec.Results[0].Analyte, rec.Results[0].Value, d)
		}
	}
}

// I025 and R-I025: the handbook's threshold of the saturation ratio, both ways.
func TestPhosphorusSaturationThreshold(t *testing.T) {
	for _, c := range []struct {
		p, ratio, against string
	}{{"68.14", "0.110", "below the threshold 0.2"}, {"154.9", "0.2500", "not below the threshold 0.2"}} {
		d := byRow(soil([4]string{"P", "mehlich-3-icp", "mg/kg", c.p}, [4]string{"Al", "mehlich-3-icp", "mg/kg", "269.82"}, [4]string{"Fe", "mehlich-3-icp", "mg/kg", "558.47"}))["D014 mehlich-3-icp"]
		v, _ := strconv.ParseFloat(string(d.Value), 64)
		w, _ := strconv.ParseFloat(c.ratio, 64)
		if math.Abs(v-w) > 5e-4 || d.Against() != c.against {
			t.Errorf("P %s: %s, %q", c.p, d.Value, d.Against())
		}
		recomputed(t, &d)
	}
	for _, r := range publishedTable(t, "conversions-derived.csv") {
		if r["id"] == "I025" && r["equation"] != "threshold "+derivationOf(t, "D014").Threshold {
			t.Errorf("the published threshold is %q", r["equation"])
		}
	}
	coverageIs(t, "conversions-derived.csv", "TestPhosphorusSaturationThreshold", map[string]bool{"I025": true})
	coverageIs(t, "conversions-checks.csv", "TestPhosphorusSaturationThreshold", map[string]bool{"R-I025": true})
}

// I026: what cannot be turned back. A rating or index without published
// breakpoints gives no amount, no estimate and nothing derived.
func TestRatingsWithoutBreakpointsGiveNothing(t *testing.T) {
	m3 := [4]string{"Mg", "mehlich-3", "mg/kg", "100"}
	for _, res := range []*Result{
		{Analyte: "Ca", Method: "mehlich-3", Basis: IndexBasis, Status: OK, Unit: "index", Value: "25", Printed: Printed{Text: "25", Number: "25"}},
		{Analyte: "Ca", Method: "mehlich-3", Basis: IndexBasis, Status: OK, Unit: "class", Class: "VH", Printed: Printed{Text: "VH", Rating: "VH"}},
	} {
		rec := soil(m3)
		rec.Results = append(rec.Results, res)
		newEstimator().record(rec)
		if d := Derive(rec); len(d) > 0 || len(res.Estimates) > 0 {
			t.Errorf("%s gave %+v and %+v", res.Printed.Text, d, res.Estimates)
		}
	}
	// The same as an amount gives a ratio: the test would see one.
	if len(Derive(soil(m3, [4]string{"Ca", "mehlich-3", "mg/kg", "1000"}))) != 1 {
		t.Error("two amounts give no ratio")
	}
	coverageIs(t, "conversions-derived.csv", "TestRatingsWithoutBreakpointsGiveNothing", map[string]bool{"I026": true})
}

// C-pH-mean: the handbook's six readings, and its wrong answer.
func TestMeanOfPH(t *testing.T) {
	ran := map[string]bool{}
	for _, r := range publishedTable(t, "conversions-checks.csv") {
		if r["id"] != "C-pH-mean" {
			continue
		}
		ran[r["id"]] = true
		var readings []float64
		for _, f := range strings.Fields(r["input"]) {
			x, err := strconv.ParseFloat(f, 64)
			if err != nil {
				t.Fatal(err)
			}
			readings = append(readings, x)
		}
		want, err := strconv.ParseFloat(r["expected"], 64)
		got, err2 := unit.MeanPH(readings...)
		if err != nil || err2 != nil || len(readings) != 6 || math.Abs(got-want) > 0.005 {
			t.Errorf("the mean of %v is %v, want %v", readings, got, want)
		}
	}
	for _, bad := range [][]float64{nil, {7, math.NaN()}, {65}, {-3}} {
		if got, err := unit.MeanPH(bad...); err == nil {
			t.Errorf("%v has a mean of %v", bad, got)
		}
	}
	coverageIs(t, "conversions-checks.csv", "TestMeanOfPH", ran)
}
