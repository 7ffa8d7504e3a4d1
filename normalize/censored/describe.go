package censored

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mathext"
)

// How many values a figure asks for. Common practice, no source, but where one
// is named.
const (
	leastForMedian    = 3
	leastForQuartiles = 5
	leastForTails     = 10
	leastForMean      = 3
	leastForInterval  = 10
	// leastForMeanInterval, and with it skewOf: Student's interval of a mean holds
	// for any data once n > 25 G1², G1 being their skewness: Cochran, Sampling
	// Techniques, 3rd ed., 1977, section 2.15; from memory.
	leastForMeanInterval = 30
	skewOf               = 25
	// mostBelowCurve is the share of values below limits up to which the mean is
	// Kaplan and Meier's: Helsel (2012), chapter 6; from memory.
	mostBelowCurve = 0.5
)

// The ways in which a figure was found.
const (
	ByAll    = "all values measured"
	ByCurve  = "Kaplan-Meier"
	ByRobust = "regression on order statistics"
)

// A Description is what is told of a list of values.
type Description struct {
	N, Below, Above int
	// Limits are the different limits that values are below, from the lowest.
	Limits     []float64
	AboveLimit float64 // the lowest limit that values are above; 0 without such values
	// Uninformed is how many values are below a limit that is higher than every
	// measured value, so that nothing follows from them.
	Uninformed int

	Low, High                Figure // the lowest and the highest value; a limit where that is all that is known
	P10, Q1, Median, Q3, P90 Figure
	QuantilesBy              string // "" where there is none
	MedianInterval           Interval
	Mean, SD                 Figure
	MeanBy                   string
	MeanInterval             Interval
	MeanLeast, MeanMost      float64 // where Bounded, between which the mean lies by Kaplan and Meier, as part of the distribution is only known to lie between 0 and a limit
	Bounded                  bool
	Robust                   *Regression // nil where it has no place
	NoRobust                 string      // why not; "" where it has, and where all values are measured
	Curve                    Curve       // of the values; of those measured alone too, where it has a step for each
	NoCurve                  string
}

// HighestLimit is the highest limit that values are below, 0 where none is.
func (d *Description) HighestLimit() float64 {
	if len(d.Limits) == 0 {
		return 0
	}
	return d.Limits[len(d.Limits)-1]
}

// Describe works out what can be said of values. The error names a value that
// is no number.
func Describe(values []Value) (Description, error) {
	values, err := sorted(values)
	if err != nil {
		return Description{}, err
	}
	measured, below, above := split(values)
	d := Description{N: len(values), Below: len(below), Above: len(above), Limits: slices.Compact(slices.Clone(below))}
	if len(below) > 0 {
		for _, l := range below {
			if len(measured) > 0 && l > measured[len(measured)-1] {
				d.Uninformed++
			}
		}
	}
	if len(above) > 0 {
		d.AboveLimit = above[0]
	}
	c, ok := CurveOf(values)
	switch {
	case d.N == 0:
		d.NoCurve = "there are no values"
	case !ok:
		d.NoCurve = "a value is below a limit that is higher than one that another is above"
	}
	if d.NoCurve != "" {
		none := Figure{Why: d.NoCurve}
		d.Low, d.High, d.P10, d.Q1, d.Median, d.Q3, d.P90, d.Mean, d.SD = none, none, none, none, none, none, none, none, none
		d.MedianInterval, d.MeanInterval = noInterval(none), noInterval(none)
		if d.Below > 0 {
			_, d.NoRobust = Robust(values)
		}
		return d, nil
	}
	d.Curve = c
	d.quantiles(measured)
	d.middle(values, measured)
	return d, nil
}

// quantiles fills the quantiles and the ends.
func (d *Description) quantiles(measured []float64) {
	c := &d.Curve
	of := func(p float64, least int, named string) Figure {
		switch {
		case d.N < least:
			return None("fewer than %d values: no %s", least, named)
		case d.Below+d.Above == 0:
			return Figure{X: Ordinary(measured, p)}
		}
		f := c.Quantile(p)
		if f.Exact() && len(measured) < leastForMedian {
			return None("fewer than %d values are measured", leastForMedian)
		}
		return f
	}
	d.Median = of(0.5, leastForMedian, "median")
	d.Q1, d.Q3 = of(0.25, leastForQuartiles, "quartiles"), of(0.75, leastForQuartiles, "quartiles")
	d.P10, d.P90 = of(0.1, leastForTails, "10th and 90th percentile"), of(0.9, leastForTails, "10th and 90th percentile")
	if d.Median.Given() {
		d.QuantilesBy = ByCurve
		if d.Below+d.Above == 0 {
			d.QuantilesBy = ByAll
		}
	}
	switch {
	case c.Rest > 0:
		d.Low = Figure{X: c.RestLimit, Side: Below}
	case len(c.Steps) > 0:
		d.Low = Figure{X: c.Steps[0].X}
	default:
		d.Low = Figure{X: c.TopLimit, Side: Above}
	}
	switch {
	case c.Top > 0:
		d.High = Figure{X: c.TopLimit, Side: Above}
	case len(c.Steps) == 0 || d.Uninformed > 0:
		d.High = Figure{X: d.HighestLimit(), Side: Below}
	default:
		d.High = Figure{X: c.Steps[len(c.Steps)-1].X}
	}
	d.MedianInterval = noInterval(None("fewer than %d values: no interval of the median", leastForInterval))
	if d.N >= leastForInterval {
		d.MedianInterval = c.QuantileInterval(0.5)
	}
}

// middle fills mean and standard deviation.
func (d *Description) middle(values []Value, measured []float64) {
	c := &d.Curve
	d.MeanInterval = noInterval(None("there is no mean"))
	none := func(f Figure) { d.Mean, d.SD = f, f }
	if d.Below > 0 {
		r, why := Robust(values)
		if d.NoRobust = why; why == "" {
			d.Robust = &r
		}
	}
	if d.Bounded = c.Rest > 0 && c.Top == 0 && values[0].X >= 0; d.Bounded {
		d.MeanLeast, d.MeanMost = c.bounds()
	}
	switch {
	case d.N < leastForMean:
		d.Bounded = false
		none(None("fewer than %d values: no mean", leastForMean))
		return
	case d.Above > 0:
		none(None("values are above a limit, so that the mean has no upper end"))
		return
	case d.Below == 0:
		d.MeanBy = ByAll
	case len(measured) < leastForMean:
		none(None("fewer than %d values are measured", leastForMean))
		return
	case c.Rest == 0 && (float64(d.Below) <= mostBelowCurve*float64(d.N) || d.Robust == nil):
		d.MeanBy = ByCurve
	case d.Robust != nil:
		d.MeanBy = ByRobust
		d.Mean, d.SD = Figure{X: d.Robust.Mean}, Figure{X: d.Robust.SD}
		d.MeanInterval = noInterval(None("a mean by regression on order statistics has no interval here"))
		return
	default:
		none(None("values are below limits, and %s", d.NoRobust))
		return
	}
	m := c.moments()
	d.Mean, d.SD = Figure{X: m.mean}, Figure{X: m.sd}
	if d.MeanBy == ByAll {
		m.mean, m.sd = ordinary(measured)
		m.se = m.sd / math.Sqrt(float64(d.N))
		d.Mean, d.SD = Figure{X: m.mean}, Figure{X: m.sd}
	}
	switch {
	case d.N < leastForMeanInterval:
		d.MeanInterval = noInterval(None("fewer than %d values: no interval of the mean", leastForMeanInterval))
	case float64(d.N) <= skewOf*m.skew*m.skew:
		d.MeanInterval = noInterval(None("the values are too skewed for their number: no interval of the mean"))
	default:
		far := studentPoint(float64(d.N-1)) * m.se
		d.MeanInterval = Interval{Figure{X: m.mean - far}, Figure{X: m.mean + far}}
	}
}

// studentPoint is the point of Student's distribution that 97.5 % are below.
func studentPoint(df float64) float64 {
	x := mathext.InvRegIncBeta(df/2, 0.5, 0.05)
	return math.Sqrt(df * (1 - x) / x)
}
