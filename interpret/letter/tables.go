package letter

import (
	"encoding/hex"
	"strings"
	"unicode/utf16"

	"github.com/go-pdf/fpdf"
)

// A column of a table: where it begins and how wide its text may be.
type column struct{ x, w float64 }

// row draws the cells of one line of a table, with a hairline under it. Each
// cell is lines in one or more faces, one under the other.
type cell struct {
	lines []string
	face  face
}

func tallest(cells [][]cell) float64 {
	h := 0.0
	for _, c := range cells {
		one := 0.0
		for _, l := range c {
			one += float64(len(l.lines)) * l.face.lead()
		}
		h = max(h, one)
	}
	return h
}

func (s *sheet) row(cols []column, cells [][]cell, under color, thick float64, extra func(y, h float64)) block {
	for _, c := range cells {
		for i := range c {
			c[i].lines = most(c[i].lines, 12)
		}
	}
	h := tallest(cells) + 1.6*s.gap
	return block{h: h, draw: func(y float64) {
		s.ink(ink)
		for i, c := range cells {
			if i == 2 && extra != nil {
				extra(y, h)
			}
			at := y + (h-tallest([][]cell{c}))/2
			for _, l := range c {
				at = s.write(l.lines, l.face, cols[i].x, at)
			}
		}
		s.rule(left, y+h, textWidth, thick, under)
	}}
}

// whole is a result with what else it may be known as.
func (f found) whole() string {
	return strings.TrimSpace(strings.TrimSpace(f.Printed+" "+f.Unit) + " " + f.Same)
}

func (s *sheet) foundRows() []block {
	v, f, b, small := s.v, s.face(body), s.bold(body), s.face(tiny)
	const pictures, widest = 174, 112
	x := [6]float64{0, 0, 0, 0, textWidth, textWidth}
	says := make([][]string, len(v.Found))
	for _, r := range v.Found {
		x[1] = max(x[1], s.width(s.fit(r.Name), b)+10)
		x[2] = max(x[2], s.width(s.fit(r.Printed+" "+r.Unit), f)+10, s.width(s.fit(r.Same), small)+10)
		if w := s.width(s.fit(r.whole()), f) + 10; w <= widest {
			x[2] = max(x[2], w) // on one line
		}
	}
	hf := s.bold(8.4)
	x[1] = min(x[1], 130)
	x[2] = min(max(x[2], s.width(v.say("col_result"), hf)+10), widest)
	x[2] += x[1]
	x[3] = x[2] + pictures + 10
	keys := []string{"col_test", "col_result", "col_where", "col_means"}
	if v.LabSays {
		wide := min(s.width(v.say("col_lab"), hf)+1, 84)
		for i, r := range v.Found {
			word := r.Lab
			if r.Differs {
				word += " *"
			}
			says[i] = s.wrap(word, small, 78)
			for _, l := range says[i] {
				wide = max(wide, s.width(l, small))
			}
		}
		x[4] = textWidth - wide
		keys = append(keys, "col_lab")
	}
	cols := make([]column, len(keys))
	for i := range cols {
		cols[i] = column{left + x[i], x[i+1] - x[i] - 8}
	}
	cols[len(cols)-1].w += 8
	var heads [][]cell
	for i, key := range keys {
		heads = append(heads, []cell{{s.wrap(v.say(key), hf, cols[i].w), hf}})
	}
	head := s.row(cols, heads, soft, 0.7, nil)
	head.keep, head.gap = true, 2
	out := []block{head}
	for i, r := range v.Found {
		means := []cell{{s.wrap(r.Means, f, cols[3].w), f}, {}}
		if r.Bar != nil {
			means[1] = cell{s.wrap(r.Extra, small, cols[3].w), small}
		}
		value := []cell{{s.wrap(r.Printed+" "+r.Unit, f, cols[1].w), f}, {s.wrap(r.Same, small, cols[1].w), small}}
		if whole := r.whole(); s.width(s.fit(whole), f) <= cols[1].w {
			value = []cell{{s.wrap(whole, f, cols[1].w), f}}
		}
		cells := [][]cell{{{s.wrap(r.Name, b, cols[0].w), b}}, value, {{[]string{""}, face{size: 12.8}}}, means}
		if v.LabSays {
			cells = append(cells, []cell{{says[i], small}})
		}
		if r.Bar == nil {
			cells[2] = []cell{{[]string{"–"}, f}}
			if r.Extra != "" {
				cells[2] = []cell{{s.wrap(r.Extra, small, cols[2].w), small}}
			}
		}
		row := s.row(cols, cells, hair, 0.4, func(y, h float64) {
			if r.Bar != nil {
				s.picture(r.Bar, cols[2].x, y+(h-pictureHeight)/2, pictures)
			}
		})
		out = append(out, row)
	}
	return out
}

const pictureHeight = 15.6

// picture draws a bar. For those who listen, and for who copies the text, its
// words stand in place of those in the boxes.
func (s *sheet) picture(b *bar, x, y, width float64) {
	k := width / float64(barWidth)
	s.pdf.RawWriteStr("/Span <</ActualText <" + utf16Hex(s.fit(b.Alt)) + ">>> BDC")
	s.line(soft)
	f := face{size: 7}
	for _, good := range []bool{false, true} { // the right ones last, so that their outline is whole
		for _, o := range b.Boxes {
			if o.Good != good {
				continue
			}
			s.fill(color{255, 255, 255})
			s.pdf.SetLineWidth(0.5)
			if good {
				s.fill(shade)
				s.pdf.SetLineWidth(1.2)
			}
			s.pdf.Rect(x+float64(o.X)*k, y+5.6, float64(o.W)*k, 10, "FD")
		}
	}
	for _, o := range b.Boxes {
		s.write(s.wrap(o.Text, f, float64(o.W)*k-1), f, x+float64(o.X)*k+2.4, y+6.6)
	}
	if b.Mark >= 0 {
		m := x + float64(b.Mark)*k
		s.fill(ink)
		s.pdf.Polygon([]fpdf.PointType{{X: m - 4, Y: y}, {X: m + 4, Y: y}, {X: m, Y: y + 5.6}}, "F")
	}
	s.pdf.RawWriteStr("EMC")
}

// utf16Hex is a text as a PDF string in hexadecimal, with its byte order mark.
func utf16Hex(s string) string {
	b := []byte{0xFE, 0xFF}
	for _, u := range utf16.Encode([]rune(s)) {
		b = append(b, byte(u>>8), byte(u))
	}
	return hex.EncodeToString(b)
}

func (s *sheet) amountRows() []block {
	v := s.v
	if len(v.Columns) == 0 {
		return nil
	}
	f, small, hf := s.face(body), s.face(tiny), s.bold(8.4)
	n := len(v.Columns)
	wide := make([]float64, n)
	for _, g := range v.Groups {
		for _, r := range g.Rows {
			for i := range min(n, len(r.Values)) {
				wide[i] = max(wide[i], s.width(s.fit(r.Values[i].Lb), f)+10)
				for _, h := range r.Values[i].Helps {
					wide[i] = max(wide[i], s.width(s.fit(h), small)+10)
				}
			}
		}
	}
	total := 0.0
	for i, c := range v.Columns {
		one := s.width(s.fit(c), hf) + 10 // on one line where that is not much
		if one > 86 {
			one = 80
		}
		wide[i] = max(wide[i], one)
		total += wide[i]
	}
	what := s.width(v.say("col_add"), hf) + 10
	for _, g := range v.Groups {
		for _, r := range g.Rows {
			what = min(max(what, s.width(s.fit(r.What), f)+10), 172)
		}
	}
	cols := []column{{left, what - 8}, {left + what, textWidth - what - total - 10}}
	x := left + textWidth - total
	for _, w := range wide {
		cols = append(cols, column{x, w - 8})
		x += w
	}
	heads := [][]cell{{{s.wrap(v.say("col_add"), hf, cols[0].w), hf}}, {{s.wrap(v.say("col_when"), hf, cols[1].w), hf}}}
	for i, c := range v.Columns {
		heads = append(heads, []cell{{s.wrap(c, hf, cols[i+2].w), hf}})
	}
	head := s.row(cols, heads, soft, 0.7, nil)
	head.keep, head.gap = true, 2
	out := []block{head}
	for _, g := range v.Groups {
		b := s.para(g.Name, s.bold(body), 2*s.gap, ink)
		b.keep = true
		out = append(out, b)
		for _, r := range g.Rows {
			cells := [][]cell{{{s.wrap(r.What, f, cols[0].w), f}, {s.wrap(r.Bags, small, cols[0].w), small}}, {{s.wrap(r.How, f, cols[1].w), f}}}
			for i := range min(n, len(r.Values)) {
				one := []cell{{s.wrap(r.Values[i].Lb, f, cols[i+2].w), f}}
				for _, h := range r.Values[i].Helps {
					one = append(one, cell{s.wrap(h, small, cols[i+2].w), small})
				}
				cells = append(cells, one)
			}
			out = append(out, s.row(cols, cells, hair, 0.4, nil))
		}
	}
	return out
}
