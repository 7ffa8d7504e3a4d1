package normalize

import (
	"fmt"
	"io"
	"math/big"
	"strings"
	"unicode/utf8"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize/method"
	"example.org/windrow/normalize/unit"
)

// Trace writes the lineage of a result for people: what was printed and
// where, each step with its factor and source so that it can be recomputed
// by hand, the value, its other forms, and what the checks found. Errors of
// w end it silently; it is meant for a terminal.
func Trace(w io.Writer, rep *Report, rec *Record, res *Result) {
	t := &tracer{w: w}
	name := res.Analyte
	if a, ok := method.Standard().Analyte(res.Analyte); ok {
		name = a.Name
		if a.ID != a.Name {
			name += " (" + a.ID + ")"
		}
	}
	if res.Detail != "" {
		name += ", " + res.Detail
	}
	t.line("%s", name)
	who := rec.Sample.LabID
	if rec.Sample.ClientLabel != "" {
		who += " “" + rec.Sample.ClientLabel + "”"
	}
	no := ""
	if rep.Number != "" {
		no = ", report " + rep.Number
	}
	t.field("sample", "%s of %s%s", who, rep.Lab.Name, no)
	t.field("method", "%s", res.MethodName)
	p := res.Printed
	text := "“" + p.Text + "”"
	if p.Unit != "" {
		text += " " + p.Unit
	}
	if _, oxide := unit.Standard().Basis(res.Basis); oxide {
		text += " as " + res.Basis
	}
	if p.Rating != "" {
		text += ", rated “" + p.Rating + "”"
	}
	if p.Index != "" {
		text += ", index " + p.Index
	}
	t.field("printed", "%s", text)
	place := p.Place
	if place.File == "" {
		place = place.In(title(rep.Source))
	}
	t.field("where", "%s", place)
	if !p.Rule.IsZero() {
		t.field("read by", "%s", p.Rule)
	}
	for i, s := range res.Steps {
		t.step(i+1, s)
	}
	t.outcome(res)
	t.forms(res)
	for _, f := range append(append([]Finding{}, res.Findings...), rec.Checks...) {
		t.finding(f)
	}
	t.field("status", "%s", rowStatus(rec, res))
}

type tracer struct{ w io.Writer }

// line prints a line. Whoever gives the writer knows what it could not write,
// as the account of a value has no error to give.
func (t *tracer) line(f string, a ...any) { _, _ = fmt.Fprintf(t.w, f+"\n", a...) }

// width is how wide a line may become before it goes on below.
const width = 96

func (t *tracer) field(k, f string, a ...any) {
	line, n := "", 0
	for _, word := range strings.Split(fmt.Sprintf(f, a...), " ") {
		m := utf8.RuneCountInString(word)
		if n > 0 && n+1+m > width {
			t.line("  %-9s %s", k, line)
			k, line, n = "", "", 0
		}
		if n > 0 {
			line, n = line+" ", n+1
		}
		line, n = line+word, n+m
	}
	t.line("  %-9s %s", k, line)
}

// grouped writes a whole number with a comma between thousands.
func grouped(d Decimal) string {
	s, point, frac := string(d), "", ""
	if i := strings.IndexByte(s, '.'); i >= 0 {
		s, point, frac = s[:i], ".", s[i+1:]
	}
	for i := len(s) - 3; i > 0 && s[i-1] != '-'; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s + point + frac
}

func (t *tracer) step(n int, s Step) {
	how := s.Equation
	if s.Factor != "" {
		how = "× " + readable(s.Factor)
	}
	t.field(fmt.Sprintf("step %d", n), "%s %s  %s  =  %s %s", s.From.Value, s.From.Unit, how, s.To.Value, s.To.Unit)
	t.field("", "%s", s.What)
	for _, in := range s.Inputs {
		t.field("", "%s: %s %s (%s)", in.Name, grouped(in.Value), in.Unit, in.Origin)
	}
	exact := "exact"
	if !s.Exact {
		exact = "estimate"
	}
	t.field("", "rule %s, %s", s.Rule, exact)
	t.field("", "source: %s", cite(s.Source))
}

// readable shows a factor as decimal digits, and where those are cut off the
// exact fraction beside them.
func readable(factor string) string {
	r, ok := new(big.Rat).SetString(factor)
	if !ok {
		return factor
	}
	if s := r.FloatString(12); strings.Contains(factor, "/") {
		d := strings.TrimRight(strings.TrimRight(s, "0"), ".")
		if back, _ := new(big.Rat).SetString(d); back != nil && back.Cmp(r) == 0 {
			return d
		}
		return unit.Round(r, 10) + " (exactly " + factor + ")"
	}
	return factor
}

func cite(key string) string {
	if s, ok := bibliography()[key]; ok {
		return s.Text + " [" + s.Provenance + "]"
	}
	return key
}

func (t *tracer) outcome(res *Result) {
	switch {
	case res.Missing != "":
		t.field("value", "none: the report prints “%s”", res.Missing)
	case res.Class != "":
		t.field("value", "%s", res.Class)
	case res.Why != "":
		t.field("value", "none: %s", res.Why)
	default:
		limit := ""
		if res.Censored != "" {
			limit = res.Censored + " "
		}
		t.field("value", "%s%s %s", limit, res.Value, res.Unit)
		if len(res.Steps) == 0 {
			t.field("", "as printed: no conversion")
		} else if n, err := unit.ParseNumber(string(res.Printed.Number)); err == nil {
			t.field("", "printed with %d significant digits; a converted value is written with %d, without useless zeros", n.Sig, unit.Digits(n.Sig))
		}
	}
	if v := res.Volumetric; v != nil {
		t.field("by volume", "%s %s of scooped soil", v.Value, v.Unit)
	}
}

func (t *tracer) forms(res *Result) {
	f := res.Forms
	if f.PPM != nil && f.LbAc != nil {
		t.field("also", "%s ppm; %s lb/acre in soil %s in deep weighing %s lb an acre (%s)", f.PPM.Value, f.LbAc.Value, f.LbAc.DepthIn, grouped(f.LbAc.SoilLb), f.LbAc.Source)
	} else if f.NoLb != "" {
		t.field("also", "no lb/acre: %s", f.NoLb)
	}
}

func (t *tracer) finding(f Finding) {
	word := "note"
	switch f.Severity {
	case ingest.Flag:
		word = "flagged"
	case ingest.Hold, ingest.Fail:
		word = "held"
	}
	t.field(word, "[%s] %s", f.Check, f.What)
	if f.Expected != "" {
		t.field("", "expected %s", f.Expected)
	}
	if f.Found != "" {
		t.field("", "found %s", f.Found)
	}
}
