package second

import (
	"image"
	"math"
	"unicode"
	"unicode/utf16"

	"example.org/windrow/ingest"
	"github.com/klippa-app/go-pdfium/enums"
	"github.com/klippa-app/go-pdfium/references"
	"github.com/klippa-app/go-pdfium/requests"
)

// A glyph is one character of a page, with a box in points from the top left
// corner of the page as seen. A blank has text " ".
type glyph struct {
	index int
	text  rune
	box   ingest.Box
	bad   bool // the file doesn't say what it means
}

// A view is how a page's own coordinates, which grow upwards, become points
// from the top left corner of the page as seen.
type view struct {
	x0, y0, x1, y1 float64 // the visible part of the page
	turn           int     // quarters clockwise
}

func (v view) size() (w, h float64) {
	w, h = v.x1-v.x0, v.y1-v.y0
	if v.turn%2 == 1 {
		w, h = h, w
	}
	return w, h
}

func (v view) point(x, y float64) (float64, float64) {
	switch v.turn {
	case 1:
		return y - v.y0, x - v.x0
	case 2:
		return v.x1 - x, y - v.y0
	case 3:
		return v.y1 - y, v.x1 - x
	}
	return x - v.x0, v.y1 - y
}

func (v view) box(left, bottom, right, top float64) ingest.Box {
	ax, ay := v.point(left, bottom)
	bx, by := v.point(right, top)
	return ingest.Box{X0: round(min(ax, bx)), Y0: round(min(ay, by)), X1: round(max(ax, bx)), Y1: round(max(ay, by))}
}

func round(v float64) float64 { return math.Round(v*1000) / 1000 }

// A page is one open page.
type page struct {
	*file
	ref  requests.Page
	text references.FPDF_TEXTPAGE
	view view
}

// page opens a page, from 0, does some work and closes it.
func (f *file) page(i int, work func(*page)) {
	f.check()
	loaded := must(f.p.FPDF_LoadPage(&requests.FPDF_LoadPage{Document: f.doc, Index: i})).Page
	ref := requests.Page{ByReference: &loaded}
	pg := &page{file: f, ref: ref}
	r := must(f.p.FPDF_GetPageBoundingBox(&requests.FPDF_GetPageBoundingBox{Page: ref})).Rect
	pg.view = view{x0: float64(min(r.Left, r.Right)), y0: float64(min(r.Bottom, r.Top)), x1: float64(max(r.Left, r.Right)), y1: float64(max(r.Bottom, r.Top))}
	pg.view.turn = int(must(f.p.FPDFPage_GetRotation(&requests.FPDFPage_GetRotation{Page: ref})).PageRotation) & 3
	work(pg)
	must(f.p.FPDF_ClosePage(&requests.FPDF_ClosePage{Page: loaded}))
}

// readText gives the characters of the page to work. At most so many.
func (pg *page) readText(most int, work func([]glyph)) {
	pg.text = must(pg.p.FPDFText_LoadPage(&requests.FPDFText_LoadPage{Page: pg.ref})).TextPage
	n := must(pg.p.FPDFText_CountChars(&requests.FPDFText_CountChars{TextPage: pg.text})).Count
	if n > most {
		abandon(tooLarge("words", "the file has more text than allowed", int64(most), int64(n)))
	}
	glyphs := make([]glyph, 0, n)
	var high rune
	for i := range n {
		if i%256 == 255 {
			pg.check()
		}
		c := rune(must(pg.p.FPDFText_GetUnicode(&requests.FPDFText_GetUnicode{TextPage: pg.text, Index: i})).Unicode)
		if utf16.IsSurrogate(c) {
			if high == 0 {
				high = c
				continue
			}
			c = utf16.DecodeRune(high, c)
		}
		high = 0
		g := glyph{index: i, text: c}
		switch {
		case c == 0x02 || c == 0xfffe || c == 0xad:
			g.text = '-' // how the engine gives a hyphen at the end of a line
		case unicode.IsSpace(c) || c == 0xa0:
			g.text = ' '
		case c == 0 || unicode.IsControl(c) || c == unicode.ReplacementChar || unicode.Is(unicode.Co, c):
			g.text, g.bad = unicode.ReplacementChar, true
		}
		if g.text != ' ' {
			b, err := pg.p.FPDFText_GetLooseCharBox(&requests.FPDFText_GetLooseCharBox{TextPage: pg.text, Index: i})
			if err != nil {
				continue // a character without a place is not on the page
			}
			g.box = pg.view.box(float64(b.Rect.Left), float64(b.Rect.Bottom), float64(b.Rect.Right), float64(b.Rect.Top))
			if far := max(math.Abs(g.box.X0), math.Abs(g.box.Y0), math.Abs(g.box.X1), math.Abs(g.box.Y1)); !(far < farthest) {
				continue
			}
		}
		glyphs = append(glyphs, g)
	}
	work(glyphs)
	must(pg.p.FPDFText_ClosePage(&requests.FPDFText_ClosePage{TextPage: pg.text}))
}

// farthest is how many points off the page a character may stand; farther
// ones come of damage.
const farthest = 50_000.0

// mostGlyphs is how many characters may stand for one word of the limits.
const mostGlyphs = 12

// mostObjects bounds how many parts of a page are looked at for pictures.
const mostObjects = 2000

// pictured reports whether there is a picture on the page.
func (pg *page) pictured() bool {
	n := must(pg.p.FPDFPage_CountObjects(&requests.FPDFPage_CountObjects{Page: pg.ref})).Count
	for i := range min(n, mostObjects) {
		o := must(pg.p.FPDFPage_GetObject(&requests.FPDFPage_GetObject{Page: pg.ref, Index: i})).PageObject
		switch must(pg.p.FPDFPageObj_GetType(&requests.FPDFPageObj_GetType{PageObject: o})).Type {
		case enums.FPDF_PAGEOBJ_IMAGE, enums.FPDF_PAGEOBJ_FORM:
			return true
		}
	}
	return false
}

// The dots an inch at which a page is drawn whose picture doesn't say better.
const (
	usualDots = 300.0
	leastDots = 100.0
	mostDots  = 400.0
)

// dots is the resolution of the largest picture on the page.
func (pg *page) dots() float64 {
	n := must(pg.p.FPDFPage_CountObjects(&requests.FPDFPage_CountObjects{Page: pg.ref})).Count
	best, most := usualDots, uint(0)
	for i := range min(n, mostObjects) {
		o := must(pg.p.FPDFPage_GetObject(&requests.FPDFPage_GetObject{Page: pg.ref, Index: i})).PageObject
		if must(pg.p.FPDFPageObj_GetType(&requests.FPDFPageObj_GetType{PageObject: o})).Type != enums.FPDF_PAGEOBJ_IMAGE {
			continue
		}
		r, err := pg.p.FPDFImageObj_GetImageMetadata(&requests.FPDFImageObj_GetImageMetadata{ImageObject: o, Page: pg.ref})
		if err != nil {
			continue
		}
		m := r.ImageMetadata
		if size := m.Width * m.Height; size > most && m.HorizontalDPI > 0 {
			most, best = size, float64(max(m.HorizontalDPI, m.VerticalDPI))
		}
	}
	if best < leastDots || best > mostDots {
		return usualDots
	}
	return math.Round(best*10) / 10
}

// MostPixels bounds a picture of a page: an A3 page at 300 dots per inch.
const MostPixels = 24_000_000

// picture draws the page. The picture is the caller's own.
func (pg *page) picture(dpi float64, grey bool) image.Image {
	w, h := pg.view.size()
	px, py := int(math.Round(w*dpi/72)), int(math.Round(h*dpi/72))
	if px < 1 || py < 1 || float64(px)*float64(py) > MostPixels {
		abandon(tooLarge("pixels", "the page is too large to be drawn", MostPixels, int64(w*dpi/72*h*dpi/72)))
	}
	q := &requests.RenderPageInPixels{Page: pg.ref, Width: px, Height: py, RenderFlags: enums.FPDF_RENDER_FLAG_ANNOT}
	if grey {
		q.ImageFormat = requests.RenderImageFormatGrayscale
	}
	r := must(pg.p.RenderPageInPixels(q))
	defer r.Cleanup() // the pixels are the engine's until then
	switch m := r.Result.RenderedImage.(type) {
	case *image.Gray:
		c := image.NewGray(image.Rect(0, 0, m.Rect.Dx(), m.Rect.Dy()))
		for y := range c.Rect.Dy() {
			copy(c.Pix[y*c.Stride:(y+1)*c.Stride], m.Pix[y*m.Stride:])
		}
		return c
	case *image.RGBA:
		c := image.NewRGBA(image.Rect(0, 0, m.Rect.Dx(), m.Rect.Dy()))
		for y := range c.Rect.Dy() {
			copy(c.Pix[y*c.Stride:(y+1)*c.Stride], m.Pix[y*m.Stride:])
		}
		return c
	}
	abandon(engineFailed())
	return nil
}
