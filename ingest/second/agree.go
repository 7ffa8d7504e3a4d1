package second

import (
	"math"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"example.org/windrow/ingest"
	"golang.org/x/text/unicode/norm"
)

// A Difference is a word for which the two engines have different text.
type Difference struct {
	Place  ingest.Place // of the word, as the first engine has it
	First  string       // what the first engine read
	Second string       // what the second engine has there, "" for nothing
}

// Reason is the difference in words for a clerk, with both readings.
func (d Difference) Reason() *ingest.Reason {
	found := "\u201c" + d.First + "\u201d and \u201c" + d.Second + "\u201d"
	if d.Second == "" {
		found = "\u201c" + d.First + "\u201d and nothing"
	}
	return &ingest.Reason{Code: "engines-disagree", Severity: ingest.Flag, Where: d.Place,
		What:     "the two ways of reading the page have different text here",
		Expected: "the same text read twice", Found: found,
		Next: "look at the page and confirm the value, or correct it"}
}

// A Comparison knows where the two engines differ on one document.
type Comparison struct {
	byPage map[int][]Difference
}

// Compare holds the words of the first engine against the characters of the
// second ([Client.Glyphs]) on every page. Each character belongs to the word
// whose box holds its centre, or directly beside which it stands; how the
// engines order and group characters doesn't matter, nor do kinds of blanks,
// dashes and quotes. Words that a person doesn't see are not compared.
func Compare(first, glyphs *ingest.Document) *Comparison {
	c := &Comparison{byPage: map[int][]Difference{}}
	seconds := map[int]*ingest.Page{}
	for _, p := range glyphs.Pages {
		seconds[p.Number] = p
	}
	for _, p := range first.Pages {
		q := seconds[p.Number]
		if q == nil {
			q = &ingest.Page{Number: p.Number, Width: p.Width, Height: p.Height}
		}
		if d := comparePage(p, q); len(d) > 0 {
			for i := range d {
				d[i].Place.File = first.Source.Name
				if m := first.Source.Member; m != "" {
					d[i].Place.File += " > " + m
				}
			}
			c.byPage[p.Number] = d
		}
	}
	return c
}

// All are the differences, by page and in the order of the words.
func (c *Comparison) All() []Difference {
	var pages []int
	for p := range c.byPage {
		pages = append(pages, p)
	}
	slices.Sort(pages)
	var all []Difference
	for _, p := range pages {
		all = append(all, c.byPage[p]...)
	}
	return all
}

// At are the differences at a place: of the words of which a good part lies
// in its box, or, for a place without a box, of the page.
func (c *Comparison) At(place ingest.Place) []Difference {
	if place.Box == nil {
		return c.byPage[place.Page]
	}
	var out []Difference
	for _, d := range c.byPage[place.Page] {
		w, b := *d.Place.Box, *place.Box
		if shared := b.OverlapX(w) * b.OverlapY(w); shared > 0.2*min(w.Width()*w.Height(), b.Width()*b.Height()) {
			out = append(out, d)
		}
	}
	return out
}

// Agree are the differences at any of the places, each once.
func Agree(first, glyphs *ingest.Document, places []ingest.Place) []Difference {
	c := Compare(first, glyphs)
	var out []Difference
	seen := map[ingest.Place]bool{}
	for _, p := range places {
		for _, d := range c.At(p) {
			if !seen[d.Place] {
				seen[d.Place] = true
				out = append(out, d)
			}
		}
	}
	return out
}

// A claim is what belongs to one word of the first engine.
type claim struct {
	inside  []int // characters whose centre lies in the word's box
	beside  []int // characters that no word holds, directly before or behind
	covered bool  // a word that a person doesn't see lies over it
}

// lineOf is the height of the strips into which a page is cut, in points, so
// that each character is tried on the few words near it.
const lineOf = 16.0

func comparePage(p, q *ingest.Page) []Difference {
	glyphs := scaled(p, q)
	strips := map[int][]int{}
	for i := range p.Words {
		b := p.Words[i].Box
		for s := int(math.Floor((b.Y0 - 2) / lineOf)); s <= int(math.Floor((b.Y1+2)/lineOf)); s++ {
			strips[s] = append(strips[s], i)
		}
	}
	claims := make([]claim, len(p.Words))
	for gi := range glyphs {
		g := &glyphs[gi]
		x, y := g.Box.CenterX(), g.Box.CenterY()
		near := strips[int(math.Floor(y/lineOf))]
		best, bestOff, ghost := -1, math.Inf(1), false
		for _, wi := range near {
			w := &p.Words[wi]
			if x < w.Box.X0 || x > w.Box.X1 || y < w.Box.Y0 || y > w.Box.Y1 {
				continue
			}
			// Of two words over each other, the one whose line and size fit.
			off := math.Abs(y-w.Box.CenterY()) + math.Abs(g.Box.Height()-w.Box.Height())/2
			if w.Turn == 90 || w.Turn == 270 {
				off = math.Abs(x-w.Box.CenterX()) + math.Abs(g.Box.Width()-w.Box.Width())/2
			}
			if w.Ghost != "" {
				ghost = true
				off += 1000 // what is seen comes first
			}
			if off < bestOff {
				best, bestOff = wi, off
			}
		}
		if best >= 0 {
			claims[best].inside = append(claims[best].inside, gi)
			claims[best].covered = claims[best].covered || ghost
			continue
		}
		if wi := beside(p, near, g); wi >= 0 {
			claims[wi].beside = append(claims[wi].beside, gi)
		}
	}
	var out []Difference
	for i := range p.Words {
		w := &p.Words[i]
		if w.Ghost != "" {
			continue
		}
		if d, ok := compareWord(w, glyphs, claims[i]); !ok {
			b := w.Box
			out = append(out, Difference{Place: ingest.Place{Page: p.Number, Box: &b}, First: w.Text, Second: d})
		}
	}
	return out
}

// scaled is the second engine's characters in the first's measure: the
// engines may differ in the size of the page's unit.
func scaled(p, q *ingest.Page) []ingest.Word {
	k := 1.0
	if q.Width > 0 && p.Width > 0 {
		k = p.Width / q.Width
	}
	if math.Abs(k-1) < 1e-3 {
		return q.Words
	}
	out := slices.Clone(q.Words)
	for i := range out {
		b := &out[i].Box
		b.X0, b.Y0, b.X1, b.Y1 = b.X0*k, b.Y0*k, b.X1*k, b.Y1*k
	}
	return out
}

// beside is the word that a character stands directly before or behind, so
// that a digit which only one engine sees is not lost, or -1.
func beside(p *ingest.Page, near []int, g *ingest.Word) int {
	const most = 0.2 // heights
	for _, wi := range near {
		w := &p.Words[wi]
		if w.Turn == 90 || w.Turn == 270 {
			continue
		}
		h := min(w.Box.Height(), g.Box.Height())
		if w.Box.OverlapY(g.Box) < 0.7*h {
			continue
		}
		if before, behind := w.Box.X0-g.Box.X1, g.Box.X0-w.Box.X1; max(before, behind) <= most*h && max(before, behind) > -most*h {
			return wi
		}
	}
	return -1
}

// compareWord reports whether the second engine has the word's text, and what
// it has.
func compareWord(w *ingest.Word, glyphs []ingest.Word, c claim) (string, bool) {
	want := plain(w.Text)
	sorted := func(ids []int) string {
		ids = slices.Clone(ids)
		slices.SortStableFunc(ids, func(a, b int) int {
			x, y := &glyphs[a].Box, &glyphs[b].Box
			switch w.Turn {
			case 90:
				x, y = y, x
				return cmp(x.CenterY(), y.CenterY())
			case 180:
				return cmp(y.CenterX(), x.CenterX())
			case 270:
				return cmp(x.CenterY(), y.CenterY())
			}
			return cmp(x.CenterX(), y.CenterX())
		})
		return text(glyphs, ids)
	}
	got := sorted(c.inside)
	if len(c.beside) > 0 {
		// Only what belongs to a number can make another number of it.
		if t := text(glyphs, c.beside); strings.ContainsAny(plain(t), "0123456789.,-+<>") {
			got = sorted(append(slices.Clone(c.inside), c.beside...))
		}
	}
	switch {
	case plain(got) == want:
		return got, true
	case plain(text(glyphs, c.inside)) == want && len(c.beside) == 0:
		return got, true // the file's own order
	case plain(text(glyphs, once(glyphs, c.inside))) == want && len(c.beside) == 0:
		return got, true // drawn twice, as some writers do for bold
	case c.covered && holds(plain(got), want):
		return got, true // with hidden text over it, which the first engine tells apart
	}
	return got, false
}

func cmp(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

func text(glyphs []ingest.Word, ids []int) string {
	var b strings.Builder
	for _, i := range ids {
		b.WriteString(glyphs[i].Text)
	}
	return b.String()
}

// once leaves out characters that stand in the place of the same one.
func once(glyphs []ingest.Word, ids []int) []int {
	var out []int
	for _, i := range ids {
		double := slices.ContainsFunc(out, func(o int) bool {
			a, b := &glyphs[o], &glyphs[i]
			return a.Text == b.Text && math.Abs(a.Box.X0-b.Box.X0) < 0.15*a.Box.Height() && math.Abs(a.Box.Y0-b.Box.Y0) < 0.15*a.Box.Height()
		})
		if !double {
			out = append(out, i)
		}
	}
	return out
}

// holds reports whether all characters of want are in got, in their order.
func holds(got, want string) bool {
	for _, r := range want {
		i := strings.IndexRune(got, r)
		if i < 0 {
			return false
		}
		got = got[i+utf8.RuneLen(r):]
	}
	return true
}

// plain takes away what two engines may write differently and a reader
// doesn't see: blanks, kinds of dashes and quotes, ligatures, combined and
// composed accents. A raised 2 stays another character than a 2.
func plain(s string) string {
	ascii := true
	for i := range len(s) {
		if s[i] >= 0x80 || s[i] == ' ' {
			ascii = false
			break
		}
	}
	if ascii {
		return s
	}
	var b strings.Builder
	for _, r := range norm.NFC.String(s) {
		switch {
		case r >= '\ufb00' && r <= '\ufb06':
			b.WriteString(norm.NFKC.String(string(r)))
		case unicode.IsSpace(r), r == '\u200b', r == '\ufeff':
		case unicode.Is(unicode.Pd, r), r == '\u2212', r == '\u00ad':
			b.WriteByte('-')
		case r == '\u2018' || r == '\u2019' || r == '\u2032' || r == '`' || r == '\u00b4':
			b.WriteByte('\'')
		case r == '\u201c' || r == '\u201d' || r == '\u2033':
			b.WriteByte('"')
		case r == '\u2044' || r == '\u2215':
			b.WriteByte('/')
		case r == '\u00b5':
			b.WriteRune('\u03bc')
		case r == '\u2219' || r == '\u22c5' || r == '\u2022':
			b.WriteRune('\u00b7')
		case r == '\u03a9' || r == '\u2126':
			b.WriteRune('\u03a9')
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}
