package mappings

import (
	"sort"

	"example.org/windrow/ingest"
)

// A strip is a part of a page's width in which the rows of a table have ink,
// with clear paper on both sides in every row.
type strip struct {
	x0, x1 float64
	head   int  // index of the heading it belongs to, -1 while that is open
	sure   bool // false when another heading would do as well
}

// strips cuts the table's width where no row has ink. Words a space apart, a typewriter's 0.6 em included,
// stay together, so that a name of several words is one strip, and cells that
// stand close do not. Running text is not a row.
func (v *view) strips(lines []*line, many bool) []*strip {
	var ink []*strip
	for _, l := range lines {
		if len(v.runs(l)) < 2 && many && !mostlyNumbers(l) {
			continue
		}
		for _, r := range v.pieces(l, 0.65) {
			b := boxOf(r)
			ink = append(ink, &strip{x0: b.X0, x1: b.X1, head: -1})
		}
	}
	sort.SliceStable(ink, func(i, j int) bool { return ink[i].x0 < ink[j].x0 })
	var out []*strip
	for _, s := range ink {
		if n := len(out); n > 0 && s.x0 < out[n-1].x1+0.8 {
			out[n-1].x1 = max(out[n-1].x1, s.x1)
			continue
		}
		out = append(out, s)
	}
	return out
}

// mostlyNumbers reports whether a line is a row of a table whose cells all stand
// close: running text has words.
func mostlyNumbers(l *line) bool {
	n := 0
	for _, a := range l.atoms {
		if hasDigit(a.text) {
			n++
		}
	}
	return n > 1 && 2*n >= len(l.atoms)
}

// edges are the borders between neighbouring columns on a page, and the strips
// of ink that they follow from.
//
// A strip of ink belongs to the heading it stands under. Where headings and
// numbers are not aligned (a heading to the left over numbers to the right), a
// strip may stand under none: then the strips between two certain ones go to
// the headings between them, one by one and in order, if there are as many of
// the one as of the other. If there are not, the nearest heading is taken and
// the strip is not sure. Distance alone would shift a whole table by one
// column.
func (v *view) edges(h *heads, lines []*line) (cut []float64, ss []*strip) {
	n := len(h.list)
	if v.grid {
		return nil, nil
	}
	ss = v.strips(lines, n > 2)
	for _, s := range ss {
		s.head, s.sure = under(h, s)
	}
	ss = v.takenApart(h, ss, lines)
	monotone(ss)
	for i := 0; i < len(ss); {
		if ss[i].head >= 0 {
			i++
			continue
		}
		j := i
		for j < len(ss) && ss[j].head < 0 {
			j++
		}
		lo, hi := -1, n
		if i > 0 {
			lo = ss[i-1].head
		}
		if j < len(ss) {
			hi = ss[j].head
		}
		place(h, ss[i:j], lo, hi)
		i = j
	}
	for i := 0; i+1 < n; i++ {
		left, right := -1e9, 1e9
		for _, s := range ss {
			if s.head <= i {
				left = max(left, s.x1)
			} else {
				right = min(right, s.x0)
			}
		}
		mid := (h.list[i].box.X1 + h.list[i+1].box.X0) / 2
		switch {
		case left <= -1e9 && right >= 1e9:
		case left <= -1e9:
			mid = min(mid, right-0.1)
		case right >= 1e9:
			mid = max(mid, left+0.1)
		case left < right:
			mid = (left + right) / 2
		}
		cut = append(cut, mid)
	}
	for i := 1; i < len(cut); i++ {
		cut[i] = max(cut[i], cut[i-1])
	}
	return cut, ss
}

// takenApart is the strips with those that stand under several headings taken
// apart where that is certain.
func (v *view) takenApart(h *heads, ss []*strip, lines []*line) []*strip {
	var out []*strip
	for _, s := range ss {
		if parts := []*strip(nil); s.head < 0 || !s.sure || overSeveral(h, s) {
			if parts = v.finer(h, s, lines); parts != nil {
				out = append(out, parts...)
				continue
			}
		}
		out = append(out, s)
	}
	return out
}

// overSeveral reports whether a strip stands under more than one heading with
// most of the heading's width.
func overSeveral(h *heads, s *strip) bool {
	n := 0
	for _, x := range h.list {
		if x.box.OverlapX(ingest.Box{X0: s.x0, X1: s.x1}) > 0.5*x.box.Width() {
			n++
		}
	}
	return n > 1
}

// doubtful reports whether an atom stands in a strip that is not sure.
func doubtful(ss []*strip, a *atom) bool {
	for _, s := range ss {
		if x := a.box.CenterX(); x >= s.x0 && x <= s.x1 {
			return !s.sure
		}
	}
	return false
}

// under is the one heading that a strip stands under with a third of the
// narrower one's width; -1 when there is none. A strip under several is long
// text or several columns run together: it goes to none.
func under(h *heads, s *strip) (int, bool) {
	best, second := -1, 0.0
	most := 0.0
	for i, x := range h.list {
		o := x.box.OverlapX(ingest.Box{X0: s.x0, X1: s.x1})
		if o <= 0.3*min(x.box.Width(), s.x1-s.x0) {
			continue
		}
		if o > most {
			best, second, most = i, most, o
		} else {
			second = max(second, o)
		}
	}
	return best, second < 0.5*most
}

// monotone takes back the places of strips that would make columns cross.
func monotone(ss []*strip) {
	last := -1
	for _, s := range ss {
		if s.head < 0 {
			continue
		}
		if s.head < last {
			s.head, s.sure = last, false
		}
		last = s.head
	}
}

// place gives strips that stand under no heading to the headings after lo and
// before hi.
func place(h *heads, ss []*strip, lo, hi int) {
	free := hi - lo - 1
	switch {
	case free == len(ss):
		for k, s := range ss {
			s.head, s.sure = lo+1+k, true
		}
	case free == 1:
		for _, s := range ss {
			s.head, s.sure = lo+1, true
		}
	default:
		from, to := max(lo, 0), min(hi, len(h.list)-1)
		for _, s := range ss {
			best, next := -1, 1e9
			dist := 1e9
			for i := from; i <= to; i++ {
				d := gapX(h.list[i].box, s)
				if d < dist {
					best, next, dist = i, dist, d
				} else {
					next = min(next, d)
				}
			}
			s.head, s.sure = best, dist < 0.4*next
			from = best
		}
	}
}

func gapX(b ingest.Box, s *strip) float64 { return max(0, b.X0-s.x1, s.x0-b.X1) }
