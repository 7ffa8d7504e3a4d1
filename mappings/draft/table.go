package draft

import (
	"sort"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// A column is one column of a table that was found, and what is proposed for
// it.
type column struct {
	heading []string // levels, top first
	under   []string
	unit    string
	box     ingest.Box // of the heading
	cells   []string   // one a row, "" where empty
	kinds   []ingest.CellKind

	role     string // a field, test, result, unit, method, rating, index, qualifier, samples, nothing
	m        meaning
	test     string   // label in the catalogue
	over     string   // the wider heading, where that names the test
	tests    []string // of a column of ratings: those of which one is run
	reads    string
	why      string
	only     string // the only text that its cells may have
	form     string // the pattern of the only texts that its cells may have
	conf     float64
	ask      []string
	optional bool
	far      bool // the wider heading does not clearly reach over it
	because  string
}

func (c *column) title() string { return strings.Join(c.heading, " ") }

func (c *column) filled() []string {
	var out []string
	for _, t := range c.cells {
		if t != "" {
			out = append(out, t)
		}
	}
	return out
}

// A foundTable is a table on a sheet.
type foundTable struct {
	kind    string // sample, test, reading
	cols    []*column
	rows    []textLine
	seed    int
	last    int // index of the last line
	top     float64
	headRow int // of a grid
	skips   []skipRow
	fields  []fieldRow
	rating  string // label of rating rows
	starts  string
	ends    [][]string // a page each: texts of the lines under the table, nearest first
	ask     []string
	across  bool
	goesOn  bool // on pages that do not repeat its heading
	strips  int  // how many times the table stands side by side
}

// A skipRow is rows that are not read: by their first words, or by what one
// column says.
type skipRow struct{ begins, column, why, ask string }

type fieldRow struct {
	row, reads string
	conf       float64
	ask        string
}

// phrase is a part of a heading line that the word lists know, or not.
type phrase struct {
	text         string
	box          ingest.Box
	hit, strong  bool
	first, count int
}

// phrases cuts a line into the longest phrases that are known as headings.
func (d *drafter) phrases(l *textLine, grid bool) []phrase {
	var out []phrase
	for i := 0; i < len(l.words); {
		n := 1
		var p phrase
		maxN := 6
		if grid {
			maxN = 1
		}
		for k := min(maxN, len(l.words)-i); k >= 1; k-- {
			text, box, ok := joinWords(l.words[i:i+k], grid)
			if !ok {
				continue
			}
			hit, strong := d.headingWord(text)
			if hit || k == 1 {
				p, n = phrase{text: text, box: box, hit: hit, strong: strong, first: i, count: k}, k
				break
			}
		}
		out = append(out, p)
		i += n
	}
	return out
}

func joinWords(ws []mappings.Piece, grid bool) (string, ingest.Box, bool) {
	var b ingest.Box
	var t []string
	for i, w := range ws {
		if i > 0 && !grid && w.Box.X0-ws[i-1].Box.X1 > 0.8*max(w.Size, ws[i-1].Size) {
			return "", b, false
		}
		b = b.Union(w.Box)
		t = append(t, w.Text)
	}
	return strings.Join(t, " "), b, true
}

// headingWord reports whether a text can be the heading of a column; strong
// ones are names of tests and of what a row of a test has.
func (d *drafter) headingWord(text string) (hit, strong bool) {
	if c := columnOf(text); c != "" {
		return true, c != "reference"
	}
	if fieldOf(text) != "" {
		return true, false
	}
	if yearOfHeading(text) != "" {
		return true, false
	}
	if isNumber(text) || len(text) > 60 {
		return false, false
	}
	if m, ok := d.understand(text); ok && m.conf >= 0.5 {
		return true, true
	}
	if _, _, ok := unitOf(d.v, text); ok {
		return true, false
	}
	return false, false
}

// seeds are the lines that look like headings of tables, best first in each
// neighbourhood, in page order.
func (d *drafter) seeds(s *sheet) []int {
	type scored struct {
		i     int
		score float64
	}
	var all []scored
	for i := range s.lines {
		l := &s.lines[i]
		if l.longText() {
			continue
		}
		hits, strong, misses, values, ids, analytes := 0, 0, 0, 0, 0, 0
		if d.numbersAcross(l, s.grid) {
			strong += 2
		}
		lastMiss := -2
		for k, p := range d.phrases(l, s.grid) {
			switch {
			case p.hit:
				hits++
				if p.strong {
					strong++
				}
				if columnOf(p.text) == "" && fieldOf(p.text) == "" && p.strong {
					analytes++
				}
			case isNumber(p.text) && sampleNumber(p.text):
				ids++
			case isNumber(p.text) || isMissing(p.text) && len(p.text) > 1:
				values++
			case s.grid && d.hasValue(p.text):
				values++
			case idLike.MatchString(p.text) && hasDigit(p.text):
				hits++
			default:
				if lastMiss != k-1 || s.grid {
					misses++
				}
				lastMiss = k
			}
		}
		for _, t := range s.turned {
			if t.Box.OverlapY(l.box) > 0 || t.Box.Y1 > l.box.Y0-4 && t.Box.Y0 < l.box.Y1 {
				if hit, st := d.headingWord(t.Text); hit {
					hits++
					if st {
						strong++
					}
				}
			}
		}
		if ids > 0 && (analytes > 0 || strong == 0) {
			values += ids // numbers beside the name of a test are its values
		} else if ids > 0 {
			strong++
		}
		if strong < 2 || hits < misses || values > 0 {
			continue
		}
		all = append(all, scored{i, float64(strong) + 0.5*float64(hits) - 0.5*float64(misses)})
	}
	sort.SliceStable(all, func(a, b int) bool { return all[a].score > all[b].score })
	var out []int
	for _, a := range all {
		if !d.bodyFollows(s, a.i) {
			continue
		}
		near := d.rowOfTest(&s.lines[a.i], s.grid)
		for _, b := range out {
			near = near || d.sameHead(s, a.i, b)
		}
		if !near {
			out = append(out, a.i)
		}
	}
	sort.Ints(out)
	return out
}

// numbersAcross reports whether a line is the label of the samples' numbers
// and several such numbers, and nothing else: the heading of a table with a
// column for each sample.
func (d *drafter) numbersAcross(l *textLine, grid bool) bool {
	ps := d.phrases(l, grid)
	if len(ps) < 3 || fieldOf(ps[0].text) != mappings.LabSampleID {
		return false
	}
	for _, p := range ps[1:] {
		if !longNumber(p.text) || isNumber(p.text) && !sampleNumber(p.text) {
			return false
		}
	}
	return true
}

func (d *drafter) hasValue(t string) bool {
	_, _, ok := d.withUnit(t)
	return ok
}

// rowOfTest reports whether a line begins with a test and goes on with its
// unit or method: a row, and no heading.
func (d *drafter) rowOfTest(l *textLine, grid bool) bool {
	ps := d.phrases(l, grid)
	if len(ps) < 2 || !ps[0].strong || columnOf(ps[0].text) != "" || fieldOf(ps[0].text) != "" || columnOf(ps[1].text) != "" || fieldOf(ps[1].text) != "" {
		return false
	}
	if _, _, ok := unitOf(d.v, ps[1].text); ok && ps[1].text != "%" {
		return true
	}
	_, _, ok := methodOf(d.v, ps[1].text)
	return ok && len(ps) <= 4
}

// sameHead reports whether no row of values lies between two heading lines.
func (d *drafter) sameHead(s *sheet, a, b int) bool {
	if a > b {
		a, b = b, a
	}
	for i := a + 1; i < b; i++ {
		if s.bodyLine(&s.lines[i]) {
			return false
		}
	}
	return true
}

func (d *drafter) bodyFollows(s *sheet, i int) bool {
	for j := i + 1; j < len(s.lines) && j <= i+7; j++ {
		l := &s.lines[j]
		if s.bodyLine(l) {
			return true
		}
		if l.longText() {
			return false
		}
		if _, isHead := d.acrossHead(&s.lines[i], s.grid); isHead && len(l.runs) > 1 {
			return true
		}
	}
	return false
}

// acrossHead reports whether a heading line has sample numbers in it, and
// gives them.
func (d *drafter) acrossHead(l *textLine, grid bool) ([]phrase, bool) {
	var ids []phrase
	known := 0
	for _, p := range d.phrases(l, grid) {
		if p.hit && !yearLike.MatchString(p.text) {
			known++
			continue
		}
		if sampleNumber(p.text) {
			ids = append(ids, p)
		}
	}
	return ids, len(ids) > 0 && known > 0
}

// copies says how many times the same headings stand side by side, and where
// the copies begin.
func (d *drafter) copies(s *sheet, i int) []float64 {
	ps := d.phrases(&s.lines[i], s.grid)
	n := len(ps)
	for k := 4; k >= 2; k-- {
		if n%k != 0 || n/k < 2 {
			continue
		}
		w := n / k
		same := true
		for j := w; j < n && same; j++ {
			same = ps[j].text == ps[j-w].text
		}
		if !same {
			continue
		}
		var xs []float64
		for c := 0; c < k; c++ {
			xs = append(xs, ps[c*w].box.X0-0.5)
		}
		return xs
	}
	return nil
}
