package estimate

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/cockroachdb/apd/v3"
)

// The values are of the definitions of the functions, computed by hand or
// from any table of logarithms.
func TestEval(t *testing.T) {
	at := map[string]float64{"x": 6.5, "pH": 7, "SP": 0.5, "H1": 2}
	for text, want := range map[string]float64{
		"1 + 2*3":                7,
		"(1 + 2)*3":              9,
		"10 - 4 - 3":             3,
		"12/2/3":                 2,
		"2^3^2":                  512,
		"-2^2":                   -4,
		"2^-1":                   0.5,
		"--3":                    3,
		"x*(2.46 + 3.03/SP)":     6.5 * (2.46 + 6.06),
		"max(7.0 - x, 0)":        0.5,
		"max(x - 7, 0)":          0,
		"min(3, x, pH)":          3,
		"log10(1000)":            3,
		"ln(exp(2))":             2,
		"sqrt(16)":               4,
		"10^(2 - 1)":             10,
		"H1/2":                   1,
		" 1.10 * x - 0.69 ":      6.46,
		"0.4837*x^2 - 8.4855*x":  0.4837*42.25 - 8.4855*6.5,
		"-1.95 + 11.58*log10(x)": 7.463537,
	} {
		e, err := Parse(text)
		if err != nil {
			t.Errorf("%s: %v", text, err)
			continue
		}
		if got, err := e.Eval(at); err != nil || math.Abs(got-want) > 5e-7 {
			t.Errorf("%s is %v (%v), want %v", text, got, err, want)
		}
	}
}

func TestParseRefuses(t *testing.T) {
	for text, want := range map[string]string{
		"":                              "expected a number, a name or a parenthesis at 1, found the end",
		"1 +":                           "at 4, found the end",
		"(1":                            "expected a closing parenthesis",
		"1)":                            "expected an operator or the end at 2",
		"1 2":                           "expected an operator or the end at 3",
		"1.2.3":                         "expected a decimal number",
		"5.":                            "expected a decimal number",
		".5":                            "expected a number, a name",
		"1e5":                           "expected an operator",
		"log10 5":                       "expected a parenthesis after log10",
		"log10(1, 2)":                   "number of arguments of log10",
		"max(1)":                        "number of arguments of max",
		"x = 3":                         "expected an operator",
		"2 ** 3":                        "expected a number",
		"ü":                             "expected a number",
		strings.Repeat("(", 200):        "a simpler equation",
		strings.Repeat("-", 5000):       "a simpler equation",
		strings.Repeat("2^", 500):       "a simpler equation",
		"exp(" + "x":                    "closing parenthesis",
		"the number in the cell":        "expected an operator",
		"x" + strings.Repeat("\x00", 3): "expected an operator",
	} {
		if e, err := Parse(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, %v; want %s", text, e, err, want)
		}
	}
}

func TestEvalRefuses(t *testing.T) {
	for text, want := range map[string]string{"y + 1": "needs y", "1/(x - x)": "no value", "ln(0 - x)": "no value", "sqrt(-x)": "no value", "exp(x^9)": "no value", "log10(x - x)": "no value"} {
		e, err := Parse(text)
		if err != nil {
			t.Fatal(err)
		}
		if v, err := e.Eval(map[string]float64{"x": 6}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, %v", text, v, err)
		}
	}
}

// exactly works an equation out by decimal arithmetic of 40 digits, on the
// digits of the text and not on floats.
func exactly(t *testing.T, n *node, values map[string]*apd.Decimal) *apd.Decimal {
	t.Helper()
	c := apd.BaseContext.WithPrecision(40)
	a := make([]*apd.Decimal, len(n.args))
	for i := range n.args {
		a[i] = exactly(t, &n.args[i], values)
	}
	d := new(apd.Decimal)
	var err error
	switch n.op {
	case "#":
		d, _, err = apd.NewFromString(n.text)
	case "x":
		return values[n.name]
	case "~":
		_, err = c.Neg(d, a[0])
	case "+":
		_, err = c.Add(d, a[0], a[1])
	case "-":
		_, err = c.Sub(d, a[0], a[1])
	case "*":
		_, err = c.Mul(d, a[0], a[1])
	case "/":
		_, err = c.Quo(d, a[0], a[1])
	case "^":
		_, err = c.Pow(d, a[0], a[1])
	case "log10":
		_, err = c.Log10(d, a[0])
	case "ln":
		_, err = c.Ln(d, a[0])
	case "exp":
		_, err = c.Exp(d, a[0])
	case "sqrt":
		_, err = c.Sqrt(d, a[0])
	case "max", "min":
		d = a[0]
		for _, x := range a[1:] {
			if (x.Cmp(d) > 0) == (n.op == "max") {
				d = x
			}
		}
	}
	if err != nil {
		t.Fatalf("%s: %v", n.op, err)
	}
	return d
}

// The bound that the package comment states: 1 part in 10^12, for every
// equation of the table over the values that its domain lets in.
func TestFloatErrorBound(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	ranges := map[string][2]float64{"pH": {3.5, 9.5}, "clay": {0, 90}, "EC": {0.01, 2}, "Ca": {50, 8000}, "Al": {10, 2000}}
	worst, at, points := 0.0, "", 0
	for _, r := range loaded(t).Rows {
		if r.Equation == nil || !r.Active {
			continue
		}
		lim := map[string][2]float64{"pH": {3.5, 9.5}, "mg/kg": {1, 400}, "mg/dm3": {1, 400}, "dS/m": {0.01, 15}, "%": {0.1, 30}}[r.Unit]
		for _, c := range r.Domain {
			if c.What == "x" && c.Low != nil {
				lim[0] = *c.Low
			}
			if c.What == "x" && c.High != nil {
				lim[1] = *c.High
			}
		}
		for range 200 {
			values, exact := map[string]float64{}, map[string]*apd.Decimal{}
			for _, n := range r.Equation.Names() {
				b, ok := ranges[n]
				if n == "x" {
					b, ok = lim, lim[1] > lim[0]
				}
				if !ok {
					t.Fatalf("%s: no range for %s", r.ID, n)
				}
				// Two or three decimals, as a report prints them.
				f := math.Round((b[0]+rnd.Float64()*(b[1]-b[0]))*1000) / 1000
				values[n] = f
				d, err := new(apd.Decimal).SetFloat64(f)
				if err != nil {
					t.Fatal(err)
				}
				exact[n] = d
			}
			got, err := r.Equation.Eval(values)
			if err != nil || got < 1e-3 { // near its zero an outcome has no relative error worth a bound; it is written with few decimals
				continue
			}
			want, _ := exactly(t, &r.Equation.root, exact).Float64()
			points++
			if e := math.Abs(got-want) / want; e > worst {
				worst, at = e, r.ID
			}
		}
	}
	t.Logf("%d points; the greatest relative error is %.1e, by %s", points, worst, at)
	if worst > 1e-12 || points < 10000 {
		t.Errorf("%d points, greatest error %v by %s", points, worst, at)
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"1.10*x - 0.69", "10^(-0.4784 + 0.9292*log10(x))", "max(1, x)", "((", "-", "2^-x", "x_1*3"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		e, err := Parse(s)
		if err != nil {
			return
		}
		values := map[string]float64{}
		for _, n := range e.Names() {
			values[n] = 1.5
		}
		if v, err := e.Eval(values); err == nil && (math.IsNaN(v) || math.IsInf(v, 0)) {
			t.Errorf("%q gives %v", s, v)
		}
		// A parsed text stays the same equation between parentheses.
		if again, err := Parse("(" + s + ")"); err != nil {
			if !strings.Contains(err.Error(), "simpler") {
				t.Errorf("%q parses, and not between parentheses: %v", s, err)
			}
		} else if strings.Join(again.Names(), " ") != strings.Join(e.Names(), " ") {
			t.Errorf("%q: %v and %v", s, e.Names(), again.Names())
		}
	})
}
