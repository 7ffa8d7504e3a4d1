package audit

import (
	"slices"

	"github.com/cockroachdb/apd/v3"

	"example.org/windrow/normalize"
	"example.org/windrow/normalize/formula"
)

// derived recomputes the quantities that follow from the results of the record
// at work. No record holds them: it is what would be shown that is examined.
func (c *Checker) derived() {
	for _, d := range normalize.Derive(c.rec) {
		c.tally.Derived++
		c.deduction(&d)
	}
}

// deduction wants a derived quantity to be what its equation gives for results
// of this record, and its source to be known.
func (c *Checker) deduction(d *normalize.Derived) {
	name := "derived " + d.Row
	c.source(d.Source, name)
	names := map[string]*apd.Decimal{}
	for _, in := range d.Inputs {
		x, err := formula.Number(string(in.Value))
		if err != nil {
			c.differs(CodeEquation, name, "a plain number", string(in.Value), "%s can't be read", in.Name)
			return
		}
		names[in.Name] = x
		q := normalize.Quantity{Value: in.Value, Unit: in.Unit}
		if !slices.ContainsFunc(c.rec.Results, func(res *normalize.Result) bool { return slices.Contains(numbersOf(res), q) }) {
			c.differs(CodeInput, name, "a number that was measured in the same sample", in.Name+": "+quantity(q), "an input of the derived quantity is no result of this record")
		}
	}
	y, err := formula.Eval(d.Equation, names)
	if err != nil {
		c.differs(CodeEquation, name, d.Equation, err.Error(), "the derived quantity can't be worked out again")
		return
	}
	v, err := formula.Number(string(d.Value))
	if err != nil || !formula.Within(v, y, decimals(string(d.Value))) {
		c.differs(CodeDerived, name, formula.Text(y, 8)+" "+d.Unit, quantity(normalize.Quantity{Value: d.Value, Unit: d.Unit}), "%s does not give the derived quantity", d.Equation)
	}
}
