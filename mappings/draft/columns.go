package draft

import (
	"sort"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// slots are the strips of a page in which the rows of a table have ink.
func slots(lines []textLine) []ingest.Box {
	var ink []ingest.Box
	size := 0.0
	for i := range lines {
		if len(lines[i].runs) < 2 {
			continue
		}
		for _, w := range lines[i].words {
			ink = append(ink, w.Box)
			size = max(size, w.Size)
		}
	}
	sort.Slice(ink, func(i, j int) bool { return ink[i].X0 < ink[j].X0 })
	var out []ingest.Box
	for _, b := range ink {
		if n := len(out); n > 0 && b.X0-out[n-1].X1 < 0.45*size {
			out[n-1] = out[n-1].Union(b)
			continue
		}
		out = append(out, b)
	}
	return out
}

// headPhrase is a phrase of the heading with the line it stands on.
type headPhrase struct {
	phrase
	y, size float64
	turn    int
	key     float64 // order of lines, down the column
	along   float64 // order within a line
}

// pageColumns finds the columns of a table on a page: strips of ink in its
// rows, and what stands over each of them in the heading.
func (d *drafter) pageColumns(s *sheet, t *foundTable, top, first int, body []textLine) {
	bars := slots(body)
	if len(bars) < 2 {
		return
	}
	var ps []headPhrase
	for j := top; j < first; j++ {
		if j > t.seed && t.across {
			break
		}
		l := &s.lines[j]
		for _, p := range d.phrases(l, false) {
			ps = append(ps, headPhrase{phrase: p, y: p.box.Y0, size: l.size, key: l.words[0].Box.Y0, along: p.box.X0})
		}
	}
	for _, w := range s.turned {
		if w.Box.Y1 > t.top-1 && w.Box.Y0 < s.lines[first].box.Y0 {
			h := headPhrase{phrase: phrase{text: w.Text, box: w.Box}, y: w.Box.Y0, size: w.Size, turn: w.Turn, key: w.Box.X0, along: -w.Box.Y1}
			if w.Turn == 270 {
				h.key, h.along = -w.Box.X1, w.Box.Y0
			}
			ps = append(ps, h)
		}
	}
	groups, rest := d.splitGroups(ps, bars)
	at := make([][]headPhrase, len(bars))
	for _, p := range rest {
		i := slotOf(bars, p.box.CenterX())
		at[i] = append(at[i], p)
	}
	for i := range bars {
		for _, part := range splitSide(at[i]) {
			t.cols = append(t.cols, d.headColumn(part))
		}
	}
	sort.SliceStable(t.cols, func(i, j int) bool { return t.cols[i].box.X0 < t.cols[j].box.X0 })
	placeGroups(t.cols, groups)
	d.ownHeadings(t.cols)
	d.trimGroups(t.cols)
}

func slotOf(bars []ingest.Box, x float64) int {
	for i := range bars {
		if i+1 == len(bars) || x < (bars[i].X1+bars[i+1].X0)/2 {
			return i
		}
	}
	return 0
}

// splitSide parts phrases that stand side by side over one strip: the rows
// have no gap between two columns of which both have a heading.
func splitSide(ps []headPhrase) [][]headPhrase {
	group := make([]int, len(ps))
	for i := range group {
		group[i] = i
	}
	for i := range ps {
		for j := range ps[:i] {
			if ps[i].box.OverlapX(ps[j].box) > 0 || beside(ps[i], ps[j]) {
				from, to := group[i], group[j]
				for k := range group {
					if group[k] == from {
						group[k] = to
					}
				}
			}
		}
	}
	var out [][]headPhrase
	at := map[int]int{}
	for i, p := range ps {
		k, ok := at[group[i]]
		if !ok {
			k = len(out)
			at[group[i]] = k
			out = append(out, nil)
		}
		out[k] = append(out[k], p)
	}
	return out
}

// beside reports whether two phrases stand on one line as parts of one text.
// Two known headings do only at the distance of a space.
func beside(p, q headPhrase) bool {
	gap := max(p.box.X0-q.box.X1, q.box.X0-p.box.X1)
	if p.turn != 0 {
		return q.turn == p.turn && gap < 0.9*p.size
	}
	return q.turn == 0 && abs(q.key-p.key) < 0.3*p.size && (gap < 0.45*p.size || gap < 0.8*p.size && !(q.hit && p.hit))
}

func abs(x float64) float64 { return max(x, -x) }

// headColumn makes a column of the phrases over one strip.
func (d *drafter) headColumn(ps []headPhrase) *column {
	sort.SliceStable(ps, func(i, j int) bool {
		if ps[i].turn != ps[j].turn {
			return ps[i].y < ps[j].y
		}
		if abs(ps[i].key-ps[j].key) > 0.4*ps[i].size {
			return ps[i].key < ps[j].key
		}
		return ps[i].along < ps[j].along
	})
	c := &column{}
	type lvl struct {
		text string
		size float64
		key  float64
		turn int
		box  ingest.Box
	}
	var lines []lvl
	for _, p := range ps {
		if n := len(lines); n > 0 && lines[n-1].turn == p.turn && abs(lines[n-1].key-p.key) < 0.4*p.size {
			lines[n-1].text += " " + p.text
			lines[n-1].box = lines[n-1].box.Union(p.box)
			continue
		}
		lines = append(lines, lvl{text: p.text, key: p.key, size: p.size, turn: p.turn, box: p.box})
	}
	if n := len(lines); n > 2 {
		if two := lines[n-2].text + lines[n-1].text; lines[n-1].turn == 0 && lines[n-2].turn == 0 {
			if _, _, ok := unitOf(d.v, two); ok {
				lines[n-2].text, lines[n-2].box = two, lines[n-2].box.Union(lines[n-1].box)
				lines = lines[:n-1]
			}
		}
	}
	for i, l := range lines {
		c.box = c.box.Union(l.box)
		if i == len(lines)-1 && i > 0 {
			if _, _, ok := unitOf(d.v, l.text); ok && !strings.Contains(l.text, ":") {
				c.unit = l.text
				continue
			}
		}
		_, isMethod, _ := methodOf(d.v, l.text)
		_, _, known := methodOf(d.v, l.text)
		apart := i > 0 && (l.turn != lines[i-1].turn || l.turn == 0 && l.box.Y0-lines[i-1].box.Y1 > 0.85*l.size || known && !isMethod && i == len(lines)-1)
		if len(c.heading) == 0 || apart {
			c.heading = append(c.heading, l.text)
		} else {
			c.heading[len(c.heading)-1] += " " + l.text
		}
	}
	return c
}

// fill puts the words of the body into the columns, by the borders that the
// reader of mappings mostly uses too: the widest strip without ink between the
// middles of two headings.
func (d *drafter) fill(s *sheet, t *foundTable, body []textLine) {
	var cut []float64
	if s.grid {
		for _, c := range t.cols {
			cut = append(cut, c.box.X1)
		}
	} else {
		cut = cuts(t.cols, body)
	}
	for _, l := range body {
		if !s.grid && len(l.runs) < 2 {
			continue
		}
		cells := make([]string, len(t.cols))
		kinds := make([]ingest.CellKind, len(t.cols))
		for _, w := range l.words {
			i := 0
			if s.grid {
				i = -1
				for k, c := range t.cols {
					if w.Box.X0 >= c.box.X0 && w.Box.X0 < c.box.X1 {
						i = k
					}
				}
				if i < 0 {
					continue
				}
			} else {
				i = sort.SearchFloat64s(cut, w.Box.CenterX())
			}
			cells[i] = strings.TrimSpace(cells[i] + " " + w.Text)
			kinds[i] = w.Kind
		}
		t.rows = append(t.rows, l)
		for i, c := range t.cols {
			c.cells = append(c.cells, cells[i])
			c.kinds = append(c.kinds, kinds[i])
		}
	}
}

// percentCells takes the sign off the cells of columns whose unit is per cent,
// as a sheet shows its percentages: it says again what stands at their head.
func (d *drafter) percentCells(t *foundTable) {
	for _, c := range t.cols {
		if !percentUnit(d.v, c.unit) {
			continue
		}
		for i, x := range c.cells {
			if n := strings.TrimSpace(strings.TrimSuffix(x, "%")); n != x && isNumber(n) {
				c.cells[i] = n
			}
		}
	}
}

// between is where the border of two columns may lie: between the middles of
// their headings, and on neither side of a word that stands under one heading
// alone, as a number at the end of a wide heading does.
func between(a, b ingest.Box, ink []mappings.Piece) (lo, hi float64) {
	lo, hi = a.CenterX(), b.CenterX()
	from, to := lo, hi
	for _, w := range ink {
		x := w.Box.CenterX()
		overA, overB := w.Box.OverlapX(a), w.Box.OverlapX(b)
		switch {
		case x <= lo || x >= hi:
		case overA > 0.5*w.Box.Width() && overB <= 0:
			from = max(from, w.Box.X1)
		case overB > 0.5*w.Box.Width() && overA <= 0:
			to = min(to, w.Box.X0)
		}
	}
	if from >= to {
		return lo, hi
	}
	return from, to
}

func cuts(cols []*column, body []textLine) []float64 {
	var ink []mappings.Piece
	for i := range body {
		if len(body[i].runs) >= 2 {
			ink = append(ink, body[i].words...)
		}
	}
	sort.SliceStable(ink, func(i, j int) bool { return ink[i].Box.X0 < ink[j].Box.X0 })
	var out []float64
	for i := 0; i+1 < len(cols); i++ {
		lo, hi := between(cols[i].box, cols[i+1].box, ink)
		at, width, end := (cols[i].box.X1+cols[i+1].box.X0)/2, 0.0, lo
		for _, w := range append(ink, mappings.Piece{Box: ingest.Box{X0: hi, X1: hi}}) {
			if w.Box.X1 < lo || w.Box.X0 > hi {
				continue
			}
			if a, b := max(end, lo), min(w.Box.X0, hi); b-a > width+0.01 {
				at, width = (a+b)/2, b-a
			}
			end = max(end, w.Box.X1)
		}
		out = append(out, at)
	}
	return out
}
