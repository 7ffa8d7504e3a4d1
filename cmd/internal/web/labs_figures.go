package web

import (
	"context"
	"fmt"
	"math"
	"net/http"

	"example.org/windrow/normalize/archive/index"
	"example.org/windrow/normalize/chart"
	"example.org/windrow/normalize/check"
)

// labStanding is how a laboratory's reports stand: what holds them, how they
// drift from their mapping, and how often they contradict themselves.
type labStanding struct {
	Causes []causeLine
	Drifts []index.Drift
	Years  []rateLine
	All    rateLine // of all years
	Odd    []oddLine
	Rates  *columns // the years drawn; nil for fewer than two
}

// A causeLine is a cause for which reports are held.
type causeLine struct {
	index.Cause
	Waited string // how long the oldest has waited
}

// A rateLine is how many reports of a year contradict themselves.
type rateLine struct {
	index.Tally
	Percent, OddPercent string
}

// An oddLine is a check by which reports contradict themselves.
type oddLine struct {
	index.Contradiction
	Title string // what the check wants to hold
}

// standing asks the index how a laboratory's reports stand.
func (d *Desk) standing(ctx context.Context, lab string) (s labStanding, err error) {
	office := officeOf(ctx)
	causes, err := d.off.Index.Causes(ctx, office, lab)
	if err != nil {
		return s, err
	}
	for _, c := range causes {
		s.Causes = append(s.Causes, causeLine{c, waited(d.daysSince(c.Since))})
	}
	if s.Drifts, err = d.off.Index.Drifts(ctx, office, lab); err != nil {
		return s, err
	}
	years, err := d.off.Index.Tallies(ctx, office, lab)
	if err != nil {
		return s, err
	}
	for _, y := range years {
		s.All.Reports += y.Reports
		s.All.Contradicted += y.Contradicted
		s.All.Records += y.Records
		s.All.OddRecords += y.OddRecords
		s.Years = append(s.Years, rateOf(y))
	}
	s.All = rateOf(s.All.Tally)
	var cols []column
	for _, y := range s.Years {
		if y.Year != "" {
			cols = append(cols, column{Name: y.Year, Value: 100 * float64(y.Contradicted) / float64(y.Reports)})
		}
	}
	s.Rates = drawColumns(cols, " %")
	odd, err := d.off.Index.Contradictions(ctx, office, lab)
	titles := checkTitles()
	for _, o := range odd {
		s.Odd = append(s.Odd, oddLine{o, titles[o.Check]})
	}
	return s, err
}

// checkTitles are what the checks want to hold, by their codes.
func checkTitles() map[string]string {
	titles := map[string]string{}
	for _, c := range check.All() {
		titles[c.Code] = c.Title
	}
	return titles
}

func rateOf(t index.Tally) rateLine {
	return rateLine{t, share(t.Contradicted, t.Reports), share(t.OddRecords, t.Records)}
}

// driftSince is since when reports of each laboratory that are held now do not
// look as they used to, by the laboratory's id.
func (d *Desk) driftSince(r *http.Request) (map[string]string, error) {
	drifts, err := d.drifts.get(context.WithoutCancel(r.Context()), func(ctx context.Context) ([]index.Drift, error) {
		return d.off.Index.Drifts(ctx, officeOf(ctx), "")
	})
	out := map[string]string{}
	for _, x := range drifts { // those first that began first
		if since, has := out[x.Lab]; !has || since == "" {
			out[x.Lab] = x.Since
		}
	}
	return out, err
}

// A column is one bar of a chart, with a dot on or below its end where there is
// a second number.
type column struct {
	Name    string
	Value   float64
	Dotted  bool
	Dot     float64
	X, W    float64 // places
	Y, H    float64
	DotY    float64
	Mid     float64
	Labeled bool
}

// columns are a chart of bars from nought.
type columns struct {
	List       []column
	Rows       []tickMark
	Wide, High float64
	Base, Left float64
}

// drawColumns lays bars out, with a unit behind the numbers beside; nil for
// fewer than two.
func drawColumns(list []column, unit string) *columns {
	if len(list) < 2 {
		return nil
	}
	c := &columns{List: list, Wide: chartWide, High: chartBase + 28, Base: chartBase, Left: chartLeft}
	high := 1.0
	for _, x := range list {
		high = math.Max(high, math.Max(x.Value, x.Dot))
	}
	step := niceStep(high / 4)
	if unit == "" {
		step = math.Ceil(step) // whole days
	}
	high = math.Ceil(high/step-1e-9) * step
	at := func(v float64) float64 { return chartBase - (chartBase-chartTop)*v/high }
	for n := 0; float64(n)*step <= high+step/2; n++ {
		v := float64(n) * step
		c.Rows = append(c.Rows, tickMark{at(v), fmt.Sprint(chart.Places(v, step), unit)})
	}
	each := (chartWide - chartLeft - 8) / float64(len(list))
	for i := range c.List {
		x := &c.List[i]
		x.W = math.Min(each*0.62, 46)
		x.Mid = chartLeft + each*(float64(i)+0.5)
		x.X, x.Y, x.H = x.Mid-x.W/2, at(x.Value), chartBase-at(x.Value)
		x.DotY = at(x.Dot)
		x.Labeled = i%max(1, (len(list)+11)/12) == 0
	}
	return c
}
