package chart

import (
	"math"
	"strings"
)

// stepsNote says in words how the curves of these rows are read.
func stepsNote(rows []Row) string {
	s := "Each step: the share of samples with less than the value under it. Dotted: half of the samples, so that the curve crosses it at the median."
	below, above := limited(rows)
	if below || above {
		s += " Hatched: the share that is only known to be below a limit, or above one."
	}
	if below {
		s += " Triangles: the limits that values are below."
	}
	for i := range rows {
		if !rows[i].Whole {
			return s + " The lowest and the highest tenth are left out, so that no single values are seen."
		}
	}
	return s
}

// The measures of one field of curves.
const (
	fieldHigh = 150.0
	across    = 3
)

func words(s string) []string { return strings.Fields(s) }

// fittedBold shortens a title to the width of a drawing.
func fittedBold(s string) string {
	return fitted(s, (wide-2*margin)*textSize/titleSize*0.93, measure(textSize))
}

// Curves draws the distribution of each row that has enough values for quartiles
// in a field of its own, all on one axis: the share of values below each value.
// nil where nothing can be drawn.
func Curves(title, unit string, rows []Row) *Drawing {
	var drawn []Row
	for _, r := range rows {
		if r.Q1.Given() && len(r.steps()) > 0 {
			drawn = append(drawn, r)
		}
	}
	a := axisOf(drawn, 0, 1, true)
	if a == nil {
		return nil
	}
	columns := min(across, len(drawn))
	lines := (len(drawn) + columns - 1) / columns
	const gap, head, foot, side = 18.0, 22.0, 40.0, 40.0
	cell := min(400, (wide-2*margin-gap*float64(columns-1))/float64(columns))
	top := 40.0
	d := &Drawing{Wide: wide, High: top + float64(lines)*(head+fieldHigh+foot) + 66, Title: title, About: stepsNote(drawn)}
	d.heading(margin, 26, fittedBold(title), titleSize)
	for i := range drawn {
		r := &drawn[i]
		x := margin + float64(i%columns)*(cell+gap)
		y := top + float64(i/columns)*(head+fieldHigh+foot)
		d.text(x, y+14, fitted(r.Label+" · "+r.counted(), cell, measure(textSize)), textSize, start)
		here := *a
		here.from, here.to = x+side, x+cell-6
		base := y + head + fieldHigh
		here.draw(d, y+head, base, smallSize-1)
		d.text((here.from+here.to)/2, base+30, axisTitle(unit, &here), smallSize-1, middle)
		field(d, &here, r, y+head, base)
	}
	note(d, d.High-50, d.About)
	return d
}

// field draws one curve.
func field(d *Drawing, a *axis, r *Row, top, base float64) {
	high := func(p float64) float64 { return base - (base-top)*p }
	for _, p := range []float64{0, 0.25, 0.5, 0.75, 1} {
		d.text(a.from-5, high(p)+4, Places(100*p, 1)+" %", smallSize-1, end)
	}
	d.line(a.from, top, a.from, base, 1, black)
	d.dashed(a.from, high(0.5), a.to, high(0.5), 0.8, 2, grey)
	c := &r.Curve
	if c.Rest > 0 {
		d.hatch(a.from, high(c.Rest), a.at(c.RestLimit), base)
		d.path([]point{{a.from, high(c.Rest)}, {a.at(c.RestLimit), high(c.Rest)}, {a.at(c.RestLimit), base}}, 1, grey)
	}
	if c.Top > 0 {
		d.hatch(a.at(c.TopLimit), top, a.to, high(1-c.Top))
		d.path([]point{{a.at(c.TopLimit), top}, {a.at(c.TopLimit), high(1 - c.Top)}, {a.to, high(1 - c.Top)}}, 1, grey)
	}
	d.path(outline(a, r, high), 1.6, black)
	for _, l := range r.Limits {
		x := a.at(l)
		d.items = append(d.items, area{[]point{{x - 4, base - 8}, {x + 4, base - 8}, {x, base - 1}}, black})
	}
}

// outline is the line of a curve: from where it is known to where it ends.
func outline(a *axis, r *Row, high func(float64) float64) []point {
	steps := r.steps()
	first, last := steps[0], steps[len(steps)-1]
	var out []point
	if r.Curve.Rest > 0 && first.X == r.Curve.Steps[0].X {
		out = append(out, point{a.at(r.Curve.RestLimit), high(r.Curve.Rest)})
	}
	for _, s := range steps {
		out = append(out, point{a.at(s.X), high(s.Less)}, point{a.at(s.X), high(s.Upto)})
	}
	switch {
	case !r.Whole || last.X != r.Curve.Steps[len(r.Curve.Steps)-1].X:
	case r.Curve.Top > 0:
		out = append(out, point{a.at(r.Curve.TopLimit), high(1 - r.Curve.Top)})
	default:
		out = append(out, point{a.to, high(1)})
	}
	return apart(out)
}

// apart leaves out points that are where the one before is.
func apart(points []point) []point {
	out := points[:1]
	for _, p := range points[1:] {
		if last := out[len(out)-1]; math.Abs(p.x-last.x)+math.Abs(p.y-last.y) > 0.01 {
			out = append(out, p)
		}
	}
	return out
}
