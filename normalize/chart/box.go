package chart

import (
	"strconv"

	"example.org/windrow/normalize/censored"
)

// A Row is one group of a chart.
type Row struct {
	Label string
	censored.Description
	// Whole says that single values may be seen. Where it is false the lowest and
	// the highest tenth are not drawn, since they may be of one client whom others
	// know.
	Whole bool
}

// steps are the steps of the curve that may be seen.
func (r *Row) steps() []censored.Step {
	if r.Whole {
		return r.Curve.Steps
	}
	var out []censored.Step
	for _, s := range r.Curve.Steps {
		if (!r.P10.Exact() || s.X >= r.P10.X) && r.P90.Exact() && s.X <= r.P90.X {
			out = append(out, s)
		}
	}
	return out
}

// counted says how many values a row is of, and how many of them are limits.
func (r *Row) counted() string {
	s := "n = " + strconv.Itoa(r.N)
	if r.Below > 0 {
		s += ", " + strconv.Itoa(r.Below) + " below"
	}
	if r.Above > 0 {
		s += ", " + strconv.Itoa(r.Above) + " above"
	}
	return s
}

// The measures of a drawing.
const (
	wide      = 760.0
	margin    = 16.0
	textSize  = 12.0
	smallSize = 11.0
	titleSize = 15.0
	rowHigh   = 30.0
	half      = 8.0 // of a box
)

// limited says whether rows have values below limits, and above them.
func limited(rows []Row) (below, above bool) {
	for i := range rows {
		below, above = below || rows[i].Below > 0, above || rows[i].Above > 0
	}
	return below, above
}

// boxNote says in words how the boxes of these rows are read.
func boxNote(rows []Row) string {
	s := "Box: the middle half of the values. Thick line: the median. Whiskers: 10th to 90th percentile."
	for i := range rows {
		if rows[i].single() {
			s += " Diamonds: single values, where they are too few for a box."
			break
		}
	}
	below, above := limited(rows)
	switch {
	case below && above:
		s += " Hatched: known only to be below a limit, or above one."
	case below:
		s += " Hatched: known only to be below a limit."
	case above:
		s += " Hatched: known only to be above a limit."
	}
	if below {
		s += " Dashed box: estimated among values below limits, by Kaplan-Meier."
	}
	return s
}

// single says whether a row is drawn as single values.
func (r *Row) single() bool { return r.Whole && !r.Q1.Given() && len(r.Curve.Steps) > 0 }

// Boxes draws a box for each row: where the median, the middle half and the
// middle four fifths of its values lie. unit stands under the axis; nil where
// nothing can be drawn.
func Boxes(title, unit string, rows []Row) *Drawing {
	width := measure(textSize)
	left, right := 60.0, 60.0
	for i := range rows {
		left, right = max(left, width(rows[i].Label)), max(right, measure(smallSize)(rows[i].counted()))
	}
	left = min(left, 230)
	a := axisOf(rows, margin+left+12, wide-margin-right-12, false)
	if a == nil {
		return nil
	}
	top := 44.0
	base := top + rowHigh*float64(len(rows)) + 4
	d := &Drawing{Wide: wide, High: base + 84, Title: title, About: boxNote(rows)}
	d.heading(margin, 26, fittedBold(title), titleSize)
	a.draw(d, top, base, smallSize)
	d.text((a.from+a.to)/2, base+36, axisTitle(unit, a), smallSize, middle)
	for i := range rows {
		r := &rows[i]
		y := top + rowHigh*(float64(i)+0.5)
		d.text(margin+left, y+4, fitted(r.Label, left, width), textSize, end)
		d.text(wide-margin-right, y+4, r.counted(), smallSize, start)
		drawBox(d, a, r, y)
	}
	note(d, base+56, d.About)
	return d
}

// axisTitle says what stands on an axis.
func axisTitle(unit string, a *axis) string {
	if a.log {
		return unit + " (scale of logarithms)"
	}
	return unit
}

// note writes a text in lines under a drawing.
func note(d *Drawing, y float64, s string) {
	width := measure(smallSize)
	line := ""
	for _, w := range words(s) {
		if line != "" && width(line+" "+w) > d.Wide-2*margin {
			d.text(margin, y, line, smallSize, start)
			line, y = "", y+15
		}
		if line != "" {
			line += " "
		}
		line += w
	}
	d.text(margin, y, line, smallSize, start)
}

// drawBox draws what is known of a row around the height y.
func drawBox(d *Drawing, a *axis, r *Row, y float64) {
	if r.single() {
		for _, s := range r.Curve.Steps { // too few for a box: each value
			x := a.at(s.X)
			d.items = append(d.items, area{[]point{{x - 4, y}, {x, y - 4}, {x + 4, y}, {x, y + 4}}, black})
		}
		for _, l := range r.Limits {
			d.hatch(a.from, y-half, a.at(l), y+half)
			d.line(a.at(l), y-half-3, a.at(l), y+half+3, 1, grey)
		}
		return
	}
	if !r.Median.Given() {
		d.text(a.from+4, y+4, fitted("no figure: "+r.Median.Why, a.to-a.from-8, measure(smallSize)), smallSize, start)
		return
	}
	// Below the limit that the lowest part of the values is below.
	if r.Curve.Rest > 0 {
		x := a.at(r.Curve.RestLimit)
		d.hatch(a.from, y-half, x, y+half)
		d.line(x, y-half-3, x, y+half+3, 1, grey)
	}
	if r.Curve.Top > 0 {
		x := a.at(r.Curve.TopLimit)
		d.hatch(x, y-half, a.to, y+half)
		d.line(x, y-half-3, x, y+half+3, 1, grey)
	}
	whisker := func(from, to censored.Figure) {
		if !from.Given() || !to.Given() || from.Side != censored.Measured && to.Side == from.Side {
			return
		}
		x1, x2 := a.at(from.X), a.at(to.X)
		d.line(x1, y, x2, y, 1.2, black)
		if from.Exact() && from == r.P10 {
			d.line(x1, y-half/2, x1, y+half/2, 1.2, black)
		}
		if to.Exact() && to == r.P90 {
			d.line(x2, y-half/2, x2, y+half/2, 1.2, black)
		}
	}
	whisker(r.P10, r.Q1)
	whisker(r.Q3, r.P90)
	if r.Q1.Given() && r.Q3.Given() && (r.Q1.Exact() || r.Q3.Exact()) {
		frame(d, a, r, y)
	}
	if r.Median.Exact() {
		x := a.at(r.Median.X)
		d.line(x, y-half, x, y+half, 3, black)
	}
}

// frame draws the box of the middle half: no end where that is only known as a
// limit, and dashed as far as a limit reaches that values are below.
func frame(d *Drawing, a *axis, r *Row, y float64) {
	x1, x2 := a.at(r.Q1.X), a.at(r.Q3.X)
	estimated := x1
	if r.Below > 0 {
		estimated = min(x2, max(x1, a.at(r.HighestLimit())))
	}
	d.fill(x1, y-half, x2, y+half, white)
	for _, h := range []float64{y - half, y + half} {
		if estimated > x1 {
			d.dashed(x1, h, estimated, h, 1.2, 3, black)
		}
		if x2 > estimated {
			d.line(estimated, h, x2, h, 1.2, black)
		}
	}
	ends := func(f censored.Figure, x float64) {
		switch {
		case !f.Exact():
		case x < estimated:
			d.dashed(x, y-half, x, y+half, 1.2, 3, black)
		default:
			d.line(x, y-half, x, y+half, 1.2, black)
		}
	}
	ends(r.Q1, x1)
	ends(r.Q3, x2)
}
