package scan

import (
	"image"
	"strings"
	"unicode"
)

// Recognisers lose decimal points, and are sure of themselves when they do:
// two readings of 7.5 may agree on 75. So the points of every number are also
// counted in the picture, by their shape alone.
const (
	mostPoint  = 0.45 // of the height of the figures: what is wider is no point
	mostComma  = 0.5  // and a comma, which hangs below them, is no higher
	leastPoint = 0.09
	lowPoint   = 0.62 // a point's middle is at least so far down the figures
	tallFigure = 0.6  // what is at least so high is a figure
)

// points counts the spots in a number's box that look like a decimal point:
// small, low, and with a figure on each side. known is false where the
// figures can't be told from each other, as when they touch a stain.
func points(g *image.Gray, box image.Rectangle, level uint8) (n int, known bool) {
	box = box.Intersect(g.Rect)
	if box.Dx() < 3 || box.Dy() < 5 {
		return 0, false
	}
	cut := &image.Gray{Pix: g.Pix[g.PixOffset(box.Min.X, box.Min.Y):], Stride: g.Stride, Rect: image.Rect(0, 0, box.Dx(), box.Dy())}
	spots := spotsOf(cut, level, 0)
	var top, low, first, last int
	figures := 0
	h := float64(box.Dy())
	for _, s := range spots {
		if float64(s.y1-s.y0+1) < tallFigure*h {
			continue
		}
		if figures == 0 {
			top, low, first, last = s.y0, s.y1, s.x0, s.x1
		}
		top, low, first, last = min(top, s.y0), max(low, s.y1), min(first, s.x0), max(last, s.x1)
		figures++
	}
	if figures == 0 {
		return 0, false
	}
	tall := float64(low - top + 1)
	for _, s := range spots {
		w, t := float64(s.x1-s.x0+1), float64(s.y1-s.y0+1)
		mid := (float64(s.y0+s.y1)/2 - float64(top)) / tall
		if w > mostPoint*tall || t > mostComma*tall || max(w, t) < leastPoint*tall || mid < lowPoint || float64(s.y0-top) < lowPoint*tall-1 {
			continue
		}
		if s.x0 > first && s.x1 < last {
			n++
		}
	}
	return n, true
}

// isNumber reports whether a text is a number or is meant to be one: it has a
// figure, and nothing but what belongs to figures.
func isNumber(s string) bool {
	s = strings.TrimLeft(s, "<>~=+-(\u2264\u2265")
	s = strings.TrimRight(s, "%)*;:.,\u2020\u2021")
	has := false
	for _, r := range s {
		switch {
		case unicode.IsDigit(r):
			has = true
		case r == '.' || r == ',':
		default:
			return false
		}
	}
	return has
}

// pointsFit reports whether a number read has as many points within it as the
// picture shows. What is no number always fits.
func pointsFit(text string, box image.Rectangle, g *image.Gray, level uint8) bool {
	if !isNumber(text) {
		return true
	}
	inner := strings.Trim(text, "<>~=+-()%*;:.,\u2264\u2265\u2020\u2021")
	// What stands around the figures is not counted in the picture either.
	want := strings.Count(inner, ".") + strings.Count(inner, ",")
	n, known := points(g, box, level)
	return known && n == want
}
