package interpret

import (
	"slices"
	"strings"

	"example.org/windrow/normalize"
	"example.org/windrow/normalize/method"
)

// rateEstimate rates a result whose method no table is made for by what an
// equation says that a method of a table would find: only by the equations
// that the table names, and never by one whose domain the sample lies outside
// of. ok is false where no table allows it. Where two allowed equations give
// different classes, or an interval reaches over more than one, there is no
// class.
func (rs *RuleSet) rateEstimate(out Rating, r *normalize.Result, use string, soil ground) (g Rating, ok bool) {
	for i := range r.Estimates {
		e := &r.Estimates[i]
		if e.Value == "" || e.InDomain == "outside" || e.Analyte != r.Analyte || r.Censored != "" {
			continue
		}
		var tables []*RatingTable
		for j := range rs.Ratings {
			t := &rs.Ratings[j]
			if t.Analyte == e.Analyte && t.Unit == e.Unit && t.covers(use) && slices.Contains(t.Methods, e.Method) && slices.Contains(t.FromEstimates, e.Equation) {
				tables = append(tables, t)
			}
		}
		if len(tables) == 0 {
			continue
		}
		one := rs.oneEstimate(out, e, tables, soil)
		switch {
		case !ok:
			g, ok = one, true
		case g.Class != one.Class:
			clear := out
			clear.Not = "Two published equations estimate it for the test of our tables, and they do not agree on a class."
			return clear, true
		}
	}
	return g, ok
}

func (rs *RuleSet) oneEstimate(out Rating, e *normalize.Estimate, tables []*RatingTable, soil ground) Rating {
	v, ok := ratOf(e.Value)
	if !ok {
		out.Not = "There is no value in a unit that the tables use."
		return out
	}
	s := span{low: v, high: v, value: v, half: halfDigit(string(e.Value))}
	if e.Interval != nil {
		low, ok1 := ratOf(e.Interval.Low)
		high, ok2 := ratOf(e.Interval.High)
		if ok1 && ok2 {
			s = span{low: low, high: high}
		}
	}
	g := out
	if tables[0].conditional() {
		g = rs.rateBySoil(g, tables, s, soil)
	} else {
		classify(&g, tables[0], s)
	}
	name := e.Method
	if m, ok := method.Standard().Method(e.Method); ok {
		name = m.Name
	}
	// The measured value has no place on a scale of another method.
	g.Bands, g.ToNext, g.NextClass, g.Close, g.Differs = nil, "", "", "", ""
	if g.Class == "" {
		if e.Interval != nil {
			g.Not = "An estimate for the test of our tables (" + name + ") reaches over more than one class: " + string(e.Interval.Low) + " to " + string(e.Interval.High) + " " + e.Unit + "."
		}
		return g
	}
	g.Estimate = &Estimated{Equation: e.Equation, Method: name, Value: string(e.Value), Unit: e.Unit, Unknown: e.Unknown, Source: e.Source}
	if e.Interval != nil {
		g.Estimate.Low, g.Estimate.High = string(e.Interval.Low), string(e.Interval.High)
	}
	g.Decided = "an estimate of " + string(e.Value) + " " + e.Unit + " by " + name + " (conversion " + e.Equation + "): " + g.Decided
	return g
}

// estimates holds a table's list of conversions against the table of
// conversions: each is there, at work, and gives what the table rates.
func (c *checker) estimates(t *RatingTable) {
	for _, id := range t.FromEstimates {
		row, ok := normalize.Equations().Row(id)
		expected := "the id of a conversion that is in use, of " + t.Analyte + " to " + strings.Join(t.Methods, " or ")
		switch {
		case !ok:
			c.fault("unknown-conversion", t.Of("from_estimates"), "there is no such conversion", expected, id, "")
		case !row.Active:
			c.fault("conversion-not-used", t.Of("from_estimates"), "the conversion makes no estimates: "+row.Inactive, expected, id, "")
		case !slices.Contains(row.Analytes, t.Analyte) || row.ToAnalyte != "" || !slices.Contains(t.Methods, row.To[0]) || row.ToUnit != t.Unit:
			c.fault("conversion-elsewhere", t.Of("from_estimates"), "the conversion does not give what the table rates", expected, id, "")
		}
	}
}
