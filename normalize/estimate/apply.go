package estimate

import (
	"fmt"
	"iter"
	"math"
	"strconv"
	"strings"
)

// A Measured is one measured number of a sample, as its record gives it.
type Measured struct {
	Analyte string
	Method  string
	Value   float64
	Text    string // the decimal digits that the record gives; Value is what they say
	Unit    string
	Sig     int     // significant digits of the printed number
	Half    float64 // half a unit of its last printed digit, in Unit
	Origin  string  // where it comes from, such as "report"
}

// A Sample is what was measured of one sample besides the number converted,
// and what its texture and use are, in our words; "" where that is not known.
// It holds measurements only: an estimate is never an input.
type Sample struct {
	Measured []Measured
	Texture  string
	LandUse  string
}

// all is the measured values of an analyte that a domain may be tested by:
// for pH those in water.
func (s *Sample) all(analyte string) iter.Seq[*Measured] {
	return func(yield func(*Measured) bool) {
		for i := range s.Measured {
			m := &s.Measured[i]
			if m.Analyte == analyte && (analyte != "pH" || strings.HasPrefix(m.Method, "ph-water")) && m.Unit == needOf(analyte, "").Unit && !yield(m) {
				return
			}
		}
	}
}

// find is the one measured value that an equation needs; nil where there is
// none, or where nobody says which of several.
func (s *Sample) find(n Need) (found *Measured) {
	for m := range s.all(n.Analyte) {
		if n.Method == "" || m.Method == n.Method {
			if found != nil {
				return nil
			}
			found = m
		}
	}
	return found
}

// An Outcome is what one equation says of one measured number.
type Outcome struct {
	Row      *Row
	Analyte  string // of the outcome
	Method   string
	Value    string // decimal digits; "" where the equation has no value above zero here
	Low      string // of the interval, "" for none
	High     string
	Percent  int    // of samples expected inside the interval
	Times    string // how many errors of the row's [Spread] lie on each side, as it was computed with
	None     string // why there is no interval
	Inputs   []Measured
	Standing Standing
	Outside  []string // which conditions fail, each with what was found
	Unknown  []string // which can't be tested, each with why
}

// A Question is one active row asked about one measured number. Equal
// questions have equal answers, whatever sample they are asked of, so that a
// long list need not work out the same twice.
type Question struct {
	Row                         *Row
	Analyte, Method, Text, Unit string // of the number converted
	Sig                         int
	Half                        float64
	Situation                   string // what of the sample makes a difference to the row, in words
}

// Questions are those that active rows of the table ask of a measured number,
// in its order. A row asks none whose inputs the sample has not, that is for
// other samples only, or whose target the sample has measured: a measurement
// stands for itself.
func (t *Table) Questions(m Measured, s *Sample) iter.Seq[Question] {
	return func(yield func(Question) bool) {
		for _, r := range t.From(m.Analyte, m.Method) {
			if !r.Active || r.Unit != m.Unit || s.has(r.Target(m.Analyte), r.To[0]) {
				continue
			}
			if at, ok := r.situation(m, s); ok && !yield(Question{r, m.Analyte, m.Method, m.Text, m.Unit, m.Sig, m.Half, at}) {
				return
			}
		}
	}
}

// situation is what makes a difference to a row besides the number itself; ok
// is false where the row has nothing to ask.
func (r *Row) situation(m Measured, s *Sample) (at string, ok bool) {
	for _, n := range r.Inputs {
		in := s.find(n)
		if in == nil {
			return "", false
		}
		at += n.Name + " " + in.Method + " " + in.Text + " " + in.Origin + ";"
	}
	for i := range r.Domain {
		c := &r.Domain[i]
		if c.What == "x" || c.What == "y" || c.What == "other" {
			continue // the number and the row say it all
		}
		st, found := c.test(m.Value, 0, s)
		if st == Outside && c.Only {
			return "", false
		}
		if found != "" {
			at += found + ";"
		}
	}
	return at, true
}

// For is what every active row says of a measured number, in the order of the
// table, where it has a question.
func (t *Table) For(m Measured, s *Sample) []Outcome {
	var out []Outcome
	for q := range t.Questions(m, s) {
		if o, ok := q.Answer(m, s); ok {
			out = append(out, o)
		}
	}
	return out
}

func (s *Sample) has(analyte, methodID string) bool {
	for i := range s.Measured {
		if m := &s.Measured[i]; m.Analyte == analyte && m.Method == methodID {
			return true
		}
	}
	return false
}

// Answer is what the row says of the number that the question was asked about;
// ok is false where it is for other samples only.
func (q Question) Answer(m Measured, s *Sample) (o Outcome, ok bool) { return q.Row.apply(m, s) }

func (r *Row) apply(m Measured, s *Sample) (Outcome, bool) {
	o := Outcome{Row: r, Analyte: r.Target(m.Analyte), Method: r.To[0], Standing: Inside}
	values := map[string]float64{"x": m.Value}
	for _, n := range r.Inputs {
		found := s.find(n)
		if found == nil {
			return o, false
		}
		in := *found
		in.Analyte = n.Name
		values[n.Name] = in.Value
		o.Inputs = append(o.Inputs, in)
	}
	y, err := r.Equation.Eval(values)
	nothing := func() (Outcome, bool) {
		o.Standing, o.Outside = Outside, []string{"the equation gives nothing above zero for " + m.Text}
		o.Unknown, o.None = nil, "there is no estimate"
		return o, true
	}
	if err != nil || y <= 0 {
		return nothing()
	}
	for i := range r.Domain {
		c := &r.Domain[i]
		st, found := c.test(m.Value, y, s)
		if st == Inside {
			continue
		}
		say := c.String()
		if found != "" {
			say += ": " + found
		}
		switch st {
		case Outside:
			if c.Only {
				return o, false
			}
			o.Standing = Outside
			o.Outside = append(o.Outside, say)
		case Unknown:
			if o.Standing == Inside {
				o.Standing = Unknown
			}
			o.Unknown = append(o.Unknown, say)
		}
	}
	places := r.places(m, values, y)
	o.Value = strconv.FormatFloat(y, 'f', places, 64)
	if r.Equation.String() == "x" {
		o.Value = m.Text // the same number: no digit of it is in doubt
		places = decimals(m.Text)
	}
	if v, err := strconv.ParseFloat(o.Value, 64); (err != nil || v == 0) && o.Standing != Outside {
		return nothing() // with the digits that were printed it is zero
	}
	r.Interval.interval(&o, m.Value, y, places)
	return o, true
}

// places is how many digits after the point an outcome is written with: no
// more significant ones than were printed, and none finer than half a printed
// digit comes to by the equation. Up to five times that half is let pass, so
// that a digit is not lost to a small factor.
func (r *Row) places(m Measured, values map[string]float64, y float64) int {
	places := 6
	switch {
	case r.ToUnit == "pH": // a logarithm: its digits before the point say nothing of how fine it is
		places = int(math.Round(-math.Log10(2 * m.Half)))
	case y > 0:
		places = m.Sig - 1 - int(math.Floor(math.Log10(y)))
		if rounded := math.Pow(10, math.Ceil(math.Log10(y))); places > 0 && rounded-y < math.Pow(10, -float64(places))/2 {
			places-- // 0.98 with one digit is 1
		}
	}
	at := func(x float64) float64 {
		values["x"] = x
		out, err := r.Equation.Eval(values)
		if err != nil {
			return y
		}
		return out
	}
	if half := math.Max(math.Abs(at(m.Value+m.Half)-y), math.Abs(at(m.Value-m.Half)-y)); half > 0 {
		places = min(places, int(math.Floor(-math.Log10(2*half/5))))
	}
	return max(0, places)
}

func decimals(s string) int {
	_, frac, _ := strings.Cut(s, ".")
	return len(frac)
}

// A Spread is how an interval of 90 percent is made from what a source says of
// the error of single samples.
type Spread struct {
	Kind  string // "" for none, rmse, log10, or ratio
	Error float64
	Low   float64 // of a ratio: bounds of y/x
	High  float64
	Texts []string // the numbers as the table has them: the error, or the two bounds
}

// ninety is how many standard errors of a normal error lie on each side of an
// interval that holds 90 percent. Standard normal quantile of 0.95, any table.
const ninety = 1.644854

func parseSpread(cell string) (Spread, error) {
	f := strings.Fields(cell)
	bad := fmt.Errorf("interval %q is not rmse, log10 or ratio with its numbers", cell)
	if len(f) == 0 {
		return Spread{}, nil
	}
	var v []float64
	for _, t := range f[1:] {
		x, err := strconv.ParseFloat(t, 64)
		if err != nil || x <= 0 {
			return Spread{}, bad
		}
		v = append(v, x)
	}
	switch {
	case (f[0] == "rmse" || f[0] == "log10") && len(v) == 1:
		return Spread{Kind: f[0], Error: v[0], Texts: f[1:2]}, nil
	case f[0] == "ratio" && len(v) == 3 && v[0] < v[1] && v[2] == 90:
		return Spread{Kind: f[0], Low: v[0], High: v[1], Texts: f[1:3]}, nil
	}
	return Spread{}, bad
}

// interval sets the bounds of an outcome, or why there are none. A bound is
// rounded outwards, so that the interval never promises more than its source.
func (s Spread) interval(o *Outcome, x, y float64, places int) {
	if o.Standing == Outside {
		o.None = "outside the domain of the equation"
		return
	}
	var lo, hi float64
	switch s.Kind {
	case "rmse":
		lo, hi = y-ninety*s.Error, y+ninety*s.Error
	case "log10":
		f := math.Pow(10, ninety*s.Error)
		lo, hi = y/f, y*f
	case "ratio":
		lo, hi = s.Low*x, s.High*x
	default:
		o.None = "the source states no error of single samples"
		if o.Row.Verdict == Exact {
			o.None = "exact by definition, without an error of its own"
			if o.Standing == Unknown {
				o.None = "exact by definition where its conditions hold, which is not known of this sample"
			}
		}
		return
	}
	scale := math.Pow(10, float64(places))
	o.Low = strconv.FormatFloat(math.Floor(max(0, lo)*scale)/scale, 'f', places, 64)
	o.High = strconv.FormatFloat(math.Ceil(hi*scale)/scale, 'f', places, 64)
	o.Percent = 90
	if s.Kind != "ratio" {
		o.Times = strconv.FormatFloat(ninety, 'f', -1, 64)
	}
}
