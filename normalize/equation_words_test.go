package normalize

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"example.org/windrow/normalize/estimate"
	"example.org/windrow/normalize/unit"
)

// The table of conversions tells its equations in words. Here they are worked
// out as they are written, with the inputs of the published tables, so that
// what people read in the reference is what was published.

// inSymbols writes an equation of the table as the evaluator of equations
// takes it: its signs, plain numbers, and one word for each name.
func inSymbols(t *testing.T, equation string, names []string) *estimate.Expr {
	t.Helper()
	s := strings.TrimPrefix(equation, "y = ")
	for _, n := range names {
		s = strings.ReplaceAll(s, n, word(n))
	}
	e, err := estimate.Parse(strings.NewReplacer("×", "*", "÷", "/", "−", "-", ",", "").Replace(s))
	if err != nil {
		t.Fatalf("equation %q: %v", equation, err)
	}
	return e
}

func word(name string) string { return strings.ReplaceAll(name, " ", "_") }

// inputsOf reads "x=120; D=1.25".
func inputsOf(text string) map[string]string {
	m := map[string]string{}
	for _, p := range strings.Split(text, ";") {
		k, v, _ := strings.Cut(strings.TrimSpace(p), "=")
		m[k] = v
	}
	return m
}

// published are the rows of the published table of units that are one of our
// conversions, with what its letters stand for in our words.
var publishedEquations = []struct {
	row, conversion string
	names           map[string]string // theirs to ours
	inverse         bool              // theirs goes the other way
}{
	{"U013", "extract/by-ratio", map[string]string{"V": "volume of extract", "W": "mass of soil"}, false},
	{"U014", "volume/by-density", map[string]string{"D": "density"}, false},
	{"U015", "volume/by-density", map[string]string{"D": "density"}, true},
	{"U016", "volume/standard-scoop", nil, false},
	{"U017", "area/by-volume", map[string]string{"z": "depth in cm"}, true},
	{"U020", "area/by-bulk-density", map[string]string{"BD": "bulk density", "z": "depth in cm"}, true},
	{"U024", "area/doubled-per-6-in", map[string]string{"d": "depth in inches"}, false},
	{"U094", "ec/temperature", map[string]string{"T": "T"}, false},
	{"U099", "moisture/air-dry-to-oven-dry", map[string]string{"M": "M"}, false},
}

func equationChecks(t *testing.T) []outsideCheck {
	rows := map[string]publishedRow{}
	for _, r := range publishedTable(t, "conversions-units.csv") {
		rows[r["id"]] = r
	}
	var out []outsideCheck
	for _, p := range publishedEquations {
		for _, c := range []string{"check1", "check2"} {
			r := rows[p.row]
			want, err := strconv.ParseFloat(r[c+"_out"], 64)
			if err != nil {
				t.Errorf("%s: %v", p.row, err)
				continue
			}
			out = append(out, outsideCheck{p.row, r["source"], want, 6e-7 * want, func(tb *unit.Table) (float64, bool) {
				conv := conversionOf(tb, p.conversion)
				values := map[string]float64{}
				var names []string
				for k, v := range inputsOf(r[c+"_in"]) {
					f, err := strconv.ParseFloat(v, 64)
					if err != nil {
						return 0, false
					}
					if ours, ok := p.names[k]; ok {
						k, names = word(ours), append(names, ours)
					}
					values[k] = f
				}
				x := values["x"]
				if p.inverse {
					values["x"] = 1
				}
				y, err := inSymbols(t, conv.Equation, names).Eval(values)
				if err != nil {
					t.Errorf("%s: %q: %v", p.conversion, conv.Equation, err)
					return 0, false
				}
				if p.inverse {
					y = x / y
				}
				// Where the row has one factor too, it is the same statement.
				if conv.Factor != nil && p.names == nil {
					return x * float(conv.Factor), true
				}
				return y, true
			}})
		}
	}
	return out
}

func TestPublishedEquations(t *testing.T) {
	checks := equationChecks(t)
	ran := agree(t, checks)
	t.Logf("%d equations with %d values", len(ran), len(checks))
	coverageIs(t, "conversions-units.csv", "TestPublishedEquations", ran)
	// C057 of the published checks: an air-dry result of 100 at 3 % moisture.
	air := conversionOf(unit.Standard(), "moisture/air-dry-to-oven-dry").Equation
	if y, err := inSymbols(t, air, nil).Eval(map[string]float64{"x": 100, "M": 3}); err != nil || math.Abs(y-103) > 1e-9 {
		t.Errorf("C057: %v (%v), published 103", y, err)
	}
	coverageIs(t, "conversions-checks.csv", "TestPublishedEquations", map[string]bool{"C057": true})
	// A factor beside an equation of numbers alone is what the equation gives.
	n := 0
	for _, c := range unit.Standard().Conversions {
		if c.Factor == nil || strings.Contains(c.Equation, "by atomic weights") {
			continue
		}
		n++
		v, err := inSymbols(t, c.Equation, nil).Eval(map[string]float64{"x": 1})
		if f := float(c.Factor); err != nil || math.Abs(f-v) > 1e-12*f {
			t.Errorf("%s: factor %v, equation %q gives %v (%v)", c.ID, f, c.Equation, v, err)
		}
	}
	t.Logf("%d equations are numbers alone", n)
}
