package reference

import (
	"cmp"
	"fmt"
	"math/big"
	"slices"
	"strconv"
	"strings"

	"example.org/windrow/normalize"
	"example.org/windrow/normalize/estimate"
	"example.org/windrow/normalize/unit"
)

// A Page is the reference of conversions.
type Page struct {
	Title    string
	Intro    []string // paragraphs
	Sections []Section
}

// A Section is one table with what is to be said before it.
type Section struct {
	Title string
	Intro string
	Head  []string
	Rows  [][]string // each as long as Head
}

// New is the page of the tables in force.
func New() *Page {
	t, e := unit.Standard(), normalize.Equations()
	p := &Page{Title: "Conversions", Intro: []string{
		"Every conversion that Windrow knows. The page is written from the tables that convert, so it says what is in force.",
		"A value is converted only by what was read in its source, is computed from exact definitions or atomic weights, or is so by definition. What is known from memory or common practice alone, and what nothing here needs, is listed with “no” and the reason. Customary figures are those the trade rounds to; they stand here for comparison and are not used.",
		"A value by one method of extraction is never replaced by an equation: estimates stand beside what was measured, with their source, and inside or outside the soils they were made from.",
		"Depth, density, basis and method come from the report or from the laboratory's stated practice in its mapping. Where neither states what a conversion needs, the value is not converted and says why.",
		"Checks are rows of the tables under testdata/published, which the tests run: U… of conversions-units.csv; G…, C…, DS…, N…, R… and V… of conversions-checks.csv; D… and I… of conversions-derived.csv; W… of ions-and-lime.csv; T-… of units-reference.csv, the answers of GNU Units and of the UCUM library for the same unit, form, weight or material. Equations are held by the row of the same name in conversions-methods.csv. A factor that is wrong by 0.1 % fails at least one of the checks named beside it.",
	}}
	b := &builder{sources: normalize.Sources()}
	p.Sections = []Section{b.units(t), b.forms(t), b.elements(t), b.lime(t), b.kinds(t), b.equations(e), b.derived(e), b.scales(e)}
	p.Sections = append([]Section{b.counts(), b.used()}, p.Sections...)
	p.Sections = append(p.Sections, b.bibliography())
	return p
}

// A builder makes sections and counts what their rows rest on.
type builder struct {
	sources map[string]normalize.Source
	tallies []tally
	keys    map[string]int
}

type tally struct {
	table        string
	rows, active int
	by           map[string]int
}

// row counts one row of the last table begun.
func (b *builder) row(active bool, provenance string, keys ...string) {
	c := &b.tallies[len(b.tallies)-1]
	c.rows++
	c.by[provenance]++
	if active {
		c.active++
	}
	if b.keys == nil {
		b.keys = map[string]int{}
	}
	for _, k := range keys {
		b.keys[k]++
	}
}

func (b *builder) begin(table string) {
	b.tallies = append(b.tallies, tally{table: table, by: map[string]int{}})
}

// source is a citation in full, with what was seen of it.
func (b *builder) source(keys ...string) string {
	var out []string
	for _, k := range keys {
		s := b.sources[k]
		out = append(out, fmt.Sprintf("%s: %s [%s]", k, s.Text, s.Provenance))
	}
	return strings.Join(out, " ")
}

func inUse(active bool, reason string) string {
	if active {
		return "yes"
	}
	return "no: " + reason
}

// number writes an exact rational: as it is where it is short, else to ten
// digits.
func number(r *big.Rat) string {
	if r == nil {
		return ""
	}
	if s := r.RatString(); len(s) <= 14 && !strings.Contains(s, "/") {
		return s
	}
	return unit.FormatTo(r, 10, 1)
}

// exact is a factor as a fraction beside its decimal digits.
func exact(r *big.Rat) string {
	s := r.RatString()
	if d := number(r); d != s && len(s) <= 30 {
		return s + " = " + d
	}
	return number(r)
}

func (b *builder) units(t *unit.Table) Section {
	b.begin("Units")
	s := Section{Title: "Units", Intro: "Units of one kind convert by their factors alone; between kinds something else must be known, and the table of steps says what. UCUM has no mole of charge and only the US survey acre.",
		Head: []string{"Unit", "Name", "Kind", "Factor", "Of", "Customary", "UCUM", "Used", "Rests on", "Checks", "Note", "Source"}}
	for _, u := range t.Units {
		b.row(u.Active, u.Provenance, u.Source)
		s.Rows = append(s.Rows, []string{u.ID, u.Name, string(u.Dimension), exact(u.Factor), t.Canonical(u.Dimension).ID, u.Customary, u.UCUM, inUse(u.Active, u.Reason), u.Provenance, strings.Join(u.Checks, " "), u.Note, b.source(u.Source)})
	}
	return s
}

func (b *builder) forms(t *unit.Table) Section {
	b.begin("Forms of elements")
	s := Section{Title: "Oxides, ions and other forms of elements", Intro: "The share of the element is exact from the atomic weights below.",
		Head: []string{"Form", "Element", "Share of the element", "Element to form", "Customary", "Used", "Rests on", "Checks", "Note", "Source"}}
	for _, x := range t.Bases {
		b.row(x.Active, x.Provenance, x.Source)
		s.Rows = append(s.Rows, []string{x.ID, x.Element, number(x.Factor), number(new(big.Rat).Inv(x.Factor)), x.Customary, inUse(x.Active, x.Reason), x.Provenance, strings.Join(x.Checks, " "), x.Note, b.source(x.Source)})
	}
	return s
}

func (b *builder) elements(t *unit.Table) Section {
	b.begin("Elements")
	s := Section{Title: "Atomic weights and charges", Intro: "One mmol/kg is so many mg/kg as the atomic weight says; one cmol(+)/kg, or meq per 100 g, is ten times the weight over the charge.",
		Head: []string{"Element", "Atomic weight", "Charge", "mg/kg per cmol(+)/kg", "Customary", "Used", "Rests on", "Checks", "Source"}}
	var symbols []string
	for k := range t.Weights {
		symbols = append(symbols, k)
	}
	slices.SortFunc(symbols, func(x, y string) int { return t.Weights[x].Weight.Cmp(t.Weights[y].Weight) })
	for _, k := range symbols {
		w := t.Weights[k]
		b.row(w.Active, w.Provenance, w.Source)
		charge, per := "no one", ""
		if f, ok := t.PerCharge(k); ok {
			charge, per = strconv.Itoa(w.Charge), number(f)
		}
		s.Rows = append(s.Rows, []string{k, number(w.Weight), charge, per, w.Customary, inUse(w.Active, w.Reason), w.Provenance, strings.Join(w.Checks, " "), b.source(w.Source)})
	}
	return s
}

func (b *builder) lime(t *unit.Table) Section {
	b.begin("Liming materials")
	s := Section{Title: "Liming materials", Intro: "Calcium carbonate equivalents of the pure materials. What is sold is not pure: its label says what it is worth.",
		Head: []string{"Material", "Formula", "Equivalent, %", "Customary", "Used", "Rests on", "Checks", "Note", "Source"}}
	for _, m := range t.Lime {
		b.row(m.Active, m.Provenance, m.Source)
		s.Rows = append(s.Rows, []string{m.Name, m.Formula, number(m.CCE), m.Customary, inUse(m.Active, m.Reason), m.Provenance, strings.Join(m.Checks, " "), m.Note, b.source(m.Source)})
	}
	return s
}

func (b *builder) kinds(t *unit.Table) Section {
	b.begin("Steps")
	s := Section{Title: "Steps, and what each needs", Intro: "The kinds of step in the lineage of a value, by the name that stands in the record, and those that are known and not taken. x is the amount before the step.",
		Head: []string{"Step", "What it does", "From", "To", "Equation", "Factor", "Needs", "Customary", "Used", "Rests on", "Checks", "Note", "Source"}}
	for _, c := range t.Conversions {
		b.row(c.Active, c.Provenance, c.Source)
		s.Rows = append(s.Rows, []string{c.ID, c.Name, c.From, c.To, c.Equation, number(c.Factor), c.Needs, c.Customary, inUse(c.Active, c.Reason), c.Provenance, strings.Join(c.Checks, " "), c.Note, b.source(c.Source)})
	}
	return s
}

func (b *builder) equations(t *estimate.Table) Section {
	b.begin("Equations between methods")
	s := Section{Title: "Equations between methods", Intro: "Published equations, as they were published. An estimate stands beside what was measured and never in its place; where two equations disagree, both are shown.",
		Head: []string{"Row", "Analyte", "From", "To", "Equation", "Domain", "n", "R2", "Error", "Verdict", "Used", "Rests on", "Checks", "Note", "Source"}}
	for _, r := range t.Rows {
		b.row(r.Active, r.Provenance, r.Sources...)
		eq, check := "none read", ""
		if r.Equation != nil {
			eq, check = r.Equation.String(), r.ID
		}
		var domain []string
		for _, c := range r.Domain {
			domain = append(domain, c.String())
		}
		to := strings.Join(r.To, " ")
		if r.ToAnalyte != "" {
			to = strings.TrimSpace(r.ToAnalyte + " " + to)
		}
		s.Rows = append(s.Rows, []string{r.ID, strings.Join(r.Analytes, " "), amountBy(r.Unit, strings.Join(r.From, " ")), amountBy(r.ToUnit, to), eq, strings.Join(domain, "; "), r.N, r.R2, r.Error,
			string(r.Verdict), inUse(r.Active, r.Inactive), r.Provenance, check, r.Note, b.source(r.Sources...)})
	}
	return s
}

func (b *builder) derived(t *estimate.Table) Section {
	b.begin("Derived quantities")
	s := Section{Title: "Quantities that follow from results", Intro: "What is worked out of several results of one sample. Nobody measured it: it is shown apart from results, in no record, and never rated. Inputs that name no method are all by one of the methods; amounts are in mg/kg unless the input says otherwise. Nothing is worked out where an input is missing, a limit, held, or stands twice, or where the sample is outside the limits. The mean of several readings of pH (the published row P018) is used by nothing here and has a function of its own in the package.",
		Head: []string{"Row", "Quantity", "Name", "Methods", "Inputs", "Equation", "Unit", "Domain", "Threshold", "Verdict", "Used", "Rests on", "Checks", "Note", "Source"}}
	for _, d := range t.Derived {
		b.row(d.Active, d.Provenance, d.Source)
		eq, check := "none read", ""
		if d.Equation != nil {
			eq, check = d.Equation.String(), d.ID
		}
		var inputs, domain []string
		for _, n := range d.Inputs {
			inputs = append(inputs, amountBy(n.Unit, strings.TrimSpace(n.Name+" "+n.Method)))
		}
		for _, c := range d.Domain {
			domain = append(domain, c.String())
		}
		s.Rows = append(s.Rows, []string{d.ID, d.Quantity, d.Name, strings.Join(d.Extracts, " "), strings.Join(inputs, "; "), eq, d.Unit, strings.Join(domain, "; "), d.Threshold,
			string(d.Verdict), inUse(d.Active, d.Inactive), d.Provenance, check, d.Note, b.source(d.Source)})
	}
	return s
}

func amountBy(unit, methods string) string {
	if unit == "" {
		return methods
	}
	return strings.TrimSpace(methods + " (" + unit + ")")
}

func (b *builder) scales(t *estimate.Table) Section {
	b.begin("Scales")
	s := Section{Title: "Scales of index and rating", Intro: "A scale of classes leads back to an interval and never to one value.",
		Head: []string{"Scale", "Title", "Analyte", "Unit", "Classes or factor", "Used", "Rests on", "Checks", "Note", "Source"}}
	for _, x := range t.Scales {
		b.row(x.Active, x.Provenance, x.Source)
		var classes []string
		for _, c := range x.Classes {
			high := " to " + c.High
			if c.High == "" {
				high = " and above"
			}
			classes = append(classes, c.Index+": "+c.Low+high)
		}
		if x.Factor != nil {
			classes = append(classes, "amount = "+number(x.Factor)+" × index")
		}
		s.Rows = append(s.Rows, []string{x.ID, x.Title, x.Analyte, x.Unit, strings.Join(classes, "; "), inUse(x.Active, x.Inactive), x.Provenance, x.Row, x.Note, b.source(x.Source)})
	}
	return s
}

// counts tells what the rows rest on, table by table.
func (b *builder) counts() Section {
	var kinds []string
	for _, c := range b.tallies {
		for k := range c.by {
			if !slices.Contains(kinds, k) {
				kinds = append(kinds, k)
			}
		}
	}
	slices.Sort(kinds)
	s := Section{Title: "What the rows rest on", Intro: "How many rows each table has, how many of them convert, and how many rest on what.", Head: append([]string{"Table", "Rows", "Used"}, kinds...)}
	total := tally{table: "All", by: map[string]int{}}
	line := func(c tally) {
		r := []string{c.table, strconv.Itoa(c.rows), strconv.Itoa(c.active)}
		for _, k := range kinds {
			r = append(r, strconv.Itoa(c.by[k]))
		}
		s.Rows = append(s.Rows, r)
	}
	for _, c := range b.tallies {
		line(c)
		total.rows, total.active = total.rows+c.rows, total.active+c.active
		for k, n := range c.by {
			total.by[k] += n
		}
	}
	line(total)
	return s
}

// used counts the rows of each key, so that what has no source is seen.
func (b *builder) used() Section {
	s := Section{Title: "Rows without a source of their own", Intro: "“Common practice, no source” and “from memory” are keys like any other, so that they can be counted.", Head: []string{"Key", "Rows"}}
	for _, k := range []string{"common-practice", "from-memory", "definition"} {
		s.Rows = append(s.Rows, []string{k, strconv.Itoa(b.keys[k])})
	}
	return s
}

func (b *builder) bibliography() Section {
	s := Section{Title: "Bibliography", Intro: "Every source that a row of this page, a check or a step of a record names.", Head: []string{"Key", "Rows here", "Seen", "Source"}}
	var list []normalize.Source
	for _, x := range b.sources {
		list = append(list, x)
	}
	slices.SortFunc(list, func(x, y normalize.Source) int { return cmp.Compare(x.Key, y.Key) })
	for _, x := range list {
		s.Rows = append(s.Rows, []string{x.Key, strconv.Itoa(b.keys[x.Key]), x.Provenance, x.Text})
	}
	return s
}
