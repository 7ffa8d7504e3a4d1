package normalize

import (
	"math/big"

	"example.org/windrow/normalize/unit"
)

// A chain carries one number exactly from what was printed to its value, and
// writes down each link as a Step.
type chain struct {
	printed unit.Number // its digits decide how many the value is written with
	cur     *big.Rat
	factor  *big.Rat // product of the factors so far: what half a printed digit becomes
	unit    string   // unit of cur, for the steps
	shift   int      // power of ten so far, while nothing but powers of ten was applied
	density *big.Rat // of the scooped soil in g/cm3, where the number was divided by it
	general bool     // something other than a power of ten was applied
	steps   []Step
}

func newChain(n unit.Number, unitText string) *chain {
	return &chain{printed: n, cur: new(big.Rat).Set(n.Rat), factor: big.NewRat(1, 1), unit: unitText}
}

// stored replaces the shown number by the one the cell holds. The shown
// digits still decide how many the value gets.
func (c *chain) stored(full unit.Number, text string) {
	if full.Rat.Cmp(c.cur) == 0 {
		return
	}
	from := c.quantity()
	c.cur, c.general = new(big.Rat).Set(full.Rat), true
	c.steps = append(c.steps, Step{Rule: "cell/stored-number", What: "the cell holds more digits than it shows; the number it holds is used", From: from,
		Equation: "the number stored in the cell", Inputs: []Input{{Name: "number stored in the cell", Value: Decimal(text), Unit: c.unit, Origin: "report"}}, To: c.quantity(), Source: "report", Exact: true})
}

// A link is what one step applies.
type link struct {
	rule, what string
	factor     *big.Rat
	to         string // unit afterwards
	source     string
	inputs     []Input
}

func (c *chain) apply(l link) {
	from := c.quantity()
	c.cur = new(big.Rat).Mul(c.cur, l.factor)
	c.factor = new(big.Rat).Mul(c.factor, l.factor)
	if k, ok := unit.Shift(l.factor); ok {
		c.shift += k
	} else {
		c.general = true
	}
	c.unit = l.to
	c.steps = append(c.steps, Step{Rule: l.rule, What: l.what, From: from, Factor: l.factor.RatString(), Inputs: l.inputs, To: c.quantity(), Source: l.source, Exact: true})
}

// quantity is the number as a link between steps shows it: with four digits
// more than the value will have, so that rounding them changes nothing.
func (c *chain) quantity() Quantity {
	if !c.general {
		return Quantity{Decimal(unit.Shifted(c.printed, c.shift)), c.unit}
	}
	return Quantity{Decimal(unit.FormatTo(c.cur, unit.Digits(c.printed.Sig)+4, c.printed.Sig)), c.unit}
}

// value is the number as a result: by the rule of unit.Digits, or exactly
// the printed digits where only powers of ten were applied.
func (c *chain) value() Decimal {
	if !c.general {
		return Decimal(unit.Shifted(c.printed, c.shift))
	}
	return Decimal(unit.Format(c.cur, c.printed.Sig))
}

// close writes the last step's outcome as the value, rounded, and gives the
// steps.
func (c *chain) close() []Step {
	if n := len(c.steps); n > 0 {
		c.steps[n-1].To.Value = c.value()
	}
	return c.steps
}

// interval is what the printed number may stand for, in the value's unit:
// the value and half a unit of its last printed digit.
func (c *chain) interval() (value, half float64) {
	value, _ = c.cur.Float64()
	h := new(big.Rat).Mul(c.printed.Half(), c.factor)
	half, _ = h.Float64()
	return value, half
}
