package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/cockroachdb/apd/v3"

	"example.org/windrow/normalize"
	"example.org/windrow/normalize/formula"
)

// What a person with a pocket calculator reads from a printed trace.
var (
	tracedStep     = regexp.MustCompile(`^(-?[\d.]+) (.*?)  × ([\d.]+)(?: \((that is|exactly),? ([\d/]+)\))?  =  (-?[\d.]+) (.*)$`)
	tracedCell     = regexp.MustCompile(`^(-?[\d.]+) (.*?)  is shown for the number in the cell:  (-?[\d.]+) (.*)$`)
	tracedInput    = regexp.MustCompile(`^number stored in the cell: (-?[\d.,]+) `)
	tracedValue    = regexp.MustCompile(`^(?:[<>] )?(-?[\d.]+) (.*)$`)
	tracedRound    = regexp.MustCompile(`^rounded to (\d+) digits`)
	tracedForm     = regexp.MustCompile(`^(-?[\d.]+) (\S+):  (-?[\d.]+)  × ([\d.]+)(?: \((that is|exactly),? ([\d/]+)\))?  =  (-?[\d.]+)$`)
	tracedEstimate = regexp.MustCompile(`: (-?[\d.]+) \S+, (?:no interval: |\d+ % of soils )`)
	tracedWith     = regexp.MustCompile(`^(.*?\S)  with (x = .*\S) $`)
	tracedName     = regexp.MustCompile(`^(.+?) = (-?[\d.]+)(?: |$)`)
	tracedSame     = regexp.MustCompile(`^(-?[\d.]+) ppm: `)
)

// A traceLine is one entry of a printed trace, with its continued lines
// joined.
type traceLine struct{ key, text string }

func traceLines(text string) (out []traceLine) {
	for _, l := range strings.Split(text, "\n")[1:] {
		if len(l) < 12 {
			continue
		}
		runes := []rune(l)
		key, rest := strings.TrimSpace(string(runes[:12])), string(runes[12:])
		if key == "by volume" && len(rest) > 0 {
			rest = strings.TrimSpace(rest)
		}
		out = append(out, traceLine{key, rest})
	}
	return out
}

// roundTo rounds half away from zero to n significant digits, none of them
// before the point given up.
func roundTo(x float64, n int) float64 {
	if x == 0 {
		return 0
	}
	places := max(0, n-1-int(math.Floor(math.Log10(math.Abs(x)))))
	p := math.Pow(10, float64(places))
	return math.Round(x*p*(1+1e-12)) / p
}

// byCalculator works out a printed trace, from its text alone, and gives what
// could not be followed.
func byCalculator(text string) (amiss []string, steps int) {
	say := func(f string, a ...any) { amiss = append(amiss, fmt.Sprintf(f, a...)) }
	number := func(s string) float64 {
		v, err := strconv.ParseFloat(strings.ReplaceAll(s, ",", ""), 64)
		if err != nil {
			say("%q is no number", s)
		}
		return v
	}
	close := func(a, b float64) bool { return math.Abs(a-b) <= 2e-7*math.Abs(b)+1e-12 }
	fraction := func(decimal, how, frac string) float64 {
		f := number(decimal)
		if frac != "" {
			a, b, _ := strings.Cut(frac, "/")
			if exact := number(a) / number(b); math.Abs(exact-f) > 1e-9*exact {
				say("%s %s is not %s", decimal, how, frac)
			}
		}
		return f
	}
	lines := traceLines(text)
	have, haveUnit, started, rounding := math.NaN(), "", false, 0
	value := ""
	for i, l := range lines {
		switch {
		case strings.HasPrefix(l.key, "step "):
			steps++
			if m := tracedCell.FindStringSubmatch(l.text); m != nil {
				stored := ""
				for _, in := range lines[i+1:] {
					if n := tracedInput.FindStringSubmatch(in.text); n != nil {
						stored = n[1]
						break
					}
				}
				if have = number(stored); !close(number(m[3]), have) {
					say("%s: the cell holds %s", l.text, stored)
				}
				haveUnit, started = m[4], true
				continue
			}
			m := tracedStep.FindStringSubmatch(l.text)
			if m == nil {
				say("%s: can't be followed", l.text)
				continue
			}
			from := number(m[1])
			if started && (!close(from, have) || m[2] != haveUnit) {
				say("%s: does not begin at %v %s", l.text, have, haveUnit)
			}
			if started {
				from = have // the calculator still shows it
			}
			have, haveUnit, started = from*fraction(m[3], m[4], m[5]), m[7], true
			if !close(number(m[6]), have) {
				say("%s: is %v", l.text, have)
			}
		case l.key == "value":
			m := tracedValue.FindStringSubmatch(l.text)
			if m == nil || strings.HasPrefix(l.text, "none: ") {
				continue
			}
			value = m[1]
			if !started {
				have, haveUnit = number(m[1]), m[2]
			}
			if m[2] != haveUnit {
				say("the value is in %s, the last step in %s", m[2], haveUnit)
			}
		case l.key == "" && tracedRound.MatchString(l.text):
			rounding, _ = strconv.Atoi(tracedRound.FindStringSubmatch(l.text)[1])
			if r := roundTo(have, rounding); !near(r, number(value)) {
				say("%v rounded to %d digits is %v, not %s", have, rounding, r, value)
			}
		case l.key == "" && strings.HasPrefix(l.text, "exactly; nothing was rounded") || l.text == "as printed: no conversion":
			if !near(have, number(value)) {
				say("%v is not %s", have, value)
			}
		case l.key == "estimate":
			m := tracedEstimate.FindStringSubmatch(l.text)
			rest := ""
			for _, more := range lines[i+1:] { // the equation with its numbers may take several lines
				if strings.HasPrefix(more.text, "conversion ") || more.key == "estimate" || more.key == "" && strings.Contains(more.text, " to ") {
					break // from which method to which, in words
				}
				if more.key == "equation" || rest != "" {
					rest += more.text + " "
				}
			}
			w := tracedWith.FindStringSubmatch(rest)
			if m == nil || w == nil {
				say("%s %s: can't be followed", l.text, rest)
				continue
			}
			steps++
			names := map[string]*apd.Decimal{}
			for _, in := range strings.Split(w[2], ", ") {
				p := tracedName.FindStringSubmatch(in)
				if p == nil {
					say("%s: %q gives no number", l.text, in)
					continue
				}
				names[p[1]], _ = formula.Number(p[2])
			}
			y, err := formula.Eval(w[1], names)
			if err != nil {
				say("%s: %v", l.text, err)
				continue
			}
			_, frac, _ := strings.Cut(m[1], ".")
			if e, err := formula.Number(m[1]); err != nil || !formula.Within(e, y, len(frac)) {
				say("%s: %s is %s", l.text, rest, y)
			}
		case l.key == "also":
			l.text = strings.TrimLeft(l.text, "<> ") // the sign of a limit goes with each form of it
			if m := tracedSame.FindStringSubmatch(l.text); m != nil {
				if m[1] != value {
					say("%s: is not the value", l.text)
				}
				continue
			}
			if strings.HasPrefix(l.text, "no lb/acre: ") {
				continue
			}
			m := tracedForm.FindStringSubmatch(l.text)
			if m == nil {
				say("%s: can't be followed", l.text)
				continue
			}
			steps++
			y := have * fraction(m[4], m[5], m[6])
			if !close(number(m[3]), have) || !close(number(m[7]), y) {
				say("%s: is %v × %s = %v", l.text, have, m[4], y)
			}
			n := rounding
			if n == 0 {
				n = max(4, len(strings.Trim(strings.ReplaceAll(m[1], ".", ""), "-0")))
			}
			if r := roundTo(y, n); !near(r, number(m[1])) {
				say("%s: %v rounded to %d digits is %v", l.text, y, n, r)
			}
		}
	}
	return amiss, steps
}

func near(a, b float64) bool { return math.Abs(a-b) <= 1e-9*math.Max(1, math.Abs(b)) }

// A person who has only what trace prints, and a pocket calculator, finds
// every value and every form of every report there is. Ten of them, drawn at
// random with a fixed seed, are told in full with -v.
func TestTracesRecomputeByCalculator(t *testing.T) {
	all, _ := allReadings(t)
	type drawn struct{ text string }
	var converted []drawn
	values, steps := 0, 0
	for _, rd := range all {
		for _, rec := range rd.Report.Records {
			for _, res := range rec.Results {
				var b bytes.Buffer
				normalize.Trace(&b, rd.Report, rec, res)
				amiss, n := byCalculator(b.String())
				if len(amiss) > 0 {
					t.Errorf("%s\n%s", strings.Join(amiss, "\n"), b.String())
				}
				if n < len(res.Steps) {
					t.Errorf("%d of %d steps could be followed\n%s", n, len(res.Steps), b.String())
				}
				steps += n
				if res.Value != "" {
					values++
				}
				if len(res.Steps) > 0 {
					converted = append(converted, drawn{b.String()})
				}
			}
		}
	}
	t.Logf("%d values recomputed from printed traces, %d steps", values, steps)
	if values < 8000 || steps < 10_000 {
		t.Errorf("only %d values and %d steps", values, steps)
	}
	r := rand.New(rand.NewPCG(2026, 11))
	for range 10 {
		t.Log("\n" + converted[r.IntN(len(converted))].text)
	}
}

// The calculator is itself tried: a trace with another digit in it is told.
func TestCalculatorTellsWhatDoesNotFollow(t *testing.T) {
	rep := readOnce(t, loadStages(t), "../../testdata/labs/calder-plains-growers-cooperative-laboratory/CP26-A017.pdf")[0].Report
	var b bytes.Buffer
	for _, res := range rep.Records[0].Results {
		if res.Analyte == "P" && len(res.Steps) > 1 {
			normalize.Trace(&b, rep, rep.Records[0], res)
		}
	}
	text := b.String()
	if amiss, n := byCalculator(text); len(amiss) > 0 || n < 5 {
		t.Fatal(n, amiss, text)
	}
	for _, x := range [][2]string{{"× 0.5 (", "× 0.6 ("}, {"(that is, 1/2)", "(that is, 1/3)"}, {"=  127.5 mg", "=  127.6 mg"}, {"127.5 mg/kg as P2O5  ×", "127.4 mg/kg as P2O5  ×"}, {"0.4364268174", "0.4364268184"},
		{"value     55.64", "value     55.65"}, {"also      55.64 ppm", "also      55.6 ppm"}, {"111.3 lb/acre", "111.2 lb/acre"}, {"0.832*x", "0.842*x"}, {"with x = 55.64", "with x = 56.64"}, {"mg/kg as P2O5\n", "mg/kg as K2O\n"}} {
		if !strings.Contains(text, x[0]) {
			t.Errorf("%q is not in the trace\n%s", x[0], text)
			continue
		}
		if amiss, _ := byCalculator(strings.Replace(text, x[0], x[1], 1)); len(amiss) == 0 {
			t.Errorf("%q in place of %q is not told", x[1], x[0])
		}
	}
}

func TestTraceAsJSON(t *testing.T) {
	out := must(t, exitDone, "trace", "../../testdata/labs/calder-plains-growers-cooperative-laboratory/CP26-A017.pdf", "--sample", "CP26-A017-01", "P", "--json")
	var got []normalize.Lineage
	if err := json.Unmarshal([]byte(out), &got); err != nil || len(got) != 1 {
		t.Fatal(len(got), err)
	}
	l := got[0]
	if l.Value != "55.64" || l.Exactly != "55.644419" || len(l.Steps) != 2 || l.Steps[1].Decimal != "0.4364268174" || l.Steps[1].Factor != "15486880999/35485630999" ||
		l.Steps[1].Source.Text == "" || l.Steps[1].Source.Provenance == "" || l.Printed.Place.Page != 1 || l.SHA256 == "" || len(l.FormSteps) != 2 || l.Name != "phosphorus" {
		t.Errorf("%+v", l)
	}
}
