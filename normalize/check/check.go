// Package check is the cross-examination of a report: what the numbers of
// one report say about each other.
//
// Enters: a Report of plain facts, each value with half a unit of its last
// printed digit, so that rounding is never taken for an error.
// Leaves: what was found, each with a stable code, a severity, a sentence for
// a clerk and a source.
// Never: it edits a value, and it finds nothing in a report whose numbers
// agree within the rounding of their printed digits.
//
// It is a leaf: it imports nothing of its parent, which hands it the facts
// and puts what it found into the record.
package check

import (
	"math"
	"strconv"
	"sync"
)

// A Result is what the checks need to know of one result.
type Result struct {
	Analyte, Name, Detail, Method, Basis string // ids, and the analyte's name in words
	Unit                                 string // of Value
	Printed, PrintedUnit                 string
	Number                               float64 // as printed, before any conversion; 0 when there is none
	Places                               int     // decimals as printed
	Has                                  bool    // Value is a number
	Value, Half                          float64
	Written                              string  // Value as the record writes it
	Censored                             string  // "<" or ">"
	PerCharge                            float64 // mg/kg in one cmol(+)/kg of the ion, 0 when it has none
	Rank                                 int     // of the printed rating among our classes, 0 when there is none
	Rating                               string  // as printed
	Band                                 *Band   // what Rating stands for, in the unit as printed; nil when nobody says
	Class                                string  // a value in words
	PossibleLow, PossibleHigh            float64 // both 0 when not limited
	UsualLow, UsualHigh                  float64
	MethodKind                           string // extraction, solution, total, ...
	Restates                             bool   // another result of the sample says the same in another unit or basis, and is the one that counts
	Per                                  string // PerVolume or PerMass: what the amount is taken to be of; "" where it is neither, as a pH
	MethodWords, Label                   string // method, and label or heading, as printed; "" where none is
	MethodFits                           bool   // the method is used for this analyte, or none is stated
}

// A Band is the numbers that a rating stands for; an open end is infinite.
type Band struct{ Low, High float64 }

// Low and High are the ends of what the printed number may stand for.
func (r *Result) Low() float64 {
	if r.Censored == "<" {
		return 0
	}
	return r.Value - r.Half
}

// High is the upper end of what the printed number may stand for.
func (r *Result) High() float64 {
	if r.Censored == ">" {
		return math.Inf(1)
	}
	return r.Value + r.Half
}

// A Sample is the facts of one sample.
type Sample struct {
	LabID, Label, LandUse       string
	Sampled, Received, Reported string  // YYYY-MM-DD or ""
	Top, Depth                  float64 // where the layer sampled begins and ends, below the surface, in centimetres; Depth is 0 when not known
	Results                     []Result
}

// Beside reports whether two samples are known to be of layers that share no
// soil. Layers of one profile often have one number.
func (s *Sample) Beside(o *Sample) bool {
	return s.Depth > 0 && o.Depth > 0 && (s.Top >= o.Depth || o.Top >= s.Depth)
}

// A Report is the facts of one report, and what is known besides it.
type Report struct {
	Lab     string // id of the laboratory
	Number  string // of the report
	Arrived string // YYYY-MM-DD, the day the report came, "" when not known
	Samples []Sample
	Earlier func(s *Sample) []Earlier // earlier records that may have to do with a sample; nil when none is known of

	once    sync.Once
	columns map[testKey]*column // made when first asked for
}

// A Found is what a check found about some results of a sample, or about the
// sample as a whole when Results is empty.
type Found struct {
	Sample   int   // index in Report.Samples
	Results  []int // indices in Sample.Results
	What     string
	Expected string
	Found    string
}

func num(v float64) string { return strconv.FormatFloat(v, 'g', 4, 64) }

func span(lo, hi float64) string { return num(lo) + " to " + num(hi) }

// one gives the only result of an analyte that has a number in the wanted
// unit; none when there are two tests, since then nothing says which is meant.
func (s *Sample) one(analyte, unit string) (int, *Result) {
	at := -1
	for i := range s.Results {
		r := &s.Results[i]
		if r.Analyte != analyte || !r.Has || r.Restates || r.Unit != unit || r.MethodKind == "solution" || r.MethodKind == "total" {
			continue
		}
		if at >= 0 {
			return -1, nil
		}
		at = i
	}
	if at < 0 {
		return -1, nil
	}
	return at, &s.Results[at]
}

func each(r *Report, f func(i int, s *Sample)) {
	for i := range r.Samples {
		f(i, &r.Samples[i])
	}
}
