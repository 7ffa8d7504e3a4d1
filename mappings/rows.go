package mappings

import (
	"fmt"
	"sort"
	"strings"

	"example.org/windrow/ingest"
)

// A row is one row of a table: for each head the atoms that stand in its
// column.
type row struct {
	cells [][]*atom
	box   ingest.Box
	first *atom
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
func (v *view) bodyLines(t *Table, h *heads, limit ingest.Box) []*line {
	var out []*line
	lastRow := 0.0
	for _, l := range v.lines {
		if l.box.CenterY() <= h.band.Y1 || l.box.CenterY() >= limit.Y1 {
			continue
		}
		rest := free(l.atoms)
		if len(rest) == 0 {
			continue
		}
		if t.EndsBefore != nil && len(find(t.EndsBefore, l.atoms)) > 0 {
			break
		}
		if v.grid && lastRow > 0 && l.box.Y0 > lastRow+1 {
			break // a blank row ends a table in a sheet
		}
		lastRow = l.box.Y0
		out = append(out, &line{atoms: rest, box: boxOf(rest)})
	}
	return out
}

// edges are the borders between neighbouring columns on a page: for each
// pair of headings, the middle of the widest strip between their centres in
// which no row has ink. cut[i] is the border right of column i; sure[i] is
// false when ink crosses everywhere.
func (v *view) edges(h *heads, lines []*line) (cut []float64, sure []bool) {
	n := len(h.list)
	if v.grid {
		for i := 0; i+1 < n; i++ {
			cut, sure = append(cut, h.list[i].box.X1), append(sure, true)
		}
		return cut, sure
	}
	var ink []ingest.Box
	for _, l := range lines {
		if len(v.runs(l)) < 2 && n > 2 {
			continue // running text, not a row
		}
		for _, a := range l.atoms {
			ink = append(ink, a.box)
		}
	}
	sort.Slice(ink, func(i, j int) bool { return ink[i].X0 < ink[j].X0 })
	for i := 0; i+1 < n; i++ {
		lo, hi := h.list[i].box.CenterX(), h.list[i+1].box.CenterX()
		at, width := (h.list[i].box.X1+h.list[i+1].box.X0)/2, 0.0
		end := lo
		try := func(a, b float64) {
			a, b = max(a, lo), min(b, hi)
			if b-a > width+0.01 {
				at, width = (a+b)/2, b-a
			}
		}
		for _, b := range ink {
			if b.X1 <= lo {
				continue
			}
			if b.X0 >= hi {
				break
			}
			if b.X0 > end {
				try(end, b.X0)
			}
			end = max(end, b.X1)
		}
		try(end, hi)
		cut, sure = append(cut, at), append(sure, width > 0.8)
	}
	return cut, sure
}

// rows cuts the body into rows and cells. A line without anything in the key
// column belongs to the row above when it only goes on with its words, or
// when the two overlap in height; otherwise it is a reason.
// known says whether a key is complete as it stands, so that words under it
// are a title and not the rest of a wrapped label.
func (v *view) rows(t *Table, h *heads, lines []*line, key int, known func(string) bool) ([]*row, []*ingest.Reason) {
	cut, sure := v.edges(h, lines)
	var out []*row
	var reasons []*ingest.Reason
	var pending []*line
	for _, l := range lines {
		if sk := t.skip(joined(l.atoms)); sk != nil {
			use(l.atoms, Mark{As: "declared", Note: sk.Why, Rule: sk.Place})
			continue
		}
		r := &row{cells: make([][]*atom, len(h.list)), box: l.box, first: l.atoms[0]}
		for _, a := range l.atoms {
			x := a.box.CenterX()
			if v.grid {
				x = a.box.X0
			}
			i := sort.SearchFloat64s(cut, x)
			if v.grid {
				i = columnAt(h, a.box.X0)
				if i < 0 {
					continue // outside the table's columns: left for the accounting
				}
			} else if bad := crosses(cut, sure, a.box); bad >= 0 && t.crossMatters(h, bad) {
				reasons = append(reasons, &ingest.Reason{Code: "between-columns", Severity: ingest.Hold, Where: a.place, Rule: t.Place,
					What: fmt.Sprintf("it is not clear which column of the table %q this text belongs to", t.Name), Expected: fmt.Sprintf("%q or %q", h.list[bad].col.Heading[0], h.list[bad+1].col.Heading[0]), Found: a.text,
					Next: "look at the page and key the sample by hand, or ask the laboratory for a clearer copy"})
			}
			r.cells[i] = append(r.cells[i], a)
		}
		if len(r.atoms()) == 0 {
			continue
		}
		hasKey := key >= 0 && len(r.cells[key]) > 0
		var prev *row
		if len(out) > 0 {
			prev = out[len(out)-1]
		}
		wordsOnly := !hasDigit(joined(l.atoms))
		close := prev != nil && !v.grid && l.box.Y0-prev.box.Y1 < 0.8*l.atoms[0].size
		switch {
		case hasKey && !(close && wordsOnly && onlyKey(r, key) && known != nil && !known(prev.text(key)) && !known(r.text(key))):
			for _, p := range pending { // numbers a hair above their label's line
				if p.box.OverlapY(l.box) > 0.3*p.box.Height() {
					v.pour(r, p, cut)
				} else {
					reasons = append(reasons, v.stray(t, p))
				}
			}
			pending = nil
			out = append(out, r)
		case prev != nil && prev.box.OverlapY(l.box) > 0.3*min(l.box.Height(), prev.box.Height()) && !v.grid:
			v.pour(prev, l, cut)
		case prev != nil && close && wordsOnly:
			v.pour(prev, l, cut)
		case wordsOnly:
			// Words of their own between rows: a section title.
		case !v.grid:
			pending = append(pending, l)
		default:
			reasons = append(reasons, v.stray(t, l))
		}
	}
	for _, p := range pending {
		reasons = append(reasons, v.stray(t, p))
	}
	return out, reasons
}

func onlyKey(r *row, key int) bool {
	for i, c := range r.cells {
		if i != key && len(c) > 0 {
			return false
		}
	}
	return true
}

// crossMatters reports whether a border lies beside a column that is read.
func (t *Table) crossMatters(h *heads, i int) bool {
	return !h.list[i].col.Nothing || !h.list[i+1].col.Nothing
}

func (v *view) stray(t *Table, l *line) *ingest.Reason {
	return &ingest.Reason{Code: "row-without-label", Severity: ingest.Hold, Where: v.placeOf(l.atoms), Rule: t.Place,
		What: fmt.Sprintf("a line in the table %q has numbers but no label or sample number", t.Name), Expected: "a row that begins with its label or number, or a row declared under skip rows", Found: joined(l.atoms), Next: "look at the page; if the line is no result, declare it under skip rows or not results in the mapping"}
}

// pour adds a line's atoms to the cells of a row.
func (v *view) pour(r *row, l *line, cut []float64) {
	for _, a := range l.atoms {
		i := sort.SearchFloat64s(cut, a.box.CenterX())
		r.cells[i] = append(r.cells[i], a)
		r.box = r.box.Union(a.box)
	}
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

// crosses is the border that a box straddles with more than a fifth of its
// width on both sides where no clear strip was found, or -1.
func crosses(cut []float64, sure []bool, b ingest.Box) int {
	for i, c := range cut {
		if !sure[i] && c-b.X0 > 0.2*b.Width() && b.X1-c > 0.2*b.Width() {
			return i
		}
	}
	return -1
}

// skip is the rule that says a row is no sample or test, or nil.
func (t *Table) skip(text string) *SkipRow {
	for _, s := range t.SkipRows {
		if s.Begins.beginsIn(text) {
			return s
		}
	}
	return nil
}

// summaryWord is a word in a row's first cell that makes it look like a
// summary of the rows above, which no mapping declared; "" when there is none.
func summaryWord(text string) string {
	for _, w := range strings.Fields(strings.ToLower(text)) {
		switch strings.Trim(w, ".,:;()") {
		case "mean", "average", "averages", "avg", "median", "minimum", "maximum", "min", "max", "total", "totals", "std", "stdev", "range":
			return w
		}
	}
	return ""
}
