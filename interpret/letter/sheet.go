package letter

import (
	"slices"
	"strings"
)

// The colors of the page. All are dark enough to read in print without color.
type color [3]int

var (
	ink   = color{0x1d, 0x1d, 0x1b}
	soft  = color{0x3c, 0x3c, 0x39}
	green = color{0x2c, 0x3a, 0x28}
	hair  = color{0xb9, 0xb9, 0xad}
	shade = color{0xd4, 0xd9, 0xcb}
)

// A sheet lays a letter out at one scale.
type sheet struct {
	*pen
	v     *view
	scale float64
	lead  float64 // from line to line, in sizes
	gap   float64 // of the space between parts
}

func (s *sheet) ink(c color)  { s.pdf.SetTextColor(c[0], c[1], c[2]) }
func (s *sheet) line(c color) { s.pdf.SetDrawColor(c[0], c[1], c[2]) }
func (s *sheet) fill(c color) { s.pdf.SetFillColor(c[0], c[1], c[2]) }

func (s *sheet) face(size float64) face { return face{size: size * s.scale, line: s.lead} }
func (s *sheet) bold(size float64) face { return face{bold: true, size: size * s.scale, line: s.lead} }

// Sizes of the text before scaling.
const (
	body  = 9.8
	tiny  = 8.3
	foot  = 7.3
	large = 11.2
)

// blocks are the parts of the letter from top to bottom, measured at the
// sheet's scale.
func (s *sheet) blocks() []block {
	v := s.v
	out := []block{s.head(), s.top(), s.bottomLine()}
	if len(v.Questions) > 0 {
		out = append(out, s.box(v.Need, v.Questions, "")...)
	}
	if len(v.Found) > 0 {
		out = append(out, s.heading(v.say("found")))
		out = append(out, s.foundRows()...)
		out = append(out, s.paras(v.Others, s.face(body), 2*s.gap, ink)...)
		out = append(out, s.paras(v.Picture+" "+v.Rest, s.face(tiny), 2*s.gap, soft)...)
		for _, t := range v.Explain {
			out = append(out, s.paras(t, s.face(tiny), 1*s.gap, soft)...)
		}
	}
	if v.Fit {
		out = append(out, s.heading(v.say("todo")))
		out = append(out, s.amountRows()...)
		for _, t := range v.Also {
			out = append(out, s.paras(t, s.face(body), 2.5*s.gap, ink)...)
		}
		for i, t := range v.Notes {
			out = append(out, s.paras(t, s.face(tiny), []float64{2.5, 0.5}[min(i, 1)]*s.gap, soft)...)
		}
		if len(v.NotAtAll) > 0 {
			b := s.para(v.say("not_at_all"), s.bold(body), 3*s.gap, ink)
			b.keep = true
			out = append(out, b)
			out = append(out, s.items(v.NotAtAll, s.face(body), 2)...)
		}
	}
	if l := v.Lead; l != nil {
		out = append(out, s.box(l.Head, l.Do, l.Refer)...)
	}
	if len(v.Cautions) > 0 {
		out = append(out, s.heading(v.say("care")))
		out = append(out, s.items(v.Cautions, s.face(tiny+0.2), 2)...)
	}
	return append(out, s.end())
}

// para is a paragraph over the width of the text.
func (s *sheet) para(text string, f face, gap float64, c color) block {
	return s.lines(s.wrap(text, f, textWidth), f, gap, c)
}

func (s *sheet) lines(lines []string, f face, gap float64, c color) block {
	return block{gap: gap, h: float64(len(lines)) * f.lead(), draw: func(y float64) {
		s.ink(c)
		s.write(lines, f, left, y)
	}}
}

// paras is a paragraph that may go over to another page.
func (s *sheet) paras(text string, f face, gap float64, c color) []block {
	var out []block
	for lines := range slices.Chunk(s.wrap(text, f, textWidth), 12) {
		out = append(out, s.lines(lines, f, gap, c))
		gap = 0
	}
	return out
}

func (s *sheet) rule(x, y, w, thick float64, c color) {
	s.line(c)
	s.pdf.SetLineWidth(thick)
	s.pdf.Line(x, y, x+w, y)
}

func (s *sheet) heading(text string) block {
	f := s.bold(10.6)
	lines := s.wrap(text, f, textWidth)
	h := float64(len(lines))*f.lead() + 1.5
	return block{gap: 4.5 * s.gap, h: h, keep: true, draw: func(y float64) {
		s.ink(green)
		s.write(lines, f, left, y)
		s.rule(left, y+h, textWidth, 0.6, hair)
	}}
}

// head is the office's name with where to reach it.
func (s *sheet) head() block {
	v := s.v
	name, small := s.bold(13.5), s.face(8.6)
	var contact []string
	for _, a := range v.Contact {
		contact = append(contact, most(s.wrap(a, small, 250), 4)...)
	}
	wide := 0.0
	for _, c := range contact {
		wide = max(wide, s.width(c, small))
	}
	names := most(s.wrap(v.Office.Name, name, textWidth-wide-24), 4)
	h := max(float64(len(names))*name.lead(), float64(len(contact))*small.lead()) + 5
	return block{h: h + 3, draw: func(y float64) {
		s.ink(green)
		s.write(names, name, left, y+h-5-float64(len(names))*name.lead())
		s.ink(soft)
		at := y + h - 5 - float64(len(contact))*small.lead()
		for _, c := range contact {
			s.write([]string{c}, small, paperWidth-right-s.width(c, small), at)
			at += small.lead()
		}
		s.rule(left, y+h, textWidth, 1.1, green)
		s.rule(left, y+h+2.2, textWidth, 0.5, green)
	}}
}

// top is what the letter is, to whom and when, beside what it is about.
func (s *sheet) top() block {
	v := s.v
	f, small, hf := s.face(body), s.face(8.6), s.bold(12.2)
	names, width := 0.0, 270.0
	facts := append(append([]fact{}, v.About...), fact{v.say("fact_record"), v.Record})
	for _, a := range facts {
		names = max(names, s.width(s.fit(a.Name), small))
	}
	values := make([][]string, len(facts))
	rows, widest := 0, 0.0
	for i, a := range facts {
		values[i] = most(s.wrap(a.Value, small, width-names-9), 3)
		if len(values[i]) == 0 {
			values[i] = []string{""}
		}
		rows += len(values[i])
		for _, l := range values[i] {
			widest = max(widest, s.width(l, small))
		}
	}
	room := textWidth - widest - names - 9 - 18
	title := s.wrap(v.say("heading"), hf, room)
	var to []string
	for _, t := range v.To {
		to = append(to, most(s.wrap(t, f, room), 3)...)
	}
	to = append(most(to, 9), "")
	to = append(to, most(s.wrap(v.Dear, f, room-14), 2)...)
	blank := 0.55 * f.lead() // a line of air above the greeting is less than a line
	h := max(float64(len(title))*hf.lead()+2+float64(len(to))*f.lead()-blank, float64(rows)*small.lead())
	return block{gap: 5 * s.gap, h: h, draw: func(y float64) {
		s.ink(green)
		at := s.write(title, hf, left, y) + 2
		s.ink(ink)
		for _, l := range to {
			if l == "" {
				at -= blank
			}
			at = s.write([]string{l}, f, left, at)
		}
		x := paperWidth - right - widest
		for i, a := range facts {
			s.ink(soft)
			name := s.fit(a.Name)
			s.write([]string{name}, small, x-9-s.width(name, small), y)
			s.ink(ink)
			y = s.write(values[i], small, x, y)
		}
	}}
}

func (s *sheet) bottomLine() block {
	f := s.bold(large)
	lines := most(s.wrap(strings.Join(s.v.Bottom, " "), f, textWidth-14), 8)
	h := float64(len(lines))*f.lead() + 4
	return block{gap: 5 * s.gap, h: h, draw: func(y float64) {
		s.fill(green)
		s.pdf.Rect(left, y, 3.2, h, "F")
		s.write(lines, f, left+13, y+2)
	}}
}

// box is a framed list under a heading, with a last line that stands out. One
// that is too long for a frame is a list without.
func (s *sheet) box(head string, items []string, last string) []block {
	hf, f := s.bold(10.6), s.face(body)
	const pad = 10
	heads := s.wrap(head, hf, textWidth-2*pad)
	h := float64(len(heads))*hf.lead() + 9
	var wrapped [][]string
	for _, t := range items {
		w := s.wrap(t, f, textWidth-2*pad-10)
		wrapped = append(wrapped, w)
		h += float64(len(w))*f.lead() + 1
	}
	bf := s.bold(body)
	lasts := s.wrap(last, bf, textWidth-2*pad-10)
	h += float64(len(lasts)) * bf.lead()
	if h > pageHeight/2 {
		out := append([]block{s.heading(head)}, s.items(items, f, 1)...)
		return append(out, s.paras(last, bf, 2, ink)...)
	}
	return []block{{gap: 7 * s.gap, h: h, draw: func(y float64) {
		s.line(ink)
		s.pdf.SetLineWidth(1.1)
		s.pdf.Rect(left, y, textWidth, h, "D")
		y = s.write(heads, hf, left+pad, y+3.5)
		for _, w := range wrapped {
			s.bullet(left+pad, y, f)
			y = s.write(w, f, left+pad+10, y) + 1
		}
		if len(lasts) > 0 {
			s.bullet(left+pad, y, bf)
			s.write(lasts, bf, left+pad+10, y)
		}
	}}}
}

// bullet is drawn and not written, so that nobody who listens hears it.
func (s *sheet) bullet(x, y float64, f face) {
	s.fill(ink)
	s.pdf.Circle(x+2.4, y+f.size*0.66, f.size*0.12, "F")
}

// items is a list in one or two columns; it may go over to another page
// between two of its rows.
func (s *sheet) items(items []string, f face, columns int) []block {
	const gutter = 20
	columns = min(columns, max(1, len(items)))
	width := (textWidth - gutter*float64(columns-1)) / float64(columns)
	wrapped := make([][]string, len(items))
	for i, t := range items {
		wrapped[i] = s.wrap(t, f, width-10)
	}
	if columns == 1 {
		var out []block
		for _, w := range wrapped {
			first := true
			for part := range slices.Chunk(w, 12) {
				dot := first
				out = append(out, block{gap: 1, h: float64(len(part)) * f.lead(), draw: func(y float64) {
					s.ink(ink)
					if dot {
						s.bullet(left, y, f)
					}
					s.write(part, f, left+10, y)
				}})
				first = false
			}
		}
		return out
	}
	tall := func(ws [][]string) float64 {
		h := 0.0
		for _, w := range ws {
			h += float64(len(w))*f.lead() + 1.5
		}
		return h
	}
	cut := len(wrapped)
	for n := range wrapped {
		if max(tall(wrapped[:n]), tall(wrapped[n:])) < max(tall(wrapped[:cut]), tall(wrapped[cut:])) {
			cut = n
		}
	}
	if max(tall(wrapped[:cut]), tall(wrapped[cut:])) > pageHeight/2 {
		return s.items(items, f, 1)
	}
	return []block{{gap: 2, h: max(tall(wrapped[:cut]), tall(wrapped[cut:])), draw: func(y float64) {
		s.ink(ink)
		for i, half := range [][][]string{wrapped[:cut], wrapped[cut:]} {
			x, at := left+float64(i)*(width+gutter), y
			for _, w := range half {
				s.bullet(x, at, f)
				at = s.write(w, f, x+10, at) + 1.5
			}
		}
	}}}
}

// end is when to test again, beside who signs.
func (s *sheet) end() block {
	f := s.face(body)
	const signs = 150
	var sign []string
	wide := float64(signs)
	if s.v.Again == "" {
		wide = textWidth - 14 // room for the sign of what was cut
	}
	by := s.v.Sign
	if len(by) == 0 {
		by = []string{s.v.Office.Name}
	}
	for _, l := range by {
		sign = append(sign, most(s.wrap(l, f, wide), 4)...)
	}
	sign = most(sign, 9)
	signed := float64(len(sign)) * f.lead()
	if s.v.Again == "" {
		return block{gap: 9 * s.gap, h: signed, draw: func(y float64) { s.write(sign, f, left, y) }}
	}
	hf, af := s.bold(10.6), s.face(tiny+0.2)
	const width = textWidth - signs - 24
	again := s.wrap(s.v.Again, af, width)
	h := hf.lead() + 3 + float64(len(again))*af.lead()
	return block{gap: 7 * s.gap, h: max(h, signed), draw: func(y float64) {
		s.ink(green)
		s.write(s.wrap(s.v.say("again"), hf, width), hf, left, y)
		s.rule(left, y+hf.lead()+1.5, width, 0.6, hair)
		s.ink(ink)
		s.write(again, af, left, y+hf.lead()+3)
		s.write(sign, f, paperWidth-right-signs, y+max(h, signed)-signed)
	}}
}

// footer is the small print.
func (s *sheet) footer() []block {
	v, f := s.v, s.face(foot)
	texts := []string{strings.Join(append(append([]string{}, v.Small...), v.ReadWith), " ")}
	if u := v.Untranslated(); u != "" {
		texts = append(texts, u)
	}
	if v.Lead != nil && v.Lead.History != "" {
		texts = append(texts, v.Lead.History)
	}
	if len(v.Sources) > 0 {
		var list []string
		for _, x := range v.Sources {
			list = append(list, x.Text+x.Note)
		}
		texts = append(texts, v.say("sources")+" "+strings.Join(list, "; ")+".")
	}
	if s.lost {
		texts = append(texts, v.say("not_drawn"))
	}
	var out []block
	if len(v.Disclosure) > 0 {
		out = append(out, s.paras(strings.Join(v.Disclosure, " "), s.bold(foot), 1.5, soft)...)
	}
	for _, t := range texts {
		out = append(out, s.paras(t, f, 1.5, soft)...)
	}
	first := out[0].draw
	out[0].gap = 7 * s.gap
	out[0].draw = func(y float64) {
		s.rule(left, y-3, textWidth, 0.5, soft)
		first(y)
	}
	return out
}
