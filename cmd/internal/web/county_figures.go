package web

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"example.org/windrow/normalize/censored"
	"example.org/windrow/normalize/chart"
)

// A spread is where values lie.
type spread struct {
	N            int
	Q1, Mid, Q3  censored.Figure
	Below, Above int // values that are limits
}

// drawn reports whether there is something of it to draw.
func (s *spread) drawn() bool { return s.Q1.Given() && s.Mid.Given() && s.Q3.Given() }

// spreadOf works out where values lie, as [censored.Describe] does: a limit is
// never taken for a value.
func spreadOf(values []censored.Value) spread {
	out := spread{N: len(values)}
	xs := make([]float64, 0, len(values))
	for _, v := range values {
		switch v.Side {
		case censored.Below:
			out.Below++
		case censored.Above:
			out.Above++
		}
		xs = append(xs, v.X)
	}
	if out.Below+out.Above == 0 { // the most by far, and quicker so
		slices.Sort(xs)
		at := func(p float64) censored.Figure { return censored.Figure{X: censored.Ordinary(xs, p)} }
		out.Q1, out.Mid, out.Q3 = at(0.25), at(0.5), at(0.75)
		return out
	}
	d, err := censored.Describe(values)
	if err != nil {
		none := censored.None("%v", err)
		out.Q1, out.Mid, out.Q3 = none, none, none
		return out
	}
	out.Q1, out.Mid, out.Q3 = d.Q1, d.Median, d.Q3
	return out
}

// marked is a figure for people: with its sign where it is a limit.
func marked(f censored.Figure) string {
	if !f.Given() {
		return "–"
	}
	return f.Side.String() + figure(f.X)
}

// numeral is a number or a figure for people.
func numeral(x any) string {
	switch x := x.(type) {
	case censored.Figure:
		return marked(x)
	case float64:
		return figure(x)
	}
	return fmt.Sprint(x)
}

// figure is a number for people: three digits that count.
func figure(x float64) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return "–"
	}
	switch a := math.Abs(x); {
	case a >= 100 || a == 0:
		s := strconv.FormatFloat(x, 'f', 0, 64)
		if n, err := strconv.Atoi(s); err == nil && n >= 0 {
			return thousands(n)
		}
		return s
	case a >= 10:
		return strconv.FormatFloat(x, 'f', 1, 64)
	case a >= 1:
		return strconv.FormatFloat(x, 'f', 2, 64)
	}
	return strconv.FormatFloat(x, 'g', 3, 64)
}

// A bin is a stretch of values.
type bin struct {
	From, To float64
	N        int
	Limits   int  // of them, values that are limits
	Open     bool // of all values from From on
	Label    string
	Percent  string
	X, Y     float64 // of its bar
	W, H     float64
	Cut      float64 // height of the part that is limits
}

// limitsIn counts the values of bins that are limits.
func limitsIn(bins []bin, values []censored.Value) {
	for _, v := range values {
		if v.Side == censored.Measured {
			continue
		}
		// The last whose edge is not above it, by the rounded edges that binsOf has.
		for i := len(bins) - 1; i >= 0; i-- {
			if step := bins[i].To - bins[i].From; i == 0 || v.X >= bins[i].From-step*1e-6 {
				bins[i].Limits++
				break
			}
		}
	}
}

// tickApart is how far apart the numbers below an axis stand at least.
const tickApart = 56

// mostBins is how many bars a chart has at most.
const mostBins = 16

// niceStep is a round number at or above another: 1, 2, 2.5 or 5 times a power
// of ten.
func niceStep(x float64) float64 {
	if x <= 0 || math.IsNaN(x) || math.IsInf(x, 0) {
		return 1
	}
	p := math.Pow(10, math.Floor(math.Log10(x)))
	for _, m := range []float64{1, 2, 2.5, 5, 10} {
		if m*p >= x*(1-1e-9) {
			return m * p
		}
	}
	return 10 * p
}

// binsOf counts sorted values in stretches of a round width. The few highest of
// a long tail share the last one.
func binsOf(sorted []float64) []bin {
	if len(sorted) == 0 {
		return nil
	}
	low, high := sorted[0], censored.Ordinary(sorted, 0.98)
	// About as many as the square root of how many values there are.
	step := niceStep((high - low) / math.Max(4, math.Min(12, math.Sqrt(float64(len(sorted))))))
	if high == low {
		step = niceStep(math.Max(math.Abs(low)/10, 0.1))
	}
	from := math.Floor(low/step) * step
	var out []bin
	i := 0
	for n := 0; i < len(sorted) && n < mostBins; n++ {
		b := bin{From: from + float64(n)*step, To: from + float64(n+1)*step}
		// By the rounded edge, so that 0.3 is not below 0.1+0.2.
		edge := math.Round(b.To/step*1e6) / 1e6 * step
		b.Open = n == mostBins-1 || b.From > high
		for i < len(sorted) && (b.Open || sorted[i] < edge-step*1e-9) {
			b.N++
			i++
		}
		out = append(out, b)
	}
	for j := range out {
		b := &out[j]
		b.Label = chart.Places(b.From, step) + " to below " + chart.Places(b.To, step)
		if b.Open && j == len(out)-1 {
			b.Label = chart.Places(b.From, step) + " and more"
		} else {
			b.Open = false
		}
		b.Percent = share(b.N, len(sorted))
	}
	return out
}

// share is a part of a whole in percent.
func share(n, all int) string {
	if all == 0 {
		return "–"
	}
	p := 100 * float64(n) / float64(all)
	if p > 0 && p < 1 {
		return "below 1 %"
	}
	return fmt.Sprintf("%.0f %%", p)
}

// A tickMark is a place on an axis with its text.
type tickMark struct {
	At   float64
	Text string
}

// A histogram is a drawing of bins, with the middle and the quartiles under it.
type histogram struct {
	Bins         []bin
	Ticks        []tickMark // below
	Rows         []tickMark // beside
	Boxed        bool       // there are a middle and quartiles to draw
	Q1, Mid, Q3  float64    // places; a limit is where it is
	MidText      string
	Wide, High   float64
	Base, Left   float64
	BoxAt, BoxHi float64
}

// BoxMid is the height of the middle of the box of quartiles.
func (h *histogram) BoxMid() float64 { return h.BoxAt + h.BoxHi/2 }

// BoxEnd is the height of the foot of the box.
func (h *histogram) BoxEnd() float64 { return h.BoxAt + h.BoxHi }

// BoxWide is the width of the box.
func (h *histogram) BoxWide() float64 { return math.Max(1, h.Q3-h.Q1) }

// The size of a drawing, in its own units.
const (
	chartWide, chartHigh = 440.0, 250.0
	chartLeft, chartTop  = 46.0, 14.0
	chartBase            = 178.0
)

// drawHistogram lays a histogram out.
func drawHistogram(bins []bin, s spread) *histogram {
	if len(bins) == 0 {
		return nil
	}
	h := &histogram{Bins: bins, Wide: chartWide, High: chartHigh, Base: chartBase, Left: chartLeft, BoxAt: chartBase + 34, BoxHi: 18, Boxed: s.drawn(), MidText: marked(s.Mid)}
	most := 1
	for _, b := range bins {
		most = max(most, b.N)
	}
	each := (chartWide - chartLeft - 8) / float64(len(bins))
	tall := chartBase - chartTop
	step := max(1, int(niceStep(float64(most)/4)))
	for n := 0; n <= most; n += step {
		h.Rows = append(h.Rows, tickMark{chartBase - tall*float64(n)/float64(most), thousands(n)})
	}
	width := bins[0].To - bins[0].From
	for i := range bins {
		b := &bins[i]
		b.X, b.W = chartLeft+each*float64(i), each
		b.H = tall * float64(b.N) / float64(most)
		b.Y = chartBase - b.H
		b.Cut = tall * float64(b.Limits) / float64(most)
		if i%max(1, (len(bins)+6)/7) == 0 {
			h.Ticks = append(h.Ticks, tickMark{b.X, chart.Places(b.From, width)})
		}
	}
	if last := bins[len(bins)-1]; last.Open { // the bar stands for all that is higher, too
		for n := len(h.Ticks); n > 1 && last.X-h.Ticks[n-1].At < tickApart; n-- {
			h.Ticks = h.Ticks[:n-1]
		}
		h.Ticks = append(h.Ticks, tickMark{last.X, chart.Places(last.From, width) + "+"})
	}
	at := func(v float64) float64 {
		x := (v - bins[0].From) / width
		return chartLeft + each*math.Max(0, math.Min(x, float64(len(bins))))
	}
	h.Q1, h.Mid, h.Q3 = at(s.Q1.X), at(s.Mid.X), at(s.Q3.X)
	return h
}

// A yearLine is where the values of a year lie.
type yearLine struct {
	Year string
	spread
	X, YMid, YQ1, YQ3 float64
	Labelled          bool
}

// A course is a drawing of years.
type course struct {
	Years []yearLine
	Rows  []tickMark
	Wide  float64
	High  float64
	Base  float64
	Left  float64
	Line  string // points of the line from middle to middle
}

// drawCourse lays years out; nil for fewer than two.
func drawCourse(lines []yearLine) *course {
	years := slices.DeleteFunc(slices.Clone(lines), func(y yearLine) bool { return !y.drawn() })
	if len(years) < 2 {
		return nil
	}
	c := &course{Years: years, Wide: chartWide, High: 214, Base: chartBase, Left: chartLeft}
	low, high := math.Inf(1), math.Inf(-1)
	for _, y := range years {
		low, high = math.Min(low, y.Q1.X), math.Max(high, y.Q3.X)
	}
	if high == low {
		low, high = low-1, high+1
	}
	step := niceStep((high - low) / 4)
	low, high = math.Floor(low/step)*step, math.Ceil(high/step)*step
	at := func(v float64) float64 { return chartBase - (chartBase-chartTop)*(v-low)/(high-low) }
	for n := 0; low+float64(n)*step <= high+step/2; n++ {
		v := low + float64(n)*step
		c.Rows = append(c.Rows, tickMark{at(v), chart.Places(v, step)})
	}
	each := (chartWide - chartLeft - 20) / float64(len(years))
	var line []string
	for i := range years {
		y := &years[i]
		y.X, y.YMid, y.YQ1, y.YQ3 = chartLeft+each*(float64(i)+0.5), at(y.Mid.X), at(y.Q1.X), at(y.Q3.X)
		y.Labelled = i%max(1, (len(years)+7)/8) == 0
		line = append(line, fmt.Sprintf("%.1f,%.1f", y.X, y.YMid))
	}
	c.Line = strings.Join(line, " ")
	return c
}

// A classLine is the share of a class.
type classLine struct {
	Class, Percent string
	N              int
	W              float64 // of its bar, of 100
}

// classOrder is the order of classes from too little to too much.
var classOrder = []string{"very low", "low", "medium", "optimum", "high", "above optimum", "very high", "excessive", "too acid", "in range", "too alkaline"}

// classLines are the shares of classes, in their order.
func classLines(counts map[string]int) (out []classLine, all int) {
	for c, n := range counts {
		out = append(out, classLine{Class: c, N: n})
		all += n
	}
	place := func(c string) int {
		if i := slices.Index(classOrder, c); i >= 0 {
			return i
		}
		return len(classOrder)
	}
	slices.SortFunc(out, func(a, b classLine) int {
		return cmp.Or(cmp.Compare(place(a.Class), place(b.Class)), cmp.Compare(a.Class, b.Class))
	})
	for i := range out {
		out[i].Percent, out[i].W = share(out[i].N, all), 100*float64(out[i].N)/float64(all)
	}
	return out, all
}
