package dataset

import (
	"strings"

	"example.org/windrow/normalize"
)

// The positions of the columns of derived.csv.
const (
	derSample = iota
	derReport
	derQuantity
	derName
	derValue
	derUnit
	derMethod
	derInputs
	derEquation
	derRow
	derVerdict
	derDomain
	derUnknown
	derThreshold
	derAgainst
	derStatus
	derNote
	derSource
	numDerivedColumns
)

// DerivedColumns are the columns of derived.csv, in order.
func DerivedColumns() []Column { return append([]Column(nil), derivedColumns[:]...) }

var derivedColumns = [numDerivedColumns]Column{
	derSample:    {"sample", "code", "where", "The code of the sample, as in results.csv."},
	derReport:    {"report", "integer", "where", "Which report of the sample, as in results.csv."},
	derQuantity:  {"quantity", "code", "computed", "What was worked out, such as ECEC or Ca:Mg. Nobody measured it."},
	derName:      {"name", "text", "computed", "The quantity in words."},
	derValue:     {"computed_value", "number", "computed", "What the equation gives for the sample's measured results. Never a measurement."},
	derUnit:      {"unit", "code", "computed", "Unit of computed_value; ratio and index are no units."},
	derMethod:    {"method", "code", "computed", "The method that gave the inputs which name none of their own. Values by different methods are not comparable."},
	derInputs:    {"inputs", "text", "computed", "The measured results that it was worked out of, divided by semicolons."},
	derEquation:  {"equation", "text", "computed", "The equation, in the names of the inputs."},
	derRow:       {"row", "code", "computed", "Id in the table of derived quantities of this version. Two rows of one quantity are two ways to it."},
	derVerdict:   {"verdict", "code", "computed", "exact: so by definition. an equation with limits: a published regression. estimate only: a customary factor."},
	derDomain:    {"in_domain", "code", "computed", "inside: the sample meets every condition of the equation. unknown: some can't be tested."},
	derUnknown:   {"not_known", "text", "computed", "The conditions that can't be tested, divided by semicolons."},
	derThreshold: {"threshold", "number", "computed", "A line that the publication draws. Empty: it draws none."},
	derAgainst:   {"against_threshold", "code", "computed", "below or not below threshold."},
	derStatus:    {"status", "code", "quality", "ok, or flagged: an input is."},
	derNote:      {"note", "text", "computed", "What is to be known of the quantity besides."},
	derSource:    {"source", "code", "computed", "Key of the publication; the codebook lists them."},
}

// derivedRows are the rows of derived.csv for a record; of is a row of it in
// results.csv.
func derivedRows(of row, rec *normalize.Record) []row {
	var out []row
	for i, d := range normalize.Derive(rec) {
		f := make([]string, numDerivedColumns)
		var inputs []string
		for _, in := range d.Inputs {
			inputs = append(inputs, in.Name+" "+string(in.Value)+" "+in.Unit)
		}
		f[derSample], f[derReport] = of.fields[colSample], of.fields[colReport]
		f[derQuantity], f[derName], f[derValue], f[derUnit] = text(d.Quantity), text(d.Name), number(d.Value), text(d.Unit)
		f[derMethod], f[derInputs], f[derEquation] = text(d.Method), text(strings.Join(inputs, "; ")), text(d.Equation)
		f[derRow], f[derVerdict], f[derDomain], f[derUnknown] = text(d.Row), text(d.Verdict), text(d.InDomain), text(strings.Join(d.Unknown, "; "))
		if d.Threshold != "" {
			f[derThreshold], f[derAgainst] = number(d.Threshold), "below"
			if d.Above {
				f[derAgainst] = "not below"
			}
		}
		f[derStatus], f[derNote], f[derSource] = string(d.Status), text(d.Note), text(d.Source)
		out = append(out, row{of.order + pad(i), f})
	}
	return out
}
