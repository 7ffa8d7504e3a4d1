package chart

import (
	"math"
	"strconv"
	"strings"

	"example.org/windrow/normalize/censored"
)

// An axis maps values to places, straight or by their logarithms.
type axis struct {
	low, high float64 // values at its ends
	from, to  float64 // places of its ends
	log       bool
	step      float64
}

// logFrom is how many times the highest value must be the lowest for an axis of
// logarithms.
const logFrom = 40

// axisOf is an axis that has room for what is drawn of descriptions.
func axisOf(list []Row, from, to float64, whole bool) *axis {
	low, high, least := math.Inf(1), math.Inf(-1), math.Inf(1)
	take := func(x float64) {
		low, high = math.Min(low, x), math.Max(high, x)
		if x > 0 {
			least = math.Min(least, x)
		}
	}
	for i := range list {
		d := &list[i].Description
		for _, f := range []censored.Figure{d.P10, d.Q1, d.Median, d.Q3, d.P90} {
			if f.Given() {
				take(f.X)
			}
		}
		for _, l := range d.Limits {
			take(l)
		}
		if whole || list[i].Whole && !d.Q1.Given() {
			for _, s := range list[i].steps() {
				take(s.X)
			}
		}
	}
	if math.IsInf(low, 0) {
		return nil
	}
	a := &axis{from: from, to: to}
	if low > 0 && high > logFrom*least {
		a.log = true
		a.low, a.high = math.Pow(10, math.Floor(3*math.Log10(low*0.9))/3), high*1.1
		return a
	}
	if low == high {
		low, high = low-math.Max(math.Abs(low)/10, 0.1), high+math.Max(math.Abs(high)/10, 0.1)
	}
	censoredBelow := false
	for i := range list {
		censoredBelow = censoredBelow || list[i].Below > 0
	}
	if low >= 0 && (censoredBelow || low < (high-low)*0.3) {
		low = 0 // what lies below a limit lies above 0
	}
	a.step = roundStep((high - low) / 6)
	a.low, a.high = math.Floor(low/a.step+1e-9)*a.step, math.Ceil(high/a.step-1e-9)*a.step
	return a
}

// at is the place of a value, that of the nearer end where it lies beyond.
func (a *axis) at(x float64) float64 {
	share := (x - a.low) / (a.high - a.low)
	if a.log {
		if x <= 0 {
			return a.from
		}
		share = math.Log(x/a.low) / math.Log(a.high/a.low)
	}
	return a.from + (a.to-a.from)*math.Max(0, math.Min(1, share))
}

// ticks are the values that the axis is marked at, with their texts.
func (a *axis) ticks() (at []float64, texts []string) {
	add := func(x float64, text string) { at, texts = append(at, x), append(texts, text) }
	if !a.log {
		for i := 0; ; i++ {
			x := a.low + float64(i)*a.step
			if x > a.high+a.step/2 {
				return at, texts
			}
			add(x, Places(x, a.step))
		}
	}
	decades := math.Log10(a.high / a.low)
	for e := int(math.Floor(math.Log10(a.low))); ; e++ {
		for _, m := range []float64{1, 2, 5} {
			if m != 1 && decades > 4 {
				continue
			}
			x := m * math.Pow(10, float64(e))
			if x > a.high*(1+1e-9) {
				return at, texts
			}
			if x >= a.low*(1-1e-9) {
				add(x, strconv.FormatFloat(x, 'f', max(0, -e), 64))
			}
		}
	}
}

// roundStep is a round number at or above another: 1, 2, 2.5 or 5 times a power
// of ten.
func roundStep(x float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(x)))
	for _, m := range []float64{1, 2, 2.5, 5} {
		if m*p >= x*(1-1e-9) {
			return m * p
		}
	}
	return 10 * p
}

// Places writes a value with as many places after the point as the step of an
// axis or the width of a bin has, at most six.
func Places(x, step float64) string {
	n := 0
	for p := step; n < 6 && math.Abs(p-math.Round(p)) > 1e-9*math.Max(1, p); p *= 10 {
		n++
	}
	s := strconv.FormatFloat(x, 'f', n, 64)
	if strings.Trim(s, "-0.") == "" {
		return strings.TrimPrefix(s, "-")
	}
	return s
}

// draw draws the axis under a field.
func (a *axis) draw(d *Drawing, top, base, size float64) {
	at, texts := a.ticks()
	width, last := measure(size), math.Inf(-1)
	for i, x := range at {
		p := a.at(x)
		d.line(p, top, p, base, 0.6, pale)
		d.line(p, base, p, base+4, 1, black)
		if half := width(texts[i]) / 2; p-half > last+4 {
			d.text(p, base+5+size, texts[i], size, middle)
			last = p + half
		}
	}
	d.line(a.from, base, a.to, base, 1, black)
}
