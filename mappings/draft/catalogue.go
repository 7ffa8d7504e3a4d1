package draft

import (
	"slices"
	"sort"
	"strings"

	"example.org/windrow/mappings"
)

func sortStrings(s []string) { sort.Strings(s) }

// A testEntry is one line proposed for the catalogue of tests.
type testEntry struct {
	label         string
	m             meaning
	units         []string // as printed
	unprinted     string   // unit that the report does not print beside the value
	words         bool     // its value is a word
	methodPrinted bool
	own, row      string // method in its label, and in the method's column, as far as it is known
	bare          bool   // some values stand without the unit that others have
	ask           []string
}

type catalogue struct {
	list []*testEntry
	by   map[string]*testEntry
}

func (c *catalogue) find(label string) *testEntry { return c.by[mappings.Squeeze(label)] }

func (c *catalogue) add(label string, m meaning) *testEntry {
	e := &testEntry{label: label, m: m, ask: m.ask, words: m.analyte == "texture"}
	if m.analyte == "buffer_pH" && m.unit == "lime index" {
		e.unprinted = m.unit
	}
	if c.by == nil {
		c.by = map[string]*testEntry{}
	}
	c.list, c.by[mappings.Squeeze(label)] = append(c.list, e), e
	return e
}

// selfUnit are the analytes that need no unit.
func selfUnit(analyte string) bool {
	return analyte == "pH" || analyte == "buffer_pH" || analyte == "texture"
}

// perArea are the units that say nothing without the soil they stand for.
var perArea = map[string]bool{"lb/acre": true, "kg/ha": true, "lb/1000ft2": true, "lb/100ft2": true, "oz/1000ft2": true, "g/m2": true}

// addUnit notes a unit that is printed for a test.
func (e *testEntry) addUnit(d *drafter, unit string) bool {
	if unit == "" {
		return false
	}
	id, also, ok := unitOf(d.v, unit)
	if !ok {
		return false
	}
	if selfUnit(e.m.analyte) {
		return id == "pH" || id == "class"
	}
	if also != "" {
		d.unitAs[unit] = also
	}
	if perArea[id] {
		d.areaUnits[unit] = id
	}
	if !suits(e.m.analyte, id) {
		e.ask = append(e.ask, "can "+e.m.analyte+" be given in "+unit+"? The label may measure something else")
		e.m.conf = min(e.m.conf, 0.4)
	}
	if id == "index" && e.m.basis == "" {
		e.m.basis = "index"
	}
	if !slices.Contains(e.units, unit) {
		e.units = append(e.units, unit)
	}
	return true
}

// columnTest enters the test of a column, under a name of its own where the
// heading alone would mean two tests. It reports whether the column can be
// read; if not, it asks.
func (d *drafter) columnTest(c *column) {
	unit, printed := c.unit, c.unit != ""
	if !printed && c.m.unit != "" && strings.Contains(mappings.Squeeze(strings.Join(c.heading, " ")), mappings.Squeeze(c.m.unit)) {
		unit, printed = c.m.unit, true
	}
	if _, _, ok := unitOf(d.v, unit); unit != "" && !ok {
		unit, printed = "", false
	}
	label := unhyphen(c.title())
	if label != c.title() {
		c.test = label
	}
	if c.over != "" {
		label = strings.TrimSpace(c.over + " " + label)
		c.test = label
	}
	e := d.tests.find(label)
	if e != nil && !e.same(d, c.m) {
		label = d.otherName(c, unit)
		e = d.tests.find(label)
		c.test = label
	}
	if e == nil {
		e = d.tests.add(label, c.m)
	} else if c.over == "" && e.label != c.title() && e.label != c.heading[0] {
		c.test = e.label
	}
	switch {
	case printed:
		if e.unprinted != "" && len(e.units) == 0 {
			e.units, e.unprinted = nil, ""
		}
		e.addUnit(d, unit)
	case selfUnit(e.m.analyte) || e.words:
	case len(e.units) > 0:
		// Another layout prints the unit, this one does not.
		name := e.label + " without a printed unit"
		n := d.tests.find(name)
		if n == nil {
			n = d.tests.add(name, c.m)
		}
		c.test = name
		d.noUnit(c, n)
	default:
		d.noUnit(c, e)
	}
}

// noUnit handles a test whose unit is printed nowhere: a share is proposed
// with a question where the analyte has hardly another unit; anything else is
// left unread until the steward has answered.
func (d *drafter) noUnit(c *column, e *testEntry) {
	if c != nil && e.unprinted == "" {
		for _, u := range c.under {
			w := unitInHeading(d, u)
			if id, _, ok := unitOf(d.v, u); ok && suits(e.m.analyte, id) {
				w = u // the wider heading is the unit
			}
			if id, _, _ := unitOf(d.v, w); w != "" && suits(e.m.analyte, id) {
				e.unprinted = w // verified with the wider heading itself
				if c.far {
					e.ask = append(e.ask, "does "+quoted(c.title())+" stand under "+quoted(u)+", and is its unit "+w+"?")
					e.m.conf = min(e.m.conf, 0.5)
				}
				return
			}
		}
	}
	if e.unprinted != "" && (e.unprinted != "-" || c == nil) {
		return
	}
	if d.generalUnit != "" && !strings.HasPrefix(e.m.analyte, "base_sat") && e.m.analyte != "OM" && e.m.analyte != "EC" && e.m.analyte != "CEC" && e.m.analyte != "acidity" && !isShare(e.m.analyte) {
		e.unprinted = d.generalUnit
		e.ask = append(e.ask, "no unit stands by the value; a note says "+quoted(d.generalUnit)+". Is that the unit?")
		return
	}
	if isShare(e.m.analyte) {
		e.unprinted = "%"
		e.ask = append(e.ask, "the report prints no unit; is it %?")
		return
	}
	if e.m.analyte == "SAR" {
		e.unprinted = "ratio"
		return
	}
	e.unprinted = "-"
	if c != nil {
		c.role, c.why, c.conf = "nothing", "its unit is not known", 0.2
		c.test = ""
		c.ask = append(c.ask, "in which unit is "+quoted(c.title())+" ("+e.m.analyte+") given? Write a test with unit not printed: and take reads: nothing out")
	}
}

// unitInHeading is the unit at the end of a wider heading, such as
// "Nutrients, ppm" or "Extractable (mg/kg)".
func unitInHeading(d *drafter, text string) string {
	tokens := labelTokens(text)
	for n := min(3, len(tokens)-1); n > 0; n-- {
		u := strings.Join(tokens[len(tokens)-n:], " ")
		if id, _, ok := unitOf(d.v, u); ok && id != "pH" && id != "index" {
			return u
		}
	}
	return ""
}

func isShare(analyte string) bool {
	return strings.HasPrefix(analyte, "base_sat") || analyte == "sand" || analyte == "silt" || analyte == "clay" || analyte == "solids"
}

func (e *testEntry) same(d *drafter, m meaning) bool {
	if e.m.analyte != m.analyte || e.m.basis != m.basis || e.m.detail != m.detail {
		return false
	}
	a, _ := d.v.Resolve(mappings.MethodWord, e.m.method)
	b, _ := d.v.Resolve(mappings.MethodWord, m.method)
	return a == b
}

// otherName is a name for a test whose label another test has.
func (d *drafter) otherName(c *column, unit string) string {
	base := c.title()
	if strings.HasPrefix(c.m.analyte, "base_sat") {
		base += " saturation"
	} else if c.m.method != "" {
		base += ", " + c.m.method
	} else if unit != "" {
		base += " in " + unit
	}
	name := base
	for i := 2; ; i++ {
		e := d.tests.find(name)
		if e == nil || e.same(d, c.m) {
			return name
		}
		name = base + " " + string(rune('0'+i))
	}
}

func quoted(s string) string { return "'" + strings.ReplaceAll(s, "'", "") + "'" }
