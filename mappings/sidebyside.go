package mappings

import (
	"fmt"
	"sort"

	"example.org/windrow/ingest"
)

// A table of tests may be printed in parts beside each other: "Test, Result,
// Rating" and again "Test, Result, Rating". Each further column that reads the
// test begins a part, and each part is read as a table of its own, so that a
// label that is wrapped in one does not reach into the next.

// parts are the columns of such a table, part by part; one for any other table.
func (t *Table) parts() [][]*Column {
	var out [][]*Column
	has := false
	for i, c := range t.Columns {
		is := t.EachRow == "test" && !c.Nothing && !c.Samples && c.Reads != nil && contains(c.Reads.Names, "test")
		if i == 0 || is && has {
			out = append(out, nil)
		}
		has = has || is
		out[len(out)-1] = append(out[len(out)-1], c)
	}
	return out
}

// A part is the headings of a part of a table, with what stands under them.
type part struct {
	heads *heads
	lines []*line
}

// partsOf takes the lines under the headings of a table apart by its parts. A
// number that may belong to either of two columns is a reason, as it is within
// a part.
func (v *view) partsOf(t *Table, h *heads, lines []*line) ([]*part, []*ingest.Reason) {
	declared := t.parts()
	if len(declared) < 2 {
		return []*part{{h, lines}}, nil
	}
	of := map[*Column]int{}
	for k, cs := range declared {
		for _, c := range cs {
			of[c] = k
		}
	}
	out := make([]*part, len(declared))
	for k := range out {
		out[k] = &part{heads: &heads{band: h.band, fits: h.fits}}
	}
	for _, x := range h.list {
		p := out[of[x.col]]
		p.heads.list = append(p.heads.list, x)
	}
	cut, ss := v.edges(h, lines)
	var reasons []*ingest.Reason
	for _, l := range lines {
		in := make([][]*atom, len(out))
		for _, a := range l.atoms {
			i := 0
			if v.grid {
				if i = columnAt(h, a.box.X0); i < 0 {
					continue // outside the table's columns: left for the accounting
				}
			} else {
				i = sort.SearchFloat64s(cut, a.box.CenterX())
				if hasDigit(a.text) && doubtful(ss, a) && t.crossMatters(h, i) {
					reasons = append(reasons, v.betweenColumns(t, h, i, a))
				}
			}
			k := of[h.list[i].col]
			in[k] = append(in[k], a)
		}
		for k, as := range in {
			if len(as) > 0 {
				out[k].lines = append(out[k].lines, &line{atoms: as, box: boxOf(as)})
			}
		}
	}
	kept := out[:0]
	for _, p := range out {
		if len(p.heads.list) > 0 {
			kept = append(kept, p)
		}
	}
	return kept, reasons
}

// betweenColumns is the reason for a number that may belong to either of two
// columns.
func (v *view) betweenColumns(t *Table, h *heads, i int, a *atom) *ingest.Reason {
	return &ingest.Reason{Code: "between-columns", Severity: ingest.Hold, Where: v.place(a), Rule: t.Place,
		What: fmt.Sprintf("it is not clear which column of the table %q this number belongs to", t.Name), Expected: "a number under its heading; the nearest is " + fmt.Sprintf("%q", h.list[i].col.Heading[0]), Found: a.text,
		Next: "look at the page, and ask the laboratory for its electronic copy or a clearer one"}
}
