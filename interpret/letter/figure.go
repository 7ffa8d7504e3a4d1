package letter

import (
	"strings"

	"example.org/windrow/interpret"
	"example.org/windrow/normalize"
)

// A figure is how a letter gives a result: a number, its unit, and in small
// print what else the number may be known as.
type figure struct{ number, unit, same string }

// of is a result in figures. A number goes by the name of an element only if
// it is of that element: what the laboratory printed as an oxide or an ion
// stands beside the element's amount, with its own name and as printed. Other
// numbers are as printed, but with a decimal point, whatever mark the
// laboratory prints.
func (v *view) of(res *normalize.Result) figure {
	printed := strings.TrimSpace(res.Printed.Text + " " + res.Printed.Unit)
	if form := res.Form(); form != "" && res.Value != "" {
		return figure{res.Censored + string(res.Value), shortUnit(res.Unit), v.say("printed_as", "value", printed, "form", form)}
	}
	f := figure{number: res.Printed.Text, unit: res.Printed.Unit}
	// As printed, unless whoever reads a decimal point would read another number.
	if n := string(res.Printed.Number); n != "" && !strings.Contains(strings.ReplaceAll(res.Printed.Text, ",", ""), n) {
		f.number = res.Censored + n
	}
	if res.Value != "" && !sameUnit(f.unit, res.Unit) {
		f.same = "= " + res.Censored + string(res.Value) + " " + shortUnit(res.Unit)
	}
	return f
}

// inline is a figure within a sentence.
func (f figure) inline() string {
	s := strings.TrimSpace(f.number + " " + f.unit)
	if f.same != "" && !strings.HasPrefix(f.same, "=") {
		s += " (" + f.same + ")"
	}
	return s
}

// resultOf is the result that a rating is of.
func resultOf(rec *normalize.Record, r interpret.Rating) *normalize.Result {
	for _, res := range rec.Results {
		if res.Analyte == r.Analyte && res.Detail == r.Detail && res.MethodName == r.Method && res.Printed.Text == r.Printed {
			return res
		}
	}
	return &normalize.Result{Analyte: r.Analyte, Censored: r.Censored, Value: normalize.Decimal(r.Value), Unit: r.Unit, Printed: normalize.Printed{Text: r.Printed, Unit: r.PrintUnit}}
}
