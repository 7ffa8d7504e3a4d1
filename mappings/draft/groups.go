package draft

import (
	"slices"
	"sort"
	"strings"

	"example.org/windrow/ingest"
)

// splitGroups parts the wider headings over several columns from the
// headings of the columns themselves.
func (d *drafter) splitGroups(ps []headPhrase, bars []ingest.Box) (groups []run, rest []headPhrase) {
	level := map[float64]bool{} // keys of lines that hold a wider heading
	for _, p := range ps {
		if p.turn != 0 {
			continue
		}
		under := map[int]bool{}
		for _, q := range ps {
			below := q.y > p.box.Y1-0.3*p.size || q.turn != 0 && q.box.Y1 > p.box.Y1+0.5*p.size
			if below && q.box.CenterX() > p.box.X0-0.5 && q.box.CenterX() < p.box.X1+0.5 {
				under[slotOf(bars, q.box.CenterX())] = true
			}
			if below && q.box.OverlapX(p.box) > 0.3*q.box.Width() {
				under[slotOf(bars, q.box.CenterX())] = true
			}
		}
		if len(under) >= 2 {
			level[p.key] = true
		}
	}
	isGroup := func(p headPhrase) bool {
		if p.turn != 0 {
			return false
		}
		for k := range level {
			if abs(k-p.key) < 0.85*p.size {
				return true
			}
		}
		return false
	}
	var gs []headPhrase
	for _, p := range ps {
		if isGroup(p) {
			gs = append(gs, p)
		} else {
			rest = append(rest, p)
		}
	}
	gs, rest = topLines(gs, rest)
	if len(rest) == 0 {
		return nil, gs
	}
	// Words of one wider heading stand beside each other or wrapped.
	sort.SliceStable(gs, func(i, j int) bool {
		if abs(gs[i].key-gs[j].key) > 0.3*gs[i].size {
			return gs[i].key < gs[j].key
		}
		return gs[i].along < gs[j].along
	})
	nested := nestedLines(gs)
	var last []float64 // the line of each group's last phrase
	for _, p := range gs {
		home := -1
		for i := range groups {
			g := &groups[i]
			beside := g.box.OverlapY(p.box) > 0.5*p.box.Height() && p.box.X0-g.box.X1 < 1.0*p.size && p.box.X0 > g.box.X0
			wrapped := g.box.OverlapX(p.box) > 0.3*min(g.box.Width(), p.box.Width()) && p.box.Y0-g.box.Y1 < 0.8*p.size && p.box.Y0 > g.box.Y0
			if beside || wrapped && !nested(last[i], p.key) {
				home = i
			}
		}
		if home < 0 {
			groups, last = append(groups, run{text: p.text, box: p.box}), append(last, p.key)
			continue
		}
		groups[home].text += " " + p.text
		groups[home].box = groups[home].box.Union(p.box)
		last[home] = max(last[home], p.key)
	}
	return groups, rest
}

// nestedLines tells a line of wider headings with a level of its own under
// it from one whose headings wrap: some heading of the upper line stands over
// two or more of the lower, centred or beginning with the first.
func nestedLines(gs []headPhrase) func(upper, lower float64) bool {
	type line struct {
		key  float64
		runs []ingest.Box
		size float64
	}
	var lines []line
	for _, p := range gs { // in order of lines, and along each
		n := len(lines)
		if n == 0 || abs(lines[n-1].key-p.key) > 0.3*p.size {
			lines = append(lines, line{key: p.key, size: p.size})
			n++
		}
		l := &lines[n-1]
		if k := len(l.runs); k > 0 && p.box.X0-l.runs[k-1].X1 < p.size {
			l.runs[k-1] = l.runs[k-1].Union(p.box)
			continue
		}
		l.runs = append(l.runs, p.box)
	}
	under := func(up, low line) bool {
		for i, u := range up.runs {
			var hull ingest.Box
			n := 0
			for _, q := range low.runs {
				near := i
				for k, w := range up.runs {
					if abs(w.CenterX()-q.CenterX()) < abs(up.runs[near].CenterX()-q.CenterX()) {
						near = k
					}
				}
				if near == i {
					hull, n = hull.Union(q), n+1
				}
			}
			if n > 1 && (abs(hull.CenterX()-u.CenterX()) < 1.5*up.size || abs(hull.X0-u.X0) < 0.5*up.size && u.X1 < hull.X1) {
				return true
			}
		}
		return false
	}
	return func(upper, lower float64) bool {
		for _, up := range lines {
			for _, low := range lines {
				if abs(up.key-upper) <= 0.3*up.size && abs(low.key-lower) <= 0.3*low.size && up.key < low.key && under(up, low) {
					return true
				}
			}
		}
		return false
	}
}

// topLines moves a phrase that stands right above a wider heading to it: it
// is the first line of that heading, which wraps.
func topLines(gs, rest []headPhrase) (groups, others []headPhrase) {
	groups = gs
	for _, p := range rest {
		top := false
		for _, g := range gs {
			over := p.turn == 0 && p.box.OverlapX(g.box) > 0.5*min(p.box.Width(), g.box.Width())
			top = top || over && p.box.Y0 < g.box.Y0 && g.box.Y0-p.box.Y1 < 0.5*p.size
		}
		if top {
			groups = append(groups, p)
		} else {
			others = append(others, p)
		}
	}
	return groups, others
}

// levels parts wider headings into those that stand beside each other,
// highest first, each from left to right.
func levels(groups []run) [][]run {
	sort.SliceStable(groups, func(i, j int) bool { return groups[i].box.CenterY() < groups[j].box.CenterY() })
	var out [][]run
	var band ingest.Box
	for _, g := range groups {
		n := len(out)
		if n == 0 || band.OverlapY(g.box) < 0.3*min(band.Height(), g.box.Height()) {
			out, band = append(out, nil), ingest.Box{}
			n++
		}
		out[n-1], band = append(out[n-1], g), band.Union(g.box)
	}
	for _, l := range out {
		sort.SliceStable(l, func(i, j int) bool { return l[i].box.X0 < l[j].box.X0 })
	}
	return out
}

// A strand is neighbouring columns that a level of wider headings takes
// together.
type strand struct {
	cols []*column
	box  ingest.Box
}

// placeGroups says which neighbouring columns each wider heading stands
// over, level by level from the lowest: a heading stands over whole headings
// of the level below it. Laboratories centre their wider headings or begin
// them with their first column, all of a table alike: the better of the two
// is taken.
func placeGroups(cols []*column, groups []run) {
	var strands []strand
	for _, c := range cols {
		strands = append(strands, strand{[]*column{c}, c.box})
	}
	ls := levels(groups)
	for i := len(ls) - 1; i >= 0; i-- {
		strands = placeLevel(strands, ls[i])
	}
}

// ownHeadings makes a heading that stands over a single column the heading
// of that column, where what stands under it is only the unit.
func (d *drafter) ownHeadings(cols []*column) {
	for i, c := range cols {
		n := len(c.under) - 1
		if n < 0 || len(c.heading) != 1 || c.unit != "" || d.unitID(c.heading[0]) == "" {
			continue
		}
		with := func(j int) bool {
			return j >= 0 && j < len(cols) && len(cols[j].under) > n && slices.Equal(cols[j].under, c.under)
		}
		if with(i-1) || with(i+1) {
			continue
		}
		c.heading, c.unit, c.under = []string{c.under[n]}, c.heading[0], c.under[:n]
	}
}

// trimGroups takes columns that a wider heading cannot speak of out of its
// ends: under "pH" stands neither the depth nor the organic matter, however
// wide its heading is set. A heading that names no test says nothing here.
func (d *drafter) trimGroups(cols []*column) {
	for from := 0; from < len(cols); {
		to := from
		for to+1 < len(cols) && len(cols[from].under) > 0 && slices.Equal(cols[to+1].under, cols[from].under) {
			to++
		}
		if n := len(cols[from].under); n > 0 && to > from {
			if over, ok := d.understand(cols[from].under[n-1]); ok && over.unknown == 0 && over.conf >= 0.6 {
				a, b := from, to
				for a < b && d.strange(cols[a], over.analyte) {
					a++
				}
				for b > a && d.strange(cols[b], over.analyte) {
					b--
				}
				if !d.strange(cols[a], over.analyte) {
					for i := from; i <= to; i++ {
						if i < a || i > b {
							cols[i].under = cols[i].under[:n-1]
						}
					}
				}
			}
		}
		from = to + 1
	}
}

// strange reports whether a column's own heading names a field, or a test
// that is another than the one over it and no part of it.
func (d *drafter) strange(c *column, over string) bool {
	title := c.title()
	if fieldOf(title) != "" || fieldOf(c.heading[0]) != "" {
		return true
	}
	m, ok := d.understand(title, c.unit)
	if !ok || m.unknown > 0 || m.conf < 0.8 || d.unitID(title) != "" || columnOf(title) != "" {
		return false
	}
	related := m.analyte == over || strings.HasSuffix(m.analyte, "_"+over) || strings.HasSuffix(over, "_"+m.analyte) || strings.HasPrefix(m.analyte, over+"-") || shareOf[over] == m.analyte
	return !related
}

// A reach is how far a wider heading is off where it would stand over some
// neighbouring strands, in points.
type reach func(strands []strand, g run, from, to int) float64

// Laboratories centre a wider heading over the headings of its columns, or
// over their cells, in which numbers stand to the right, or begin it with
// its first column.
var reaches = []reach{
	func(s []strand, g run, a, b int) float64 { return abs(g.box.CenterX() - (s[a].box.X0+s[b].box.X1)/2) },
	func(s []strand, g run, a, b int) float64 {
		x0 := s[a].box.X0
		if a > 0 {
			x0 = min(x0, s[a-1].box.X1)
		}
		return abs(g.box.CenterX() - (x0+s[b].box.X1)/2)
	},
	func(s []strand, g run, a, b int) float64 { return abs(g.box.X0 - s[a].box.X0) },
}

func placeLevel(strands []strand, groups []run) []strand {
	var a []int
	var off reach
	best := 0.0
	for i, r := range reaches {
		if p, c := partColumns(strands, groups, r); i == 0 || c < best-0.5 {
			a, best, off = p, c, r
		}
	}
	doubtful := edges(strands, groups, a, off)
	var out []strand
	last := -1
	for i, g := range a {
		if g < 0 || g != last {
			out = append(out, strand{})
		}
		last = g
		n := len(out) - 1
		out[n].cols = append(out[n].cols, strands[i].cols...)
		out[n].box = out[n].box.Union(ingest.Box{X0: strands[i].box.X0, X1: strands[i].box.X1, Y0: strands[i].box.Y0, Y1: strands[i].box.Y1})
		if g < 0 {
			continue
		}
		for _, c := range strands[i].cols {
			c.under = append([]string{groups[g].text}, c.under...)
			x, size := c.box.CenterX(), groups[g].box.Height()
			if len(c.under) == 1 {
				c.far = doubtful[i] && (x < groups[g].box.X0-1.5*size || x > groups[g].box.X1+1.5*size)
			}
		}
	}
	return out
}

// edges are the strands at the ends of a wider heading that it could as well
// do without: it would stand about as well over the others alone.
func edges(strands []strand, groups []run, a []int, off reach) []bool {
	out := make([]bool, len(a))
	for i := 0; i < len(a); {
		j := i
		for j+1 < len(a) && a[j+1] == a[i] {
			j++
		}
		if g := a[i]; g >= 0 && j > i {
			now := off(strands, groups[g], i, j)
			slack := func(k int) float64 { return 0.25 * (strands[k].box.Width() + groups[g].box.Height()) }
			out[i] = off(strands, groups[g], i+1, j) < now+slack(i)
			out[j] = off(strands, groups[g], i, j-1) < now+slack(j)
		}
		i = j + 1
	}
	return out
}

// partColumns parts the columns among the groups at the least cost; -1 is
// under no group.
func partColumns(cols []strand, groups []run, cost reach) ([]int, float64) {
	m, n := len(cols), len(groups)
	const far = 1e18
	const alone = 3.0 // points: the price of a column under no group
	best, from := make([][]float64, n+1), make([][]int, n+1)
	for g := range best {
		best[g], from[g] = make([]float64, m+1), make([]int, m+1)
		for j := range best[g] {
			best[g][j], from[g][j] = far, -1
		}
	}
	best[0][0] = 0
	for g := 0; g <= n; g++ {
		for j := 1; j <= m; j++ {
			if c := best[g][j-1] + alone; c < best[g][j] {
				best[g][j], from[g][j] = c, -2
			}
			for a := 0; g > 0 && a < j; a++ {
				if best[g-1][a] >= far {
					continue
				}
				if c := best[g-1][a] + cost(cols, groups[g-1], a, j-1); c < best[g][j] {
					best[g][j], from[g][j] = c, a
				}
			}
		}
	}
	out := make([]int, m)
	for i := range out {
		out[i] = -1
	}
	for g, j := n, m; j > 0; {
		a := from[g][j]
		if a == -2 {
			j--
			continue
		}
		if a < 0 {
			break
		}
		for k := a; k < j; k++ {
			out[k] = g - 1
		}
		g, j = g-1, a
	}
	return out, best[n][m]
}
