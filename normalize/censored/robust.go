package censored

import (
	"math"
	"slices"
)

// The conditions of regression on order statistics.
const (
	// leastMeasured is how many values must be measured, for a line through them
	// to mean anything: 8 to 10 by the United States Environmental Protection
	// Agency's Unified Guidance (EPA 530/R-09-007, 2009; from memory).
	leastMeasured = 8
	// mostBelow is the share of values below limits beyond which only the share
	// itself may be told: Helsel (2012), chapter 6; from memory.
	mostBelow = 0.8
)

// A Regression is what robust regression on order statistics finds.
type Regression struct {
	Mean, SD, Median float64
	// The line: natural logarithm of a value = Intercept + Slope times the normal
	// score of its plotting position; R is the correlation of the two among the
	// measured values.
	Intercept, Slope, R float64
	// Filled are all values, sorted: the measured ones as they are, and those below
	// limits as the line has them, which stand for all of them together and for
	// none of them alone.
	Filled []float64
}

// Robust does regression on order statistics of values some of which are below
// limits, one or several (Helsel and Cohn, 1988): a line through the logarithms
// of the measured values stands in for those below limits, and these alone, so
// that the measured ones need not be lognormal. why says, where it is not empty,
// which of its conditions is not met: all values positive; none above a limit;
// no limit above every measured value; 8 measured values or more, not all the
// same; no more than 80 % below limits; and a mean that is no higher than if each
// value were its limit, which the line can miss where few values are below one.
func Robust(values []Value) (r Regression, why string) {
	values, err := sorted(values)
	if err != nil {
		return Regression{}, err.Error()
	}
	measured, below, above := split(values)
	switch n := len(measured); {
	case len(above) > 0:
		return r, "values are above a limit"
	case n < leastMeasured:
		return r, "fewer than 8 values are measured"
	case float64(len(below)) > mostBelow*float64(len(values)):
		return r, "more than 80 % of the values are below a limit"
	case values[0].X <= 0:
		return r, "not all values are above 0, so that they have no logarithms"
	case measured[0] == measured[n-1]:
		return r, "all measured values are the same"
	case len(below) > 0 && below[len(below)-1] > measured[n-1]:
		return r, "a limit is higher than every measured value"
	}
	scoreMeasured, scoreBelow := positions(measured, below)
	var logs []float64
	for i, x := range measured {
		logs = append(logs, math.Log(x))
		scoreMeasured[i] = normalPoint(scoreMeasured[i])
	}
	r.Intercept, r.Slope, r.R = line(scoreMeasured, logs)
	r.Filled = slices.Clone(measured)
	for _, p := range scoreBelow {
		r.Filled = append(r.Filled, math.Exp(r.Intercept+r.Slope*normalPoint(p)))
	}
	slices.Sort(r.Filled)
	r.Mean, r.SD = ordinary(r.Filled)
	r.Median = Ordinary(r.Filled, 0.5)
	most := 0.0
	for _, v := range values {
		most += v.X / float64(len(values))
	}
	if r.Mean > most*(1+near) {
		return Regression{}, "its line puts values above the limits that they are below"
	}
	return r, ""
}

// positions are Helsel and Cohn's plotting positions of sorted values: of the
// measured ones, between the shares below their limit and below the next one;
// of those below a limit, from 0 to the share below it.
func positions(measured, below []float64) (ofMeasured, ofBelow []float64) {
	limits := slices.Compact(slices.Clone(below))
	if len(limits) == 0 || measured[0] < limits[0] {
		limits = slices.Insert(limits, 0, math.Inf(-1))
	}
	atLeast := func(l float64) int { i, _ := slices.BinarySearch(measured, l); return len(measured) - i }
	upto := func(list []float64, l float64) int {
		n, _ := slices.BinarySearchFunc(list, l, func(x, l float64) int {
			if x <= l {
				return -1
			}
			return 1
		})
		return n
	}
	type part struct {
		measured, below int
		exceed          float64 // probability of exceeding the limit
	}
	parts := make([]part, len(limits)+1) // the last is above all limits: nothing
	for j := len(limits) - 1; j >= 0; j-- {
		l := limits[j]
		p := &parts[j]
		over := atLeast(l)
		p.measured = over
		if j+1 < len(limits) {
			p.measured -= atLeast(limits[j+1])
		}
		under := len(measured) - over + upto(below, l)
		next := parts[j+1].exceed
		p.exceed = next
		if p.measured > 0 {
			p.exceed += float64(p.measured) / float64(p.measured+under) * (1 - next)
		}
		p.below = upto(below, l)
		if j > 0 {
			p.below -= upto(below, limits[j-1])
		}
	}
	for j := range limits {
		p := parts[j]
		for r := 1; r <= p.measured; r++ {
			ofMeasured = append(ofMeasured, 1-p.exceed+(p.exceed-parts[j+1].exceed)*float64(r)/float64(p.measured+1))
		}
		for r := 1; r <= p.below; r++ {
			ofBelow = append(ofBelow, (1-p.exceed)*float64(r)/float64(p.below+1))
		}
	}
	return ofMeasured, ofBelow
}

// line fits y = a + b x by least squares; r is the correlation.
func line(x, y []float64) (a, b, r float64) {
	mx, _ := ordinary(x)
	my, _ := ordinary(y)
	var xx, xy, yy float64
	for i := range x {
		dx, dy := x[i]-mx, y[i]-my
		xx, xy, yy = xx+dx*dx, xy+dx*dy, yy+dy*dy
	}
	b = xy / xx
	return my - b*mx, b, xy / math.Sqrt(xx*yy)
}

// ordinary are mean and standard deviation of measured values.
func ordinary(xs []float64) (mean, sd float64) {
	for _, x := range xs {
		mean += x / float64(len(xs))
	}
	var sum float64
	for _, x := range xs {
		sum += (x - mean) * (x - mean)
	}
	if len(xs) > 1 {
		sd = math.Sqrt(sum / float64(len(xs)-1))
	}
	return mean, sd
}

// Ordinary is a quantile of sorted measured values, between two of them where
// it falls so, as R and most programs have it (type 7 of Hyndman and Fan, Sample
// quantiles in statistical packages, The American Statistician 50:361, 1996);
// not a number where there are none.
func Ordinary(sorted []float64, p float64) float64 {
	if len(sorted) == 0 {
		return math.NaN()
	}
	at := p * float64(len(sorted)-1)
	i := int(math.Floor(at))
	if i+1 >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	return sorted[i] + (at-float64(i))*(sorted[i+1]-sorted[i])
}
