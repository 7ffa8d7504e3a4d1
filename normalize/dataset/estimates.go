package dataset

import (
	"strconv"
	"strings"

	"example.org/windrow/normalize"
)

// The positions of the columns of estimates.csv.
const (
	estSample = iota
	estReport
	estAnalyte
	estDetail
	estMethod
	estMeasured
	estMeasuredUnit
	estAnalyteTo
	estMethodTo
	estEstimate
	estUnit
	estLow
	estHigh
	estPercent
	estEquation
	estVerdict
	estDomain
	estUnknown
	estNote
	estSource
	numEstimateColumns
)

// EstimateColumns are the columns of estimates.csv, in order.
func EstimateColumns() []Column { return append([]Column(nil), estimateColumns[:]...) }

var estimateColumns = [numEstimateColumns]Column{
	estSample:       {"sample", "code", "where", "The code of the sample, as in results.csv."},
	estReport:       {"report", "integer", "where", "Which report of the sample, as in results.csv."},
	estAnalyte:      {"analyte", "code", "measured", "What was determined, as in results.csv."},
	estDetail:       {"detail", "text", "measured", "Tells two tests of one analyte apart, as in results.csv."},
	estMethod:       {"method", "code", "measured", "The method that was used."},
	estMeasured:     {"measured", "number", "measured", "The measured number that the equation was given."},
	estMeasuredUnit: {"measured_unit", "code", "measured", "Unit of measured."},
	estAnalyteTo:    {"estimated_analyte", "code", "estimate", "What is estimated; mostly the same analyte."},
	estMethodTo:     {"estimated_method", "code", "estimate", "The method whose outcome is estimated. It was not run on this sample."},
	estEstimate:     {"estimate", "number", "estimate", "The estimate. Never a measurement."},
	estUnit:         {"estimate_unit", "code", "estimate", "Unit of estimate, low and high."},
	estLow:          {"low", "number", "estimate", "Lower bound of an interval. Empty: the source states no error of single samples, so that there is none."},
	estHigh:         {"high", "number", "estimate", "Upper bound of it."},
	estPercent:      {"percent", "number", "estimate", "Share of samples, in percent, expected between low and high, by the error that the source states for its own soils."},
	estEquation:     {"equation", "code", "estimate", "Id of the equation in the table of conversions of this version."},
	estVerdict:      {"verdict", "code", "estimate", "What the equation is worth, whoever is asked: exact, equal, an equation with limits (a published regression or ratio), or estimate only (a ratio of means, a convention, an equation turned round)."},
	estDomain:       {"in_domain", "code", "estimate", "inside: the sample meets every condition that the equation was made under. unknown: some can't be tested."},
	estUnknown:      {"not_known", "text", "estimate", "The conditions that can't be tested, divided by semicolons."},
	estNote:         {"note", "text", "estimate", "What the table of conversions says of the equation besides, such as that its authors would rather not convert."},
	estSource:       {"source", "code", "estimate", "Key of the publication; the codebook lists them."},
}

// estimateRows are the rows of estimates.csv for a result whose row of
// results.csv is of. Those outside the domain of their equation have no
// number and are left out.
func estimateRows(of row, res *normalize.Result) []row {
	var out []row
	for i, e := range res.Estimates {
		if e.Value == "" || len(e.Steps) == 0 {
			continue
		}
		f := make([]string, numEstimateColumns)
		f[estSample], f[estReport] = of.fields[colSample], of.fields[colReport]
		f[estAnalyte], f[estDetail], f[estMethod] = of.fields[colAnalyte], of.fields[colDetail], of.fields[colMethod]
		f[estMeasured], f[estMeasuredUnit] = number(e.Steps[0].From.Value), text(e.Steps[0].From.Unit)
		f[estAnalyteTo], f[estMethodTo], f[estEstimate], f[estUnit] = text(e.Analyte), text(e.Method), number(e.Value), text(e.Unit)
		if e.Interval != nil {
			f[estLow], f[estHigh], f[estPercent] = number(e.Interval.Low), number(e.Interval.High), strconv.Itoa(e.Interval.Percent)
		}
		f[estEquation], f[estVerdict], f[estDomain] = text(e.Equation), text(e.Verdict), text(e.InDomain)
		f[estUnknown], f[estSource] = text(strings.Join(e.Unknown, "; ")), text(e.Source)
		f[estNote] = text(normalize.NoteOf(e.Equation))
		out = append(out, row{of.order + pad(i), f})
	}
	return out
}
