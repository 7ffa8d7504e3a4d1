package mappings

import (
	"fmt"
	"slices"
	"sort"
	"strings"

	"example.org/windrow/ingest"
)

// A row is one row of a table: for each head the atoms that stand in its
// column.
type row struct {
	cells   [][]*atom
	box     ingest.Box
	section *SkipRow // the title above that names a method; nil for none
}

func (r *row) text(i int) string {
	if i < 0 {
		return ""
	}
	return joined(r.cells[i])
}

// atoms are all of the row's, left to right.
func (r *row) atoms() []*atom {
	var out []*atom
	for _, c := range r.cells {
		out = append(out, c...)
	}
	return out
}

// bodyLines are the lines under the heading down to the table's end, without
// what has been declared or read already.
func (r *reader) bodyLines(v *view, t *Table, h *heads, limit ingest.Box) []*line {
	var out []*line
	lastRow := 0.0
	for _, l := range v.lines {
		if l.box.CenterY() <= h.band.Y1 || l.box.CenterY() >= limit.Y1 {
			continue
		}
		// The foot of a table may be declared elsewhere and still ends it.
		if t.EndsBefore != nil && len(find(t.EndsBefore, l.atoms)) > 0 {
			break
		}
		rest := free(l.atoms)
		if len(rest) == 0 {
			continue
		}
		if v.grid && lastRow > 0 && l.box.Y0 > lastRow+1 && !v.onlyHidden(int(lastRow), int(l.box.Y0)) && !r.goesOnBelow(t, h, out, rest) {
			break // a blank row ends a table in a sheet
		}
		// Between a heading and what stands under it there may be one: a row of
		// limits that the mapping skips is part of the heading.
		if lastRow > 0 || t.skip(joined(rest)) == nil {
			lastRow = l.box.Y0 + float64(lineEnds(l))
		}
		out = append(out, &line{atoms: rest, box: boxOf(rest)})
	}
	return out
}

// lineEnds counts the line ends within the fields of a record of a delimited
// file: it goes on over so many further lines, which are no blank rows.
func lineEnds(l *line) int {
	n := 0
	for _, a := range l.atoms {
		if a.cell != nil && a.cell.Line > 0 {
			n += strings.Count(a.cell.Text, "\n")
		}
	}
	return n
}

// rows cuts the body into rows and cells. A line with something in the key
// column begins a row. A line without belongs to the row it overlaps in
// height, or, when it holds words only, to the nearest one, whose cell it
// goes on with; rating words under a number belong to the row above; other
// words of their own are a title, and numbers without a row are a reason.
func (v *view) rows(t *Table, h *heads, lines []*line, key int, ks keys) ([]*row, []*ingest.Reason) {
	var body []*line
	var section *SkipRow
	sections := map[*line]*SkipRow{}
	for _, l := range lines {
		if len(t.SkipRows) == 0 {
			body = lines
			break
		}
		if sk := t.skip(joined(l.atoms)); sk != nil {
			use(l.atoms, Mark{As: "declared", Note: sk.Why, Rule: sk.Place})
			switch {
			case sk.Method != "":
				section = sk
			case !hasDigit(joined(l.atoms)):
				section = nil // another title
			}
			continue
		}
		body = append(body, l)
		if section != nil {
			sections[l] = section
		}
	}
	cut, ss := v.edges(h, body)
	var reasons []*ingest.Reason
	var all []*row
	for _, l := range body {
		r, bad := v.cut(t, h, l, cut, ss)
		r.section = sections[l]
		reasons = append(reasons, bad...)
		if slices.ContainsFunc(r.cells, func(c []*atom) bool { return len(c) > 0 }) {
			all = append(all, r)
		}
	}
	if v.grid {
		return v.gridRows(t, h, all, key, reasons)
	}
	keyed := make([]bool, len(all))
	begins := map[int]bool{} // rows that are the beginning of the next one's label
	for i, r := range all {
		keyed[i] = key >= 0 && len(r.cells[key]) > 0
		if !keyed[i] || i == 0 || ks.known == nil || !keyed[i-1] {
			continue
		}
		// A label that was wrapped over two lines, its value on the first or the last?
		words := func(x *row) bool { return onlyKey(x, key) && !hasDigit(joined(x.atoms())) }
		p := all[i-1]
		if !words(r) && !words(p) || !near(p, r) || ks.known(p.text(key)) || ks.known(r.text(key)) || !ks.known(p.text(key)+" "+r.text(key)) {
			continue
		}
		if words(r) {
			keyed[i] = false
		} else {
			keyed[i-1], begins[i-1] = false, true
		}
	}
	home := make([]int, len(all))
	for i, r := range all {
		home[i] = i
		if keyed[i] {
			continue
		}
		if begins[i] {
			home[i] = i + 1
			continue
		}
		home[i] = -1
		prev, next := i-1, i+1
		for prev >= 0 && !keyed[prev] {
			prev--
		}
		for next < len(all) && !keyed[next] {
			next++
		}
		words := !hasDigit(joined(r.atoms()))
		best := 1e9
		for _, k := range []int{prev, next} {
			if k < 0 || k >= len(all) {
				continue
			}
			o, d := all[k].box.OverlapY(r.box), abs(all[k].box.CenterY()-r.box.CenterY())
			if (o > 0.3*min(r.box.Height(), all[k].box.Height()) || words && near(all[k], r)) && d < best-0.5 {
				home[i], best = k, d
			}
		}
		if home[i] < 0 && words && prev >= 0 && !v.grid && allRatings(r, ks.rating) && r.box.Y0-all[prev].box.Y1 < 1.5*r.box.Height() {
			home[i] = prev
		}
		if home[i] < 0 && !words {
			reasons = append(reasons, v.stray(t, r))
		}
	}
	var out []*row
	made := map[int]*row{}
	for i := range all {
		if keyed[i] {
			made[i] = &row{cells: make([][]*atom, len(h.list))}
			out = append(out, made[i])
		}
	}
	for i, r := range all { // in the order of the page, so that wrapped words keep theirs
		if dst := made[home[i]]; home[i] >= 0 && dst != nil {
			for c := range r.cells {
				dst.cells[c] = append(dst.cells[c], r.cells[c]...)
			}
			dst.box = dst.box.Union(r.box)
		}
	}
	return v.underSameHeads(t, h, out, key, reasons)
}

// keys tells what the words of a table's first column and cells are.
type keys struct {
	known  func(string) bool // whether a label is complete as it stands, so that words under it are a title and not the rest of it; nil where labels are never wrapped
	rating func(string) bool // whether a text is a rating word of the lab
}

// allRatings reports whether every cell of a row is a rating word.
func allRatings(r *row, rating func(string) bool) bool {
	for _, c := range r.cells {
		if len(c) > 0 && !rating(joined(c)) {
			return false
		}
	}
	return true
}

// gridRows are the rows of a grid: there no row goes on in the next one.
func (v *view) gridRows(t *Table, h *heads, all []*row, key int, reasons []*ingest.Reason) ([]*row, []*ingest.Reason) {
	var out []*row
	v.fillDown(t, h, all)
	for _, r := range all {
		switch {
		case key >= 0 && len(r.cells[key]) > 0:
			out = append(out, r)
		case hasDigit(joined(r.atoms())):
			reasons = append(reasons, v.stray(t, r))
		}
	}
	return v.underSameHeads(t, h, out, key, reasons)
}

// near reports whether two lines are no further apart than the lines of one
// cell are.
func near(a, b *row) bool {
	gap := max(a.box.Y0, b.box.Y0) - min(a.box.Y1, b.box.Y1)
	return gap < 0.5*min(a.box.Height(), b.box.Height())
}

// cut puts a line's atoms into the table's columns.
func (v *view) cut(t *Table, h *heads, l *line, cut []float64, ss []*strip) (*row, []*ingest.Reason) {
	var reasons []*ingest.Reason
	r := &row{cells: make([][]*atom, len(h.list)), box: l.box}
	for k, a := range l.atoms {
		i := 0
		if v.grid {
			if i = columnAt(h, a.box.X0); i < 0 {
				continue // outside the table's columns: left for the accounting
			}
			if len(r.cells[i]) == 0 {
				r.cells[i] = l.atoms[k : k+1 : k+1]
				continue
			}
		} else {
			i = sort.SearchFloat64s(cut, a.box.CenterX())
			if hasDigit(a.text) && doubtful(ss, a) && t.crossMatters(h, i) {
				reasons = append(reasons, v.betweenColumns(t, h, i, a))
			}
		}
		r.cells[i] = append(r.cells[i], a)
	}
	return r, reasons
}

func onlyKey(r *row, key int) bool {
	for i, c := range r.cells {
		if i != key && len(c) > 0 {
			return false
		}
	}
	return true
}

// crossMatters reports whether column i or one beside it is read.
func (t *Table) crossMatters(h *heads, i int) bool {
	for k := max(0, i-1); k <= min(i+1, len(h.list)-1); k++ {
		if !h.list[k].col.Nothing {
			return true
		}
	}
	return false
}

func (v *view) stray(t *Table, r *row) *ingest.Reason {
	return &ingest.Reason{Code: "row-without-label", Severity: ingest.Hold, Where: v.placeOf(r.atoms()), Rule: t.Place,
		What: fmt.Sprintf("a line in the table %q has numbers but no label or sample number", t.Name), Expected: "a row that begins with its label or number, or a row declared under skip rows", Found: joined(r.atoms()), Next: "look at the page; if the line is no result, declare it under skip rows or not results in the mapping"}
}

// columnAt is the column of a grid that holds x, or -1.
func columnAt(h *heads, x float64) int {
	for i, c := range h.list {
		if x >= c.atoms[0].box.X0 && x < c.atoms[0].box.X1 {
			return i
		}
	}
	return -1
}

// skip is the rule that says a row is no sample or test, or nil.
func (t *Table) skip(text string) *SkipRow {
	for _, s := range t.SkipRows {
		if s.Begins != nil && s.Begins.beginsIn(text) {
			return s
		}
	}
	return nil
}

// skipBy is the rule by which what a row says in some column makes it no
// sample or test, or nil.
func (t *Table) skipBy(h *heads, rw *row) *SkipRow {
	for _, s := range t.SkipRows {
		for i, x := range h.list {
			if s.Says == nil || squeeze(x.col.Heading[0]) != squeeze(s.Column) {
				continue
			}
			if _, ok := s.Says.matchWhole(rw.text(i)); ok {
				return s
			}
		}
	}
	return nil
}

// admit reports whether a row is one to read: it is not skipped by what a
// column says, has as many cells as its table, and no cell says anything but
// what the mapping allows.
func (r *reader) admit(v *view, t *Table, h *heads, rw *row) bool {
	if sk := t.skipBy(h, rw); sk != nil {
		use(rw.atoms(), Mark{As: "declared", Note: sk.Why, Rule: sk.Place})
		return false
	}
	if v.short[int(rw.box.Y0)] && v.grid {
		r.hold("row-too-short", v.placeOf(rw.atoms()), t.Place, fmt.Sprintf("a row of the table %q has fewer cells than its heading, so its values may stand in the wrong columns", t.Name), "a cell for each heading", joined(rw.atoms()), "ask the laboratory for the report again")
		use(rw.atoms(), Mark{As: "declared", Note: "not understood"})
		return false
	}
	for i, x := range h.list {
		if len(x.col.Only) == 0 {
			continue
		}
		text, fits := rw.text(i), x.col.OrBlank && len(rw.cells[i]) == 0
		for _, p := range x.col.Only {
			if _, ok := p.matchWhole(text); ok {
				fits = true
			}
		}
		if !fits {
			next := "if the row is no result, declare it under skip rows; if it is one, add the word under only:"
			if text == "" {
				next = "if the row is no result, declare it under skip rows; if the cell may be empty, add \"\" under only:"
			}
			r.hold("cell-not-allowed", v.placeOf(rw.atoms()), x.col.Place, fmt.Sprintf("the column %q says something that the mapping does not allow", strings.Join(x.col.Heading, " ")), sources(x.col.Only), orWord(text, "nothing"), next)
			use(rw.atoms(), Mark{As: "declared", Note: "not understood"})
			return false
		}
	}
	return true
}

// sources are the patterns as written.
func sources(ps []*Pattern) string {
	var out []string
	for _, p := range ps {
		out = append(out, p.Src)
	}
	return strings.Join(out, " or ")
}

// summaryWord is a word in a row's first cell that makes it look like a
// summary of the rows above, which no mapping declared; "" when there is none.
func summaryWord(text string) string {
	for _, w := range strings.Fields(strings.ToLower(text)) {
		switch strings.Trim(w, ".,:;()") {
		case "mean", "average", "averages", "avg", "median", "minimum", "maximum", "min", "max", "total", "totals", "std", "stdev", "range", "promedio":
			return w
		}
	}
	return ""
}

// averageIn is the cell of a field that is but a word for an average, in a row
// that has a number like a sample; -1 for none.
func averageIn(h *heads, rw *row) int {
	for i, x := range h.list {
		if knownField(string(x.col.Field)) {
			switch strings.ToLower(strings.Trim(rw.text(i), ".:()")) {
			case "mean", "average", "averages", "avg", "median", "promedio":
				return i
			}
		}
	}
	return -1
}
