package mappings

import (
	"fmt"
	"sort"
	"strings"

	"example.org/windrow/ingest"
)

// A head is a column found on a page: the atoms of its heading and of the
// unit under it.
type head struct {
	col    *Column
	atoms  []*atom
	box    ingest.Box // of the heading with its lower levels and unit
	unit   []*atom
	over   [][]*atom // of the wider headings above it, the widest first
	below  [][]*atom // of the texts of the heading under its first
	label  *PrintedLabel
	sample string // number of the sample, for a column that is one
}

// heads are the columns of one table on one page.
type heads struct {
	list []*head
	band ingest.Box // from the top of the highest heading to the foot of the lowest unit

	fits func(*Column, string) bool // whether a text is what a column is for; nil where nobody can say
}

// stacks gives every set of atoms that spells the text: words side by side,
// wrapped over lines, or turned. In a grid a heading is one cell.
func (v *view) stacks(text string, pool []*atom) [][]*atom {
	target := squeeze(text)
	var out [][]*atom
	if v.grid {
		for _, a := range pool {
			if len(a.text) >= len(target) && tight(a) == target {
				out = append(out, []*atom{a})
			}
		}
		return out
	}
	var extend func(chain []*atom, rest string)
	extend = func(chain []*atom, rest string) {
		if rest == "" {
			out = append(out, append([]*atom(nil), chain...))
			return
		}
		if len(chain) > 12 || len(out) > 200 {
			return
		}
		for _, b := range pool {
			if t := tight(b); t != "" && strings.HasPrefix(rest, t) && follows(chain, b) {
				extend(append(chain, b), rest[len(t):])
			}
		}
	}
	for _, a := range pool {
		if t := tight(a); t != "" && strings.HasPrefix(target, t) {
			extend([]*atom{a}, target[len(t):])
		}
	}
	return out
}

// tight is the squeezed text of an atom, whose text is normalised already.
func tight(a *atom) string { return strings.ReplaceAll(a.text, " ", "") }

// follows reports whether b can be the next word after the chain: beside its
// last word, or at the beginning of the next line under it.
func follows(chain []*atom, b *atom) bool {
	last := chain[len(chain)-1]
	for _, c := range chain {
		if c == b {
			return false
		}
	}
	if last.turn != b.turn {
		return false
	}
	size := max(last.size, b.size, 1)
	lb, bb := along(last), along(b)
	all := along(chain[0])
	for _, c := range chain[1:] {
		all = all.Union(along(c))
	}
	step := bb.Y1 - lb.Y1
	if abs(step) < 0.45*size {
		gap := bb.X0 - lb.X1
		return gap > -0.5 && gap < 1.3*size
	}
	wide := ingest.Box{X0: all.X0 - 0.6*size, X1: all.X1 + 0.6*size}
	return step > 0 && step < 1.9*size && wide.OverlapX(bb) > 0
}

// along is an atom's box as if it were level: turned text is laid flat, so
// that "beside" and "below" keep their meaning.
func along(a *atom) ingest.Box {
	b := a.box
	switch a.turn {
	case 90:
		return ingest.Box{X0: -b.Y1, Y0: b.X0, X1: -b.Y0, Y1: b.X1}
	case 270:
		return ingest.Box{X0: b.Y0, Y0: -b.X1, X1: b.Y1, Y1: -b.X0}
	case 180:
		return ingest.Box{X0: -b.X1, Y0: -b.Y1, X1: -b.X0, Y1: -b.Y0}
	}
	return b
}

// findHeads looks for the table's headings in the view. It returns nil
// heads when next to nothing of the table is there, and reasons when part of
// it is there and part has changed.
func (v *view) findHeads(t *Table, limit ingest.Box, vocab Vocabulary) (*heads, []*ingest.Reason) {
	pool := make([]*atom, 0, len(v.atoms)+len(v.turned))
	for _, as := range [...][]*atom{v.atoms, v.turned} {
		for _, a := range as {
			if a.box.CenterY() >= limit.Y0 && a.box.CenterY() < limit.Y1 && a.mark == nil {
				pool = append(pool, a)
			}
		}
	}
	n := len(t.Columns)
	cands := make([][]*head, n)
	found := 0
	first := pool
	if v.grid {
		first = v.headCells(t, pool)
	}
	for i, c := range t.Columns {
		if c.Samples {
			continue
		}
		for _, s := range v.stacks(c.Heading[0], first) {
			cands[i] = append(cands[i], &head{col: c, atoms: s, box: boxOf(s)})
		}
		if len(cands[i]) > 0 {
			found++
		}
	}
	if found == 0 || found*3 < n && !oneColumn(t) {
		return nil, nil
	}
	best := v.bestRow(t, cands)
	if best == nil {
		return nil, nil
	}
	h := &heads{list: best}
	for _, x := range best {
		h.band = h.band.Union(x.box)
	}
	if v.grid {
		pool = nearRows(pool, h.band, t)
	}
	v.sampleHeads(t, h, pool)
	missing, wrongUnit := v.lowerLevels(t, h, pool, limit, vocab)
	v.groups(t, h, pool, &missing)
	v.headLabels(h)
	for _, x := range h.list {
		use(x.atoms, Mark{As: "heading", Note: t.Name, Rule: x.col.Place})
		use(x.unit, Mark{As: "heading", Note: "unit", Rule: x.col.Place})
	}
	stray := v.strayHeads(t, h, pool)
	reasons := v.missingHeads(t, h, cands, missing, stray)
	reasons = append(reasons, wrongUnit...)
	if v.grid && t.HeadingRow > 0 && int(h.list[0].atoms[0].box.Y0) != t.HeadingRow {
		reasons = append(reasons, &ingest.Reason{Code: "layout-changed", Severity: ingest.Hold, Where: v.placeOf(h.list[0].atoms), Rule: t.Place,
			What: fmt.Sprintf("the heading of the table %q stands in another row", t.Name), Expected: fmt.Sprintf("row %d", t.HeadingRow),
			Found: fmt.Sprintf("row %d", int(h.list[0].atoms[0].box.Y0)), Next: nextLayout})
	}
	return h, reasons
}

// headCells are the cells of a grid that hold a heading of the table, so that
// a sheet of many rows is gone through once and not once a column.
func (v *view) headCells(t *Table, pool []*atom) []*atom {
	want := map[string]bool{}
	longest := 0 // with as many spaces as letters
	for _, c := range t.Columns {
		w := squeeze(c.Heading[0])
		want[w] = true
		longest = max(longest, 2*len(w))
	}
	var out []*atom
	for _, a := range pool {
		if len(a.text) <= longest && want[tight(a)] {
			out = append(out, a)
		}
	}
	return out
}

// nearRows are the cells of a grid within reach of the heading's own row:
// its groups above, its lower levels and units below, with room to spare.
func nearRows(pool []*atom, band ingest.Box, t *Table) []*atom {
	levels := 0
	for _, c := range t.Columns {
		levels = max(levels, len(c.Heading)+len(c.Under))
	}
	reach := float64(10 + 4*levels)
	var out []*atom
	for _, a := range pool {
		if a.box.Y1 >= band.Y0-reach && a.box.Y0 <= band.Y1+reach {
			out = append(out, a)
		}
	}
	return out
}

func oneColumn(t *Table) bool { return len(t.Columns) <= 2 }

const nextLayout = "if the laboratory has changed its reports, add a layout for the new form to its mapping, dated from this report"

// bestRow chooses one candidate a column so that they stand from left to
// right in the mapping's order, on one band of the page, as many as can be.
func (v *view) bestRow(t *Table, cands [][]*head) []*head {
	// Every candidate may be the seed of the band; the rarest headings are
	// tried first, and the highest band on the page wins a tie.
	var seeds []*head
	for _, cs := range cands {
		if len(cs) > 0 && len(cs) <= 6 {
			seeds = append(seeds, cs...)
		}
	}
	if len(seeds) == 0 {
		for _, cs := range cands {
			seeds = append(seeds, cs...)
		}
	}
	sort.SliceStable(seeds, func(i, j int) bool { return seeds[i].box.Y0 < seeds[j].box.Y0 })
	var best []*head
	bestScore := 0.0
	for _, s := range seeds[:min(len(seeds), 60)] {
		reach := 1.0
		if !v.grid {
			reach = max(3.5*s.atoms[0].size, 20)
		}
		y0, y1 := s.box.Y0-reach, s.box.Y1+reach
		row := chain(cands, func(h *head) bool {
			return h.box.Y1 > y0 && h.box.Y0 < y1 && (h.box.CenterY() > y0 && h.box.CenterY() < y1 || h.box.Height() > s.box.Height())
		})
		score := 0.0
		for _, h := range row {
			score += 1000 - min(500, h.box.Height()) - 0.01*h.box.Y0
		}
		if score > bestScore+1e-9 {
			best, bestScore = row, score
		}
	}
	return best
}

// chain is the longest sequence of candidates, one a column at most, whose
// boxes do not run into each other from left to right (a longest path by
// dynamic programming).
func chain(cands [][]*head, ok func(*head) bool) []*head {
	type state struct {
		h     *head
		score float64
		prev  *state
	}
	var states []*state
	var best *state
	for _, cs := range cands {
		var layer []*state
		for _, h := range cs {
			if !ok(h) {
				continue
			}
			st := &state{h: h, score: 1000 - min(500, h.box.Height())}
			for _, p := range states {
				if p.h.box.X1 <= h.box.X0+0.35*h.box.Width()+0.01 && p.h.box.CenterX() < h.box.CenterX() && p.score+1000-min(500, h.box.Height()) > st.score {
					st.score, st.prev = p.score+1000-min(500, h.box.Height()), p
				}
			}
			layer = append(layer, st)
		}
		states = append(states, layer...)
	}
	for _, st := range states {
		if best == nil || st.score > best.score {
			best = st
		}
	}
	var out []*head
	for st := best; st != nil; st = st.prev {
		out = append([]*head{st.h}, out...)
	}
	return out
}

// sampleHeads adds the columns whose headings are sample numbers.
func (v *view) sampleHeads(t *Table, h *heads, pool []*atom) {
	for i, c := range t.Columns {
		if !c.Samples {
			continue
		}
		p, err := newPattern(c.Heading[0], c.Place)
		if err != nil {
			continue
		}
		after := -1.0
		before := 1e9
		for _, x := range h.list {
			if indexOf(t.Columns, x.col) < i {
				after = max(after, x.box.X1)
			} else {
				before = min(before, x.box.X0)
			}
		}
		for _, a := range pool {
			if _, ok := p.matchWhole(a.text); ok && a.box.X0 >= after && a.box.X1 <= before && a.box.CenterY() >= h.band.Y0 && a.box.CenterY() <= h.band.Y1 {
				h.list = append(h.list, &head{col: c, atoms: []*atom{a}, box: a.box, sample: a.text})
			}
		}
	}
	sort.SliceStable(h.list, func(i, j int) bool { return h.list[i].box.X0 < h.list[j].box.X0 })
}

func indexOf(cs []*Column, c *Column) int {
	for i, x := range cs {
		if x == c {
			return i
		}
	}
	return -1
}

// lowerLevels finds the stacked texts and the unit under each heading.
func (v *view) lowerLevels(t *Table, h *heads, pool []*atom, limit ingest.Box, vocab Vocabulary) (missing []string, wrong []*ingest.Reason) {
	type bad struct{ want, got string }
	badCols := map[bad][]string{}
	badAt := map[bad][]*atom{}
	badRule := map[bad]ingest.Place{}
	var order []bad
	taken := map[*atom]bool{}
	for _, x := range h.list {
		for _, a := range x.atoms {
			taken[a] = true
		}
	}
	for i, x := range h.list {
		left, right := -1e9, 1e9
		if i > 0 {
			left = (h.list[i-1].box.X1 + x.box.X0) / 2
		}
		if i+1 < len(h.list) {
			right = (x.box.X1 + h.list[i+1].box.X0) / 2
		}
		under := func(text string) []*atom {
			var below []*atom
			reach := 50.0
			if v.grid {
				reach = 2.01
			}
			for _, a := range pool {
				if !taken[a] && a.box.Y0 >= x.box.Y1-0.35*a.size && a.box.Y1 <= x.box.Y1+reach &&
					(x.box.OverlapX(a.box) > 0 || a.box.CenterX() > left && a.box.CenterX() < right) {
					below = append(below, a)
				}
			}
			var best []*atom
			for _, s := range v.stacks(text, below) {
				if best == nil || boxOf(s).Y0 < boxOf(best).Y0-0.5 || abs(boxOf(s).Y0-boxOf(best).Y0) <= 0.5 && abs(boxOf(s).CenterX()-x.box.CenterX()) < abs(boxOf(best).CenterX()-x.box.CenterX()) {
					best = s
				}
			}
			return best
		}
		for _, level := range x.col.Heading[1:] {
			s := under(level)
			if s == nil {
				missing = append(missing, fmt.Sprintf("%q under %q", level, x.col.Heading[0]))
				continue
			}
			x.below = append(x.below, s)
			x.atoms = append(x.atoms, s...)
			x.box = x.box.Union(boxOf(s))
			for _, a := range s {
				taken[a] = true
			}
		}
		if x.col.Unit == "" {
			continue
		}
		if s := under(x.col.Unit); s != nil {
			x.unit = s
			x.box = x.box.Union(boxOf(s))
			for _, a := range s {
				taken[a] = true
			}
			continue
		}
		if strings.Contains(squeeze(x.col.Heading[0]), squeeze(x.col.Unit)) {
			x.unit = nil
			continue
		}
		k := bad{want: x.col.Unit}
		if s := v.unitBelow(x, pool, taken, left, right, vocab); s != nil {
			k.got = joined(s)
			badAt[k] = append(badAt[k], s...)
			for _, a := range s {
				taken[a] = true
			}
			x.unit = s
		}
		if len(badCols[k]) == 0 {
			order = append(order, k)
			badRule[k] = x.col.Place
		}
		badCols[k] = append(badCols[k], x.col.Heading[0])
	}
	for _, x := range h.list {
		h.band = h.band.Union(x.box)
	}
	for _, k := range order {
		r := &ingest.Reason{Code: "unit-differs", Severity: ingest.Hold, Rule: badRule[k], Where: v.here(),
			What: fmt.Sprintf("the unit printed under %s is not the one that this laboratory used before", listWords(badCols[k])), Expected: k.want, Found: k.got,
			Next: nextLayout}
		if k.got == "" {
			r.Found = "no unit that can be read"
		} else {
			r.Where = v.placeOf(badAt[k][:1])
		}
		wrong = append(wrong, r)
	}
	return missing, wrong
}

// unitBelow is the text that stands where a unit should, for the message.
func (v *view) unitBelow(x *head, pool []*atom, taken map[*atom]bool, left, right float64, vocab Vocabulary) []*atom {
	for _, a := range pool {
		if taken[a] || a.box.CenterX() <= left || a.box.CenterX() >= right || a.box.Y0 < x.box.Y1-0.35*a.size {
			continue
		}
		if v.grid && a.box.Y0 > x.box.Y1+1 || !v.grid && a.box.Y0 > x.box.Y1+40 {
			continue
		}
		if _, ok := vocab.Resolve(UnitWord, a.text); ok {
			return []*atom{a}
		}
	}
	return nil
}

// groups finds the wider headings that columns stand under, level by level.
func (v *view) groups(t *Table, h *heads, pool []*atom, missing *[]string) {
	depth := 0
	for _, x := range h.list {
		depth = max(depth, len(x.col.Under))
	}
	for level := depth; level >= 1; level-- {
		var key string
		var run []*head
		for i, x := range h.list {
			k := ""
			if len(x.col.Under) >= level {
				k = strings.Join(x.col.Under[:level], "\x00")
			}
			if k != key && len(run) > 0 {
				v.group(t, h, run, level, pool, missing)
				run = nil
			}
			key = k
			if k != "" {
				run = append(run, x)
			}
			if i == len(h.list)-1 && len(run) > 0 {
				v.group(t, h, run, level, pool, missing)
			}
		}
	}
}

// group finds one wider heading over a run of columns.
func (v *view) group(t *Table, h *heads, run []*head, level int, pool []*atom, missing *[]string) {
	text := run[0].col.Under[level-1]
	span := run[0].box
	for _, x := range run {
		span = span.Union(x.box)
	}
	var best []*atom
	for _, s := range v.stacks(text, pool) {
		b := boxOf(s)
		ok := b.Y1 <= run[0].box.Y1 && b.Y0 < span.Y1 && s[0].mark == nil && b.CenterX() > span.X0-0.3*b.Width()-1 && b.CenterX() < span.X1+0.3*b.Width()+1
		if v.grid {
			// A group's text stands in its leftmost cell, merged or not.
			ok = b.Y1 <= run[0].box.Y0+0.01 && b.Y0 >= run[0].box.Y0-float64(len(run[0].col.Under))-1.01 && b.X0 <= run[0].box.X0 && (b.X1 > run[0].box.X0 || !s[0].merged())
		} else if b.Y1 > run[0].atoms[0].box.Y0+0.35*s[0].size && !turnedHead(run) {
			ok = false
		}
		if ok && (best == nil || abs(b.CenterX()-span.CenterX()) < abs(boxOf(best).CenterX()-span.CenterX())) {
			best = s
		}
	}
	if best == nil {
		*missing = append(*missing, fmt.Sprintf("%q over %s", text, listWords(headingsOf(run))))
		return
	}
	use(best, Mark{As: "heading", Note: t.Name, Rule: run[0].col.Place})
	for _, x := range run {
		x.over = append([][]*atom{best}, x.over...)
	}
	h.band = h.band.Union(boxOf(best))
}

func turnedHead(run []*head) bool {
	for _, x := range run {
		if x.atoms[0].turn != 0 {
			return true
		}
	}
	return false
}

func headingsOf(hs []*head) []string {
	var out []string
	for _, x := range hs {
		out = append(out, x.col.Heading[0])
	}
	return out
}

// listWords joins words as a sentence does.
func listWords(ws []string) string {
	switch len(ws) {
	case 0:
		return ""
	case 1:
		return ws[0]
	}
	return strings.Join(ws[:len(ws)-1], ", ") + " and " + ws[len(ws)-1]
}
