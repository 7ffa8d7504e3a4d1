package draft

import "strings"

// partColumn decides a column whose wider heading names the test and whose
// own says which part of it, "ppm", "Result" or "Rating" under "Phosphorus",
// or how it was measured, "in water" under "pH".
func (d *drafter) partColumn(c *column, title string) bool {
	if len(c.under) == 0 {
		return false
	}
	over := c.under[len(c.under)-1]
	role := columnOf(title)
	_, _, isUnit := unitOf(d.v, title)
	if whole, ok := d.understand(over+" "+title, c.unit); ok && !isUnit && role == "" && whole.unknown == 0 && numeric(c) && !d.standsAlone(title, c) {
		return d.partResult(c, over, title, whole)
	}
	if n := len(c.heading); n > 1 && numeric(c) && !isUnit && !d.standsAlone(title, c) {
		// "KCl" over "1 M" is 1 M KCl.
		turned := c.heading[n-1] + " " + strings.Join(c.heading[:n-1], " ")
		if whole, ok := d.understand(over+" "+turned, c.unit); ok && whole.unknown == 0 {
			return d.partResult(c, over, title, whole)
		}
	}
	if whole, ok := d.understand(strings.Join(append(append([]string{}, c.under...), title), " "), c.unit); ok && !isUnit && role == "" && whole.unknown == 0 && numeric(c) && len(c.under) > 1 && !d.standsAlone(title, c) {
		return d.partResult(c, strings.Join(c.under, " "), title, whole)
	}
	m, ok := d.understand(over, c.unit)
	if (!ok || m.conf < 0.6) && isUnit && len(c.under) > 1 {
		// "%" under "W-B" under "Organic matter": the lower one says how.
		both := strings.Join(c.under[len(c.under)-2:], " ")
		if m, ok = d.understand(both, title); ok && m.conf >= 0.5 && numeric(c) && suits(m.analyte, d.unitID(title)) {
			m.unit = title
			return d.partResult(c, both, title, m)
		}
		return false
	}
	if !ok || m.conf < 0.6 {
		return false
	}
	switch {
	case isUnit && numeric(c):
		m.unit = title
		m2, ok := d.understand(over, title)
		if ok {
			m = m2
		}
	case role == "result" && numeric(c):
	case role == "rating" && !numericOnly(c):
		c.role, c.m, c.conf = "rating", m, 0.8
		return true
	case role == "reference" || role == "previous":
		c.role, c.why, c.conf = "nothing", "for comparison, not a result of this sample", 0.85
		return true
	default:
		return false
	}
	return d.partResult(c, over, title, m)
}

// standsAlone reports whether a heading names its test without the wider
// heading over it.
func (d *drafter) standsAlone(title string, c *column) bool {
	m, ok := d.understand(title, c.unit)
	return ok && m.unknown == 0 && m.conf >= 0.6
}

func (d *drafter) unitID(text string) string {
	id, _, _ := unitOf(d.v, text)
	return id
}

func (d *drafter) partResult(c *column, over, title string, m meaning) bool {
	c.role, c.m, c.conf, c.ask, c.over = "result", m, min(m.conf, 0.85), m.ask, over
	c.because = "the heading over it names " + m.analyte
	if c.far {
		c.conf = 0.5
		c.ask = append(c.ask, "does "+quoted(title)+" stand under "+quoted(over)+"?")
	}
	d.cellForm(c)
	return true
}

// comparison reports whether a heading speaks of an earlier result: its first
// words do, and the rest names a test or nothing.
func comparison(title string) bool {
	ws := strings.Fields(title)
	for n := min(3, len(ws)); n > 0; n-- {
		if columnOf(strings.Join(ws[:n], " ")) == "previous" {
			return true
		}
	}
	return false
}

// comparisonAtEnd reports whether a heading ends in words for an earlier result,
// such as "P2O5 last year" or "K (previous)", but for a unit in brackets behind
// them.
func (d *drafter) comparisonAtEnd(title string) bool {
	if open := strings.LastIndex(title, "("); open > 0 && strings.HasSuffix(title, ")") {
		if d.unitID(title[open+1:len(title)-1]) != "" {
			title = title[:open]
		}
	}
	ws := strings.Fields(title)
	for n := min(3, len(ws)-1); n > 0; n-- {
		if columnOf(strings.Trim(strings.Join(ws[len(ws)-n:], " "), "()[]")) == "previous" {
			return true
		}
	}
	return false
}
