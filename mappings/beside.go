package mappings

import (
	"fmt"
	"slices"
	"strings"

	"example.org/windrow/ingest"
)

// A headed is the heading of a table and the page it stands on.
type headed struct {
	page  *ingest.Page
	heads *heads
}

// besideHeadings holds a report in which a unit or a method stands right over
// or under the heading of a column of results, and is not the column's: a row
// of units that a laboratory has begun to print, or a wider heading. No rule
// reads it, it has no number, and whoever looks at the table takes the numbers
// under it for what it says.
func (r *reader) besideHeadings() {
	for _, t := range r.headed {
		for _, v := range r.views {
			if v.page != t.page {
				continue
			}
			for _, l := range v.lines {
				if gap := l.box.Height(); l.box.Y0 >= t.heads.band.Y1+gap || l.box.Y1 <= t.heads.band.Y0-gap {
					continue
				}
				for _, run := range v.runs(l) {
					if as := free(run); len(as) > 0 && !hasDigit(joined(as)) {
						r.besideHeading(v, t.heads, as)
					}
				}
			}
		}
	}
}

// besideHeading compares one such text with the columns of results that it
// stands over or under.
func (r *reader) besideHeading(v *view, h *heads, as []*atom) {
	text := strings.Trim(joined(as), "()[] ")
	unit, isUnit := r.l.mapping.unitID(text, r.vocab)
	method, isMethod := r.vocab.Resolve(MethodWord, text)
	if !isUnit && (!isMethod || len(text) < 4) {
		return
	}
	for _, x := range h.list {
		if x.col.Nothing || x.col.Test == nil || !contains(x.col.Reads.Names, "result") || boxOf(x.atoms).OverlapX(boxOf(as)) <= 0 {
			continue
		}
		heading := strings.Join(x.col.Heading, " ")
		own := []string{orWord(x.col.Unit, headingUnit(x.col))}
		if own[0] == "" {
			own = x.col.Test.Units // of which none is printed, or one in the cell
		}
		if isUnit && len(own) > 0 && !slices.ContainsFunc(own, func(u string) bool {
			id, known := r.l.mapping.unitID(u, r.vocab)
			return !known || id == unit
		}) {
			r.hold("unit-differs", v.placeOf(as), x.col.Place, fmt.Sprintf("the unit that stands beside the heading %q is not the column's", heading), strings.Join(own, " or "), text, nextLayout)
			use(as, Mark{As: "declared", Note: "not understood"})
			return
		}
		if m := x.col.Test.Method; isMethod && !isUnit && m != "" && !related(m, method) {
			r.hold("method-differs", v.placeOf(as), x.col.Test.MethodRule, fmt.Sprintf("the method that stands beside the heading %q is not the one in the mapping", heading), m, text, "if the laboratory changed its method, add a layout or correct the test; results by two methods can't be compared")
			use(as, Mark{As: "declared", Note: "not understood"})
			return
		}
	}
}
