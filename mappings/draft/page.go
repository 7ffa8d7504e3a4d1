package draft

import (
	"regexp"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// A run is words of one line that belong together: on a page less than one
// em apart, in a grid one cell.
type run struct {
	words []mappings.Piece
	text  string
	box   ingest.Box
}

// A textLine is one line of a page or one row of a grid.
type textLine struct {
	words []mappings.Piece
	runs  []run
	box   ingest.Box
	size  float64
}

// A sheet is a page of a document as the drafter looks at it.
type sheet struct {
	doc    *ingest.Document
	page   *ingest.Page
	grid   bool
	lines  []textLine
	turned []mappings.Piece
}

func newSheet(doc *ingest.Document, p *ingest.Page) *sheet {
	// A long file is judged by its beginning: what holds for a few hundred
	// rows is proposed, and the reading of all of it tests the proposal.
	q := *p
	if len(q.Cells) > 20000 {
		q.Cells = q.Cells[:20000]
	}
	l := mappings.LayOut(doc, &q)
	s := &sheet{doc: doc, page: p, grid: l.Grid, turned: l.Turned}
	for _, ws := range l.Lines {
		s.lines = append(s.lines, newLine(ws, l.Grid))
	}
	return s
}

func newLine(ws []mappings.Piece, grid bool) textLine {
	l := textLine{words: ws}
	for i, w := range ws {
		l.box = l.box.Union(w.Box)
		l.size = max(l.size, w.Size)
		if i > 0 && !grid {
			p := ws[i-1]
			if w.Box.X0-p.Box.X1 < 1.0*max(w.Size, p.Size) {
				r := &l.runs[len(l.runs)-1]
				r.words, r.text, r.box = append(r.words, w), r.text+" "+w.Text, r.box.Union(w.Box)
				continue
			}
		}
		l.runs = append(l.runs, run{words: []mappings.Piece{w}, text: w.Text, box: w.Box})
	}
	return l
}

// strip is the part of a sheet between two x, for blocks side by side.
func (s *sheet) strip(x0, x1 float64) *sheet {
	out := &sheet{doc: s.doc, page: s.page, grid: s.grid}
	in := func(w mappings.Piece) bool { return w.Box.CenterX() >= x0 && w.Box.CenterX() < x1 }
	for _, l := range s.lines {
		var ws []mappings.Piece
		for _, w := range l.words {
			if in(w) {
				ws = append(ws, w)
			}
		}
		if len(ws) > 0 {
			out.lines = append(out.lines, newLine(ws, s.grid))
		}
	}
	for _, w := range s.turned {
		if in(w) {
			out.turned = append(out.turned, w)
		}
	}
	return out
}

func (l *textLine) text() string {
	var b []string
	for _, w := range l.words {
		b = append(b, w.Text)
	}
	return strings.Join(b, " ")
}

var (
	numberLike = regexp.MustCompile(`^[<>]? ?-?(\d[\d.,' ]*|\.\d+)[*†‡]*$`)
	yearLike   = regexp.MustCompile(`^(19|20)\d\d$`)
	yearIn     = regexp.MustCompile(`\b20\d\d\b`)
	idLike     = regexp.MustCompile(`^[A-Za-z]{0,6}[-/ ]?\d[\dA-Za-z./-]*$`)
	digitRun   = regexp.MustCompile(`\d+`)
)

func isNumber(t string) bool { return numberLike.MatchString(t) }

// isValue reports whether a text is a number, or a number with a word after
// it, or a word for no value: what stands in a table of results.
func isValue(t string) bool {
	if isNumber(t) || isMissing(t) {
		return true
	}
	first, _, _ := strings.Cut(t, " ")
	return isNumber(first) && len(strings.Fields(t)) <= 4
}

// withUnit takes a number with a unit behind it apart, "0.18 dS/m" or
// "3.9%": ok is false for anything else.
func (d *drafter) withUnit(t string) (number, unit string, ok bool) {
	g := numberUnit.FindStringSubmatch(t)
	if g == nil || !isNumber(g[1]) {
		return "", "", false
	}
	if id := d.unitID(g[2]); id == "" || id == "pH" || id == "index" || id == "ratio" {
		return "", "", false
	}
	if _, method := d.v.Resolve(mappings.MethodWord, t); method {
		return "", "", false
	}
	return g[1], g[2], true
}

var numberUnit = regexp.MustCompile(`^([<>]? ?-?\d[\d.,]*[*†‡]*) ?([\pL%].*)$`)

func hasDigit(s string) bool { return strings.ContainsAny(s, "0123456789") }

// isDate gives the patterns by which a text is a date.
func datePatterns(text string) []string {
	var out []string
	for _, p := range words().Dates {
		if _, ok := mappings.ParseDate(p, text); ok {
			out = append(out, p)
		}
	}
	return out
}

// bodyLine reports whether a line looks like a row of a table.
func (s *sheet) bodyLine(l *textLine) bool {
	if len(l.runs) < 2 {
		return false
	}
	n := 0
	for _, r := range l.runs {
		if isValue(r.text) && !isMissing(r.text) {
			n++
		}
	}
	return n > 0
}

// longText is running text: never a row and never a heading.
func (l *textLine) longText() bool {
	for _, r := range l.runs {
		if len(r.words) >= 9 || len(r.words) == 1 && len(strings.Fields(r.text)) >= 9 {
			return true
		}
	}
	return false
}
