package censored

import (
	"math"
	"slices"
)

// A Curve is a distribution as Kaplan and Meier (Journal of the American
// Statistical Association 53:457-481, 1958) estimate it, of data flipped so that
// values below limits become ones above them. Steps go from the lowest measured
// value up.
type Curve struct {
	Steps []Step
	// Rest is the probability that is left below the lowest measured value, and
	// RestLimit the limit that it is known to be below. Rest is 0 where the lowest
	// value of all is measured.
	Rest, RestLimit float64
	// Top is the probability above TopLimit, 0 where no value is above a limit.
	// A measured value above TopLimit is taken for no more than that it is: where
	// one is, and several limits, their order is not known.
	Top, TopLimit float64
	N             int
}

// A Step is one measured value, or several alike.
type Step struct {
	X    float64
	Less float64 // probability of less than X
	Upto float64 // probability of X or less
	// spread is the standard error of the logarithm of Less, by Greenwood's formula.
	spread float64
}

// SE is the standard error of Less, by Greenwood's formula.
func (s Step) SE() float64 { return s.Less * s.spread }

// CurveOf estimates the distribution of values. ok is false where there is no
// value, or where a value is below a limit that is higher than one that another
// is above, so that nobody can tell which of the two is the greater.
func CurveOf(values []Value) (c Curve, ok bool) {
	values, err := sorted(values)
	if err != nil || len(values) == 0 {
		return Curve{}, false
	}
	measured, below, above := split(values)
	c.N = len(values)
	var total float64 // the sum of Greenwood's formula so far
	upto := 1.0
	step := func(risk, events int) {
		upto *= float64(risk-events) / float64(risk)
		total += float64(events) / (float64(risk) * float64(risk-events))
	}
	if len(above) > 0 {
		c.TopLimit = above[0]
		if len(below) > 0 && below[len(below)-1] > c.TopLimit {
			return Curve{}, false
		}
		over := len(above)
		for len(measured) > 0 && measured[len(measured)-1] > c.TopLimit {
			measured = measured[:len(measured)-1]
			over++
		}
		step(c.N, over)
		c.Top = float64(over) / float64(c.N)
	}
	lower := len(below) // how many limits are no higher than the value at hand
	for i := len(measured); i > 0; {
		x := measured[i-1]
		first := i - 1
		for first > 0 && measured[first-1] == x {
			first--
		}
		for lower > 0 && below[lower-1] > x {
			lower--
		}
		s := Step{X: x, Upto: upto}
		step(i+lower, i-first)
		s.Less, s.spread = upto, math.Sqrt(total)
		c.Steps = append(c.Steps, s)
		i = first
	}
	slices.Reverse(c.Steps)
	switch {
	case len(measured) == 0 && len(below) > 0:
		c.Rest, c.RestLimit = 1-c.Top, below[len(below)-1]
	case lower > 0:
		c.Rest, c.RestLimit = c.Steps[0].Less, below[lower-1]
	}
	if c.Rest == 0 && len(c.Steps) > 0 {
		c.Steps[0].Less = 0 // and no remainder of the arithmetic
	}
	return c, true
}

// near is how far two probabilities may differ and be one.
const near = 1e-9

// Quantile is the value that a share p of the distribution does not exceed:
// midway between two where the curve is level at p, as R's survfit has it. It is
// a limit where p lies below the lowest or above the highest measured value.
func (c *Curve) Quantile(p float64) Figure {
	return c.crossing(p, func(s Step) float64 { return s.Less }, 1-c.Top)
}

// crossing is the highest value at which a curve is not above p. top is where
// the curve stands below what is above a limit.
func (c *Curve) crossing(p float64, at func(Step) float64, top float64) Figure {
	if c.Top > 0 && top < p-near {
		return Figure{X: c.TopLimit, Side: Above}
	}
	for i := len(c.Steps) - 1; i >= 0; i-- {
		s := c.Steps[i]
		switch y := at(s); {
		case math.IsNaN(y) || y > p+near:
		case y < p-near:
			return Figure{X: s.X}
		case i > 0:
			return Figure{X: s.X/2 + c.Steps[i-1].X/2}
		case c.Rest > 0:
			return Figure{X: s.X, Side: Below}
		default:
			return Figure{X: s.X}
		}
	}
	if c.Rest > 0 {
		return Figure{X: c.RestLimit, Side: Below}
	}
	return None("the data do not bound it")
}

// normal975 is the point of the standard normal distribution that 97.5 % are
// below.
var normal975 = normalPoint(0.975)

// normalPoint is the point of the standard normal distribution that a share p
// is below.
func normalPoint(p float64) float64 { return math.Sqrt2 * math.Erfinv(2*p-1) }

// QuantileInterval is the interval of a quantile that covers it with about 95 %
// confidence: the values at which the curve's own interval, by complementary
// logarithms, crosses p (Brookmeyer and Crowley, Biometrics 38:29-41, 1982;
// survfit in R with conf.type="log-log").
func (c *Curve) QuantileInterval(p float64) Interval {
	bound := func(sign float64) func(Step) float64 {
		return func(s Step) float64 {
			if s.Less <= 0 || s.Less >= 1 {
				return math.NaN()
			}
			return math.Pow(s.Less, math.Exp(sign*normal975*s.spread/math.Log(s.Less)))
		}
	}
	top := func(sign float64) float64 {
		less := 1 - c.Top
		if less <= 0 || less >= 1 {
			return less
		}
		spread := math.Sqrt(c.Top / (float64(c.N) * less))
		return math.Pow(less, math.Exp(sign*normal975*spread/math.Log(less)))
	}
	return Interval{Low: c.crossing(p, bound(1), top(1)), High: c.crossing(p, bound(-1), top(-1))}
}

// A moment is what follows from a curve's masses.
type moments struct {
	mean, sd, se, skew float64
}

// moments works out the mean and what goes with it of a curve whose ends are
// measured. The standard error is survfit's of the restricted mean, both with
// n - 1 in place of n.
func (c *Curve) moments() moments {
	var m moments
	for _, s := range c.Steps {
		m.mean += s.X * (s.Upto - s.Less)
	}
	var m2, m3 float64
	for _, s := range c.Steps {
		d := s.X - m.mean
		m2 += d * d * (s.Upto - s.Less)
		m3 += d * d * d * (s.Upto - s.Less)
	}
	if m2 > 0 {
		m.skew = m3 / math.Pow(m2, 1.5)
	}
	if c.N < 2 {
		return m
	}
	more := float64(c.N) / float64(c.N-1)
	m.sd = math.Sqrt(m2 * more)
	// Of each step: the area between the curve and the lowest value, times what the
	// step adds to Greenwood's sum.
	area, below := 0.0, 0.0
	for i, s := range c.Steps {
		if i > 0 {
			area += s.Less * (s.X - c.Steps[i-1].X)
		}
		if s.Less > 0 {
			higher := 0.0
			if i+1 < len(c.Steps) {
				higher = c.Steps[i+1].spread
			}
			below += area * area * (s.spread*s.spread - higher*higher)
		}
	}
	m.se = math.Sqrt(below * more)
	return m
}

// bounds are the least and the greatest mean that a curve allows where its
// lowest part is only known to lie between 0 and a limit.
func (c *Curve) bounds() (low, high float64) {
	for _, s := range c.Steps {
		low += s.X * (s.Upto - s.Less)
	}
	return low, low + c.Rest*c.RestLimit
}
