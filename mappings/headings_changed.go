package mappings

import (
	"fmt"
	"sort"
	"strings"

	"example.org/windrow/ingest"
)

// missingHeads words what is not where the mapping says.
// stray is text in the heading that the mapping does not know.
func (v *view) missingHeads(t *Table, h *heads, cands [][]*head, missing []string, stray []*atom) []*ingest.Reason {
	have := map[*Column]bool{}
	for _, x := range h.list {
		have[x.col] = true
	}
	var gone, moved []string
	var all []*head
	all = append(all, h.list...)
	var rule ingest.Place
	for i, c := range t.Columns {
		if have[c] || c.Optional && len(cands[i]) == 0 {
			continue
		}
		if c.Optional && !inBand(h, cands[i]) {
			continue
		}
		if rule.IsZero() {
			rule = c.Place
		}
		if x := firstInBand(h, cands[i]); x != nil {
			moved = append(moved, strings.Join(c.Heading, " "))
			all = append(all, x)
		} else {
			gone = append(gone, strings.Join(c.Heading, " "))
		}
	}
	var out []*ingest.Reason
	add := func(what, exp, found string) {
		out = append(out, &ingest.Reason{Code: "layout-changed", Severity: ingest.Hold, Where: v.here(), Rule: rule, What: what, Expected: exp, Found: found, Next: nextLayout})
	}
	if len(gone)+len(missing) > 0 {
		found := "nothing in their place"
		if len(stray) > 0 {
			found = "new in the heading: " + v.columnsOf(stray)
		}
		var q []string
		for _, g := range gone {
			q = append(q, fmt.Sprintf("%q", g))
		}
		add(fmt.Sprintf("the table %q has lost or renamed headings that the reading relies on", t.Name), listWords(append(q, missing...)), found)
	} else if len(stray) > 0 && len(moved) == 0 {
		rule = t.Place
		add(fmt.Sprintf("the heading of the table %q holds text that the mapping does not know", t.Name), strings.Join(expectedOrder(t), " | "), "new in the heading: "+v.columnsOf(stray))
		out[len(out)-1].Where = v.placeOf(stray[:1])
	}
	if len(moved) > 0 {
		sort.SliceStable(all, func(i, j int) bool { return all[i].box.X0 < all[j].box.X0 })
		add(fmt.Sprintf("the columns of the table %q stand in another order", t.Name), strings.Join(expectedOrder(t), " | "), strings.Join(headingsOf(all), " | "))
	}
	return out
}

func expectedOrder(t *Table) []string {
	var out []string
	for _, c := range t.Columns {
		out = append(out, c.Heading[0])
	}
	return out
}

func inBand(h *heads, cs []*head) bool { return firstInBand(h, cs) != nil }

func firstInBand(h *heads, cs []*head) *head {
	for _, x := range cs {
		if x.box.CenterY() >= h.band.Y0 && x.box.CenterY() <= h.band.Y1 && !overlapsAny(h, x) {
			return x
		}
	}
	return nil
}

func overlapsAny(h *heads, x *head) bool {
	for _, y := range h.list {
		for _, a := range y.atoms {
			for _, b := range x.atoms {
				if a == b {
					return true
				}
			}
		}
	}
	return false
}

// columnsOf is text of a heading for messages, each column of a grid by itself.
// On a page nothing says where one heading ends and the next begins.
func (v *view) columnsOf(as []*atom) string {
	if !v.grid {
		return fmt.Sprintf("%q", joined(as))
	}
	var columns [][]*atom
next:
	for _, a := range as {
		for i, c := range columns {
			if c[0].box.OverlapX(a.box) > 0 {
				columns[i] = append(c, a)
				continue next
			}
		}
		columns = append(columns, []*atom{a})
	}
	var words []string
	for _, c := range columns {
		words = append(words, fmt.Sprintf("%q", joined(c)))
	}
	return listWords(words)
}

// strayHeads are the atoms in the heading that belong to no heading, unit or
// group of the table, wherever it stands: a new or renamed column.
func (v *view) strayHeads(t *Table, h *heads, pool []*atom) []*atom {
	known := map[string]bool{}
	for _, c := range t.Columns {
		for _, text := range append(append([]string{c.Unit}, c.Under...), c.Heading...) {
			known[squeeze(text)] = true
			for _, w := range strings.Fields(text) {
				known[squeeze(w)] = true
			}
		}
	}
	var unknown, spare []*atom
	for _, a := range pool {
		switch {
		case a.mark != nil || a.box.CenterY() <= h.band.Y0 || a.box.CenterY() >= h.band.Y1 || beside(v, a, h):
		case !known[squeeze(a.text)]:
			unknown = append(unknown, a)
		case spareColumn(h, a):
			spare = append(spare, a)
		}
	}
	if len(unknown) > 0 {
		return unknown
	}
	return spare
}

// spareColumn reports whether no known heading stands over or under an atom:
// then a known word there is a column of its own, such as a second K.
func spareColumn(h *heads, a *atom) bool {
	for _, x := range h.list {
		if x.box.OverlapX(a.box) > 0 {
			return false
		}
	}
	return true
}

// beside reports whether an atom stands clearly outside the table's
// width, such as a note printed beside it.
func beside(v *view, a *atom, h *heads) bool {
	if v.grid {
		return false
	}
	first, last := h.list[0], h.list[len(h.list)-1]
	return a.box.X1 < first.box.X0-100 || a.box.X0 > last.box.X1+100
}

// underSameHeads are the rows without headings that are printed again, and as
// far as one with other columns than the first one. What stands under it may belong to
// any column.
func (v *view) underSameHeads(t *Table, h *heads, rows []*row, key int, reasons []*ingest.Reason) ([]*row, []*ingest.Reason) {
	names := map[string]bool{}
	for _, x := range h.list {
		names[squeeze(x.col.Heading[0])] = true
	}
	out := rows[:0:0]
	for n, rw := range rows {
		filled, heading, same := 0, 0, true
		for i, x := range h.list {
			if len(rw.cells[i]) == 0 {
				continue
			}
			text := rw.text(i)
			filled++
			if names[squeeze(text)] {
				heading++
			}
			same = same && x.heads(text)
		}
		first := key >= 0 && squeeze(rw.text(key)) == squeeze(h.list[key].col.Heading[0])
		if same && first && filled > 1 {
			use(rw.atoms(), Mark{As: "heading", Note: t.Name, Rule: t.Place})
			continue
		}
		if same || filled < 2 || !first && (heading < 2 || 2*heading < filled) {
			out = append(out, rw)
			continue
		}
		reasons = append(reasons, &ingest.Reason{Code: "layout-changed", Severity: ingest.Hold, Where: v.placeOf(rw.atoms()), Rule: t.Place,
			What: fmt.Sprintf("the heading of the table %q is printed again with other columns", t.Name), Expected: strings.Join(headingsOf(h.list), " | "), Found: joined(rw.atoms()), Next: nextLayout})
		for _, left := range rows[n:] {
			use(left.atoms(), Mark{As: "declared", Note: "not understood"})
		}
		break
	}
	return out, reasons
}

// heads reports whether a text can stand in a heading of this column: all its
// words are those of the heading, of its wider headings or of its unit.
func (x *head) heads(text string) bool {
	if x.sample != "" {
		return normalise(text) == x.sample
	}
	if squeeze(text) == squeeze(strings.Join(x.col.Heading, " ")) {
		return true // with its words divided otherwise
	}
	own := map[string]bool{}
	for _, s := range append(append([]string{x.col.Unit}, x.col.Under...), x.col.Heading...) {
		for _, w := range strings.Fields(normalise(s)) {
			own[w] = true
		}
	}
	for _, w := range strings.Fields(normalise(text)) {
		if !own[w] {
			return false
		}
	}
	return true
}
