package mappings

import (
	"regexp"
	"sort"
	"strings"

	"example.org/windrow/ingest"
)

// Columns that stand closer than the words of a sentence do are one strip of
// ink under several headings. Such a strip is taken apart where no row has ink,
// however narrow the white is, but only if that leaves nothing to choose: each
// heading over it has a part of its own and each part one heading, and every
// cell is what its column is for by the mapping. In every other case the strip
// stays whole and its numbers are held.

// grouped are digits that with those before them may be one number, written
// with a space between thousands, and lead what may stand before such.
var (
	grouped = regexp.MustCompile(`^\d{3}(?:[.,]\d+)?$`)
	lead    = regexp.MustCompile(`^[<>]?-?\d{1,3}$`)
)

// tightest is the least white between two columns, in points: where a font is
// drawn wider than it says, the ink of neighbours meets before that.
const tightest = 0.8

// widestGroup is the widest space, in sizes of the letters, that may stand
// between the thousands and the hundreds of one number.
const widestGroup = 0.4

// A chunk is what one row has in a part of a strip.
type chunk struct {
	atoms []*atom
	box   ingest.Box
}

// finer takes a strip apart; nil where that is not certain.
func (v *view) finer(h *heads, s *strip, lines []*line) []*strip {
	if h.fits == nil {
		return nil
	}
	var rows [][]chunk
	for _, l := range lines {
		var row []chunk
		for _, a := range l.atoms {
			if x := a.box.CenterX(); x < s.x0 || x > s.x1 {
				continue
			}
			if n := len(row); n > 0 && isSign(joined(row[n-1].atoms)) {
				row[n-1].atoms = append(row[n-1].atoms, a) // the sign of a limit and its number
				row[n-1].box = row[n-1].box.Union(a.box)
				continue
			}
			row = append(row, chunk{[]*atom{a}, a.box})
		}
		if len(row) > 0 {
			rows = append(rows, row)
		}
	}
	parts := oneEach(h, partsIn(rows), s)
	if parts == nil {
		return nil
	}
	// The rows again, by the parts.
	cells := make([][]chunk, len(rows))
	for i, row := range rows {
		cells[i] = make([]chunk, len(parts))
		for _, c := range row {
			for k, p := range parts {
				if x := c.box.CenterX(); x >= p.x0 && x <= p.x1 {
					cells[i][k].atoms = append(cells[i][k].atoms, c.atoms...)
					cells[i][k].box = cells[i][k].box.Union(c.box)
				}
			}
		}
		for k, c := range cells[i] {
			if len(c.atoms) > 0 && !h.fits(h.list[parts[k].head].col, joined(c.atoms)) {
				return nil
			}
		}
	}
	for k := 0; k+1 < len(parts); k++ {
		if mayBeOne(cells, k) {
			return nil
		}
	}
	return parts
}

// partsIn are the parts of a strip with clear white between them in every row.
func partsIn(rows [][]chunk) []*strip {
	var ink []*strip
	for _, row := range rows {
		for _, c := range row {
			ink = append(ink, &strip{x0: c.box.X0, x1: c.box.X1, head: -1})
		}
	}
	sort.SliceStable(ink, func(i, j int) bool { return ink[i].x0 < ink[j].x0 })
	var out []*strip
	for _, s := range ink {
		if n := len(out); n > 0 && s.x0 < out[n-1].x1+tightest {
			out[n-1].x1 = max(out[n-1].x1, s.x1)
			continue
		}
		out = append(out, s)
	}
	return out
}

// oneEach gives each part the one heading that it stands under, and joins to a
// part what stands behind it under no other heading; nil unless that accounts
// for each heading over the strip, and in order.
func oneEach(h *heads, parts []*strip, s *strip) []*strip {
	var out []*strip
	for _, p := range parts {
		head, sure := under(h, p)
		if n := len(out); n > 0 && (head < 0 || head == out[n-1].head) {
			out[n-1].x1 = p.x1
			continue
		}
		if head < 0 || !sure || len(out) > 0 && head != out[len(out)-1].head+1 {
			return nil
		}
		p.head, p.sure = head, true
		out = append(out, p)
	}
	if len(out) < 2 {
		return nil
	}
	// A heading over the strip without ink of its own may be whose numbers these are.
	for i, x := range h.list {
		if over := x.box.OverlapX(ingest.Box{X0: s.x0, X1: s.x1}); over > 0 && (i < out[0].head || i > out[len(out)-1].head) {
			return nil
		}
	}
	return out
}

// mayBeOne reports whether what stands in a part and in the next one may be one
// number with a space in it, in every row that has both.
func mayBeOne(cells [][]chunk, k int) bool {
	both := false
	for _, row := range cells {
		a, b := row[k], row[k+1]
		if len(a.atoms) == 0 || len(b.atoms) == 0 {
			continue
		}
		both = true
		last := a.atoms[len(a.atoms)-1]
		if !lead.MatchString(joined(a.atoms)) || !grouped.MatchString(joined(b.atoms)) || b.box.X0-a.box.X1 >= widestGroup*last.size {
			return false
		}
	}
	return both
}

func isSign(text string) bool { return text == "<" || text == ">" }

// fits reports whether a text is what a column is for, so that what stands
// beside it in the same strip can be no part of it. Words that no list of the
// mapping has fit nothing.
func (r *reader) fits(c *Column, text string) bool {
	if c.Nothing {
		for _, p := range c.Only {
			if _, ok := p.matchWhole(text); ok {
				return true
			}
		}
		return len(c.Only) == 0 && (c.Numbers && r.isPlain(text) || !hasDigit(text))
	}
	switch {
	case c.Samples:
		return r.isPlain(text)
	case c.Field == LabSampleID:
		return hasDigit(text) && !strings.Contains(text, " ") && !r.isPlain(text)
	case knownField(string(c.Field)):
		return !hasDigit(text)
	case !c.Reads.bare():
		m, ok := c.Reads.matchWhole(text)
		return ok && (m["result"] == "" || r.isPlain(m["result"])) && (m["rating"] == "" || r.isRating(m["rating"])) && (m["test"] == "" || r.l.mapping.Test(m["test"]) != nil)
	}
	switch c.Reads.Names[0] {
	case "result":
		return r.isPlain(text)
	case "test":
		return r.l.mapping.Test(text) != nil
	case "rating":
		return r.isRating(text) || r.isMissing(text)
	case "unit":
		_, ok := r.l.mapping.unitID(text, r.vocab)
		return ok || r.isMissing(text)
	}
	return false
}

// isPlain reports whether a text is one number by the layout's style, or a word
// for none.
func (r *reader) isPlain(text string) bool {
	if r.isMissing(text) {
		return true
	}
	_, err := r.l.Style.parseNumber(text)
	return err == nil && (!strings.Contains(text, " ") || isSign(strings.Fields(text)[0]) && len(strings.Fields(text)) == 2)
}
