package pdf

import (
	"fmt"
	"math"

	"example.org/windrow/ingest"
)

// CodeStruck marks a number that a line is drawn through. It is kept.
const CodeStruck = "struck-out-text"

// Where in the height of a glyph, in ems above its base line, a line strikes it
// out. One below is an underline or the rule of a table; figures are 0.7 em high.
const (
	strikeLow  = 0.15
	strikeHigh = 0.55
)

// thin remembers the lines of a path that is used, and the areas it fills that
// are as thin as lines. White ones can't be seen on paper.
func (p *painter) thin(made *path, s *state, fills, strokes bool) {
	add := func(b ingest.Box) {
		if b = overlap(b, s.clip); min(b.Width(), b.Height()) >= 0 && max(b.Width(), b.Height()) > 0 && len(p.thins) < mostCoats {
			p.thins = append(p.thins, b)
		}
	}
	if fills && !s.clear && s.fill != white {
		for _, r := range made.rects {
			if min(r.Width(), r.Height()) < thinnest {
				add(r)
			}
		}
	}
	if !strokes || s.clearLine || s.stroke == white || s.width*math.Sqrt(math.Abs(s.ctm.a*s.ctm.d-s.ctm.b*s.ctm.c)) >= thinnest {
		return
	}
	for _, l := range made.lines {
		add(l)
	}
	for _, r := range made.rects {
		add(ingest.Box{X0: r.X0, Y0: r.Y0, X1: r.X1, Y1: r.Y0})
		add(ingest.Box{X0: r.X0, Y0: r.Y1, X1: r.X1, Y1: r.Y1})
		add(ingest.Box{X0: r.X0, Y0: r.Y0, X1: r.X0, Y1: r.Y1})
		add(ingest.Box{X0: r.X1, Y0: r.Y0, X1: r.X1, Y1: r.Y1})
	}
}

// strike marks the glyphs that a thin line runs through along the way they are
// read, whether it was drawn before them or after. Glyphs are looked up by bands
// of the page.
func (p *painter) strike(glyphs []glyph, page ingest.Box) {
	const band = 16.0
	bands := int(page.Height()/band) + 1
	at := func(y float64) int { return min(max(int(y/band), 0), bands-1) }
	var byBand [][]int32
	looks := 0
	for _, b := range p.thins {
		if byBand == nil {
			byBand = make([][]int32, bands)
			for i := range glyphs {
				_, y := glyphs[i].middle()
				byBand[at(y)] = append(byBand[at(y)], int32(i))
			}
		}
		for k := at(b.Y0 - band); k <= at(b.Y1+band); k++ {
			for _, i := range byBand[k] {
				if looks++; looks > 50_000_000 {
					return
				}
				if gl := &glyphs[i]; !gl.struck && gl.crossed(b) {
					gl.struck = true
				}
			}
		}
	}
}

// crossed reports whether a thin box runs through the body of the glyph from
// one side to the other.
func (g *glyph) crossed(b ingest.Box) bool {
	if g.blank() || g.size <= 0 {
		return false
	}
	vx, vy := g.up()
	mx, my := (b.X0+b.X1)/2, (b.Y0+b.Y1)/2
	from, to, start, end := b.X0, b.X1, g.x, g.ex
	switch {
	case math.Abs(g.uy) < 0.05 && b.Width() >= b.Height():
		mx = g.x
	case math.Abs(g.ux) < 0.05 && b.Height() >= b.Width():
		my = g.y
		from, to, start, end = b.Y0, b.Y1, g.y, g.ey
	default:
		return false
	}
	if h := ((mx-g.x)*vx + (my-g.y)*vy) / g.size; h < strikeLow || h > strikeHigh {
		return false
	}
	near, far := start+0.2*(end-start), start+0.8*(end-start)
	return min(near, far) >= from && max(near, far) <= to
}

// struckOut notes the words at the indexes struck: whoever drew a line through
// a number took it back, and it must not pass for a result.
func struckOut(p *ingest.Page, struck []int) (notes []*ingest.Reason) {
	for i, k := range struck {
		w := &p.Words[k]
		box := w.Box
		n := &ingest.Reason{Code: CodeStruck, Severity: ingest.Hold, Where: ingest.Place{Page: p.Number, Box: &box},
			What: "a number is struck through", Found: w.Text,
			Next: "ask the laboratory whether the number holds: a value that is struck through has usually been replaced"}
		if i == mostStruck && len(struck) > mostStruck+1 {
			n.What, n.Found = "further numbers of this page are struck through", fmt.Sprintf("%d of them", len(struck)-i)
			return append(notes, n)
		}
		notes = append(notes, n)
	}
	return notes
}

// mostStruck is how many numbers of a page are named one by one.
const mostStruck = 5
