package normalize

import (
	"fmt"
	"strconv"
	"strings"
	"testing"

	"example.org/windrow/normalize/unit"
)

// The table of conversions tells its equations in words. Here they are worked
// out as they are written, with the inputs of the published tables, so that
// what people read in the reference is what was published.

// An equation is the right side of "y = ...", with its names replaced.
type equation struct {
	text string
	vars map[string]float64
}

// eval works out +, −, ×, ÷, brackets, numbers with commas, and names.
func (e *equation) eval() (v float64, err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("%v", r)
		}
	}()
	v = e.sum()
	if e.rest() != "" {
		return 0, fmt.Errorf("left over: %q", e.text)
	}
	return v, nil
}

func (e *equation) rest() string { e.text = strings.TrimLeft(e.text, " "); return e.text }

func (e *equation) take(s string) bool {
	if !strings.HasPrefix(e.rest(), s) {
		return false
	}
	e.text = e.text[len(s):]
	return true
}

func (e *equation) sum() float64 {
	v := e.product()
	for {
		switch {
		case e.take("+"):
			v += e.product()
		case e.take("−"):
			v -= e.product()
		default:
			return v
		}
	}
}

func (e *equation) product() float64 {
	v := e.atom()
	for {
		switch {
		case e.take("×"):
			v *= e.atom()
		case e.take("÷"):
			v /= e.atom()
		default:
			return v
		}
	}
}

func (e *equation) atom() float64 {
	if e.take("(") {
		v := e.sum()
		if !e.take(")") {
			panic("no closing bracket")
		}
		return v
	}
	n := len(e.rest()) - len(strings.TrimLeft(e.text, "0123456789.,"))
	if n > 0 {
		f, err := strconv.ParseFloat(strings.ReplaceAll(e.text[:n], ",", ""), 64)
		if err != nil {
			panic(err)
		}
		e.text = e.text[n:]
		return f
	}
	best := ""
	for name := range e.vars {
		if strings.HasPrefix(e.text, name) && len(name) > len(best) {
			best = name
		}
	}
	if best == "" {
		panic(fmt.Sprintf("a name without value at %q", e.text))
	}
	e.text = e.text[len(best):]
	return e.vars[best]
}

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
				e := &equation{strings.TrimPrefix(conv.Equation, "y = "), map[string]float64{}}
				x := 0.0
				for k, v := range inputsOf(r[c+"_in"]) {
					f, err := strconv.ParseFloat(v, 64)
					if err != nil {
						return 0, false
					}
					if ours, ok := p.names[k]; ok {
						e.vars[ours] = f
					} else if k == "x" {
						x = f
					}
				}
				e.vars["x"] = x
				if p.inverse {
					e.vars["x"] = 1
				}
				y, err := e.eval()
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
	// The factors of rows that have an equation of numbers alone are what the
	// equation gives for one.
	for _, c := range unit.Standard().Conversions {
		e := &equation{strings.TrimPrefix(c.Equation, "y = "), map[string]float64{"x": 1, "depth in inches": 1}}
		v, err := e.eval()
		if c.Factor == nil || err != nil {
			continue // names that need a value, or words
		}
		if f := float(c.Factor); f-v > 1e-12*v || v-f > 1e-12*v {
			t.Errorf("%s: factor %v, equation %q gives %v", c.ID, f, c.Equation, v)
		}
	}
}
