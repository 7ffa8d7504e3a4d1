package draft

import (
	"regexp"
	"slices"
	"sort"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// build makes a table of the heading at line seed; limit is the line of the
// next heading, where the table must have ended.
func (d *drafter) build(s *sheet, seed, limit int) *foundTable {
	t := &foundTable{seed: seed}
	ids, across := d.acrossHead(&s.lines[seed], s.grid)
	t.across = across
	named := func(l *textLine) bool { // whether a row has a label, and words for the samples
		return s.grid && l.box.X0 == s.lines[seed].box.X0 && !d.unitRow(l) && slices.ContainsFunc(l.words[1:], func(w mappings.Piece) bool {
			return slices.ContainsFunc(ids, func(p phrase) bool { return p.box.X0 == w.Box.X0 })
		})
	}
	first := -1
	for j := seed + 1; j < limit; j++ {
		l := &s.lines[j]
		if s.bodyLine(l) && !d.unitRow(l) || t.across && len(l.runs) > 1 && (fieldOf(l.runs[0].text) != "" || compoundField(l.runs[0].text) != nil || named(l)) {
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
	d.percentCells(t)
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
			if l.box.Y0 > p.box.Y0+1 && !limitsOnly(s.lines[first:j]) || d.footRow(l, len(s.lines[first].words)) || len(cellNumbers(s, j, 0)) > 0 {
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

// limitsOnly reports whether rows of a sheet are but limits and the like, which
// stand under the heading: a blank row may part them from the samples.
func limitsOnly(rows []textLine) bool {
	for i := range rows {
		if len(rows[i].words) == 0 || noClient(rows[i].words[0].Text) == "" {
			return false
		}
	}
	return true
}

// footRow reports whether a row of a sheet is a remark under a table: one
// cell of many words, or with the sign of a footnote.
func (d *drafter) footRow(l *textLine, cells int) bool {
	if len(l.words) > 1 || cells < 3 {
		return false
	}
	text := l.words[0].Text
	return footMark.MatchString(text) || len(strings.Fields(text)) >= 7
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
			if isValue(r.text) || len(r.words) > 5 || labelColon.MatchString(r.text) || hasDate(r.text) || d.fieldPair(&r) || strings.Trim(r.text, "-=_.*") == "" {
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

// labelColon is the colon of a label with its value; that of a ratio such as
// 1:2 stands between digits.
var labelColon = regexp.MustCompile(`[^0-9]:|:[^0-9]|:$`)

func (d *drafter) known(t string) bool { hit, _ := d.headingWord(t); return hit }

// fieldPair is a run that holds a label with its value.
func (d *drafter) fieldPair(r *run) bool {
	for n := min(4, len(r.words)-1); n > 0; n-- {
		text, _, _ := joinWords(r.words[:n], false)
		if fieldOf(text) != "" && fieldOf(r.text) == "" {
			if m, ok := d.understand(r.text); ok && m.conf > 0.6 {
				return false
			}
			return true
		}
	}
	return false
}

func hasDate(text string) bool { return hasDigit(text) && len(datePatterns(text)) > 0 }

// groupRow reports whether a row of a grid holds wider headings over the row
// under it. It may have headings of its own among them, whose columns have
// nothing in the lower row.
func (d *drafter) groupRow(s *sheet, j, seed int) bool {
	l, low := &s.lines[j], s.lines[seed].words
	if len(l.words) >= len(low) || len(l.words) < 2 {
		return false
	}
	over := func(w mappings.Piece) bool {
		return slices.ContainsFunc(low, func(u mappings.Piece) bool { return u.Box.X0 >= w.Box.X0 && u.Box.X0 < w.Box.X1 })
	}
	wide := false
	for _, w := range l.words {
		if isNumber(w.Text) || hasDate(w.Text) || w.Kind == ingest.DateCell || strings.HasSuffix(w.Text, ":") || strings.ContainsAny(w.Text, "$€£") {
			return false
		}
		if fieldOf(w.Text) != "" && over(w) {
			return false
		}
		wide = wide || over(w)
	}
	return wide
}

// merges reports whether a row of a grid has cells that are merged over
// several columns: then a cell that is not stands over its own column only.
func merges(l *textLine) bool {
	return slices.ContainsFunc(l.words, func(w mappings.Piece) bool { return w.Box.Width() > 1 })
}

// narrower reports whether a row of a grid has a heading of its own in each
// column under the row above, of which some cells are merged over several: then
// it is the row of the columns.
func narrower(up, low *textLine) bool {
	return merges(up) && low.box.Y0 == up.box.Y0+1 && len(low.words) > len(up.words) && !slices.ContainsFunc(up.words, func(w mappings.Piece) bool {
		n := 0
		for _, u := range low.words {
			if u.Box.X0 >= w.Box.X0 && u.Box.X0 < w.Box.X1 && !isNumber(u.Text) {
				n++
			}
		}
		return float64(n) < w.Box.Width()
	})
}

// upperColumns adds the columns of a grid whose heading stands only in the
// rows of wider headings, over several rows.
func (d *drafter) upperColumns(s *sheet, t *foundTable, top int) {
	for j := t.seed - 1; j >= top; j-- {
		for _, w := range s.lines[j].words {
			covered := slices.ContainsFunc(t.cols, func(c *column) bool { return c.box.X0 >= w.Box.X0 && c.box.X0 < w.Box.X1 })
			if !covered && w.Box.Width() <= 1 && (d.known(w.Text) || fieldOf(w.Text) != "") {
				t.cols = append(t.cols, &column{heading: []string{w.Text}, box: w.Box})
			}
		}
	}
	sort.SliceStable(t.cols, func(i, j int) bool { return t.cols[i].box.X0 < t.cols[j].box.X0 })
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
	if below := t.seed + 1; below < first && narrower(&s.lines[t.seed], &s.lines[below]) {
		top, t.seed = min(top, t.seed), below // the tests are the wider headings
	}
	seed := &s.lines[t.seed]
	t.headRow = int(seed.box.Y0)
	for _, w := range seed.words {
		c := &column{heading: []string{w.Text}, box: w.Box}
		for j := top; j < t.seed; j++ {
			under := ""
			for k, g := range s.lines[j].words {
				end := g.Box.X1
				if g.Box.Width() <= 1 && !merges(&s.lines[j]) {
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
	d.upperColumns(s, t, top)
	if t.headRow > 0 && len(t.cols) > 0 {
		t.headRow = int(t.cols[0].box.Y0)
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
