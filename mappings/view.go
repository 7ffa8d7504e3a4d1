package mappings

import (
	"slices"
	"sort"
	"strings"

	"example.org/windrow/ingest"
)

// An atom is the smallest piece of text with a place of its own: a word of a
// page or a cell of a grid. In a grid the box counts rows and columns, so
// that "to the right of" and "below" mean the same for both.
type atom struct {
	text string // normalised
	box  ingest.Box
	*writing
	cell *ingest.Cell // where it stands in a grid; nil on a page, where the box says it
	line *line
	mark *Mark // what became of it, without its text and place; nil while nothing has
}

// A writing is how the text of an atom is written. The atoms of a row of a grid
// share theirs: a grid has hundreds of thousands.
type writing struct {
	base float64
	size float64
	turn int
	ocr  *ingest.OCR // how a word in a picture was read; nil for text
}

func (a *atom) kind() ingest.CellKind {
	if a.cell == nil {
		return ingest.TextCell
	}
	return a.cell.Kind
}

// full is the stored value of a sheet cell where it differs from the text.
func (a *atom) full() string {
	if a.cell == nil {
		return ""
	}
	return a.cell.Raw
}

func (a *atom) merged() bool { return a.cell != nil && (a.cell.Across > 1 || a.cell.Down > 1) }

// place is where an atom of this view stands. It is made when it is asked
// for: of hundreds of thousands of cells next to none is.
func (v *view) place(a *atom) ingest.Place {
	p := ingest.Place{}
	if a.cell != nil {
		p = v.page.PlaceOfCell(a.cell)
	} else {
		p = v.page.PlaceOfBox(a.box)
	}
	return p.In(v.doc.Source.Title())
}

// A line is the atoms that stand on one line, from left to right.
type line struct {
	atoms []*atom
	box   ingest.Box
}

// A view is a page as the reader of a mapping sees it.
type view struct {
	doc    *ingest.Document
	page   *ingest.Page
	grid   bool
	atoms  []*atom // level text in reading order
	turned []*atom
	lines  []*line
	short  map[int]bool   // rows of a grid with fewer cells than their table
	off    []*atom        // ghosts and hidden cells: never read, still accounted for
	empty  []*ingest.Cell // cells that hold a number and show nothing

	offRows, shownRows map[int]bool // of a sheet with hidden cells: rows with a hidden cell, and with one that is shown
	reached            [][2]int     // rows of a sheet in which tables were found, from the first to before the second
}

// newView orders a page's text.
func newView(doc *ingest.Document, p *ingest.Page) *view {
	v := &view{doc: doc, page: p, grid: len(p.Cells) > 0}
	if v.grid {
		v.fromCells(p)
		return v
	}
	slab := make([]atom, len(p.Words))
	for i := range p.Words {
		w := &p.Words[i]
		t := normalise(w.Text)
		if t == "" {
			continue
		}
		a := &slab[i]
		*a = atom{text: t, box: w.Box, writing: &writing{w.Base, w.Size, w.Turn, w.OCR}}
		switch {
		case w.Ghost != "":
			v.off = append(v.off, a)
		case w.Turn != 0:
			v.turned = append(v.turned, a)
		default:
			v.atoms = append(v.atoms, a)
		}
	}
	sort.SliceStable(v.atoms, func(i, j int) bool { return v.atoms[i].box.CenterY() < v.atoms[j].box.CenterY() })
	v.lines = groupLines(v.atoms)
	v.reorder()
	return v
}

// fromCells builds the view of a sheet or delimited file.
func (v *view) fromCells(p *ingest.Page) {
	var cur *line
	var written *writing
	// All atoms lie in one piece, and so do the lines' lists of them, since
	// the cells come row by row.
	slab := make([]atom, len(p.Cells))
	v.atoms = make([]*atom, 0, len(p.Cells))
	for i := range p.Cells {
		c := &p.Cells[i]
		t := normalise(c.Text)
		if t == "" && c.Kind != ingest.ErrorCell {
			if !c.Hidden && hasDigit(c.Raw) {
				v.empty = append(v.empty, c)
			}
			continue
		}
		across, down := max(1, c.Across), max(1, c.Down)
		a := &slab[i]
		if written == nil || written.base != float64(c.Row) {
			written = &writing{base: float64(c.Row), size: 1}
		}
		*a = atom{text: t, writing: written, cell: c,
			box: ingest.Box{X0: float64(c.Col), Y0: float64(c.Row), X1: float64(c.Col + across), Y1: float64(c.Row + down)}}
		if c.Hidden {
			if v.offRows == nil {
				v.offRows, v.shownRows = map[int]bool{}, map[int]bool{}
			}
			v.off, v.offRows[c.Row] = append(v.off, a), true
			continue
		}
		if cur == nil || cur.box.Y0 != a.box.Y0 {
			cur = &line{box: ingest.Box{Y0: a.box.Y0, Y1: a.box.Y0 + 1, X0: a.box.X0, X1: a.box.X1}}
			v.lines = append(v.lines, cur)
		}
		cur.box.X1 = max(cur.box.X1, a.box.X1)
		a.line = cur
		v.atoms = append(v.atoms, a)
		n := len(v.atoms)
		cur.atoms = v.atoms[n-len(cur.atoms)-1 : n : n]
	}
	for _, l := range v.lines {
		if v.offRows != nil {
			v.shownRows[int(l.box.Y0)] = true
		}
	}
}

// reorder puts v.atoms into reading order of the lines.
func (v *view) reorder() {
	v.atoms = v.atoms[:0]
	for _, l := range v.lines {
		v.atoms = append(v.atoms, l.atoms...)
	}
}

// part is the view limited to a box: lines are cut where they leave it.
// Marks are shared with the whole view.
func (v *view) part(b ingest.Box) *view {
	p := &view{doc: v.doc, page: v.page, grid: v.grid}
	in := func(a *atom) bool {
		return a.box.CenterX() >= b.X0 && a.box.CenterX() < b.X1 && a.box.CenterY() >= b.Y0 && a.box.CenterY() < b.Y1
	}
	for _, l := range v.lines {
		var nl *line
		for _, a := range l.atoms {
			if in(a) {
				if nl == nil {
					nl = &line{}
				}
				nl.atoms = append(nl.atoms, a)
				nl.box = nl.box.Union(a.box)
			}
		}
		if nl != nil {
			p.lines = append(p.lines, nl)
			p.atoms = append(p.atoms, nl.atoms...)
		}
	}
	for _, a := range v.turned {
		if in(a) {
			p.turned = append(p.turned, a)
		}
	}
	return p
}

// extent is the box around all level text.
func (v *view) extent() ingest.Box {
	var b ingest.Box
	for _, a := range v.atoms {
		b = b.Union(a.box)
	}
	return b
}

func abs(x float64) float64 {
	if x < 0 {
		return -x
	}
	return x
}

// joined is the atoms' texts with single spaces between them.
func joined(as []*atom) string {
	switch len(as) {
	case 0:
		return ""
	case 1:
		return as[0].text
	}
	n := len(as) - 1
	for _, a := range as {
		n += len(a.text)
	}
	var b strings.Builder
	b.Grow(n)
	for i, a := range as {
		if i > 0 {
			b.WriteByte(' ')
		}
		b.WriteString(a.text)
	}
	return b.String()
}

func boxOf(as []*atom) ingest.Box {
	var b ingest.Box
	for _, a := range as {
		b = b.Union(a.box)
	}
	return b
}

// placeOf is where a run of atoms stands.
func (v *view) placeOf(as []*atom) ingest.Place {
	if len(as) == 0 {
		return ingest.Place{File: v.doc.Source.Title(), Page: v.page.Number}
	}
	if v.grid || len(as) == 1 {
		return v.place(as[0])
	}
	return v.page.PlaceOfBox(boxOf(as)).In(v.doc.Source.Title())
}

// here is the page or sheet as a whole.
func (v *view) here() ingest.Place {
	if v.grid && v.page.Name != "" {
		return ingest.Place{File: v.doc.Source.Title(), Sheet: v.page.Name}
	}
	if v.grid {
		return ingest.Place{File: v.doc.Source.Title()}
	}
	return ingest.Place{File: v.doc.Source.Title(), Page: v.page.Number}
}

// runs cuts a line into pieces that belong together: atoms less than one em
// apart. In a grid every cell is a piece.
func (v *view) runs(l *line) [][]*atom { return v.pieces(l, 1.0) }

// pieces cuts a line where atoms are em or more of the text's size apart.
func (v *view) pieces(l *line, em float64) [][]*atom {
	var out [][]*atom
	for i, a := range l.atoms {
		if i > 0 && !v.grid {
			p := l.atoms[i-1]
			if a.box.X0-p.box.X1 < em*max(a.size, p.size) {
				out[len(out)-1] = append(out[len(out)-1], a)
				continue
			}
		}
		out = append(out, []*atom{a})
	}
	return out
}

// A hit is a pattern found on a page.
type hit struct {
	atoms []*atom // those the match touches, in order
	all   []*atom // the searched sequence
	first int     // index of atoms[0] in all
	named map[string][]*atom
	texts map[string]string
	span  string // the words that the match has, from the beginning of the first of them to the end of the last
	value int    // where in span the result begins
}

// find looks for a pattern in a sequence of atoms, joined by spaces, and
// gives every match that begins and ends at the edges of words.
func find(p *Pattern, as []*atom) []hit {
	text := joined(as)
	if !p.re.MatchString(text) {
		return nil
	}
	starts := make([]int, len(as))
	off := 0
	for i, a := range as {
		starts[i] = off
		off += len(a.text) + 1
	}
	at := func(pos int) int { // index of the atom that holds byte pos
		return sort.SearchInts(starts, pos+1) - 1
	}
	var hits []hit
	for pos := 0; pos <= len(text); {
		loc := p.re.FindStringSubmatchIndex(text[pos:])
		if loc == nil {
			break
		}
		for i := range loc {
			if loc[i] >= 0 {
				loc[i] += pos
			}
		}
		for loc[1] > loc[0] && text[loc[1]-1] == ' ' {
			loc[1]--
		}
		if loc[1] == loc[0] {
			break
		}
		i, j := at(loc[0]), at(loc[1]-1)
		next, whole := loc[1], true
		// A lazy placeholder at the end takes the rest of its word.
		h := hit{atoms: as[i : j+1], all: as, first: i, named: map[string][]*atom{}, texts: map[string]string{}}
		for k, n := range p.Names {
			s, e := loc[2+2*k], loc[3+2*k]
			if s < 0 {
				continue
			}
			if k == len(p.Names)-1 && e == loc[1] && strings.HasSuffix(p.Src, "}") {
				// The value of a field goes on to the end of its piece of the
				// line; that of a result is one word.
				for knownField(n) && j+1 < len(as) && as[j+1].line == as[j].line && as[j].size > 1 && as[j+1].box.X0-as[j].box.X1 < 1.0*as[j].size {
					j++
				}
				h.atoms = as[i : j+1]
				e = min(len(text), starts[j]+len(as[j].text))
				next = e
			}
			if s == e {
				continue
			}
			from, to := at(s), at(e-1)
			if k == 0 && strings.HasPrefix(p.Src, "{") {
				// A value at the beginning of a text has no edge but that of
				// its piece of the line.
				from = pieceStart(as, from, to)
				s = max(s, starts[from])
				h.first, h.atoms = from, as[from:j+1]
				loc[0] = s
			}
			if n == "" || n == "any" {
				// The words beside it count: what stands alone between two wide
				// gaps is another column's.
				whole = whole && flows(as[max(i, from-1):min(j, to+1)+1])
			}
			whole = whole && flows(as[from:to+1])
			if n != "" {
				h.texts[n] = strings.TrimSpace(text[s:e])
				if n == "result" {
					h.value = s - loc[0]
				}
				h.named[n] = as[from : to+1]
			}
		}
		h.span = text[loc[0]:max(loc[1], next)]
		if whole && edge(text, loc[0]) && (p.openEnd() || edge(text, loc[1])) {
			hits = append(hits, h)
			pos = max(next, pos+1)
		} else {
			pos = loc[0] + 1
		}
	}
	return hits
}

// isLine reports whether atoms are the pattern's text from end to end, with
// its stars and values standing for running text only: a remark is not one
// with the results that stand beside it.
func (p *Pattern) isLine(as []*atom) bool {
	loc := p.whole.FindStringSubmatchIndex(joined(as))
	if loc == nil {
		return false
	}
	starts := make([]int, len(as))
	off := 0
	for i, a := range as {
		starts[i] = off
		off += len(a.text) + 1
	}
	at := func(pos int) int { return max(0, sort.SearchInts(starts, pos+1)-1) }
	for k := range p.Names {
		if s, e := loc[2+2*k], loc[3+2*k]; s >= 0 && e > s && !flows(as[at(s):at(e-1)+1]) {
			return false
		}
	}
	return true
}

// maxWild is how many words a star or a value in a text may stand for.
const maxWild = 60

// flows reports whether atoms read on as running text does: no wide gap
// within a line, no blank line between two. A star must not swallow a table.
func flows(as []*atom) bool {
	if len(as) > maxWild {
		return false
	}
	for i := 1; i < len(as); i++ {
		p, a := as[i-1], as[i]
		switch {
		case a.size <= 1: // a grid: cells of one row
			if a.line != p.line {
				return false
			}
		case a.line == p.line:
			if a.box.X0-p.box.X1 > 2.5*max(a.size, p.size) {
				return false
			}
		case a.box.Y0-p.box.Y1 > 0.9*max(a.size, p.size):
			return false
		}
	}
	return true
}

// widestSpace is how wide the space between two words of a sentence may be, in
// sizes of its letters: lines that are set to both edges have spaces of one.
const widestSpace = 1.6

// runsOn reports whether a value stands to the words before and behind it as in
// one sentence: beside them, or at the end or head of a line. In a page of two
// columns the next word of a line may be another column's.
func (h *hit) runsOn(name string) bool {
	value := h.named[name]
	if len(value) == 0 {
		return true
	}
	first := slices.Index(h.atoms, value[0])
	if first < 0 {
		return true
	}
	for i := max(first, 1); i <= min(first+len(value), len(h.atoms)-1); i++ {
		if p, a := h.atoms[i-1], h.atoms[i]; a.size > 1 && a.line == p.line && a.box.X0-p.box.X1 > widestSpace*max(a.size, p.size) {
			return false
		}
	}
	return true
}

// pieceStart is the first atom of the piece of a line that ends at to.
func pieceStart(as []*atom, from, to int) int {
	k := to
	for k > from && as[k-1].line == as[to].line && as[k].box.X0-as[k-1].box.X1 < 1.0*max(as[k].size, 1) && as[k].size > 1 {
		k--
	}
	return k
}

// edge reports whether a position lies between words, so that "Ca" is not
// found inside "Calcium".
func edge(text string, pos int) bool {
	return pos <= 0 || pos >= len(text) || !(isWordByte(text[pos-1]) && isWordByte(text[pos]))
}

// openEnd reports whether the pattern ends in a placeholder or a star.
func (p *Pattern) openEnd() bool {
	return strings.HasSuffix(p.Src, "}") || strings.HasSuffix(p.Src, "*")
}

func isWordByte(b byte) bool {
	return b >= '0' && b <= '9' || b >= 'a' && b <= 'z' || b >= 'A' && b <= 'Z' || b >= 0x80
}

// findLine gives the lines that hold the pattern, in order.
func (v *view) findLine(p *Pattern) []*line {
	var out []*line
	for _, l := range v.lines {
		if len(find(p, l.atoms)) > 0 {
			out = append(out, l)
		}
	}
	return out
}

// use marks atoms with what became of them. An atom keeps its first mark:
// what was read as a result is not turned into furniture afterwards.
func use(as []*atom, m Mark) {
	for i, a := range as {
		if a.mark == nil {
			useShared(as[i:], &m)
			return
		}
	}
}

// useShared is use with a mark that many atoms have in common.
func useShared(as []*atom, m *Mark) {
	for _, a := range as {
		if a.mark == nil {
			a.mark = m
		}
	}
}

// free are the atoms without a mark.
func free(as []*atom) []*atom {
	n := 0
	for n < len(as) && as[n].mark == nil {
		n++
	}
	if n == len(as) {
		return as[:n:n]
	}
	out := append([]*atom(nil), as[:n]...)
	for _, a := range as[n:] {
		if a.mark == nil {
			out = append(out, a)
		}
	}
	return out
}
