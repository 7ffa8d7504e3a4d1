package normalize

import (
	"io"
	"strconv"
	"strings"

	"example.org/windrow/normalize/estimate"
)

// estimates shows what other methods would find. Those outside the domain of
// their equation have no number; they are for an audit.
func (t *tracer) estimates(res *Result) {
	for _, e := range res.Estimates {
		if e.InDomain == string(estimate.Outside) {
			continue
		}
		what := methodName(e.Method)
		if e.Analyte != res.Analyte {
			what = e.Analyte + " by " + what
		}
		t.field("estimate", "%s: %s %s, %s", what, e.Value, e.Unit, spread(e))
		for _, s := range e.Steps {
			with := "x = " + string(s.From.Value) + " " + s.From.Unit
			for _, in := range s.Inputs {
				with += ", " + in.Name + " = " + string(in.Value) + " " + in.Unit
			}
			t.field("equation", "%s  with %s", s.Equation, with)
			t.field("", "%s", s.What)
		}
		t.field("", "conversion %s: %s; this sample: %s", e.Equation, e.Verdict, standings[estimate.Standing(e.InDomain)])
		if len(e.Unknown) > 0 {
			t.field("", "not known to hold: %s", strings.Join(e.Unknown, "; "))
		}
		if note := NoteOf(e.Equation); note != "" {
			t.field("", "note: %s", note)
		}
		t.field("", "source: %s", cite(e.Source))
	}
}

// standings are where a sample lies as to the limits of an equation, in words.
var standings = map[estimate.Standing]string{estimate.Inside: "within its limits", estimate.Unknown: "not known to be within its limits", estimate.Outside: "outside its limits"}

func spread(e Estimate) string {
	if e.Interval == nil {
		return "no interval: " + e.NoInterval
	}
	v := e.Interval
	s := strconv.Itoa(v.Percent) + " % of soils between " + string(v.Low) + " and " + string(v.High)
	switch v.Kind {
	case "rmse":
		s += " (the estimate ± " + string(v.Times) + " × the RMSE " + string(v.Error) + ", rounded outwards)"
	case "log10":
		s += " (the estimate × and ÷ 10^(" + string(v.Times) + " × " + string(v.Error) + "), with the error in log10 units, rounded outwards)"
	case "ratio":
		s += " (x × " + string(v.LeastRatio) + " and x × " + string(v.MostRatio) + ", rounded outwards)"
	}
	return s
}

// TraceMethods writes what the table of conversions says of turning a result
// into that of other methods and for what no estimate is made: conversions
// that are refused, equations that were asked beyond their domain, and those
// that nobody has read. Errors of w end it silently.
func TraceMethods(w io.Writer, res *Result) {
	t := &tracer{w: w}
	for _, e := range res.Estimates {
		if e.InDomain == string(estimate.Outside) {
			t.field("outside", "%s: no estimate by %s: %s", methodName(e.Method), e.Equation, strings.Join(e.Outside, "; "))
		}
	}
	for _, r := range equations().From(res.Analyte, res.Method) {
		if r.Active {
			continue
		}
		var to []string
		for _, id := range r.To {
			to = append(to, methodName(id))
		}
		if len(to) == 0 {
			to = []string{"what is no method of ours"}
		}
		key, why := "no number", r.Inactive
		if r.Verdict == estimate.DoNotConvert {
			key, why = "refused", "do not convert"
		}
		for _, c := range r.Domain {
			why += " where " + c.String()
		}
		if r.Note != "" {
			why += ". " + strings.TrimSuffix(r.Note, ".")
		}
		t.field(key, "to %s: %s (conversion %s)", strings.Join(to, ", "), why, r.ID)
		t.field("", "source: %s", cite(r.Sources[0]))
	}
}
