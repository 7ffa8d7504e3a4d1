package pdf

import (
	"fmt"
	"math"

	"example.org/windrow/ingest"
	"github.com/ledongthuc/pdf"
)

// A leaf is a page of the page tree with what it inherits (7.7.3.4).
type leaf struct {
	page      pdf.Value
	resources pdf.Value
	media     pdf.Value
	crop      pdf.Value
	rotate    int64
}

// deepest is how far the page tree may be nested; writers use three levels.
const deepest = 64

// pageTree lists the pages in order. It is walked from the root, never along
// /Parent, so that a circle can only make the walk longer, and that is
// bounded.
func (g *guard) pageTree(r *pdf.Reader) []leaf {
	root := r.Trailer().Key("Root")
	top := root.Key("Pages")
	if top.Kind() != pdf.Dict {
		abandon(damaged("the list of pages is missing", "a PDF that lists its pages", "no such list"))
	}
	var leaves []leaf
	nodes := 0
	var walk func(v pdf.Value, in leaf, depth int)
	walk = func(v pdf.Value, in leaf, depth int) {
		g.check()
		nodes++
		if depth > deepest || nodes > 4*g.lim.Pages+1000 {
			abandon(damaged("the list of pages leads in a circle", "a PDF that lists each page once", fmt.Sprintf("more than %d entries", nodes-1)))
		}
		if v.Kind() != pdf.Dict {
			abandon(damaged("a page is missing", "every page that the file lists", fmt.Sprintf("nothing in the place of page %d", len(leaves)+1)))
		}
		for key, to := range map[string]*pdf.Value{"Resources": &in.resources, "MediaBox": &in.media, "CropBox": &in.crop} {
			if x := v.Key(key); x.Kind() != pdf.Null {
				*to = x
			}
		}
		if x := v.Key("Rotate"); x.Kind() != pdf.Null {
			in.rotate = int64(math.Round(x.Float64()))
		}
		if kids := v.Key("Kids"); kids.Kind() == pdf.Array && v.Key("Type").Name() != "Page" {
			for i := range kids.Len() {
				walk(kids.Index(i), in, depth+1)
			}
			return
		}
		if len(leaves) == g.lim.Pages {
			abandon(tooLarge("pages", "the file has more pages than allowed", int64(g.lim.Pages), int64(len(leaves)+1)))
		}
		in.page = v
		leaves = append(leaves, in)
	}
	walk(top, leaf{}, 0)
	if n := top.Key("Count"); n.Kind() == pdf.Integer && n.Int64() != int64(len(leaves)) {
		abandon(damaged("pages are missing", fmt.Sprintf("%d pages, as the file says", n.Int64()), fmt.Sprintf("%d pages", len(leaves))))
	}
	if len(leaves) == 0 {
		abandon(damaged("the file has no page", "a PDF with at least one page", "none"))
	}
	return leaves
}

// frame is the transformation from the page's own coordinates, which grow
// upwards, to points from the top left corner of the page as seen, and the
// size of that page (7.7.3.3: CropBox, Rotate, UserUnit).
func (l leaf) frame() (m matrix, width, height float64) {
	const least, most = 1, 20_000 // points; beyond, the box is a mistake
	x0, y0, x1, y1, ok := rectangle(l.media)
	if !ok || x1-x0 < least || y1-y0 < least || x1-x0 > most || y1-y0 > most {
		x0, y0, x1, y1 = 0, 0, 612, 792
	}
	if a, b, c, d, ok := rectangle(l.crop); ok {
		a, b, c, d = max(a, x0), max(b, y0), min(c, x1), min(d, y1)
		if c-a >= least && d-b >= least {
			x0, y0, x1, y1 = a, b, c, d
		}
	}
	width, height = x1-x0, y1-y0
	switch ((l.rotate % 360) + 360) % 360 {
	case 90:
		m = matrix{b: 1, c: 1, e: -y0, f: -x0}
		width, height = height, width
	case 180:
		m = matrix{a: -1, d: 1, e: x1, f: -y0}
	case 270:
		m = matrix{b: -1, c: -1, e: y1, f: x1}
		width, height = height, width
	default:
		m = matrix{a: 1, d: -1, e: -x0, f: y1}
	}
	if u := l.page.Key("UserUnit").Float64(); u > 0 && u <= 100 && u != 1 {
		m = m.then(matrix{a: u, d: u})
		width, height = width*u, height*u
	}
	return m, width, height
}

func rectangle(v pdf.Value) (x0, y0, x1, y1 float64, ok bool) {
	if v.Len() != 4 {
		return
	}
	a, b, c, d := v.Index(0).Float64(), v.Index(1).Float64(), v.Index(2).Float64(), v.Index(3).Float64()
	x0, y0, x1, y1 = min(a, c), min(b, d), max(a, c), max(b, d)
	return x0, y0, x1, y1, matrix{x0, y0, x1, y1, 0, 0}.finite()
}

// mostAnnotations bounds the notes of one page.
const mostAnnotations = 2000

// annotations notes what lies on the page and is not part of it: filled-in
// form fields and comments that show text. Such text may correct what is
// printed, so it must not pass unmentioned.
func annotations(l leaf, page int, seen *pageSeen) []*ingest.Reason {
	list := l.page.Key("Annots")
	var notes []*ingest.Reason
	for i := range min(list.Len(), mostAnnotations) {
		a := list.Index(i)
		const notShown = 1<<1 | 1<<5 // hidden, no view (12.5.3)
		if a.Kind() != pdf.Dict || a.Key("F").Int64()&notShown != 0 {
			continue
		}
		var what, text string
		switch a.Key("Subtype").Name() {
		case "Widget":
			what, text = "a form field is filled in, and what it says was not read", fieldText(a)
		case "FreeText", "Stamp", "Text", "Highlight", "StrikeOut", "Underline", "Squiggly", "Caret", "Square", "Circle", "Ink", "Line", "Redact":
			what, text = "a comment lies on the page, and what it says was not read", a.Key("Contents").Text()
			if text == "" && a.Key("AP").Key("N").Kind() == pdf.Stream && a.Key("Subtype").Name() == "Stamp" {
				text = "a stamp"
			}
		}
		if text == "" {
			continue
		}
		where := ingest.Place{Page: page}
		if x0, y0, x1, y1, ok := rectangle(a.Key("Rect")); ok {
			b := seen.frame.box(x0, y0, x1, y1)
			where.Box = &b
		}
		notes = append(notes, &ingest.Reason{Code: "annotations", Severity: ingest.Flag, Where: where, What: what,
			Expected: "everything on the page printed into it", Found: shorten(text),
			Next: "look at the page; if the text matters, print the file to a new PDF and put that in its place"})
	}
	return notes
}

// fieldText is the value of a form field, which may stand in its parent.
func fieldText(a pdf.Value) string {
	for range 8 {
		switch v := a.Key("V"); v.Kind() {
		case pdf.String:
			return v.Text()
		case pdf.Name:
			if v.Name() == "Off" {
				return ""
			}
			return v.Name()
		case pdf.Array:
			return v.Index(0).Text()
		}
		if a = a.Key("Parent"); a.Kind() != pdf.Dict {
			break
		}
	}
	return ""
}

// shorten makes a text fit to show: valid, on one line, and not too long.
func shorten(s string) string {
	const most = 80
	var r []rune
	for _, c := range s {
		if c < ' ' {
			c = ' '
		}
		if r = append(r, c); len(r) > most {
			return string(r[:most]) + "…"
		}
	}
	return string(r)
}
