package audit

import (
	"fmt"
	"slices"
	"strings"

	"github.com/cockroachdb/apd/v3"

	"example.org/windrow/normalize"
	"example.org/windrow/normalize/formula"
)

// A chain is a number on its way through steps.
type chain struct {
	c       *Checker
	name    string // what its steps are called: "step", "form step"
	first   int    // how many steps of that name came before
	digits  int    // that the outcome may keep
	x       *apd.Decimal
	at      normalize.Quantity // as the record shows it
	units   []string           // the units that the first step may begin in
	closes  bool               // the last step's outcome is rounded as a value is
	printed bool               // it begins at a printed number, which may be written as 0.5 or .5

	shifted bool // nothing but powers of ten was applied
}

// follow leads the number through the steps and tells what differs. It is
// false where a step could not be computed or came to something else: what
// comes after is then not worth telling.
func (ch *chain) follow(steps []normalize.Step, volumetric *normalize.Quantity) bool {
	ch.shifted = true
	seenVolume := volumetric == nil
	meets := func() {
		if seenVolume || volumetric.Unit != ch.at.Unit {
			return
		}
		if v, err := formula.Number(string(volumetric.Value)); err == nil && formula.Within(v, ch.x, formula.Places(ch.x, ch.digits)) {
			seenVolume = true
		}
	}
	start := ch.at
	if len(steps) > 0 {
		ch.at.Unit = steps[0].From.Unit // which link compares with what is printed
	} else if len(ch.units) > 0 {
		ch.at.Unit = ch.units[0]
	}
	meets()
	ch.at = start
	for i := range steps {
		s := &steps[i]
		name := fmt.Sprintf("%s %d", ch.name, ch.first+i+1)
		ch.c.tally.Steps++
		ch.c.source(s.Source, name)
		ch.c.sameSource(name, s)
		ch.link(i, name, s)
		y, ok := ch.apply(name, s)
		if !ok {
			return false
		}
		n := ch.digits
		if !ch.closes || i < len(steps)-1 {
			n += guard
		}
		to, err := formula.Number(string(s.To.Value))
		switch {
		case err != nil:
			ch.c.differs(CodeStep, name, "a plain number", string(s.To.Value), "the outcome of the step can't be read")
			return false
		case !formula.Within(to, y, formula.Places(y, n)):
			ch.c.differs(CodeStep, name, formula.Text(y, n)+" "+s.To.Unit, quantity(s.To), "%s %s does not give what the step says", quantity(s.From), how(s))
			return false
		}
		ch.x, ch.at = y, s.To
		meets()
	}
	if !seenVolume {
		ch.c.differs(CodeForm, "", "a step that comes to it", quantity(*volumetric), "the value by volume is the outcome of no step")
	}
	return true
}

// link compares the beginning of a step with where the chain stands.
func (ch *chain) link(i int, name string, s *normalize.Step) {
	if i > 0 {
		if s.From != ch.at {
			ch.c.differs(CodeLink, name, quantity(ch.at), quantity(s.From), "the step does not begin where the one before it ended")
		}
		return
	}
	if from, err := formula.Number(string(s.From.Value)); err != nil || from.Cmp(ch.x) != 0 && ch.printed || s.From.Value != ch.at.Value && !ch.printed {
		ch.c.differs(CodeStart, name, string(ch.at.Value), string(s.From.Value), "the first step does not begin at the printed number")
	}
	if !slices.Contains(ch.units, s.From.Unit) {
		ch.c.differs(CodeStart, name, ch.units[0], s.From.Unit, "the first step does not begin in the printed unit")
	}
}

func how(s *normalize.Step) string {
	if s.Factor != "" {
		return "× " + s.Factor
	}
	return "by " + s.Equation
}

// apply computes one step from the unrounded number before it, and compares
// factor and inputs.
func (ch *chain) apply(name string, s *normalize.Step) (*apd.Decimal, bool) {
	c := ch.c
	rel := relationOf(s.Rule)
	var names map[string]*apd.Decimal
	if len(s.Inputs) > 0 || s.Equation != "" || s.Factor == "" {
		var err error
		if names, err = inputs(s); err != nil {
			c.differs(CodeEquation, name, "plain numbers", err.Error(), "an input of the step can't be read")
			return nil, false
		}
	}
	if s.Factor == "" {
		ch.shifted = false
		return ch.equation(name, s, rel, names)
	}
	f, err := c.factor(s.Factor)
	if err != nil {
		c.differs(CodeEquation, name, "a decimal number or a fraction", s.Factor, "the factor can't be read")
		return nil, false
	}
	if reduced, _ := new(apd.Decimal).Reduce(f); reduced.Coeff.Cmp(apd.NewBigInt(1)) != 0 {
		ch.shifted = false
	}
	y := formula.Times(ch.x, f)
	if s.Equation != "" { // both: then both must say the same
		if z, ok := ch.equation(name, s, nil, names); ok && !formula.Within(z, y, formula.Places(y, ch.digits+guard)) {
			c.differs(CodeStep, name, formula.Text(z, 12), formula.Text(y, 12), "factor and equation of the step do not agree")
		}
	}
	switch {
	case len(s.Inputs) == 0:
		c.sameFactor(name, s)
	case rel != nil && rel.factor != "":
		want, ok, err := rel.agrees(f, s, names)
		if err != nil {
			c.differs(CodeInput, name, rel.factor, err.Error(), "the inputs of the step do not give its factor")
		} else if !ok {
			c.differs(CodeInput, name, formula.Text(want, 8)+" = "+rel.factor, s.Factor, "the inputs of the step give another factor")
		}
		ch.unexplained(name, s, func(in string) bool { return strings.Contains(rel.factor, in) || slices.Contains(rel.tells, in) })
		ch.density(name, s)
	case s.Equation == "":
		ch.unexplained(name, s, func(string) bool { return false })
	}
	return y, true
}

// equation computes a step that has no factor.
func (ch *chain) equation(name string, s *normalize.Step, rel *relation, names map[string]*apd.Decimal) (*apd.Decimal, bool) {
	text := s.Equation
	if rel != nil && rel.value != "" {
		text = rel.value
	}
	if text == "" {
		ch.c.differs(CodeEquation, name, "a factor or an equation", "neither", "the step does not say how its outcome was reached")
		return nil, false
	}
	names["x"] = ch.x
	y, err := formula.Eval(text, names)
	if err != nil {
		ch.c.differs(CodeEquation, name, "an equation in x and the inputs", err.Error(), "the equation can't be computed")
		return nil, false
	}
	used, _ := formula.Names(text, names) // it has just been computed
	ch.unexplained(name, s, func(in string) bool { return used[in] })
	if rel != nil && rel.value != "" {
		// The number of a cell takes the place of the one that it shows, which
		// must be a rounding of it. Binary numbers lie beside a tie.
		places := decimals(string(s.From.Value))
		if !formula.Within(ch.x, y, places) && !formula.Within(ch.x, formula.Times(y, apd.New(1_000_001, -6)), places) {
			ch.c.differs(CodeInput, name, string(s.From.Value)+" as a rounding of it", formula.Text(y, 20), "the number shown is no rounding of the number that took its place")
		}
	}
	return y, true
}

func (ch *chain) unexplained(name string, s *normalize.Step, explained func(string) bool) {
	for _, in := range s.Inputs {
		if !explained(in.Name) {
			ch.c.differs(CodeUnused, name, "an equation or relation that uses it", in.Name+": "+string(in.Value)+" "+in.Unit, "nothing in the step says what this input has to do with it")
		}
	}
}

// density compares the density that a step names with the one that the same
// report prints for the same sample.
func (ch *chain) density(name string, s *normalize.Step) {
	for _, in := range s.Inputs {
		if in.Name != "density of the scooped soil" || in.Origin != "report" {
			continue
		}
		for _, res := range ch.c.rec.Results {
			if res.Analyte != "density" || res.Value == "" {
				continue
			}
			v, err := formula.Number(string(res.Value))
			w, werr := formula.Number(string(in.Value))
			if err != nil || werr != nil || res.Unit != in.Unit {
				continue
			}
			if !formula.Within(v, w, formula.Places(v, 4)) {
				ch.c.differs(CodeInput, name, quantity(normalize.Quantity{Value: res.Value, Unit: res.Unit}), quantity(normalize.Quantity{Value: in.Value, Unit: in.Unit}), "the density is not the one that the report prints for this sample")
			}
			return
		}
	}
}

// sameFactor compares the factor of a conversion with its other uses.
func (c *Checker) sameFactor(name string, s *normalize.Step) {
	key := c.rep.Tables + "\x00" + s.Rule + "\x00" + s.From.Unit + "\x00" + s.To.Unit
	first, ok := c.factors[key]
	if !ok {
		c.factors[key] = firstUse{s.Factor, c.rec.ID}
		return
	}
	if first.factor != s.Factor {
		c.differs(CodeFactor, name, first.factor+", as in record "+first.record, s.Factor, "the conversion %s has another factor elsewhere, under the same tables; one of the two is wrong", s.Rule)
	}
}

// factor is formula.Factor, once for each text.
func (c *Checker) factor(s string) (*apd.Decimal, error) {
	if d, ok := c.numbers[s]; ok {
		return d, nil
	}
	d, err := formula.Factor(s)
	if err == nil && len(c.numbers) < 10_000 {
		c.numbers[s] = d
	}
	return d, err
}
