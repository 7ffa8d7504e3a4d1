package pdf

import (
	"math"
	"strings"
	"unicode"
	"unicode/utf8"

	"example.org/windrow/ingest"
)

// A glyph is one shape on the page, in points from the top left corner of
// the page as seen.
type glyph struct {
	text            string // a blank has " "
	x, y            float64
	ex, ey          float64 // where its width ends
	ux, uy          float64 // the way it reads, of length 1
	size            float64 // of an em, across the line
	ascent, descent float64 // in points above the line; descent is negative
	spaced          float64 // character and word spacing behind it, in points
	jump            bool    // the stream moved to it on its own, rather than on from the glyph before
	ghost           string
	dropped         bool // drawn again in the same place
	struck          bool // a line runs through it
}

func (g *glyph) blank() bool {
	return g.text == "" || g.text[0] == ' ' && strings.Trim(g.text, " ") == ""
}

// up is the direction from the line to the top of the glyphs.
func (g *glyph) up() (float64, float64) { return g.uy, -g.ux }

// middle is a point in the body of the glyph.
func (g *glyph) middle() (float64, float64) {
	vx, vy := g.up()
	h := 0.3 * g.ascent
	return (g.x+g.ex)/2 + vx*h, (g.y+g.ey)/2 + vy*h
}

func (g *glyph) box() ingest.Box {
	vx, vy := g.up()
	ax, ay, dx, dy := vx*g.ascent, vy*g.ascent, vx*g.descent, vy*g.descent
	return ingest.Box{
		X0: min(g.x+ax, g.x+dx, g.ex+ax, g.ex+dx), Y0: min(g.y+ay, g.y+dy, g.ey+ay, g.ey+dy),
		X1: max(g.x+ax, g.x+dx, g.ex+ax, g.ex+dx), Y1: max(g.y+ay, g.y+dy, g.ey+ay, g.ey+dy),
	}
}

// within reports whether nearly all of the glyph's body lies in a box.
func (g *glyph) within(b ingest.Box) bool {
	vx, vy := g.up()
	for _, along := range [...]float64{0.2, 0.8} {
		for _, high := range [...]float64{0.15, 0.5} {
			h := high * g.ascent
			if !inside(b, g.x+(g.ex-g.x)*along+vx*h, g.y+(g.ey-g.y)*along+vy*h, 0.1) {
				return false
			}
		}
	}
	return true
}

// How glyphs make words, in ems of the larger of two neighbours. Word spaces
// are 0.2 to 0.35 em wide; kerning moves glyphs by up to 0.1.
const (
	gapOnward    = 0.18 // still one word, where the stream goes on from glyph to glyph
	gapJump      = 0.13 // where the stream moves to the glyph on its own
	gapLevel     = 0.12 // where the next glyph is raised, lowered or of another size
	mostSpaced   = 0.30 // letter-spacing that is set as such
	backOnward   = 0.35 // overlap
	backJump     = 0.20
	sameLine     = 0.08 // off the line and still on it
	mostShifted  = 0.70 // raised or lowered, and still no other line
	sameSize     = 0.08 // relative difference
	sameAngle    = 0.996
	sameGlyph    = 0.10 // a second drawing of the same glyph, for boldness or shadow
	followingGap = 0.08 // between pieces that were drawn apart
)

// A piece is a word in the making.
type piece struct {
	text        []byte
	first, last *glyph
	main        *glyph // the first of the largest: the others may be raised or small
	box         ingest.Box
	shown       bool // some glyph is seen
	hidden      bool // some glyph is not
	glyphs      int  // how many
	struck      int  // how many of them a line runs through
	next        *piece
	follows     bool
}

// group makes words of a page's glyphs, in the order they were drawn, and
// lists those that are partly hidden and those with a digit that are struck out.
func group(seen *pageSeen) (words []ingest.Word, cut, struck []int) {
	dropDoubles(seen)
	var pieces []*piece
	var cur *piece
	for i := range seen.glyphs {
		g := &seen.glyphs[i]
		if g.dropped || g.text == "" {
			continue
		}
		if g.blank() {
			cur = nil
			continue
		}
		if cur == nil || !joins(cur, g, false) {
			cur = &piece{first: g, main: g}
			pieces = append(pieces, cur)
		}
		cur.take(g)
	}
	link(pieces, seen)
	for _, p := range pieces {
		if p.follows {
			continue
		}
		for q := p.next; q != nil; q = q.next {
			p.absorb(q)
		}
		for _, w := range p.words() {
			if w.Ghost == "" && p.hidden {
				cut = append(cut, len(words))
			}
			if w.Ghost == "" && 2*p.struck >= p.glyphs && p.struck > 0 && strings.ContainsAny(w.Text, "0123456789") {
				struck = append(struck, len(words))
			}
			words = append(words, w)
		}
	}
	return words, cut, struck
}

func (p *piece) take(g *glyph) {
	p.text = append(p.text, g.text...)
	p.box = p.box.Union(g.box())
	p.last = g
	p.glyphs++
	if g.struck {
		p.struck++
	}
	if g.size > p.main.size*(1+sameSize) {
		p.main = g
	}
	if g.ghost == "" {
		p.shown = true
	} else {
		p.hidden = true
	}
}

func (p *piece) absorb(q *piece) {
	p.text = append(p.text, q.text...)
	p.box = p.box.Union(q.box)
	p.last = q.last
	if q.main.size > p.main.size*(1+sameSize) {
		p.main = q.main
	}
	p.glyphs, p.struck = p.glyphs+q.glyphs, p.struck+q.struck
	p.shown, p.hidden = p.shown || q.shown, p.hidden || q.hidden
}

// words is the piece as a word, or as several where a glyph's own text has a
// space in it.
func (p *piece) words() []ingest.Word {
	turn, base := 0, p.main.y
	switch a := math.Atan2(-p.main.uy, p.main.ux) * 180 / math.Pi; {
	case a > 45 && a <= 135:
		turn, base = 90, p.main.x
	case a > 135 || a <= -135:
		turn = 180
	case a < -45:
		turn, base = 270, p.main.x
	}
	w := ingest.Word{Box: rounded(p.box), Base: round(base), Size: round(p.main.size), Turn: turn}
	if !p.shown {
		w.Ghost = p.first.ghost
	}
	var all []ingest.Word
	for t := range strings.FieldsFuncSeq(string(p.text), unicode.IsSpace) {
		w.Text = strings.ToValidUTF8(t, unknown)
		all = append(all, w)
	}
	return all
}

// round keeps a thousandth of a point, so that the last bits of the
// arithmetic don't show in records.
func round(v float64) float64 { return math.Round(v*1000) / 1000 }

func rounded(b ingest.Box) ingest.Box {
	return ingest.Box{X0: round(b.X0), Y0: round(b.Y0), X1: round(b.X1), Y1: round(b.Y1)}
}

// joins reports whether a glyph goes on with a word. Pieces that were drawn
// apart must fit more closely.
func joins(p *piece, g *glyph, apart bool) bool {
	q := p.last
	if q.ux*g.ux+q.uy*g.uy < sameAngle || differs(q.ghost, g.ghost) {
		return false
	}
	if r, _ := utf8.DecodeRuneInString(g.text); ingest.EndsLeader(p.text, r) {
		return false
	}
	em := max(q.size, g.size)
	vx, vy := q.up()
	gap := (g.x-q.ex)*q.ux + (g.y-q.ey)*q.uy
	rise := (g.x-q.x)*vx + (g.y-q.y)*vy
	level := math.Abs(rise) > sameLine*em
	resized := math.Abs(g.size-q.size) > sameSize*em
	most, back := gapOnward, backOnward
	switch {
	case apart:
		most, back = followingGap, followingGap
	case g.jump:
		most, back = gapJump, backJump
	}
	if level || resized {
		most, back = min(most, gapLevel), min(back, backJump)
	}
	most *= em
	if !apart && !g.jump && q.spaced > 0 {
		// Letter-spacing set as such isn't a gap, unless it is as wide as one.
		most += min(q.spaced, mostSpaced*em)
	}
	if gap > most || gap < -back*em-max(0, -q.spaced) {
		return false
	}
	if !level && !resized {
		return true
	}
	tall := max(em, p.main.size)
	if off := (g.x-p.main.x)*vx + (g.y-p.main.y)*vy; math.Abs(rise) > mostShifted*tall || math.Abs(off) > mostShifted*tall {
		return false
	}
	return !numberMark(p, q, g)
}

// differs reports whether two neighbours, of which a person sees one and not
// the other, must be kept apart: a digit that was hidden on purpose must not
// lengthen a number. Where a page's edge or a cell's clips a number, it is
// still that number.
func differs(a, b string) bool {
	if a == b {
		return false
	}
	accident := func(s string) bool { return s == "" || s == ghostClipped || s == ghostOff }
	return !accident(a) || !accident(b)
}

// numberMark reports whether a glyph is a mark on a number, such as a raised
// footnote figure, or a number behind such a mark: "12.5" with a raised 2
// isn't 12.52. Figures within formulas, between letters, are not.
func numberMark(p *piece, q, g *glyph) bool {
	before, _ := utf8.DecodeLastRuneInString(q.text)
	after, _ := utf8.DecodeRuneInString(g.text)
	numeric := func(r rune) bool { return unicode.IsNumber(r) }
	if !numeric(before) && !strings.ContainsRune(".,", before) {
		return false
	}
	if !numeric(after) && !strings.ContainsRune("+-\u2212\u2013.,", after) {
		return false
	}
	onMain := func(x *glyph) bool {
		vx, vy := x.up()
		off := (x.x-p.main.x)*vx + (x.y-p.main.y)*vy
		return math.Abs(off) <= sameLine*p.main.size && x.size >= p.main.size*(1-sameSize)
	}
	if g.size > p.main.size*(1+sameSize) {
		return true // all before was small: a mark in front of a number
	}
	return onMain(q) || onMain(g)
}

// link finds the pieces that follow on others although they were drawn at
// another time, as in a formula whose small figures are drawn last.
func link(pieces []*piece, seen *pageSeen) {
	if len(pieces) < 2 {
		return
	}
	const cell = 8.0
	key := func(x, y float64) [2]int32 { return [2]int32{int32(math.Floor(x / cell)), int32(math.Floor(y / cell))} }
	starts := make(map[[2]int32][]*piece, len(pieces))
	for _, p := range pieces {
		k := key(p.first.x, p.first.y)
		starts[k] = append(starts[k], p)
	}
	const mostNear = 64 // pieces that start in one cell and are looked at
	for _, p := range pieces {
		q := p.last
		k := key(q.ex, q.ey)
		var best *piece
		closest := math.Inf(1)
		for dx := int32(-1); dx <= 1; dx++ {
			for dy := int32(-1); dy <= 1; dy++ {
				near := starts[[2]int32{k[0] + dx, k[1] + dy}]
				for _, c := range near[:min(len(near), mostNear)] {
					if c == p || c.follows || !joins(p, c.first, true) {
						continue
					}
					if d := math.Abs((c.first.x-q.ex)*q.ux + (c.first.y-q.ey)*q.uy); d < closest && !leads(c, p) {
						best, closest = c, d
					}
				}
			}
		}
		if best != nil {
			p.next, best.follows = best, true
		}
	}
}

// longest is how many pieces a word may be made of. No word is drawn in more,
// and following long chains for each piece would take for ever.
const longest = 1000

// leads reports whether b comes after a in a chain, so that linking a behind
// b would close a circle, or whether the chain is long enough.
func leads(a, b *piece) bool {
	for n := 0; a != nil; a, n = a.next, n+1 {
		if a == b || n == longest {
			return true
		}
	}
	return false
}

// dropDoubles drops glyphs that were drawn before in the same place, as some
// writers do for bold or shadowed text.
func dropDoubles(seen *pageSeen) {
	const cell = 8.0
	across, down := int(seen.width/cell)+1, int(seen.height/cell)+1
	if across*down > 1<<20 {
		return
	}
	heads := make([]int32, across*down) // index+1 of the last glyph in each cell
	behind := make([]int32, len(seen.glyphs))
	clamp := func(v float64, n int) int { return min(max(int(v/cell), 0), n-1) }
	const mostBack = 64
	for i := range seen.glyphs {
		g := &seen.glyphs[i]
		if g.blank() || g.size == 0 {
			continue
		}
		slack := sameGlyph * g.size
		x0, x1 := clamp(g.x-slack, across), clamp(g.x+slack, across)
		y0, y1 := clamp(g.y-slack, down), clamp(g.y+slack, down)
		for cy := y0; cy <= y1 && !g.dropped; cy++ {
			for cx := x0; cx <= x1 && !g.dropped; cx++ {
				n := 0
				for k := heads[cy*across+cx]; k > 0 && n < mostBack; k, n = behind[k-1], n+1 {
					o := &seen.glyphs[k-1]
					if o.text != g.text || math.Abs(o.x-g.x) > slack || math.Abs(o.y-g.y) > slack ||
						math.Abs(o.size-g.size) > 0.01*g.size || o.ux*g.ux+o.uy*g.uy < sameAngle {
						continue
					}
					// What is drawn again over something hidden is not its double.
					g.dropped = o.ghost == "" || g.ghost != ""
					break
				}
			}
		}
		if !g.dropped {
			c := clamp(g.y, down)*across + clamp(g.x, across)
			behind[i], heads[c] = heads[c], int32(i)+1
		}
	}
}
