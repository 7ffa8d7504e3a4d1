package mappings

import (
	"strings"

	"example.org/windrow/ingest"
)

// A Piece is a word of a page or a cell of a grid as the reader of mappings
// sees it: its text normalised, its box counted in points on a page and in
// rows and columns in a grid.
type Piece struct {
	Text  string
	Full  string // stored value of a sheet cell where it differs
	Kind  ingest.CellKind
	Box   ingest.Box
	Size  float64 // of the font in points; 1 in a grid
	Turn  int
	Place ingest.Place
}

// A Laid is a page put into lines, exactly as a mapping will be applied to
// it, so that what proposes a mapping and what reads by it never disagree
// about what stands beside what.
type Laid struct {
	Grid   bool
	Lines  [][]Piece
	Turned []Piece // text that is not level
}

// LayOut orders the visible text of a page.
func LayOut(doc *ingest.Document, p *ingest.Page) *Laid {
	v := newView(doc, p)
	l := &Laid{Grid: v.grid}
	piece := func(a *atom) Piece {
		return Piece{Text: a.text, Full: a.full(), Kind: a.kind(), Box: a.box, Size: a.size, Turn: a.turn, Place: v.place(a)}
	}
	for _, x := range v.lines {
		var out []Piece
		for _, a := range x.atoms {
			out = append(out, piece(a))
		}
		l.Lines = append(l.Lines, out)
	}
	for _, a := range v.turned {
		l.Turned = append(l.Turned, piece(a))
	}
	return l
}

// Normalise makes printed texts comparable: one space between words, plain
// signs for typographic ones. It changes no letter's case and no digit.
func Normalise(s string) string { return normalise(s) }

// Squeeze is Normalise without any space.
func Squeeze(s string) string { return squeeze(s) }

// Number gives the plain digits of a printed number by a style's grammar, and
// whether the text is one. A word for "no value" gives "" and true.
func (st Style) Number(text string) (string, bool) {
	n, err := st.parseNumber(text)
	return n.Digits, err == nil
}

// ParseDate reads a date by a pattern such as MMMM D, YYYY and gives it as
// YYYY-MM-DD.
func ParseDate(pattern, text string) (string, bool) { return parseDate(pattern, text) }

// IsDepth reports whether a text is a sampling depth; unit is "in", "cm" or
// "" when the text must print it.
func IsDepth(text, unit string) bool {
	_, _, _, err := parseDepth(text, unit)
	return err == nil
}

// SummaryWord is a word that makes a row's first cell look like a summary of
// other rows, or "".
func SummaryWord(text string) string { return summaryWord(text) }

// Literal writes a text so that it may stand as a pattern in a mapping: the
// special signs get their backslash.
func Literal(text string) string {
	var b strings.Builder
	for _, r := range text {
		if strings.ContainsRune(`*#{\`, r) {
			b.WriteByte('\\')
		}
		b.WriteRune(r)
	}
	return b.String()
}

// Stands reports whether a pattern's text stands in the opening pages of a
// document, which is where recognising texts are looked for.
func Stands(pattern string, doc *ingest.Document) bool {
	p, err := newPattern(pattern, ingest.Place{})
	return err == nil && p.in(opener(doc))
}

// TryMapping tries every layout of one mapping on a report, as [Set.Try]
// does for all mappings of a set.
func TryMapping(m *Mapping, docs []*ingest.Document, vocab Vocabulary) []*Try {
	return (&Set{vocab: vocab, list: []*Mapping{m}}).Try(docs)
}
