package second

import (
	"math"

	"example.org/windrow/ingest"
	"github.com/klippa-app/go-pdfium/requests"
)

// How characters make words, in heights of a character. The engine puts in
// blanks of its own where it sees a gap; these bounds only part what it runs
// together across columns and lines.
const (
	mostGap  = 0.35 // between characters of a word, along the line
	mostBack = 0.6  // that a character may stand behind the end of the one before
	mostRise = 0.45 // between characters of a word, across the line
)

// leaderLook is how many characters back a leader is looked for.
const leaderLook = 8

// words makes words of a page's characters, in the order of the file.
func (pg *page) words(glyphs []glyph) []ingest.Word {
	var out []ingest.Word
	var text []rune
	var box ingest.Box
	var last glyph
	var turn, lastTurn int
	var base, size float64
	width, height := pg.view.size()
	flush := func() {
		if len(text) > 0 {
			w := ingest.Word{Text: string(text), Box: upright(box, base, size, turn), Base: base, Size: size, Turn: turn}
			if x, y := w.Box.CenterX(), w.Box.CenterY(); x < 0 || y < 0 || x > width || y > height {
				w.Ghost = "off the page"
			}
			out = append(out, w)
		}
		text, box = text[:0], ingest.Box{}
	}
	for _, g := range glyphs {
		if g.text == ' ' {
			flush()
			continue
		}
		t := pg.turnOf(g.index)
		if len(text) > 0 && (t != lastTurn || parted(last.box, g.box, t) || ingest.EndsLeader([]byte(string(text[max(0, len(text)-leaderLook):])), g.text)) {
			flush()
		}
		if len(text) == 0 {
			turn = t
			base, size = pg.standing(g, t)
		}
		text = append(text, g.text)
		box = box.Union(g.box)
		last, lastTurn = g, t
	}
	flush()
	return out
}

// The usual extent of a font's letters above and below its line, in sizes.
// The engine's own boxes reach as far as the font's tallest accents.
const (
	ascent  = 0.72
	descent = 0.21
)

// upright is a word's box with the usual extent across its line.
func upright(b ingest.Box, base, size float64, turn int) ingest.Box {
	switch turn {
	case 90:
		b.X0, b.X1 = base-ascent*size, base+descent*size
	case 180:
		b.Y0, b.Y1 = base-descent*size, base+ascent*size
	case 270:
		b.X0, b.X1 = base-descent*size, base+ascent*size
	default:
		b.Y0, b.Y1 = base-ascent*size, base+descent*size
	}
	return ingest.Box{X0: round(b.X0), Y0: round(b.Y0), X1: round(b.X1), Y1: round(b.Y1)}
}

// parted reports whether a character starts a word of its own.
func parted(a, b ingest.Box, turn int) bool {
	var gap, rise, tall float64
	switch turn {
	case 90:
		gap, rise, tall = a.Y0-b.Y1, a.CenterX()-b.CenterX(), min(a.Width(), b.Width())
	case 180:
		gap, rise, tall = a.X0-b.X1, a.CenterY()-b.CenterY(), min(a.Height(), b.Height())
	case 270:
		gap, rise, tall = b.Y0-a.Y1, a.CenterX()-b.CenterX(), min(a.Width(), b.Width())
	default:
		gap, rise, tall = b.X0-a.X1, a.CenterY()-b.CenterY(), min(a.Height(), b.Height())
	}
	return gap > mostGap*tall || gap < -mostBack*tall || math.Abs(rise) > mostRise*tall
}

// turnOf is the way a character reads on the page as seen: 0, 90, 180, 270.
func (pg *page) turnOf(index int) int {
	a := must(pg.p.FPDFText_GetCharAngle(&requests.FPDFText_GetCharAngle{TextPage: pg.text, Index: index})).CharAngle
	if a < 0 || math.IsNaN(float64(a)) {
		a = 0
	}
	// The engine's angle grows clockwise in the page's own coordinates.
	quarters := int(math.Round(float64(a)/(math.Pi/2))) + pg.view.turn
	return (4 - quarters&3) & 3 * 90
}

// standing is the line that a character stands on, and the size of its font.
func (pg *page) standing(g glyph, turn int) (base, size float64) {
	size = g.box.Height()
	if turn == 90 || turn == 270 {
		size = g.box.Width()
	}
	q, err := pg.p.FPDFText_GetCharOrigin(&requests.FPDFText_GetCharOrigin{TextPage: pg.text, Index: g.index})
	if err != nil {
		return g.box.Y1, round(size)
	}
	x, y := pg.view.point(q.X, q.Y)
	if fs, err := pg.p.FPDFText_GetFontSize(&requests.FPDFText_GetFontSize{TextPage: pg.text, Index: g.index}); err == nil {
		if m, err := pg.p.FPDFText_GetMatrix(&requests.FPDFText_GetMatrix{TextPage: pg.text, Index: g.index}); err == nil {
			if s := fs.FontSize * math.Hypot(float64(m.Matrix.C), float64(m.Matrix.D)); s > 0 && !math.IsInf(s, 0) {
				size = s
			}
		}
	}
	if turn == 90 || turn == 270 {
		return round(x), round(size)
	}
	return round(y), round(size)
}
