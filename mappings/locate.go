package mappings

import (
	"sort"

	"example.org/windrow/ingest"
)

// A Located is a column of a table whose heading stands in a report.
type Located struct {
	Column *Column
	Place  ingest.Place
	Box    ingest.Box // of the heading's first level, counted as in [Piece]
	Unit   string     // printed under it, where the column asks for one: the column's or another; "" when nothing there is a unit
}

// Locate finds the headings of one of the layout's tables in a report, from
// left to right in whatever order they stand there, on the first page or in
// the first block that has them. year is that of the report, for headings
// with {this year}. It is for those who ask what has become of a layout:
// where [Layout] reads, the order and every level must be as written.
func Locate(doc *ingest.Document, l *Layout, t *Table, year string, vocab Vocabulary) []Located {
	named := t.inYear(map[FieldID]Field{DateReported: {Value: year}})
	r := &reader{doc: doc, l: l, vocab: vocab}
	for _, p := range doc.Pages {
		if p.Hidden {
			continue
		}
		v := newView(doc, p)
		views := []*view{v}
		if l.OneEach == "block" && l.Block != nil {
			views = nil
			for _, b := range r.blocks(v) {
				views = append(views, b.view)
			}
		}
		for _, v := range views {
			if out := v.locate(named, vocab); len(out) > 0 {
				for i := range out {
					if k := indexOf(named.Columns, out[i].Column); k >= 0 {
						out[i].Column = t.Columns[k]
					}
				}
				return out
			}
		}
	}
	return nil
}

// locate is Locate in one page or block.
func (v *view) locate(t *Table, vocab Vocabulary) []Located {
	var pool []*atom
	for _, as := range [...][]*atom{v.atoms, v.turned} {
		pool = append(pool, as...)
	}
	first := pool
	if v.grid {
		first = v.headCells(t, pool)
	}
	cands := make([][]*head, len(t.Columns))
	found, printed := 0, 0
	for i, c := range t.Columns {
		if c.Samples {
			continue
		}
		printed++
		for _, s := range v.stacks(c.Heading[0], first) {
			cands[i] = append(cands[i], &head{col: c, atoms: s, box: boxOf(s)})
		}
		if len(cands[i]) > 0 {
			found++
		}
	}
	if found == 0 || found*3 < printed {
		return nil
	}
	h := &heads{list: v.bestRow(t, cands)}
	if len(h.list) == 0 {
		return nil
	}
	chosen := map[*Column]*head{}
	for _, x := range h.list {
		chosen[x.col] = x
		h.band = h.band.Union(x.box)
	}
	if !v.grid {
		size := h.list[0].atoms[0].size
		h.band.Y0, h.band.Y1 = h.band.Y0-size, h.band.Y1+size
	}
	// The longest heading first: "P" is also the end of "prev. year P".
	order := make([]int, len(t.Columns))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(i, j int) bool {
		return len(squeeze(t.Columns[order[i]].Heading[0])) > len(squeeze(t.Columns[order[j]].Heading[0]))
	})
	h.list = nil
	for _, i := range order {
		x := chosen[t.Columns[i]]
		if x == nil || overlapsAny(h, x) {
			x = firstInBand(h, cands[i])
		}
		if x != nil {
			h.list = append(h.list, x)
		}
	}
	sort.SliceStable(h.list, func(i, j int) bool { return h.list[i].box.X0 < h.list[j].box.X0 })
	out := make([]Located, len(h.list))
	for i, x := range h.list {
		out[i] = Located{Column: x.col, Place: v.placeOf(x.atoms), Box: x.box}
	}
	if v.grid {
		pool = nearRows(pool, h.band, t)
	}
	v.lowerLevels(t, h, pool, ingest.Box{Y0: -1e9, Y1: 1e9}, vocab)
	for i, x := range h.list {
		out[i].Unit = joined(x.unit)
		if out[i].Unit == "" && x.col.Unit != "" {
			out[i].Unit = dividedUnit(h, i, pool, vocab)
		}
	}
	return out
}

// dividedUnit is a unit under a heading that is divided over two lines.
func dividedUnit(h *heads, i int, pool []*atom, vocab Vocabulary) string {
	x := h.list[i]
	var below []*atom
	for _, a := range pool {
		if x.box.OverlapX(a.box) > 0 && a.box.Y0 >= x.box.Y1-0.35*a.size && a.box.Y1 <= x.box.Y1+50 {
			below = append(below, a)
		}
	}
	for _, a := range below {
		for _, b := range below {
			if a != b && follows([]*atom{a}, b) && b.box.Y0 > a.box.CenterY() {
				if unit := a.text + b.text; !hasDigit(unit) {
					if _, ok := vocab.Resolve(UnitWord, unit); ok {
						return unit
					}
				}
			}
		}
	}
	return ""
}

// PlaceOf is where a pattern's text first stands in a document, and what
// stands there; the place is zero when it stands nowhere.
func PlaceOf(pattern string, doc *ingest.Document) ingest.Place {
	p, err := newPattern(pattern, ingest.Place{})
	if err != nil {
		return ingest.Place{}
	}
	for _, page := range doc.Pages {
		if page.Hidden {
			continue
		}
		v := newView(doc, page)
		for _, as := range [...][]*atom{v.atoms, v.turned} {
			if hits := find(p, as); len(hits) > 0 {
				return v.placeOf(hits[0].atoms)
			}
		}
	}
	return ingest.Place{}
}
