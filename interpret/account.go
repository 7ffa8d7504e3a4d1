package interpret

import (
	"slices"
	"strings"
)

// close settles the outcome, the bibliography and what must be disclosed.
func (a *adviser) close() {
	o := a.out
	o.Outcome = Advised
	if len(o.Questions) > 0 {
		o.Outcome = Partly
	}
	if a.blocked || len(o.Lines) == 0 {
		o.Outcome = AskOnly
	}
	cited := map[string]*Cited{}
	seen := map[string]bool{}
	each := func(bs []Basis) {
		for _, b := range bs {
			c := cited[b.Source]
			if c == nil {
				src := a.rs.Sources[b.Source]
				c = &Cited{Key: b.Source, Text: src.Text, Link: src.Link}
				cited[b.Source] = c
			}
			if !slices.Contains(c.Rows, b.Row) {
				c.Rows = append(c.Rows, b.Row)
			}
			if !slices.Contains(c.Provenance, b.Provenance) {
				c.Provenance = append(c.Provenance, b.Provenance)
			}
			if !seen[b.Row] {
				seen[b.Row] = true
				o.Rests[b.Provenance]++
			}
		}
	}
	weak := map[Provenance][]string{}
	note := func(name string, bs []Basis) {
		each(bs)
		for _, b := range bs {
			if !b.Provenance.Published() && !slices.Contains(weak[b.Provenance], name) {
				weak[b.Provenance] = append(weak[b.Provenance], name)
			}
		}
	}
	for _, r := range o.Ratings {
		note(PlainName(r.Analyte)+" rating", r.Basis)
	}
	for _, l := range o.Lines {
		note(PlainName(l.ID), l.Basis)
	}
	if o.Lead != nil {
		note("lead", o.Lead.Basis)
	}
	for _, c := range o.Cautions {
		each(c.Basis)
	}
	for _, q := range o.Questions {
		each(q.Basis)
	}
	for _, x := range o.Alarms {
		each(x.Basis)
	}
	each(o.Again.Basis)
	for _, c := range cited {
		slices.Sort(c.Rows)
		o.Sources = append(o.Sources, *c)
	}
	slices.SortFunc(o.Sources, func(x, y Cited) int { return strings.Compare(x.Text, y.Text) })
	for _, p := range Provenances {
		if n := weak[p]; len(n) > 0 {
			o.Disclosure = append(o.Disclosure, "The advice on "+list(n)+" rests on "+p.Rests()+".")
		}
	}
}

// disclose tells what a choice of products rests on that is no publication's
// and no label's. It stands in the plan, as the lines can be told without it.
func (p *Plan) disclose() {
	for _, kind := range Provenances {
		var rows []string
		for _, b := range p.Basis {
			if b.Provenance == kind && !kind.Published() {
				rows = append(rows, b.Row)
			}
		}
		if len(rows) > 0 {
			p.Disclosure = append(p.Disclosure, "The choice of products rests on "+kind.Rests()+" (rows "+list(rows)+").")
		}
	}
}

func list(n []string) string {
	if len(n) == 1 {
		return n[0]
	}
	return strings.Join(n[:len(n)-1], ", ") + " and " + n[len(n)-1]
}
