package audit

import (
	"slices"

	"github.com/cockroachdb/apd/v3"

	"example.org/windrow/normalize"
	"example.org/windrow/normalize/formula"
)

// outsideDomain is what an estimate says of itself that was asked for beyond
// the domain of its equation, and so has no number.
const outsideDomain = "outside"

// estimates recomputes what other methods would find, each from the measured
// number and the inputs that its step names.
func (c *Checker) estimates() {
	for i := range c.res.Estimates {
		e := &c.res.Estimates[i]
		name := "estimate " + e.Equation
		c.source(e.Source, name)
		c.standing(e, name)
		if e.InDomain == outsideDomain || e.Value == "" {
			if e.InDomain != outsideDomain || e.Value != "" || len(e.Steps) > 0 {
				c.differs(CodeEstimate, name, "a number inside the domain or in an unknown one, and none outside", quantity(normalize.Quantity{Value: e.Value, Unit: e.Unit})+" "+e.InDomain, "domain and number of the estimate do not fit")
			}
			continue
		}
		c.tally.Estimates++
		c.estimate(e, name)
	}
}

func (c *Checker) estimate(e *normalize.Estimate, name string) {
	if len(e.Steps) == 0 {
		c.differs(CodeEstimate, name, "a step", "none", "an estimate has no step that leads to it")
		return
	}
	start := e.Steps[0].From
	if !slices.ContainsFunc(numbersOf(c.res), func(q normalize.Quantity) bool { return q == start }) {
		c.differs(CodeLink, name, quantity(normalize.Quantity{Value: c.res.Value, Unit: c.res.Unit}), quantity(start), "an estimate does not begin at what was measured")
	}
	x, err := formula.Number(string(start.Value))
	if err != nil {
		c.differs(CodeEquation, name, "a plain number", string(start.Value), "the number that the estimate begins at can't be read")
		return
	}
	ch := chain{c: c, x: x, at: start, digits: keep(formula.Significant(string(start.Value)))}
	for i := range e.Steps {
		s := &e.Steps[i]
		c.tally.Steps++
		c.source(s.Source, name)
		c.sameSource(name, s)
		if s.From != ch.at {
			c.differs(CodeLink, name, quantity(ch.at), quantity(s.From), "the step does not begin where the one before it ended")
		}
		y, ok := ch.apply(name, s)
		if !ok {
			return
		}
		to, err := formula.Number(string(s.To.Value))
		if err != nil || !formula.Within(to, y, decimals(string(s.To.Value))) {
			c.differs(CodeEstimate, name, formula.Text(y, 8)+" "+s.To.Unit, quantity(s.To), "%s %s does not give the estimate", quantity(s.From), how(s))
			return
		}
		ch.x, ch.at = y, s.To
		c.measured(name, s)
		c.sameEquation(name, s)
	}
	if want := (normalize.Quantity{Value: e.Value, Unit: e.Unit}); ch.at != want {
		c.differs(CodeEnd, name, quantity(want), quantity(ch.at), "the last step does not end at the estimate")
	}
	c.interval(e, name, x, ch.x)
}

// measured wants each input of an estimate to be a number of the same record.
func (c *Checker) measured(name string, s *normalize.Step) {
	for _, in := range s.Inputs {
		if in.Origin != "report" {
			continue
		}
		q := normalize.Quantity{Value: in.Value, Unit: in.Unit}
		if !slices.ContainsFunc(c.rec.Results, func(res *normalize.Result) bool { return slices.Contains(numbersOf(res), q) }) {
			c.differs(CodeInput, name, "a number that was measured in the same sample", in.Name+": "+quantity(q), "an input of the estimate is no result of this record")
		}
	}
}

func numbersOf(res *normalize.Result) []normalize.Quantity {
	out := []normalize.Quantity{{Value: res.Value, Unit: res.Unit}}
	if res.Volumetric != nil {
		out = append(out, *res.Volumetric)
	}
	return out
}

// sameEquation compares the equation under an id with its other uses.
func (c *Checker) sameEquation(name string, s *normalize.Step) {
	key := c.rep.Tables + "\x00" + s.Rule
	first, ok := c.factors[key]
	if !ok {
		c.factors[key] = firstUse{s.Equation, c.rec.ID}
	} else if first.factor != s.Equation {
		c.differs(CodeFactor, name, first.factor+", as in record "+first.record, s.Equation, "the equation %s is another one elsewhere, under the same tables; one of the two is wrong", s.Rule)
	}
}

// interval makes the interval again from the error and multiplier beside it,
// and wants the estimate inside.
func (c *Checker) interval(e *normalize.Estimate, name string, x, y *apd.Decimal) {
	if e.Interval == nil {
		return
	}
	low, err := formula.Number(string(e.Interval.Low))
	high, err2 := formula.Number(string(e.Interval.High))
	v, err3 := formula.Number(string(e.Value))
	if err != nil || err2 != nil || err3 != nil || low.Cmp(v) > 0 || v.Cmp(high) > 0 {
		c.differs(CodeEstimate, name, "between "+string(e.Interval.Low)+" and "+string(e.Interval.High), string(e.Value), "the estimate lies outside its own interval")
		return
	}
	below, above := bounds90[e.Interval.Kind].below, bounds90[e.Interval.Kind].above
	if below == "" {
		if e.Interval.Kind != "" || c.rep.Tables == c.current {
			c.differs(CodeInterval, name, "an error or ratio that the interval was made of", "kind “"+e.Interval.Kind+"”", "the interval can't be made again from what stands beside it")
		}
		return // a record of an earlier version, which kept none
	}
	names := map[string]*apd.Decimal{"x": x, "y": y}
	for n, d := range map[string]normalize.Decimal{"error": e.Interval.Error, "times": e.Interval.Times, "least": e.Interval.LeastRatio, "most": e.Interval.MostRatio} {
		if d == "" {
			continue
		}
		if names[n], err = formula.Number(string(d)); err != nil {
			c.differs(CodeInterval, name, "a plain number", string(d), "the interval can't be made again from what stands beside it")
			return
		}
	}
	for _, b := range []struct {
		what, equation string
		found          *apd.Decimal
		text           normalize.Decimal
		up             bool
	}{{"lower", below, low, e.Interval.Low, false}, {"upper", above, high, e.Interval.High, true}} {
		want, err := formula.Eval(b.equation, names)
		if err != nil {
			c.differs(CodeInterval, name, b.equation, err.Error(), "the %s bound of the interval can't be made again", b.what)
			continue
		}
		if !outwards(b.found, want, decimals(string(b.text)), b.up) {
			c.differs(CodeInterval, name, formula.Text(want, 8)+", rounded outwards", string(b.text), "%s does not give the %s bound of the interval", b.equation, b.what)
		}
	}
}

// bounds90 are the bounds of an interval for an estimate y of x, written here a
// second time.
var bounds90 = map[string]struct{ below, above string }{
	"rmse":  {"max(0, y - times*error)", "y + times*error"},
	"log10": {"y*10^(0 - times*error)", "y*10^(times*error)"},
	"ratio": {"least*x", "most*x"},
}

// outwards reports whether a bound is another number rounded away from the
// estimate, to a number of digits after the point. The bounds were made in
// binary arithmetic, which may miss by the last of its fifteen digits.
func outwards(bound, want *apd.Decimal, places int, up bool) bool {
	names := map[string]*apd.Decimal{"b": bound, "w": want, "unit": apd.New(1, int32(-places)), "slack": formula.Times(want, apd.New(1, -12))}
	if !up {
		names["b"], names["w"] = want, bound
	}
	off, err := formula.Eval("b - w", names)
	if err != nil {
		return false
	}
	slack := new(apd.Decimal).Abs(names["slack"])
	below, err := formula.Eval("off + slack", map[string]*apd.Decimal{"off": off, "slack": slack})
	if err != nil || below.Negative && !below.IsZero() {
		return false
	}
	above, err := formula.Eval("unit - off + slack", map[string]*apd.Decimal{"off": off, "slack": slack, "unit": names["unit"]})
	return err == nil && (!above.Negative || above.IsZero())
}
