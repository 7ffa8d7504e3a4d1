package normalize

import (
	"math"
	"regexp"
	"slices"
	"strconv"

	"example.org/windrow/normalize/check"
	"example.org/windrow/normalize/estimate"
	"example.org/windrow/normalize/method"
	"example.org/windrow/normalize/unit"
)

// An estimator keeps the numbers that it saw and the answers to questions that
// were asked before, which the records of a long list share. It is for one
// goroutine.
type estimator struct {
	numbers map[number][]estimate.Measured
	answers map[estimate.Question]answer
	outcome []Estimate // of the result at hand
}

func newEstimator() *estimator {
	return &estimator{numbers: map[number][]estimate.Measured{}, answers: map[estimate.Question]answer{}}
}

// A number is what measured makes its outcome of.
type number struct {
	analyte, method, unit string
	printed, value        Decimal
	volumetric            Quantity
}

type answer struct {
	Estimate
	ok bool
}

// record gives every result of a record what published equations say that
// other methods would find of it. Only measured numbers are converted, and
// only measured numbers of the same record are inputs: none that is held, a
// limit, an index, or an estimate.
func (es *estimator) record(rec *Record) {
	s := &estimate.Sample{LandUse: rec.Sample.LandUse}
	of := make([]int, 0, len(rec.Results)) // the result of each measured number
	for i, res := range rec.Results {
		if res.Restates {
			continue // the result that it repeats is converted
		}
		for _, m := range es.measured(res) {
			s.Measured = append(s.Measured, m)
			of = append(of, i)
		}
		if res.Analyte == "texture" && res.Class != "" && !heldByFinding(res) {
			switch t := check.TextureName(res.Class); s.Texture {
			case "", t:
				s.Texture = t
			default:
				s.Texture = "two textures"
			}
		}
	}
	for k, m := range s.Measured {
		res := rec.Results[of[k]]
		es.outcome = append(es.outcome[:0], res.Estimates...)
		for q := range equations().Questions(m, s) {
			a, asked := es.answers[q]
			if !asked {
				if o, ok := q.Answer(m, s); ok {
					a = answer{newEstimate(m, o), true}
				}
				if len(es.answers) < mostAlike {
					es.answers[q] = a
				}
			}
			if a.ok {
				es.outcome = append(es.outcome, a.Estimate)
			}
		}
		if len(es.outcome) > 0 {
			res.Estimates = slices.Clone(es.outcome)
		}
	}
}

// Reestimate puts in place of the estimates of a record what published
// equations say of the results that it has now, by the tables in force. It is
// for a record of which something was taken away, such as its land use, before
// it is shown: no estimate may rest on that.
func Reestimate(rec *Record) {
	for _, res := range rec.Results {
		res.Estimates = nil
	}
	newEstimator().record(rec)
}

func heldByFinding(res *Result) bool {
	for _, f := range res.Findings {
		if statusOf(f.Severity) == Held {
			return true
		}
	}
	return false
}

// measured is the number of a result that an equation may take, and the same
// per volume of soil where the laboratory measured so; none for a limit, an
// index, words, or what is held.
func (es *estimator) measured(res *Result) []estimate.Measured {
	if res.Missing != "" || res.Censored != "" || res.Method == "" || res.Basis == IndexBasis || res.Unit == "index" || heldByFinding(res) {
		return nil
	}
	if !equations().Asks(res.Analyte, res.Method) {
		return nil // most numbers of a long list: the rest of this is some work
	}
	k := number{res.Analyte, res.Method, res.Unit, res.Printed.Number, res.Value, Quantity{}}
	if res.Volumetric != nil {
		k.volumetric = *res.Volumetric
	}
	out, seen := es.numbers[k]
	if !seen {
		out = measured(res)
		if len(es.numbers) < mostAlike {
			es.numbers[k] = out
		}
	}
	return out
}

func measured(res *Result) []estimate.Measured {
	n, err := unit.ParseNumber(string(res.Printed.Number))
	if err != nil {
		return nil
	}
	var out []estimate.Measured
	add := func(d Decimal, u string) {
		v, err := strconv.ParseFloat(string(d), 64)
		if err != nil {
			return
		}
		half, _ := n.Half().Float64()
		if p, _ := n.Rat.Float64(); p != 0 {
			half *= math.Abs(v / p)
		}
		out = append(out, estimate.Measured{Analyte: res.Analyte, Method: res.Method, Value: v, Text: string(d), Unit: u, Sig: n.Sig, Half: half, Origin: "report"})
	}
	add(res.Value, res.Unit)
	if res.Volumetric != nil {
		add(res.Volumetric.Value, res.Volumetric.Unit)
	}
	return out
}

func newEstimate(m estimate.Measured, o estimate.Outcome) Estimate {
	r := o.Row
	e := Estimate{Analyte: o.Analyte, Method: o.Method, Unit: r.ToUnit, NoInterval: o.None, Equation: r.ID, InDomain: string(o.Standing), Outside: o.Outside, Unknown: o.Unknown,
		Verdict: string(r.Verdict), Steps: []Step{}, Source: r.Sources[0], Provenance: r.Provenance}
	if o.Standing == estimate.Outside {
		return e
	}
	e.Value = Decimal(o.Value)
	if o.Percent > 0 {
		e.Interval = &Interval{Low: Decimal(o.Low), High: Decimal(o.High), Percent: o.Percent, Kind: r.Interval.Kind, Times: Decimal(o.Times)}
		switch t := r.Interval.Texts; len(t) {
		case 1:
			e.Interval.Error = Decimal(t[0])
		case 2:
			e.Interval.LeastRatio, e.Interval.MostRatio = Decimal(t[0]), Decimal(t[1])
		}
	}
	s := Step{Rule: "estimate/" + r.ID, What: methodName(m.Method) + " to " + methodName(o.Method) + ", " + byWhat(r), From: Quantity{Decimal(m.Text), m.Unit},
		Equation: r.Equation.String(), To: Quantity{e.Value, r.ToUnit}, Source: e.Source, Exact: r.Verdict == estimate.Exact}
	for _, in := range o.Inputs {
		s.Inputs = append(s.Inputs, Input{Name: in.Analyte, Value: Decimal(in.Text), Unit: in.Unit, Origin: in.Origin})
	}
	e.Steps = []Step{s}
	return e
}

// byWhat says what a row is: the equation of a publication, or a line that was
// fitted in this project to data that a publication left open.
func byWhat(r *estimate.Row) string {
	if r.Provenance != "computed" {
		return "by a published equation"
	}
	of := sourceOf(r.Sources[0]).Text
	if at := authorsAndYear.FindString(of); at != "" {
		of = at
	}
	return "by a line fitted here to the open data of " + of
}

// authorsAndYear is how an entry of the bibliography begins.
var authorsAndYear = regexp.MustCompile(`^.*?\b(19|20)\d\d\b`)

func methodName(id string) string {
	if m, ok := method.Standard().Method(id); ok {
		return m.Name
	}
	return id
}
