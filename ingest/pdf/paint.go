package pdf

import (
	"strings"

	"example.org/windrow/ingest"
	"github.com/ledongthuc/pdf"
)

// Why a glyph isn't seen, in the words of ingest.Word.Ghost.
const (
	ghostInvisible = "invisible"
	ghostClipped   = "clipped"
	ghostWhite     = "white"
	ghostCovered   = "covered"
	ghostOff       = "off the page"
)

// An ink is what a fill leaves on the page, as far as matters: on white
// paper, white can't be seen.
type ink uint8

const (
	colored ink = iota
	white
	pattern // may leave gaps
)

// nearlyWhite is where a person stops seeing a light gray on white paper.
const nearlyWhite = 0.95

// color follows the operators that set the fill colour (8.6.8).
// The operators in capitals set the colour of lines.
func (in *interpreter) color(s *state, res *resource, op string, a []operand) {
	fill, space := &s.fill, &s.space
	if op != "" && op[0] >= 'A' && op[0] <= 'Z' {
		fill, space, op = &s.stroke, &s.lineSpace, strings.ToLower(op)
	}
	all := func(least, most float64) bool {
		for _, o := range a {
			if o.kind != number || o.num < least || o.num > most {
				return false
			}
		}
		return len(a) > 0
	}
	is := func(b bool) ink {
		if b {
			return white
		}
		return colored
	}
	switch op {
	case "g", "rg":
		*space, *fill = pdf.Value{}, is(all(nearlyWhite, 99))
	case "k":
		*space, *fill = pdf.Value{}, is(all(-99, 1-nearlyWhite))
	case "cs":
		*fill = colored
		*space = pdf.Value{}
		if len(a) > 0 {
			*space = res.dict.Key("ColorSpace").Key(string(a[0].bytes))
		}
	case "sc", "scn":
		// Components that add light are white when full; inks (CMYK and the
		// named inks of Separation and DeviceN) when absent. Of a pattern, a
		// palette or a Lab colour nothing is claimed.
		switch kind := space.Index(0).Name(); {
		case len(a) > 0 && a[len(a)-1].kind == name:
			*fill = pattern
		case kind == "Separation" || kind == "DeviceN" || len(a) == 4:
			*fill = is(all(-99, 1-nearlyWhite))
		case kind == "Indexed" || kind == "Lab" || kind == "Pattern":
			*fill = colored
		default:
			*fill = is(all(nearlyWhite, 99))
		}
	}
}

// A path is the path being made (8.5.2), as boxes on the page.
type path struct {
	rects []ingest.Box // level rectangles
	lines []ingest.Box // level and upright lines, of no thickness
	other ingest.Box   // around all the rest
	any   bool
	rest  bool
	clip  bool // a clip operator waits for the path to be used
	poly  [6][2]float64
	n     int // points of the open subpath
}

func (p *path) reset() { *p = path{rects: p.rects[:0], lines: p.lines[:0]} }

// mostRects bounds the rectangles of one path.
const mostRects = 100_000

func (p *path) rect(b ingest.Box) {
	p.any = true
	if len(p.rects) < mostRects {
		p.rects = append(p.rects, b)
	} else {
		p.around(b)
	}
}

func (p *path) around(b ingest.Box) {
	p.any = true
	if !p.rest {
		p.other, p.rest = b, true
		return
	}
	p.other = ingest.Box{X0: min(p.other.X0, b.X0), Y0: min(p.other.Y0, b.Y0), X1: max(p.other.X1, b.X1), Y1: max(p.other.Y1, b.Y1)}
}

func (p *path) move(x, y float64) {
	p.end()
	p.poly[0], p.n = [2]float64{x, y}, 1
}

func (p *path) point(x, y float64) {
	if p.n > 0 && p.n < len(p.poly) {
		p.poly[p.n] = [2]float64{x, y}
		p.n++
		return
	}
	p.spill()
	p.around(ingest.Box{X0: x, Y0: y, X1: x, Y1: y})
	p.n = len(p.poly) + 1
}

// spill gives up taking the open subpath for a rectangle.
func (p *path) spill() {
	for _, q := range p.poly[:min(p.n, len(p.poly))] {
		p.around(ingest.Box{X0: q[0], Y0: q[1], X1: q[0], Y1: q[1]})
	}
	p.n = 0
}

// end closes the open subpath: four corners with level sides are a
// rectangle.
func (p *path) end() {
	q := p.poly
	n := p.n
	if n == 5 && q[4] == q[0] {
		n = 4
	}
	level := func(a, b [2]float64) bool { return near(a[1], b[1]) && !near(a[0], b[0]) }
	steep := func(a, b [2]float64) bool { return near(a[0], b[0]) && !near(a[1], b[1]) }
	if n == 4 && (level(q[0], q[1]) && steep(q[1], q[2]) && level(q[2], q[3]) && steep(q[3], q[0]) ||
		steep(q[0], q[1]) && level(q[1], q[2]) && steep(q[2], q[3]) && level(q[3], q[0])) {
		p.rect(ingest.Box{X0: min(q[0][0], q[2][0]), Y0: min(q[0][1], q[2][1]), X1: max(q[0][0], q[2][0]), Y1: max(q[0][1], q[2][1])})
	} else if p.n > 0 && p.n <= len(p.poly) {
		if n == 2 && (level(q[0], q[1]) || steep(q[0], q[1])) && len(p.lines) < mostRects {
			p.lines = append(p.lines, ingest.Box{X0: min(q[0][0], q[1][0]), Y0: min(q[0][1], q[1][1]), X1: max(q[0][0], q[1][0]), Y1: max(q[0][1], q[1][1])})
		}
		p.spill()
	}
	p.n = 0
}

func near(a, b float64) bool { return a-b < 0.01 && b-a < 0.01 }

// bounds is the box around the whole path.
func (p *path) bounds() ingest.Box {
	b, set := p.other, p.rest
	for _, r := range p.rects {
		if !set {
			b, set = r, true
			continue
		}
		b = ingest.Box{X0: min(b.X0, r.X0), Y0: min(b.Y0, r.Y0), X1: max(b.X1, r.X1), Y1: max(b.Y1, r.Y1)}
	}
	return b
}

// draw follows the operators that make, use and clip with paths.
func (in *interpreter) draw(s *state, op string, num func(int) float64, hidden bool) {
	p := &in.paint.path
	at := func(i int) (float64, float64) { return s.ctm.apply(num(i), num(i+1)) }
	switch op {
	case "m":
		p.move(at(0))
	case "l":
		p.point(at(0))
	case "c":
		p.spill()
		for i := 0; i < 6; i += 2 {
			p.point(at(i))
		}
	case "v", "y":
		p.spill()
		p.point(at(0))
		p.point(at(2))
	case "h":
		p.end()
	case "re":
		p.end()
		x, y, w, h := num(0), num(1), num(2), num(3)
		if b := s.ctm.box(x, y, x+w, y+h); s.ctm.upright() {
			p.rect(b)
		} else {
			p.around(b)
		}
	case "W", "W*":
		p.clip = true
	case "f", "F", "f*", "B", "B*", "b", "b*", "S", "s", "n":
		p.end()
		fills := op != "S" && op != "s" && op != "n"
		if op != "n" {
			in.seen.drawn = true
		}
		if fills && p.any && !hidden && !s.clear {
			for _, r := range p.rects {
				in.paint.add(overlap(r, s.clip), s.fill == white, s.solid(), len(in.seen.glyphs))
			}
			if p.rest {
				in.paint.add(overlap(p.other, s.clip), false, false, len(in.seen.glyphs))
			}
		}
		if !hidden {
			in.paint.thin(p, s, fills, op != "f" && op != "F" && op != "f*" && op != "n")
		}
		if p.clip && p.any {
			s.clip = overlap(s.clip, p.bounds())
		}
		p.reset()
	}
}

// A coat is one area that was painted.
type coat struct {
	box   ingest.Box
	white bool
	solid bool // covers all of its box
	after int  // how many glyphs had been drawn before
}

// A painter remembers what was painted, in order.
type painter struct {
	path  path
	coats []coat
	thins []ingest.Box // what is too thin to cover text, and may strike it out
}

// mostCoats bounds the areas remembered; a page beyond it is a drawing.
const mostCoats = 50_000

func (p *painter) add(b ingest.Box, white, solid bool, after int) {
	if b.Width() <= 0 || b.Height() <= 0 || len(p.coats) >= mostCoats {
		return
	}
	p.coats = append(p.coats, coat{b, white, solid, after})
}

// mostLooks bounds how far back beneath looks for one glyph.
const mostLooks = 5_000

// beneath is what the page has at a point: white, unless the last area
// painted there isn't.
func (p *painter) beneath(x, y float64) ink {
	for i, n := len(p.coats)-1, 0; i >= 0; i, n = i-1, n+1 {
		if n == mostLooks {
			return colored
		}
		if c := &p.coats[i]; inside(c.box, x, y, 0) {
			if c.white {
				return white
			}
			return colored
		}
	}
	return white
}

// thinnest is the width in points from which an area can hide text; thinner
// ones are rules and strike-outs.
const thinnest = 3

// cover marks the glyphs that were painted over later. Glyphs are looked up
// by bands of the page.
func (p *painter) cover(glyphs []glyph, page ingest.Box) {
	const band = 16.0
	bands := int(page.Height()/band) + 1
	var byBand [][]int32
	at := func(y float64) int { return min(max(int(y/band), 0), bands-1) }
	looks := 0
	for _, c := range p.coats {
		if !c.solid || c.after == 0 || c.box.Width() < thinnest || c.box.Height() < thinnest {
			continue
		}
		if byBand == nil {
			byBand = make([][]int32, bands)
			for i := range glyphs {
				_, y := glyphs[i].middle()
				byBand[at(y)] = append(byBand[at(y)], int32(i))
			}
		}
		for k := at(c.box.Y0); k <= at(c.box.Y1); k++ {
			for _, i := range byBand[k] {
				if int(i) >= c.after {
					break
				}
				if looks++; looks > 50_000_000 {
					return
				}
				gl := &glyphs[i]
				if gl.ghost == "" && gl.within(c.box) {
					gl.ghost = ghostCovered
				}
			}
		}
	}
}
