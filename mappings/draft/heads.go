package draft

import (
	"sort"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// build makes a table of the heading at line seed; limit is the line of the
// next heading, where the table must have ended.
func (d *drafter) build(s *sheet, seed, limit int) *foundTable {
	t := &foundTable{seed: seed}
	_, t.across = d.acrossHead(&s.lines[seed], s.grid)
	first := -1
	for j := seed + 1; j < limit; j++ {
		l := &s.lines[j]
		if s.bodyLine(l) && !d.unitRow(l) || t.across && len(l.runs) > 1 && (fieldOf(l.runs[0].text) != "" || compoundField(l.runs[0].text) != nil) {
			first = j
			break
		}
		if l.longText() {
			return nil
		}
	}
	if first < 0 {
		return nil
	}
	t.last = d.bodyEnd(s, first, limit)
	top, y := d.regionTop(s, seed)
	t.top = min(y, s.lines[top].box.Y0)
	var body []textLine
	for j := first; j <= t.last; j++ {
		body = append(body, s.lines[j])
	}
	if s.grid {
		d.gridColumns(s, t, top, first)
	} else {
		d.pageColumns(s, t, top, first, body)
	}
	if len(t.cols) < 2 {
		return nil
	}
	d.fill(s, t, body)
	return t
}

// unitRow is a line of units under headings.
func (d *drafter) unitRow(l *textLine) bool {
	n := 0
	for _, r := range l.runs {
		if isNumber(r.text) {
			return false
		}
		if _, _, ok := unitOf(d.v, r.text); ok {
			n++
		}
	}
	return n*2 >= len(l.runs)
}

// bodyEnd is the last line that belongs to the table's body.
func (d *drafter) bodyEnd(s *sheet, first, limit int) int {
	last := first
	for j := first + 1; j < limit; j++ {
		l, p := &s.lines[j], &s.lines[j-1]
		if s.grid {
			if l.box.Y0 > p.box.Y0+1 {
				break
			}
			last = j
			continue
		}
		alike := s.bodyLine(l) && len(l.runs) >= 4 && abs(float64(len(l.runs)-len(s.lines[last].runs))) <= 2
		if gap := l.box.Y0 - s.lines[last].box.Y1; gap > 10*l.size || gap > 3.2*l.size && !alike || l.longText() {
			break // rows may be set wide, but then they look alike
		}
		if len(l.runs[0].words) >= 6 && (len(l.runs) == 1 || !d.understood(l.runs[0].text)) {
			break
		}
		if s.bodyLine(l) || len(l.runs) > 1 && !strings.HasSuffix(l.runs[0].text, ":") {
			last = j
		}
	}
	return last
}

// regionTop is the highest line of a table's heading.
func (d *drafter) regionTop(s *sheet, seed int) (int, float64) {
	y := s.lines[seed].box.Y0
	for _, w := range s.turned {
		if w.Box.Y1 > y-6 && w.Box.Y0 < s.lines[seed].box.Y1+40 && w.Box.Y0 < y {
			y = w.Box.Y0
		}
	}
	// Turned headings stand at the foot of a tall row: what is over them may
	// be as far above as the tallest is high.
	tall := 0.9 * (s.lines[seed].box.Y0 - y)
	top := seed
	for j := seed - 1; j >= 0 && seed-j <= 6; j-- {
		l := &s.lines[j]
		if s.grid {
			if l.box.Y0 < s.lines[top].box.Y0-1 || !d.groupRow(s, j, seed) {
				break
			}
			top = j
			continue
		}
		if y-l.box.Y1 > max(1.7*l.size, tall) || l.longText() {
			break
		}
		bad := false
		for _, r := range l.runs {
			if isValue(r.text) || len(r.words) > 5 || strings.Contains(r.text, ":") || hasDate(r.text) || d.fieldPair(&r) || strings.Trim(r.text, "-=_.*") == "" {
				bad = true
			}
		}
		if len(l.runs) == 1 && len(l.words) >= 2 && hasAny(l.text(), []string{"laboratory", "laboratories", "lab", "labs", "testing", "analytical"}) {
			bad = true // the name over it all
		}
		if len(l.runs) > 1 && fieldOf(l.runs[0].text) != "" && !d.known(l.runs[1].text) {
			bad = true
		}
		if bad {
			break
		}
		top = j
		if l.box.Y0 < y {
			y, tall = l.box.Y0, 0
		}
	}
	return top, y
}

func (d *drafter) known(t string) bool { hit, _ := d.headingWord(t); return hit }

// fieldPair is a run that holds a label with its value.
func (d *drafter) fieldPair(r *run) bool {
	for n := min(4, len(r.words)-1); n > 0; n-- {
		text, _, _ := joinWords(r.words[:n], false)
		if fieldOf(text) != "" && fieldOf(r.text) == "" {
			if m, ok := understand(d.v, r.text); ok && m.conf > 0.6 {
				return false
			}
			return true
		}
	}
	return false
}

func hasDate(text string) bool { return hasDigit(text) && len(datePatterns(text)) > 0 }

// groupRow reports whether a row of a grid holds wider headings over the row
// under it.
func (d *drafter) groupRow(s *sheet, j, seed int) bool {
	l := &s.lines[j]
	if len(l.words) >= len(s.lines[seed].words) || len(l.words) < 2 {
		return false
	}
	for _, w := range l.words {
		if isNumber(w.Text) || hasDate(w.Text) || w.Kind == ingest.DateCell || fieldOf(w.Text) != "" || strings.HasSuffix(w.Text, ":") {
			return false
		}
	}
	return true
}

// gridColumns makes a column of each cell of the heading row of a grid.
func (d *drafter) gridColumns(s *sheet, t *foundTable, top, first int) {
	if t.seed > 0 && s.lines[t.seed-1].box.Y0 == s.lines[t.seed].box.Y0-1 {
		up := s.lines[t.seed-1].words
		ids, first := 0, 0.0
		for _, w := range s.lines[t.seed].words {
			first = max(first, w.Box.X1)
		}
		for _, w := range up {
			if w.Box.X0 >= first && sampleNumber(w.Text) {
				ids++
			}
		}
		if ids > 0 && ids >= len(up)-2 {
			t.seed, t.across, top = t.seed-1, true, t.seed-1
			defer func() { t.headRow = 0 }()
		}
	}
	seed := &s.lines[t.seed]
	t.headRow = int(seed.box.Y0)
	for _, w := range seed.words {
		c := &column{heading: []string{w.Text}, box: w.Box}
		for j := top; j < t.seed; j++ {
			under := ""
			for k, g := range s.lines[j].words {
				end := g.Box.X1
				if g.Box.Width() <= 1 {
					end = 1e9
					if k+1 < len(s.lines[j].words) {
						end = s.lines[j].words[k+1].Box.X0
					}
				}
				if w.Box.X0 >= g.Box.X0 && w.Box.X0 < end {
					under = g.Text
				}
			}
			if under != "" {
				c.under = append(c.under, under)
			}
		}
		for j := t.seed + 1; j < first; j++ {
			for _, u := range s.lines[j].words {
				if u.Box.X0 >= w.Box.X0 && u.Box.X0 < w.Box.X1 {
					if _, _, ok := unitOf(d.v, u.Text); ok && !strings.Contains(u.Text, ":") {
						c.unit = u.Text
					} else {
						c.heading = append(c.heading, u.Text)
					}
				}
			}
		}
		t.cols = append(t.cols, c)
	}
	if !t.across {
		return
	}
	// Columns whose heading stands only in a lower row.
	for j := t.seed + 1; j < first; j++ {
		for _, w := range s.lines[j].words {
			covered := false
			for _, c := range t.cols {
				covered = covered || w.Box.X0 >= c.box.X0 && w.Box.X0 < c.box.X1
			}
			if !covered {
				t.cols = append(t.cols, &column{heading: []string{w.Text}, box: w.Box})
			}
		}
	}
	sort.SliceStable(t.cols, func(i, j int) bool { return t.cols[i].box.X0 < t.cols[j].box.X0 })
}

// sampleNumber reports whether a heading can be a sample's number.
func sampleNumber(t string) bool {
	if yearLike.MatchString(t) || !hasDigit(t) {
		return false
	}
	if isNumber(t) {
		return len(t) >= 3 && !strings.ContainsAny(t, ".,<>")
	}
	return idLike.MatchString(t)
}

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
	for i, b := range bars {
		if len(at[i]) == 0 {
			continue
		}
		for _, part := range splitSide(at[i]) {
			c := d.headColumn(part)
			_ = b
			t.cols = append(t.cols, c)
		}
	}
	sort.SliceStable(t.cols, func(i, j int) bool { return t.cols[i].box.X0 < t.cols[j].box.X0 })
	placeGroups(t.cols, groups)
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
		text      string
		y1, size  float64
		key       float64
		turn      int
		box       ingest.Box
		separated bool
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

// fill puts the words of the body into the columns, by the borders that the
// reader of mappings uses too: the widest strip without ink between the
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
		lo, hi := cols[i].box.CenterX(), cols[i+1].box.CenterX()
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
