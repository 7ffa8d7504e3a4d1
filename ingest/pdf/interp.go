package pdf

import (
	"math"
	"strings"

	"example.org/windrow/ingest"
	"github.com/ledongthuc/pdf"
)

// A state is the graphics state (8.4), as far as text depends on it.
type state struct {
	ctm       matrix
	clip      ingest.Box
	font      *font
	size      float64
	char      float64 // Tc
	word      float64 // Tw
	scale     float64 // Tz, 1 for 100 %
	lead      float64 // TL
	rise      float64 // Ts
	mode      int     // Tr
	fill      ink
	space     pdf.Value // fill colour space, null for a device space set by g, rg, k
	clear     bool      // painted fully transparent
	stroke    ink       // of lines, with their own colour space, width and transparency
	lineSpace pdf.Value
	width     float64
	clearLine bool
	sheer     bool // painted partly transparent
	mixed     bool // mixed with what lies beneath
	masked    bool // painted through a soft mask
}

// solid reports whether a fill hides what lies beneath it.
func (s *state) solid() bool {
	return !s.clear && !s.sheer && !s.mixed && !s.masked && s.fill != pattern
}

// The bounds of one page. A page of a report has a few thousand glyphs.
const (
	mostStates = 512
	mostGlyphs = 2_000_000
	mostForms  = 12
)

// An interpreter runs the content of one page.
type interpreter struct {
	g      *guard
	fonts  *fontCache
	hidden map[string]bool
	seen   *pageSeen
	paint  painter
	ops    int
	inside []string // forms being run, to notice one that shows itself
}

// A pageSeen is what the page shows.
type pageSeen struct {
	frame         matrix
	width, height float64
	glyphs        []glyph
	pictures      float64 // share of the page that its largest picture covers
	drawn         bool    // anything was painted at all
}

// readPage runs the content of a page.
func (g *guard) readPage(l leaf, fonts *fontCache, hidden map[string]bool) *pageSeen {
	seen := &pageSeen{glyphs: g.glyphs[:0]}
	seen.frame, seen.width, seen.height = l.frame()
	in := &interpreter{g: g, fonts: fonts, hidden: hidden, seen: seen}
	page := ingest.Box{X1: seen.width, Y1: seen.height}
	s := state{ctm: seen.frame, scale: 1, width: 1, clip: page}
	// What lies off the page is kept and marked, so the page itself must not
	// clip: the clip starts out without bounds.
	s.clip = ingest.Box{X0: -everywhere, Y0: -everywhere, X1: everywhere, Y1: everywhere}
	b := g.content(l.page.Key("Contents"))
	if n := min(len(b)/8, 1<<14); cap(seen.glyphs) < n {
		seen.glyphs = make([]glyph, 0, n)
	}
	in.run(b, l.resources, s)
	in.paint.cover(seen.glyphs, page)
	in.paint.strike(seen.glyphs, page)
	for i := range seen.glyphs {
		gl := &seen.glyphs[i]
		if x, y := gl.middle(); gl.ghost == "" && !inside(page, x, y, 1) {
			gl.ghost = ghostOff
		}
	}
	return seen
}

const everywhere = 1e12

// A resource is a resource dictionary, with the texts in which the object
// layer shows which object each name stands for.
type resource struct {
	dict               pdf.Value
	fonts, forms       pdf.Value
	fontRefs, formRefs string
}

func newResource(v pdf.Value) *resource {
	r := &resource{dict: v, fonts: v.Key("Font"), forms: v.Key("XObject")}
	r.fontRefs, r.formRefs = r.fonts.String(), r.forms.String()
	return r
}

// run interprets one content stream: a page's, or a form's.
func (in *interpreter) run(b []byte, resources pdf.Value, s state) {
	res := newResource(resources)
	l := &lexer{b: b, most: mostOperands}
	var stack []state
	tm, line := identity, identity
	var marks []bool // marked content that is open; true where it hides
	hiding := 0
	var props string
	path := &in.paint.path
	path.reset()
	local := map[string]*font{}

	for op := l.next(); op != ""; op = l.next() {
		if in.ops++; in.ops&1023 == 0 {
			in.g.check()
		}
		a := l.args
		num := func(i int) float64 {
			if i < len(a) {
				return a[i].num
			}
			return 0
		}
		str := func(i int) []byte {
			if i >= 0 && i < len(a) {
				return a[i].bytes
			}
			return nil
		}
		nextLine := func(x, y float64) {
			line = line.shifted(x, y)
			tm = line
		}
		show := func(b []byte, jump bool) { tm = in.show(&s, tm, b, jump, hiding > 0) }
		switch op {
		case "q":
			if len(stack) < mostStates {
				stack = append(stack, s)
			}
		case "Q":
			if n := len(stack); n > 0 {
				s, stack = stack[n-1], stack[:n-1]
			}
		case "cm":
			if m := (matrix{num(0), num(1), num(2), num(3), num(4), num(5)}).then(s.ctm); m.finite() {
				s.ctm = m
			}
		case "gs":
			in.extState(&s, res, string(str(0)), local)

		case "BT":
			tm, line = identity, identity
		case "w":
			s.width = num(0)
		case "Tc":
			s.char = num(0)
		case "Tw":
			s.word = num(0)
		case "Tz":
			s.scale = num(0) / 100
		case "TL":
			s.lead = num(0)
		case "Ts":
			s.rise = num(0)
		case "Tr":
			s.mode = int(num(0))
		case "Tf":
			n := string(str(0))
			f := local[n]
			if f == nil {
				f = in.fonts.of(res.fonts, res.fontRefs, n)
				local[n] = f
			}
			s.font, s.size = f, num(1)
		case "Td":
			nextLine(num(0), num(1))
		case "TD":
			s.lead = -num(1)
			nextLine(num(0), num(1))
		case "Tm":
			if m := (matrix{num(0), num(1), num(2), num(3), num(4), num(5)}); m.finite() {
				tm, line = m, m
			}
		case "T*":
			nextLine(0, -s.lead)
		case "Tj":
			show(str(0), true)
		case "'":
			nextLine(0, -s.lead)
			show(str(0), true)
		case "\"":
			s.word, s.char = num(0), num(1)
			nextLine(0, -s.lead)
			show(str(2), true)
		case "TJ":
			if len(a) == 0 {
				break
			}
			jump := true
			for _, o := range a[len(a)-1].list {
				switch o.kind {
				case text:
					show(o.bytes, jump)
					jump = false
				case number:
					tm = tm.shifted(-o.num/1000*s.size*s.scale, 0)
				}
			}

		case "BMC", "BDC":
			hides := false
			if op == "BDC" && string(str(0)) == "OC" && len(in.hidden) > 0 {
				if props == "" {
					props = res.dict.Key("Properties").String()
				}
				hides = in.hidden[reference(props, string(str(1)))]
			}
			if len(marks) < 1<<16 {
				marks = append(marks, hides)
				if hides {
					hiding++
				}
			}
		case "EMC":
			if n := len(marks); n > 0 {
				if marks[n-1] {
					hiding--
				}
				marks = marks[:n-1]
			}

		case "Do":
			in.object(&s, res, string(str(0)), hiding > 0)
		case "BI":
			l.skipInlineImage()
			in.picture(&s, false)
		case "sh":
			in.paint.add(s.clip, false, false, len(in.seen.glyphs))
			in.seen.drawn = true
		default:
			in.color(&s, res, op, a)
			in.draw(&s, op, num, hiding > 0)
		}
	}
	if l.cut {
		abandon(damaged("a page breaks off in the middle", "a page with all its contents", "a text or list that never ends"))
	}
}

// show draws a string and returns the text matrix behind it (9.4.4).
func (in *interpreter) show(s *state, tm matrix, b []byte, jump, hidden bool) matrix {
	f := s.font
	if f == nil {
		f = noFont
	}
	m := matrix{a: s.size * s.scale, d: s.size, f: s.rise}.then(tm).then(s.ctm)
	length := math.Hypot(m.a, m.b)
	ux, uy := 1.0, 0.0
	if length > 0 {
		ux, uy = m.a/length, m.b/length
	}
	// The height of an em is measured across the line, not along slanted stems.
	high := math.Abs(m.a*m.d - m.b*m.c)
	if length > 0 {
		high /= length
	}
	ascent, descent := f.ascent*high, f.descent*high
	if ux*m.d-uy*m.c > 0 { // drawn mirrored: its top is below the line
		ascent, descent = -descent, -ascent
	}
	ghost := ""
	switch {
	case hidden || s.mode == 3 || s.clear || high == 0:
		ghost = ghostInvisible
	}
	// Where glyphs come next in text space, and what that is on the page.
	perX, perY := tm.then(s.ctm).a, tm.then(s.ctm).b
	x, y := m.e, m.f
	moved := 0.0
	for len(b) > 0 {
		var c shown
		c, b = f.next(b)
		advance := c.width * s.size * s.scale
		gap := s.char * s.scale
		if c.blank {
			gap += s.word * s.scale
		}
		gl := glyph{
			text: c.text, x: x, y: y, ex: x + advance*perX, ey: y + advance*perY,
			ux: ux, uy: uy, size: high * f.em, ascent: ascent, descent: descent,
			spaced: gap * math.Hypot(perX, perY), jump: jump, ghost: ghost,
		}
		jump = false
		in.place(s, &gl)
		moved += advance + gap
		x, y = m.e+moved*perX, m.f+moved*perY
	}
	return tm.shifted(moved, 0)
}

// place keeps a glyph, having found out whether it can be seen.
func (in *interpreter) place(s *state, gl *glyph) {
	if len(in.seen.glyphs) >= mostGlyphs {
		abandon(tooLarge("glyphs", "a page has more characters than any page can hold", mostGlyphs, mostGlyphs+1))
	}
	if len(in.seen.glyphs)&4095 == 0 {
		in.g.check()
	}
	for _, v := range [...]float64{gl.x, gl.y, gl.ex, gl.ey, gl.size} {
		if math.IsNaN(v) || math.Abs(v) > farAway {
			gl.x, gl.y, gl.ex, gl.ey, gl.size, gl.ghost = farAway, farAway, farAway, farAway, 0, ghostOff
			gl.ascent, gl.descent = 0, 0
			break
		}
	}
	if gl.ghost == "" && gl.text != " " {
		x, y := gl.middle()
		switch {
		case !inside(s.clip, x, y, 0.5):
			gl.ghost = ghostClipped
		case s.fill == white && s.mode&3 == 0 && in.paint.beneath(x, y) == white:
			gl.ghost = ghostWhite
		}
	}
	in.seen.glyphs = append(in.seen.glyphs, *gl)
}

// farAway is where glyphs are put that lie beyond all bounds.
const farAway = 1e5

// noFont is used where a stream shows text without having chosen a font, or
// the font is missing: every character is unknown.
var noFont = func() *font {
	f := &font{simple: true, em: 1, ascent: 0.75, descent: -0.25}
	for i := range f.chars {
		f.chars[i], f.widths[i] = unknown, 0.5
	}
	return f
}()

// extState applies a named set of parameters (8.4.5).
func (in *interpreter) extState(s *state, res *resource, n string, local map[string]*font) {
	e := res.dict.Key("ExtGState").Key(n)
	if f := e.Key("Font"); f.Len() == 2 {
		key := "gs/" + n
		if local[key] == nil {
			local[key] = in.g.loadFont(f.Index(0))
		}
		s.font, s.size = local[key], f.Index(1).Float64()
	}
	for _, k := range e.Keys() {
		switch v := e.Key(k); k {
		case "ca":
			s.clear = v.Float64() == 0
			s.sheer = v.Float64() < 1
		case "CA":
			s.clearLine = v.Float64() == 0
		case "LW":
			s.width = v.Float64()
		case "BM":
			m := v.Name()
			if v.Kind() == pdf.Array {
				m = v.Index(0).Name()
			}
			s.mixed = m != "Normal" && m != "Compatible"
		case "SMask":
			s.masked = v.Kind() == pdf.Dict
		}
	}
}

// object draws a form or a picture (8.8, 8.10).
func (in *interpreter) object(s *state, res *resource, n string, hidden bool) {
	x := res.forms.Key(n)
	ref := reference(res.formRefs, n)
	if x.Kind() != pdf.Stream {
		if ref != "" {
			abandon(damaged("a part of a page is missing", "everything that the page is made of", "nothing in one of its places"))
		}
		return
	}
	if oc := reference(x.String(), "OC"); oc != "" && in.hidden[oc] {
		hidden = true
	}
	switch x.Key("Subtype").Name() {
	case "Image":
		stencil := x.Key("ImageMask").Bool()
		solid := !stencil && x.Key("SMask").Kind() == pdf.Null && x.Key("Mask").Kind() == pdf.Null
		if !hidden {
			in.picture(s, solid)
		}
	case "Form":
		for _, r := range in.inside {
			if r == ref && ref != "" {
				return // it shows itself; viewers stop here too
			}
		}
		if len(in.inside) >= mostForms {
			abandon(notSupported("drawings within drawings", "more than 12 levels"))
		}
		g := *s
		if m := x.Key("Matrix"); m.Len() == 6 {
			f := func(i int) float64 { return m.Index(i).Float64() }
			if t := (matrix{f(0), f(1), f(2), f(3), f(4), f(5)}).then(s.ctm); t.finite() {
				g.ctm = t
			}
		}
		if x0, y0, x1, y1, ok := rectangle(x.Key("BBox")); ok {
			g.clip = overlap(g.clip, g.ctm.box(x0, y0, x1, y1))
		}
		g.clear = g.clear || hidden
		r := x.Key("Resources")
		if r.Kind() == pdf.Null {
			r = res.dict
		}
		in.inside = append(in.inside, ref)
		in.run(in.g.decode(x, in.g.budget), r, g)
		in.inside = in.inside[:len(in.inside)-1]
	}
}

// picture notes a picture that fills the unit square.
func (in *interpreter) picture(s *state, solid bool) {
	in.seen.drawn = true
	b := overlap(s.ctm.box(0, 0, 1, 1), s.clip)
	on := overlap(b, ingest.Box{X1: in.seen.width, Y1: in.seen.height})
	in.seen.pictures = max(in.seen.pictures, on.Width()*on.Height()/(in.seen.width*in.seen.height))
	in.paint.add(b, false, solid && s.ctm.upright() && !s.clear && !s.sheer && !s.mixed && !s.masked, len(in.seen.glyphs))
}

// hiddenLayers are the objects of the layers that the file's own settings
// switch off (8.11.4).
func hiddenLayers(r *pdf.Reader) map[string]bool {
	oc := r.Trailer().Key("Root").Key("OCProperties")
	d := oc.Key("D")
	hidden := map[string]bool{}
	each := func(v pdf.Value, on bool) {
		if v.Kind() != pdf.Array {
			return
		}
		f := strings.Fields(strings.Trim(v.String(), "[]"))
		for i := 0; i+2 < len(f); i++ {
			if digits(f[i]) && digits(f[i+1]) && f[i+2] == "R" {
				hidden[f[i]+" "+f[i+1]+" R"] = on
			}
		}
	}
	if d.Key("BaseState").Name() == "OFF" {
		each(oc.Key("OCGs"), true)
		each(d.Key("ON"), false)
	}
	each(d.Key("OFF"), true)
	return hidden
}
