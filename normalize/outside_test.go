package normalize

import (
	"encoding/csv"
	"fmt"
	"math"
	"math/big"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"example.org/windrow/normalize/unit"
)

// Outside checks of the tables of units, forms, elements, lime materials and
// conversions: what was published or what other programs answered, under
// testdata/published, against what our tables give. Each is a function of a
// table, so that the mutation test can ask it about a table that is wrong.

// A publishedRow is one line of a published table by its headings.
type publishedRow map[string]string

// csvOf reads a file of testdata/published.
func csvOf(t *testing.T, name string) [][]string {
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
	return recs
}

// publishedTable reads a table of testdata/published; a row without a source
// is an error.
func publishedTable(t *testing.T, name string) []publishedRow {
	t.Helper()
	recs := csvOf(t, name)
	var out []publishedRow
	for _, r := range recs[1:] {
		m := publishedRow{}
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

// An outsideCheck is one figure from outside and what our tables make of it.
type outsideCheck struct {
	id, source string
	want, tol  float64 // tol is absolute
	got        func(tb *unit.Table) (float64, bool)
}

// fault says how far the tables are from the figure, "" where they agree.
func (c outsideCheck) fault(tb *unit.Table) string {
	got, ok := c.got(tb)
	if !ok {
		return "our tables have no answer"
	}
	if math.Abs(got-c.want) > c.tol {
		return fmt.Sprintf("ours %.12g, theirs %.12g, tolerance %.2g", got, c.want, c.tol)
	}
	return ""
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
func linear(t *unit.Table, from, to string) (*big.Rat, bool) {
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

// conversionOf is a row of the table of conversions.
func conversionOf(tb *unit.Table, id string) *unit.Conversion {
	for _, c := range tb.Conversions {
		if c.ID == id {
			return c
		}
	}
	return &unit.Conversion{}
}

func factorOf(id string) func(*unit.Table) (float64, bool) {
	return func(tb *unit.Table) (float64, bool) {
		c := conversionOf(tb, id)
		if c.Factor == nil {
			return 0, false
		}
		return float(c.Factor), true
	}
}

// cce is the calcium carbonate equivalent of a material over 100.
func cce(tb *unit.Table, id string) (float64, bool) {
	for _, m := range tb.Lime {
		if m.ID == id {
			return float(m.CCE) / 100, true
		}
	}
	return 0, false
}

func cceOf(id string) func(*unit.Table) (float64, bool) {
	return func(tb *unit.Table) (float64, bool) { return cce(tb, id) }
}

// perUnit are published factors whose heading is no pair of units: what our
// tables give for one of them.
var perUnit = map[string]func(*unit.Table) (float64, bool){
	"U070": factorOf("carbonate/CO2-to-CaCO3"), "U071": factorOf("carbonate/CO2-to-CO3"),
	"U072": func(tb *unit.Table) (float64, bool) { f, ok := cce(tb, "dolomite"); return 1 / f, ok },
	"U075": cceOf("MgCO3"), "U076": cceOf("CaO"), "U077": cceOf("Ca(OH)2"), "U078": factorOf("lime/acidity-to-CaCO3"),
	"C016": factorOf("lime/acidity-to-CaCO3"), "C050": factorOf("carbonate/CO2-to-CO3"), "C051": factorOf("carbonate/CO2-to-CaCO3"),
	"C052": factorOf("carbonate/CO2-to-dolomite"),
	"C053": func(tb *unit.Table) (float64, bool) { f, ok := cce(tb, "dolomite"); return 1 / f, ok },
	"C038": func(tb *unit.Table) (float64, bool) { u, ok := tb.Unit("uS/cm"); return 1413 * float(u.Factor), ok },
	"C040": formOf("NO3"), "C041": formOf("SO4"), "C042": formOf("P2O5"), "C043": formOf("K2O"), "C044": formOf("CaO"), "C045": formOf("MgO"),
	"C055": func(tb *unit.Table) (float64, bool) { k, ok := tb.PerCharge("K"); return 391 / float(k), ok },
	"D018": func(tb *unit.Table) (float64, bool) {
		ca, ok1 := tb.PerCharge("Ca")
		mg, ok2 := tb.PerCharge("Mg")
		return float(mg) / float(ca), ok1 && ok2
	},
	// An acre and a pound out of the factors that rest on them.
	"G012": func(tb *unit.Table) (float64, bool) {
		u, ok := tb.Unit("kg/ha")
		return float(u.Factor) * 0.45359237 * 1e4, ok
	},
	"G013": func(tb *unit.Table) (float64, bool) {
		u, ok := tb.Unit("t/ha")
		return 4046.8564224 * 0.1 / float(u.Factor), ok
	},
	"G014": func(tb *unit.Table) (float64, bool) { u, ok := tb.Unit("cm"); return 20. / 3 / float(u.Factor), ok },
	"G057": func(tb *unit.Table) (float64, bool) {
		f, ok := factorOf("carbonate/CO2-to-CaCO3")(tb)
		return 10 * f, ok
	},
	"G036": chargesIn("Ca"), "G037": chargesIn("K"),
}

func formOf(id string) func(*unit.Table) (float64, bool) {
	return func(tb *unit.Table) (float64, bool) { x, ok := tb.Basis(id); return 1 / float(x.Factor), ok }
}

// chargesIn is the cmol of atoms in one cmol of charge.
func chargesIn(element string) func(*unit.Table) (float64, bool) {
	return func(tb *unit.Table) (float64, bool) {
		c, ok1 := tb.PerCharge(element)
		w, ok2 := tb.PerAmount(element)
		return float(c) / (10 * float(w)), ok1 && ok2
	}
}

// linearUnits are the rows of the published table of units that are a factor.
func linearUnits(t *testing.T) []outsideCheck {
	var out []outsideCheck
	for _, r := range publishedTable(t, "conversions-units.csv") {
		get := perUnit[r["id"]]
		if get == nil {
			from, to := r["from"], r["to"]
			if _, ok := linear(unit.Standard(), from, to); !ok {
				continue
			}
			get = func(tb *unit.Table) (float64, bool) {
				k, ok := linear(tb, from, to)
				return float(k), ok
			}
		}
		for _, c := range []string{"check1", "check2"} {
			in, err1 := strconv.ParseFloat(strings.TrimPrefix(r[c+"_in"], "x="), 64)
			want, err2 := strconv.ParseFloat(r[c+"_out"], 64)
			if err1 != nil || err2 != nil {
				t.Errorf("%s: %s -> %s", r["id"], r[c+"_in"], r[c+"_out"])
				continue
			}
			// The table is printed to seven digits; a column with fewer is not more exact.
			out = append(out, outsideCheck{r["id"], r["source"], want, 6e-7 * want,
				func(tb *unit.Table) (float64, bool) { k, ok := get(tb); return in * k, ok }})
		}
	}
	return out
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

// linearChecks are the rows of the published checks that our tables alone
// answer.
func linearChecks(t *testing.T) []outsideCheck {
	var out []outsideCheck
	for _, r := range publishedTable(t, "conversions-checks.csv") {
		want, err := strconv.ParseFloat(r["expected"], 64)
		if err != nil {
			continue
		}
		get := perUnit[r["id"]]
		if get == nil {
			from, to, arrow := strings.Cut(r["what"], " -> ")
			m := numUnit.FindStringSubmatch(from)
			if !arrow || m == nil {
				continue
			}
			if _, ok := linear(unit.Standard(), m[2], to); !ok {
				continue
			}
			n, err := strconv.ParseFloat(m[1], 64)
			if err != nil {
				t.Errorf("%s: %q", r["id"], m[1])
			}
			get = func(tb *unit.Table) (float64, bool) {
				k, ok := linear(tb, m[2], to)
				return n * float(k), ok
			}
		}
		// The expected column is printed to about ten digits.
		out = append(out, outsideCheck{r["id"], r["source"], want, max(tolerance(r["tolerance"], want), 1e-9*math.Abs(want), 5e-10), get})
	}
	return out
}

// recorded are the answers of GNU Units and of the UCUM library, as they were
// written down with the version beside them.
func recorded(t *testing.T) []outsideCheck {
	var out []outsideCheck
	for _, r := range publishedTable(t, "units-reference.csv") {
		tol, err := strconv.ParseFloat(r["tolerance"], 64)
		if err != nil {
			t.Errorf("%s: tolerance %q", r["id"], r["tolerance"])
		}
		n := 0
		for _, tool := range []string{"gnu", "ucum"} {
			if r[tool+"_from"] == "" {
				continue
			}
			n++
			want, err := strconv.ParseFloat(r[tool+"_answer"], 64)
			if err != nil || r[tool+"_tool"] == "" {
				t.Errorf("%s: %s has no answer or no version", r["id"], tool)
				continue
			}
			out = append(out, outsideCheck{r["id"], r[tool+"_tool"], want, tol * math.Abs(want), ours(r["table"], r["row"])})
		}
		if n == 0 {
			t.Errorf("%s is asked of no program", r["id"])
		}
	}
	return out
}

// ours is the factor of one row of our tables.
func ours(table, row string) func(*unit.Table) (float64, bool) {
	return func(tb *unit.Table) (float64, bool) {
		f := factorOfRow(tb, table, row)
		if f == nil {
			return 0, false
		}
		return float(*f), true
	}
}

// factorOfRow is where the factor of a row lies in a table, so that it can be
// read and damaged; nil where there is none.
func factorOfRow(tb *unit.Table, table, row string) **big.Rat {
	switch table {
	case "units":
		for _, u := range tb.Units {
			if u.ID == row {
				return &u.Factor
			}
		}
	case "bases":
		for _, b := range tb.Bases {
			if b.ID == row {
				return &b.Factor
			}
		}
	case "weights":
		if w := tb.Weights[row]; w != nil {
			return &w.Weight
		}
	case "lime-materials":
		for _, m := range tb.Lime {
			if m.ID == row {
				return &m.CCE
			}
		}
	case "conversions":
		if c := conversionOf(tb, row); c.Factor != nil {
			return &c.Factor
		}
	}
	return nil
}

// handbook are the figures of ions-and-lime.csv: printed to few digits, and
// independent of any of our tables.
func handbook(t *testing.T) []outsideCheck {
	var out []outsideCheck
	for _, r := range publishedTable(t, "ions-and-lime.csv") {
		want, err1 := strconv.ParseFloat(r["expected"], 64)
		tol, err2 := strconv.ParseFloat(r["tolerance"], 64)
		if err1 != nil || err2 != nil {
			t.Errorf("%s: expected %q, tolerance %q", r["id"], r["expected"], r["tolerance"])
			continue
		}
		what, row := r["what"], r["row"]
		var get func(*unit.Table) (float64, bool)
		switch r["kind"] {
		case "equivalent weight": // of the ion, by the charge of its element
			get = func(tb *unit.Table) (float64, bool) { return equivalent(tb, what, row) }
		case "ion as CaCO3":
			get = func(tb *unit.Table) (float64, bool) {
				e, ok := equivalent(tb, what, row)
				cc, err := tb.Mass("CaCO3")
				return float(cc) / 2 / e, ok && err == nil
			}
		case "lime as CaCO3":
			get = cceOf(row)
		case "percent as CaCO3":
			get = func(tb *unit.Table) (float64, bool) { f, ok := cce(tb, row); return 100 * f, ok }
		case "lime index":
			get = func(tb *unit.Table) (float64, bool) { u, ok := tb.Unit(row); return 70 * float(u.Factor), ok }
		case "soil mass": // of a layer by our own acre
			get = func(*unit.Table) (float64, bool) { return 0.56 * 12 * 1.33 * float(acreInch), true }
		default:
			t.Errorf("%s: kind %q is checked by nothing", r["id"], r["kind"])
			continue
		}
		out = append(out, outsideCheck{r["id"], r["source"], want, tol, get})
	}
	return out
}

func equivalent(tb *unit.Table, formula, element string) (float64, bool) {
	m, err := tb.Mass(formula)
	w := tb.Weights[element]
	if err != nil || w == nil || w.Charge == 0 {
		return 0, false
	}
	return float(m) / float64(w.Charge), true
}

// outsideChecks are all figures from outside that the tables alone answer.
func outsideChecks(t *testing.T) []outsideCheck {
	out := linearUnits(t)
	out = append(out, linearChecks(t)...)
	out = append(out, recorded(t)...)
	return append(out, handbook(t)...)
}
