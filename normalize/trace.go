package normalize

import (
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize/method"
	"example.org/windrow/normalize/unit"
)

// Trace writes the lineage of a result for people: what was printed and
// where, each step with its factor, inputs and source, the value, its other
// forms, and what the checks found. Each step can be recomputed with a pocket
// calculator from what is written here and nothing else. [LineageOf] has the
// same for programs. Errors of w end it silently; it is meant for a terminal.
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
	p := res.Printed
	if p.Method == "" || p.Method == res.MethodName {
		t.field("method", "%s", res.MethodName)
	} else {
		t.field("method", "%s, printed “%s”", res.MethodName, p.Method)
	}
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
	if res.Restates {
		t.field("again", "%s", "the report prints this test in another unit or form as well; that result is the one that advice and datasets take")
	}
	if o := p.OCR; o != nil && o.Proof != nil {
		said := "the program had read the same"
		if o.Proof.Read != "" {
			said = fmt.Sprintf("the program had read %q", o.Proof.Read)
		}
		t.field("a picture", "compared with its picture by %s on %s; %s", o.Proof.By, o.Proof.On, said)
	} else if o != nil {
		t.field("a picture", "read by a program, and compared with its picture by nobody")
	}
	if p.Label != nil {
		at := p.Label.Place
		if at.File == "" {
			at = at.In(title(rep.Source))
		}
		t.field("label", "“%s” at %s", p.Label.Text, at)
	}
	place := p.Place
	if place.File == "" {
		place = place.In(title(rep.Source))
	}
	t.field("where", "%s", place)
	if h := rep.Source.SHA256; h != "" {
		t.field("original", "SHA-256 %s", h)
	}
	if !p.SignPlace.IsZero() {
		at := p.SignPlace
		if at.File == "" {
			at = at.In(title(rep.Source))
		}
		t.field("limit", "the “%s” stands at %s", res.Censored, at)
	}
	if !p.Rule.IsZero() {
		t.field("read by", "%s", p.Rule)
	}
	l := LineageOf(rep, rec, res)
	for _, s := range l.Steps {
		t.step(s)
	}
	t.outcome(res, l)
	for _, s := range l.FormSteps {
		t.form(res, s)
	}
	if res.Forms.NoLb != "" {
		t.field("also", "no lb/acre: %s", res.Forms.NoLb)
	}
	t.index(res)
	t.estimates(res)
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

// step writes one link: the number it starts from, the factor or equation, and
// what comes out before it is rounded, so that a reader with a pocket
// calculator finds the same digits.
func (t *tracer) step(s LineageStep) {
	switch {
	case s.Factor != "":
		t.field(s.Name, "%s %s  × %s  =  %s %s", s.From.Value, s.From.Unit, factorText(s), s.Exactly, s.To.Unit)
	case s.Rule == storedNumber:
		t.field(s.Name, "%s %s  is shown for the number in the cell:  %s %s", s.From.Value, s.From.Unit, s.Exactly, s.To.Unit)
	default:
		t.field(s.Name, "x = %s %s  %s  =  %s %s", s.From.Value, s.From.Unit, s.Equation, s.Exactly, s.To.Unit)
	}
	t.field("", "%s", s.What)
	for _, in := range s.Inputs {
		t.field("", "%s: %s %s (%s)", in.Name, grouped(in.Value), in.Unit, in.Origin)
	}
	exact := "exact"
	if !s.Exact {
		exact = "estimate"
	}
	t.field("", "rule %s, %s", s.Rule, exact)
	t.field("", "source: %s", citation(s.Source))
}

// factorText is a factor in decimal digits, and as the fraction that it is.
func factorText(s LineageStep) string {
	switch {
	case s.Decimal == s.Factor:
		return s.Factor
	case s.DecimalExact:
		return s.Decimal + " (that is, " + s.Factor + ")"
	}
	return s.Decimal + " (exactly " + s.Factor + ")"
}

func cite(key string) string { return citation(sourceOf(key)) }

func citation(s Source) string {
	if s.Text == "" {
		return s.Key + " [not in the bibliography]"
	}
	return s.Text + " [" + s.Provenance + "; key " + s.Key + "]"
}

func (t *tracer) outcome(res *Result, l *Lineage) {
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
		t.field("", "%s", l.Rounding)
	}
	if v := res.Volumetric; v != nil {
		t.field("by volume", "%s %s of scooped soil", v.Value, v.Unit)
	}
}

// form writes another way to write the value. It starts from the number
// before rounding.
func (t *tracer) form(res *Result, s LineageStep) {
	limit := ""
	if res.Censored != "" {
		limit = res.Censored + " "
	}
	if s.Factor == "1" {
		t.field("also", "%s%s %s: %s", limit, s.To.Value, s.To.Unit, s.What)
		t.field("", "source: %s", citation(s.Source))
		return
	}
	t.field("also", "%s%s %s:  %s  × %s  =  %s", limit, s.To.Value, s.To.Unit, s.start, factorText(s), s.Exactly)
	if f := res.Forms.LbAc; f != nil && s.Rule == "form/lb-per-acre" {
		depth, soil := f.Source, f.Source
		for _, in := range s.Inputs {
			switch in.Name {
			case "depth":
				depth = in.Origin
			case "soil per acre":
				soil = in.Origin
			}
		}
		if f.Source == "convention" {
			depth, soil = "a convention", "a convention"
		}
		t.field("", "in soil %s in deep (%s) weighing %s lb an acre (%s)", f.DepthIn, depth, grouped(f.SoilLb), soil)
	}
	t.field("", "%s", s.What)
	t.field("", "source: %s", citation(s.Source))
}

// index writes the place of a result on the published scale that the mapping
// names.
func (t *tracer) index(res *Result) {
	x := res.Forms.Index
	if x == nil {
		return
	}
	switch {
	case x.Not != "":
		t.field("index", "none on the scale %s: %s", x.Scale, x.Not)
	case x.High == "":
		t.field("index", "%s on the scale %s, from %s %s on", x.Index, x.Scale, x.Low, x.Unit)
	default:
		t.field("index", "%s on the scale %s, from %s to %s %s", x.Index, x.Scale, x.Low, x.High, x.Unit)
	}
	t.field("", "source: %s", cite(x.Source))
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
