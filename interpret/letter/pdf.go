package letter

import (
	"io"
	"strconv"
	"time"
)

// US Letter, in points, and what is left free around the text.
const (
	paperWidth, paperHeight = 612, 792
	left, right             = 42, 42
	above, below            = 29, 33
	textWidth               = paperWidth - left - right
)

// sizes are the scales that a letter is tried at, until it is one page, or
// until all but its small print is: that goes on the back then. Below the last
// it would be hard to read, and runs over to a second page instead: no text is
// smaller than 9.5 points then, and no small print than 7.
var sizes = []struct{ scale, line, gap float64 }{{1, 1.22, 1}, {0.985, 1.2, 0.85}, {0.97, 1.17, 0.65}, {0.97, 1.15, 0.5}}

// undated stands in the file for the date of a letter that has none, so that
// the same letter gives the same bytes.
var undated = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

// PDF writes the letter as a PDF file: one page of US Letter where it fits,
// with its title and language, the text in the order in which it is read, and
// words in place of the pictures for those who listen. The same letter gives
// the same bytes: dates in the file are the date of the advice.
func (l *Letter) PDF(w io.Writer) error {
	v := newView(l)
	p := newPen()
	s := &sheet{pen: p, v: v, scale: 1, lead: sizes[0].line, gap: 1}
	pages := s.fitted()
	on, err := time.Parse(time.DateOnly, l.Advice.On)
	if err != nil {
		on = undated
	}
	p.pdf.SetCreationDate(on)
	p.pdf.SetModificationDate(on)
	p.pdf.SetTitle(p.fit(v.Title), true)
	p.pdf.SetAuthor(p.fit(l.Office.Name), true)
	p.pdf.SetSubject(p.fit(v.say("heading")), true)
	p.pdf.SetCreator("Windrow", true)
	p.pdf.SetProducer("Windrow", true)
	p.pdf.SetLang(v.Lang())
	s.draw(pages)
	return p.pdf.Output(w)
}

// A block is a part of the page that stays together.
type block struct {
	gap  float64 // above it, except at the top of a page
	h    float64
	keep bool // with the next one
	draw func(y float64)
}

func height(bs []block) float64 {
	h := 0.0
	for i, b := range bs {
		if i > 0 {
			h += b.gap
		}
		h += b.h
	}
	return h
}

const (
	pageHeight = paperHeight - above - below
	// unnumbered is what a page gains that is the only one: no number stands
	// below its text.
	unnumbered = 11
)

// fitted are the pages of the letter, at the largest scale that is short
// enough.
func (s *sheet) fitted() [][]block {
	for _, k := range sizes {
		s.scale, s.lead, s.gap = k.scale, k.line, k.gap
		if all := append(s.blocks(), s.footer()...); height(all) <= pageHeight+unnumbered {
			return [][]block{all}
		}
	}
	// Two pages, then, in the largest type. The second is not left to the small
	// print: who signs goes with it, and whatever else the first has no room for.
	s.scale, s.lead, s.gap = sizes[0].scale, sizes[0].line, sizes[0].gap
	if main := s.blocks(); len(main) > 1 && height(main) <= pageHeight {
		last := len(main) - 1
		return append([][]block{main[:last]}, split(append(main[last:], s.footer()...))...)
	} else if all := split(append(main, s.footer()...)); len(all) == 2 {
		return all
	}
	s.scale, s.lead, s.gap = sizes[1].scale, sizes[1].line, sizes[1].gap
	return split(append(s.blocks(), s.footer()...))
}

// split puts blocks on as many pages as they need.
func split(blocks []block) [][]block {
	var pages [][]block
	var page []block
	for i := 0; i < len(blocks); {
		n := 1
		for blocks[i+n-1].keep && i+n < len(blocks) {
			n++
		}
		group := blocks[i : i+n]
		if len(page) > 0 && height(append(page[:len(page):len(page)], group...)) > pageHeight {
			pages = append(pages, page)
			page = nil
		}
		page = append(page, group...)
		i += n
	}
	return append(pages, page)
}

// draw draws the pages, with their numbers where there is more than one.
func (s *sheet) draw(pages [][]block) {
	for n, page := range pages {
		s.pen.pdf.AddPage()
		y := float64(above)
		for i, b := range page {
			if i > 0 {
				y += b.gap
			}
			s.ink(ink)
			b.draw(y)
			y += b.h
		}
		if len(pages) > 1 {
			s.ink(soft)
			f := face{size: 7.6}
			t := s.v.say("page", "page", strconv.Itoa(n+1), "pages", strconv.Itoa(len(pages))) + " · " + s.v.say("record", "id", s.v.Record)
			s.pen.write(s.pen.wrap(t, f, textWidth), f, left, paperHeight-below+4)
		}
	}
}
