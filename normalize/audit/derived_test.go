package audit

import (
	"testing"

	"example.org/windrow/normalize"
)

// A quantity that follows from results is recomputed like every other number,
// and each damage to one is told.
func TestDerivedIsRecomputed(t *testing.T) {
	rec := &normalize.Record{ID: "R0000000000000000-1", Status: normalize.OK}
	for _, r := range [][2]string{{"Ca", "1200"}, {"Mg", "146"}} {
		rec.Results = append(rec.Results, &normalize.Result{Analyte: r[0], Method: "mehlich-3", Basis: r[0], Status: normalize.OK, Unit: "mg/kg", Value: normalize.Decimal(r[1]),
			Printed: normalize.Printed{Text: r[1], Number: normalize.Decimal(r[1])}})
	}
	rep := &normalize.Report{ID: "R0000000000000000", Records: []*normalize.Record{rec}}
	c := NewChecker(normalize.Sources())
	c.rep, c.rec = rep, rec
	c.derived()
	if len(c.found) > 0 || c.tally.Derived != 1 {
		t.Fatalf("%d derived, %v", c.tally.Derived, c.found)
	}
	for what, damage := range map[string]struct {
		code   string
		change func(*normalize.Derived)
	}{
		"a value":     {CodeDerived, func(d *normalize.Derived) { d.Value = "4.990" }},
		"a factor":    {CodeDerived, func(d *normalize.Derived) { d.Equation = "(Ca/201.39)/(Mg/121.525)" }},
		"an equation": {CodeEquation, func(d *normalize.Derived) { d.Equation = "Ca/" }},
		"a number":    {CodeEquation, func(d *normalize.Derived) { d.Inputs[0].Value = "a lot" }},
		"a source":    {CodeSource, func(d *normalize.Derived) { d.Source = "hearsay" }},
		"an input of nothing": {CodeInput, func(d *normalize.Derived) {
			d.Inputs[0].Value = "1201"
			d.Equation = "(Ca/200.557)/(Mg/121.525)"
		}},
	} {
		d := normalize.Derive(rec)[0]
		damage.change(&d)
		c.found = nil
		c.deduction(&d)
		if len(c.found) == 0 || c.found[0].Code != damage.code {
			t.Errorf("%s: %q, want %s", what, codes(c.found), damage.code)
		}
	}
}
