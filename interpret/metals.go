package interpret

import (
	"math/big"
	"slices"
	"strings"

	"example.org/windrow/normalize"
)

// Metals is what agencies have published about the total of a metal in soil:
// figures to compare with, none of them a limit for a garden, and what to do
// where the lowest is reached. A figure for an extract never stands here.
type Metals struct {
	Spot
	ID         string        `yaml:"id" rule:"required"`
	Analyte    string        `yaml:"analyte" rule:"required"`
	Unit       string        `yaml:"unit" rule:"required"`
	Do         string        `yaml:"do" rule:"required"`      // where a figure to compare with is reached that is not natural
	Ask        string        `yaml:"ask"`                     // where no more is reached than what soils hold by nature; wanted with such a figure
	Decides    string        `yaml:"decides" rule:"required"` // who says what is allowed
	Figures    []MetalFigure `yaml:"figures" rule:"required"`
	Source     string        `yaml:"source" rule:"required"`
	Provenance Provenance    `yaml:"provenance" rule:"required"`
}

// A MetalFigure is one of them. One that is not compared, such as a load of
// sewage sludge in kilograms on a hectare, is only told, so that nobody takes
// it for a limit of soil.
type MetalFigure struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	Figure     Num        `yaml:"figure" rule:"required"`
	Compare    bool       `yaml:"compare"`
	Natural    bool       `yaml:"natural"`              // the upper end of what soils hold by nature: a reason to ask, and not to stop
	Date       string     `yaml:"date" rule:"required"` // in force from, or the day to which the text that was read is current
	Until      string     `yaml:"until"`                // in force until
	Who        string     `yaml:"who" rule:"required"`
	Text       string     `yaml:"text" rule:"required"`
	Source     string     `yaml:"source" rule:"required"`
	Provenance Provenance `yaml:"provenance" rule:"required"`
}

// inForce reports whether a figure counts on a day; without a day those count
// that no later one has replaced.
func inForce(from, until, on string) bool {
	if on == "" {
		return until == ""
	}
	return from <= on && (until == "" || on < until)
}

// metalCautions are the cautions for a total of a metal: what has been
// published, and what to do where the lowest figure in force is reached. The
// result stays what it is; nothing is called safe.
func (a *adviser) metalCautions(r *normalize.Result) {
	for i := range a.rs.Metals {
		m := &a.rs.Metals[i]
		if m.Analyte != r.Analyte || m.Unit != r.Unit || !usable(r) || !slices.Contains(a.rs.Lead.TotalMethods, r.Method) {
			continue
		}
		s, ok := spanOf(r)
		if !ok || s.low.Sign() < 0 {
			continue
		}
		var said []string
		var by []Basis
		var lowest, natural *big.Rat
		for j := range m.Figures {
			f := &m.Figures[j]
			if !inForce(f.Date, f.Until, a.out.On) {
				continue
			}
			if f.Compare { // the others are told by explain, so that nobody takes them for a limit
				said = append(said, f.Text)
			}
			by = append(by, basis(f.ID, f.Source, f.Provenance, f.At))
			least := &lowest
			if f.Natural {
				least = &natural
			}
			if f.Compare && (*least == nil || f.Figure.rat().Cmp(*least) < 0) {
				*least = f.Figure.rat()
			}
		}
		if len(said) == 0 {
			continue
		}
		own := basis(m.ID, m.Source, m.Provenance, m.At)
		reached := func(f *big.Rat) bool { return f != nil && (s.high == nil || s.high.Cmp(f) >= 0) }
		switch {
		case a.out.Lead != nil && a.out.Lead.NoFood: // which says more
		case reached(lowest):
			a.more = append(a.more, Said{ID: m.ID + "-do", Text: m.Do, Basis: []Basis{own}})
		case reached(natural):
			a.more = append(a.more, Said{ID: m.ID + "-ask", Text: m.Ask, Basis: []Basis{own}})
		}
		a.more = append(a.more, Said{ID: m.ID, Text: strings.Join(append(said, m.Decides), " "), Basis: append(by, own)})
		return // one total of a metal is enough to say it once
	}
}

// metals checks that a figure can be compared and is told by its own text.
func (c *checker) metals() {
	for i := range c.rs.Metals {
		m := &c.rs.Metals[i]
		c.oneOf("analyte", m.Of("analyte"), m.Analyte, analytes())
		c.unit(m.Of("unit"), m.Unit, unitOfAnalyte[m.Analyte])
		for j := range m.Figures {
			f := &m.Figures[j]
			c.date(f.Of("date"), f.Date)
			if f.Until != "" {
				c.date(f.Of("until"), f.Until)
			}
			if f.Figure.rat().Sign() <= 0 || !strings.Contains(f.Text, string(f.Figure)+" ") {
				c.fault("figure-not-told", f.Of("text"), "the text does not tell its own figure", string(f.Figure)+" followed by its unit", f.Text, "")
			}
			if f.Natural && (!f.Compare || m.Ask == "") {
				c.fault("natural-not-used", f.Of("natural"), "a figure for what soils hold by nature is not compared, or nothing is said where it is reached", "compare: true, and a text under ask", "neither or one of them", "add it, or take natural out")
			}
			if f.Compare && !f.Provenance.Firm() && f.Provenance != Secondary {
				c.fault("not-firm", f.At, "a figure that soil is compared with rests on "+f.Provenance.Words(), "a figure that was read", string(f.Provenance), "read the rule, or take compare out")
			}
		}
	}
}
