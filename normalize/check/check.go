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

	"example.org/windrow/ingest"
)

// A Result is what the checks need to know of one result.
type Result struct {
	Analyte, Name, Detail, Method, Basis string // ids, and the analyte's name in words
	Unit                                 string // of Value
	Printed, PrintedUnit                 string
	Has                                  bool // Value is a number
	Value, Half                          float64
	Censored                             string  // "<" or ">"
	PerCharge                            float64 // mg/kg in one cmol(+)/kg of the ion, 0 when it has none
	Rank                                 int     // of the printed rating among our classes, 0 when there is none
	Rating                               string  // as printed
	Class                                string  // a value in words
	PossibleLow, PossibleHigh            float64 // both 0 when not limited
	UsualLow, UsualHigh                  float64
	MethodKind                           string // extraction, solution, total, ...
	MethodFits                           bool   // the method is used for this analyte, or none is stated
}

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
	Sampled, Received, Reported string // YYYY-MM-DD or ""
	Results                     []Result
}

// A Report is the facts of one report.
type Report struct{ Samples []Sample }

// A Found is what a check found about some results of a sample, or about the
// sample as a whole when Results is empty.
type Found struct {
	Sample   int   // index in Report.Samples
	Results  []int // indices in Sample.Results
	What     string
	Expected string
	Found    string
}

// A Check is one test. Run calls add for everything it finds.
type Check struct {
	Code     string // stable; documented by Title
	Severity ingest.Severity
	Title    string // what must hold
	Source   string // key in the bibliography
	Run      func(r *Report, add func(Found))
}

// All is every check, in the order they run. The list is the documentation.
func All() []Check {
	return []Check{
		{"impossible-value", ingest.Hold, "a value lies in the range that is possible at all (pH 0 to 14, organic matter 0 to 100 %)", "definition", impossible},
		{"unusual-value", ingest.Flag, "a value lies in the range seen in soils", "common-practice", unusual},
		{"cec-sum", ingest.Flag, "a CEC by summation is the sum of the printed cations and acidity", "clemson-cec", cecSum},
		{"saturations-sum", ingest.Flag, "the saturations of the cations and of acidity make 100 %", "rayment-lyons-2011", saturationsSum},
		{"saturation-of-cation", ingest.Flag, "each saturation is that cation's share of the CEC", "rayment-lyons-2011", saturationOfCation},
		{"base-saturation-total", ingest.Flag, "the base saturation is what acidity leaves of the CEC, and the sum of the saturations of the bases", "rayment-lyons-2011", baseSaturationTotal},
		{"acidity-above-cec", ingest.Flag, "acidity is no more than the CEC it is part of", "definition", acidityAboveCEC},
		{"buffer-above-start", ingest.Flag, "a buffer pH is no higher than the pH the buffer starts from", "common-practice", bufferAboveStart},
		{"buffer-below-soil", ingest.Flag, "a buffer pH is not a unit below both the soil pH and the pH the buffer starts from", "common-practice", bufferBelowSoil},
		{"acidity-order", ingest.Flag, "of two samples of a report with one buffer, the one with the lower buffer pH has no less acidity", "common-practice", acidityOrder},
		{"buffer-not-needed", ingest.Note, "a buffer pH is run on acid soils only", "common-practice", bufferNotNeeded},
		{"sar-of-extract", ingest.Flag, "the sodium adsorption ratio is that of the sodium, calcium and magnesium printed for the same extract", "ussl-1954", sarOfExtract},
		{"units-disagree", ingest.Flag, "one test printed in two units (lb/acre and ppm) is the same amount", "arithmetic", unitsDisagree},
		{"bases-disagree", ingest.Flag, "one test printed as element and as oxide is the same amount", "iupac-weights", basesDisagree},
		{"read-twice", ingest.Flag, "one test of one sample in one unit is printed once, or alike", "definition", readTwice},
		{"particle-sum", ingest.Flag, "sand, silt and clay make 100 %", "definition", particleSum},
		{"texture-class", ingest.Flag, "the texture class is that of the sand, silt and clay printed beside it", "usda-triangle", textureClass},
		{"extract-above-total", ingest.Flag, "an extract holds no more of a metal than there is in total", "definition", extractAboveTotal},
		{"carbon-above-matter", ingest.Flag, "organic carbon is less than the organic matter it is part of", "definition", carbonAboveMatter},
		{"method-unfit", ingest.Flag, "a method is used for the tests it is meant for", "common-practice", methodUnfit},
		{"dates-order", ingest.Flag, "a sample is taken, received and reported in that order", "definition", datesOrder},
		{"sample-number-twice", ingest.Flag, "a laboratory number names one sample of a report", "common-practice", numberTwice},
		{"identical-samples", ingest.Flag, "two samples do not agree in every digit of many results", "common-practice", identicalSamples},
		{"rating-order", ingest.Flag, "of two samples for one land use, the one with more of something is not rated lower", "common-practice", ratingOrder},
	}
}

func num(v float64) string { return strconv.FormatFloat(v, 'g', 4, 64) }

func span(lo, hi float64) string { return num(lo) + " to " + num(hi) }

// one gives the only result of an analyte that has a number in the wanted
// unit; none when there are two, since then nothing says which is meant.
func (s *Sample) one(analyte, unit string) (int, *Result) {
	at := -1
	for i := range s.Results {
		r := &s.Results[i]
		if r.Analyte != analyte || !r.Has || r.Unit != unit || r.MethodKind == "solution" || r.MethodKind == "total" {
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
