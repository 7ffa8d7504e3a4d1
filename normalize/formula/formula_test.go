package formula

import (
	"math"
	"os/exec"
	"strconv"
	"strings"
	"testing"

	"github.com/cockroachdb/apd/v3"
	"pgregory.net/rapid"
)

func given(t testing.TB, pairs map[string]string) map[string]*apd.Decimal {
	t.Helper()
	m := map[string]*apd.Decimal{}
	for k, v := range pairs {
		d, err := Number(v)
		if err != nil {
			t.Fatal(err)
		}
		m[k] = d
	}
	return m
}

// The roots and logarithms as GNU bc 1.07 gives them with scale=30; the others
// are plain arithmetic that a reader can do in the head.
func TestEval(t *testing.T) {
	names := given(t, map[string]string{"x": "255", "soil per acre": "2000000", "soil": "7", "depth": "6.667", "a_1": "3"})
	for text, want := range map[string]string{
		"1+2*3":                            "7",
		"(1+2)*3":                          "9",
		"-2^2":                             "-4",
		"2^-1":                             "0.5",
		"2^3^2":                            "512",
		"8-3-2":                            "3",
		"8/4/2":                            "1",
		"8 ÷ 4 × 2 · 3":                    "12",
		"--2":                              "2",
		"x * 1000000 / soil per acre":      "127.5",
		"soil*2":                           "14",
		"a_1^2":                            "9",
		"min(3, 2, 5)":                     "2",
		"max(3,2,x)":                       "255",
		"sqrt(2)":                          "1.414213562373095048801688724210",
		"exp(1)":                           "2.718281828459045235360287471353",
		"ln(10)":                           "2.302585092994045684017991454684",
		"log10(2)":                         "0.301029995663981195213738894724",
		"10^(0.5*log10(x))":                "15.968719422671311999070245",
		".5*x":                             "127.5",
		" max( min(1,2) ,ln( exp( 3 )) ) ": "3",
	} {
		got, err := Eval(text, names)
		if err != nil {
			t.Errorf("%s: %v", text, err)
			continue
		}
		w, _ := Number(want)
		places := 24
		if !Within(got, w, places) {
			t.Errorf("%s = %s, want %s", text, got, want)
		}
	}
}

func TestEvalRefuses(t *testing.T) {
	names := given(t, map[string]string{"x": "1", "soil per acre": "2"})
	for text, want := range map[string]string{
		"":                            "something is missing, at character 1",
		"1+":                          "something is missing, at character 3",
		"(1":                          "closing bracket",
		"1)":                          "the end was expected, at character 2",
		"y":                           "neither number, name nor function",
		"xx":                          "neither number, name nor function",
		"soil":                        "neither number, name nor function",
		"log10 x":                     "argument in brackets",
		"sqrt(1,2)":                   "closing bracket, expected",
		"1/0":                         "no number comes of this",
		"ln(0)":                       "no number comes of this",
		"ln(-1)":                      "no number comes of this",
		"sqrt(-1)":                    "no number comes of this",
		"(-8)^(1/3)":                  "no number comes of this",
		"2^(10^9)":                    "the exponent is too large",
		"exp(10^9)":                   "the exponent is too large",
		"1..2":                        "no number",
		"1 2":                         "the end was expected",
		"the number in the cell":      "neither number, name nor function, at character 1",
		strings.Repeat("(", 60) + "1": "too many brackets",
		strings.Repeat("1+", 1500):    "too long",
	} {
		got, err := Eval(text, names)
		if err == nil {
			t.Errorf("%.40s: gave %s", text, got)
			continue
		}
		if w, _, _ := strings.Cut(want, ", expected"); !strings.Contains(err.Error(), w) {
			t.Errorf("%.40s: %v, want %s", text, err, want)
		}
	}
}

func TestNamesAreTold(t *testing.T) {
	used, err := Names("x/soil per acre", given(t, map[string]string{"x": "1", "soil per acre": "2", "depth": "3"}))
	if err != nil || !used["x"] || !used["soil per acre"] || used["depth"] || len(used) != 2 {
		t.Errorf("%v, %v", used, err)
	}
}

func TestFactor(t *testing.T) {
	for s, want := range map[string]string{"1/2": "0.5", "10": "10", "0.4364": "0.4364", "15486880999/35485630999": "0.436426817362679"} {
		d, err := Factor(s)
		if err != nil {
			t.Fatal(err)
		}
		w, _ := Number(want)
		if !Within(d, w, 14) {
			t.Errorf("%s = %s", s, d)
		}
	}
	for _, s := range []string{"", "1/0", "1/2/3", "a", "1e3", "Inf", "NaN", "--1", "1-1"} {
		if d, err := Factor(s); err == nil {
			t.Errorf("%q gave %s", s, d)
		}
	}
}

func TestText(t *testing.T) {
	for _, x := range []struct {
		number string
		n      int
		want   string
	}{{"55.6444", 4, "55.64"}, {"0.0012345", 4, "0.001235"}, {"123456.7", 4, "123457"}, {"4.5000", 4, "4.5"}, {"0", 3, "0"}, {"-2.5", 1, "-3"}, {"120", 2, "120"}} {
		d, _ := Number(x.number)
		if got := Text(d, x.n); got != x.want {
			t.Errorf("%s to %d digits: %s, want %s", x.number, x.n, got, x.want)
		}
	}
	for s, want := range map[string]int{"6.50": 3, "0.0120": 3, "100": 3, "0.00": 2, "0": 1, "-7": 1} {
		if got := Significant(s); got != want {
			t.Errorf("%s has %d significant digits, want %d", s, got, want)
		}
	}
}

// The calculator bc of the GNU project is the outside witness where it is
// installed; binary floating point of the standard library is where it isn't.
func TestAgainstOthers(t *testing.T) {
	bc, _ := exec.LookPath("bc")
	n := 0
	rapid.Check(t, func(r *rapid.T) {
		num := func(label string) string {
			return strconv.FormatFloat(rapid.Float64Range(0.001, 9000).Draw(r, label), 'f', 6, 64)
		}
		a, b, c := num("a"), num("b"), num("c")
		got, err := Eval("(x*"+a+"-"+b+")/("+c+"+x^2)+sqrt(x)+ln("+b+")", given(t, map[string]string{"x": a}))
		if err != nil {
			r.Fatal(err)
		}
		f := func(s string) float64 { v, _ := strconv.ParseFloat(s, 64); return v }
		want := (f(a)*f(a)-f(b))/(f(c)+f(a)*f(a)) + math.Sqrt(f(a)) + math.Log(f(b))
		if g, _ := got.Float64(); math.Abs(g-want) > 1e-9*(1+math.Abs(want)) {
			r.Fatalf("got %v, want %v", g, want)
		}
		if n++; bc == "" || n > 20 {
			return
		}
		cmd := exec.Command(bc, "-l")
		cmd.Stdin = strings.NewReader("scale=45\n(" + a + "*" + a + "-" + b + ")/(" + c + "+" + a + "^2)+sqrt(" + a + ")+l(" + b + ")\n")
		cmd.Env = append(cmd.Environ(), "BC_LINE_LENGTH=0")
		out, err := cmd.Output()
		if err != nil {
			r.Fatal(err)
		}
		s := strings.TrimSpace(string(out))
		w, _, err := apd.NewFromString(s)
		if err != nil {
			r.Fatal(err)
		}
		if !Within(got, w, 30) {
			r.Fatalf("got %s, bc says %s", got, s)
		}
	})
}

func FuzzEval(f *testing.F) {
	for _, s := range []string{"1+2", "10^(x-3)", "min(x,2)", "((", "2^2^2^2", "exp(exp(x))"} {
		f.Add(s)
	}
	names := map[string]*apd.Decimal{"x": apd.New(25, -1)}
	f.Fuzz(func(t *testing.T, s string) {
		d, err := Eval(s, names)
		if (d == nil) == (err == nil) {
			t.Fatalf("%q: %v and %v", s, d, err)
		}
		if d != nil && d.Form != apd.Finite {
			t.Fatalf("%q is %s", s, d)
		}
	})
}
