package draft

import (
	"sort"

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
	for _, p := range gs {
		home := -1
		for i := range groups {
			g := &groups[i]
			beside := g.box.OverlapY(p.box) > 0.5*p.box.Height() && p.box.X0-g.box.X1 < 1.0*p.size && p.box.X0 > g.box.X0
			wrapped := g.box.OverlapX(p.box) > 0.3*min(g.box.Width(), p.box.Width()) && p.box.Y0-g.box.Y1 < 0.8*p.size && p.box.Y0 > g.box.Y0
			if beside || wrapped {
				home = i
			}
		}
		if home < 0 {
			groups = append(groups, run{text: p.text, box: p.box})
			continue
		}
		groups[home].text += " " + p.text
		groups[home].box = groups[home].box.Union(p.box)
	}
	sort.SliceStable(groups, func(i, j int) bool { return groups[i].box.X0 < groups[j].box.X0 })
	return groups, rest
}

// placeGroups says which neighbouring columns each wider heading stands
// over. Laboratories centre their wider headings or begin them with their
// first column, all of a table alike: the better of the two is taken.
func placeGroups(cols []*column, groups []run) {
	if len(groups) == 0 {
		return
	}
	centred := func(g run, x0, x1 float64) float64 { return abs(g.box.CenterX() - (x0+x1)/2) }
	left := func(g run, x0, x1 float64) float64 { return abs(g.box.X0 - x0) }
	a, costA := partColumns(cols, groups, centred)
	b, costB := partColumns(cols, groups, left)
	if costB < costA {
		a = b
	}
	for i, g := range a {
		if g < 0 {
			continue
		}
		cols[i].under = []string{groups[g].text}
		x, size := cols[i].box.CenterX(), groups[g].box.Height()
		cols[i].far = x < groups[g].box.X0-1.5*size || x > groups[g].box.X1+1.5*size
	}
}

// partColumns parts the columns among the groups at the least cost; -1 is
// under no group.
func partColumns(cols []*column, groups []run, cost func(g run, x0, x1 float64) float64) ([]int, float64) {
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
				if c := best[g-1][a] + cost(groups[g-1], cols[a].box.X0, cols[j-1].box.X1); c < best[g][j] {
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
