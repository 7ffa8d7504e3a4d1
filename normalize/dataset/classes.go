package dataset

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
)

// A class is the samples that the tables show alike: with the same
// quasi-identifiers, as far as they are published, and the same tests.
type class struct {
	levels
	quasi          // as published
	cells  []*cell // whose samples they are
	shared panel   // the tests that all have, full or bare by the level
	people crowd
	limits limits // where print is withheld, the widest of its laboratories, under the name that is published
}

// A plan says of each cell how its samples are published.
type plan struct {
	k       int
	classes []*class
	of      map[cellKey]*class // nil for samples that are suppressed
	full    *panelTable
	bare    *panelTable
}

// panel is the panel of a cell that counts at a level of the laboratory.
func (p *plan) panel(c *cell, lab uint8) panel {
	if lab >= labNoPrint {
		return p.bare.list[c.bare]
	}
	return p.full.list[c.full]
}

// share makes a class of some cells at some levels, with the tests that they
// have in common.
func (p *plan) share(cells []*cell, l levels) *class {
	cl := &class{levels: l, quasi: cells[0].at(l), cells: cells}
	cl.shared = p.panel(cells[0], l[qLab])
	for _, c := range cells {
		if s := cl.shared.common(p.panel(c, l[qLab])); len(s) < len(cl.shared) {
			cl.shared = s
		}
		cl.people.join(&c.people)
	}
	return cl
}

// loss is what a class loses of its samples, in shares of lossUnit: by its
// levels, and by the results that are cut.
func (p *plan) loss(cl *class) int {
	n := 0
	for _, c := range cl.cells {
		all := p.panel(c, cl.levels[qLab]).tests()
		n += c.samples * (cl.levels.loss() + lossUnit*(all-cl.shared.tests())/all)
	}
	return n
}

// suppressedLoss is the loss of a sample that is left out whole: as much as if
// everything were generalised away and all results cut.
const suppressedLoss = 2 * lossUnit

// planOf makes the classes of some cells, so that each has samples of at least
// k clients. It climbs the ladder from the least loss to the greatest; on each
// rung those of the samples that are left and alike by its levels become a
// class where they are enough. Whoever is left at the end joins the class that
// loses least by it, or is suppressed where that costs less. No class is made
// by cutting more than half of the results of one of its samples.
//
// The order of the cells doesn't matter.
func planOf(cells []*cell, c *census, k int) *plan {
	full, bare := &c.full, &c.bare
	p := &plan{k: k, of: map[cellKey]*class{}, full: full, bare: bare}
	cells = slices.DeleteFunc(slices.Clone(cells), func(c *cell) bool { return c.samples == 0 })
	slices.SortFunc(cells, func(a, b *cell) int {
		return cmp.Or(slices.Compare(a.quasi[:], b.quasi[:]), slices.Compare(full.list[a.full], full.list[b.full]), slices.Compare(bare.list[a.bare], bare.list[b.bare]))
	})
	for _, l := range ladder {
		if len(cells) == 0 {
			break
		}
		groups := map[string][]*cell{}
		for _, c := range cells {
			q := c.at(l)
			k := strings.Join(q[:], "\x00")
			if l[qLab] == labExact {
				k += "\x00" + strconv.Itoa(c.full)
			}
			groups[k] = append(groups[k], c)
		}
		placed := map[*cell]bool{}
		for _, g := range groups { // a group takes nothing from another, so that their order is all the same
			for _, cl := range p.parts(g, l) {
				if cl.people.size() < k {
					continue
				}
				p.classes = append(p.classes, cl)
				for _, c := range cl.cells {
					placed[c] = true
				}
			}
		}
		cells = slices.DeleteFunc(cells, func(c *cell) bool { return placed[c] })
	}
	slices.SortFunc(p.classes, func(a, b *class) int {
		return cmp.Or(slices.Compare(a.levels[:], b.levels[:]), slices.Compare(a.quasi[:], b.quasi[:]), slices.Compare(a.shared, b.shared))
	})
	p.join(cells)
	for _, cl := range p.classes {
		labs := map[string]bool{}
		for _, c := range cl.cells {
			p.of[c.cellKey] = cl
			labs[c.quasi[qLab]] = true
		}
		if cl.withheldPrint() {
			cl.limits = c.limits.among(labs, cl.quasi[qLab])
		}
	}
	return p
}

// parts divides a group into classes whose cells have enough tests in common.
func (p *plan) parts(group []*cell, l levels) []*class {
	reach := 0
	for _, c := range group {
		reach += c.people.size()
	}
	if reach < p.k {
		return nil
	}
	if l[qLab] == labExact {
		return []*class{p.share(group, l)}
	}
	// Cells of one panel go together.
	type pile struct {
		panel   panel
		cells   []*cell
		samples int
		most    int // results of the largest panel in it
	}
	var piles []*pile
	byPanel := map[string]*pile{}
	for _, c := range group {
		k := strings.Join(p.panel(c, l[qLab]), "\x1e")
		if byPanel[k] == nil {
			byPanel[k] = &pile{panel: p.panel(c, l[qLab]), most: p.panel(c, l[qLab]).tests()}
			piles = append(piles, byPanel[k])
		}
		byPanel[k].cells = append(byPanel[k].cells, c)
		byPanel[k].samples += c.samples
	}
	slices.SortStableFunc(piles, func(a, b *pile) int { return cmp.Compare(b.samples, a.samples) })
	var parts []*pile
	for _, add := range piles {
		var best *pile
		var shared panel
		for _, part := range parts {
			s := part.panel.common(add.panel)
			if 2*s.tests() >= max(part.most, add.most) && (best == nil || s.tests() > shared.tests()) {
				best, shared = part, s
			}
		}
		if best == nil {
			parts = append(parts, add)
			continue
		}
		best.panel, best.cells, best.most = shared, append(best.cells, add.cells...), max(best.most, add.most)
	}
	var out []*class
	for _, part := range parts {
		cl := p.share(part.cells, l)
		if l[qLab] == labCommon {
			// Where units or layouts differ, to withhold the print loses less
			// than to cut what differs by it.
			without := l
			without[qLab] = labNoPrint
			if p.loss(p.share(part.cells, without)) < p.loss(cl) {
				continue // the rung of that is still to come
			}
		}
		out = append(out, cl)
	}
	return out
}

// A joining is cells that no rung could place, and the class that they join.
type joining struct {
	place int    // of the class
	grown *class // the class with them
	gain  int    // what is lost less than by suppressing them
}

// join puts the cells that no rung could place into classes: each time those,
// and into that class, by which most loss is saved as against suppressing
// them; until there is nothing to save. It gives the cells whose samples are
// suppressed.
func (p *plan) join(left []*cell) {
	for len(left) > 0 {
		var best joining
		for i, cl := range p.classes {
			was := p.loss(cl)
			for _, l := range ladder {
				if !l.above(cl.levels) || l[qLab] == labExact {
					continue
				}
				if j := p.joining(i, was, l, left); j.gain > best.gain {
					best = j
				}
			}
		}
		if best.gain <= 0 {
			return
		}
		p.classes[best.place] = best.grown
		left = slices.DeleteFunc(left, func(c *cell) bool { return slices.Contains(best.grown.cells, c) })
	}
}

// above says whether nothing is told more closely than at other levels.
func (l levels) above(o levels) bool {
	for i := range l {
		if l[i] < o[i] {
			return false
		}
	}
	return true
}

// joining is what is gained if a class is generalised to some levels and all
// cells join that it is like then. Its loss was was.
func (p *plan) joining(place, was int, l levels, left []*cell) joining {
	cl := p.classes[place]
	like, most := cl.cells[0].at(l), 0
	shared := p.panel(cl.cells[0], l[qLab])
	for _, c := range cl.cells {
		shared, most = shared.common(p.panel(c, l[qLab])), max(most, p.panel(c, l[qLab]).tests())
	}
	cells, samples := slices.Clone(cl.cells), 0
	for _, c := range left {
		if c.at(l) != like {
			continue
		}
		s := shared.common(p.panel(c, l[qLab]))
		if 2*s.tests() < max(most, p.panel(c, l[qLab]).tests()) {
			continue
		}
		shared, most = s, max(most, p.panel(c, l[qLab]).tests())
		cells, samples = append(cells, c), samples+c.samples
	}
	if samples == 0 {
		return joining{}
	}
	grown := p.share(cells, l)
	return joining{place, grown, samples*suppressedLoss + was - p.loss(grown)}
}
