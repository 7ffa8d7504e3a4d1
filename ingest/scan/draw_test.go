package scan

import (
	"image"
	"image/color"
	"image/draw"
	"math"
	"math/rand/v2"

	"golang.org/x/image/font"
	"golang.org/x/image/font/basicfont"
	"golang.org/x/image/math/fixed"
)

// drawn is a page drawn for a test: a white letter at so many dots an inch
// with lines of text, each letter so many times as large as the 7 by 13 font.
func drawn(dpi float64, times int, lines []string) *image.Gray {
	w, h := int(8.5*dpi), int(11*dpi)
	page := white(w, h)
	for i, l := range lines {
		put(page, l, int(dpi), int(dpi)+i*times*20, times)
	}
	return page
}

func white(w, h int) *image.Gray {
	g := image.NewGray(image.Rect(0, 0, w, h))
	for i := range g.Pix {
		g.Pix[i] = 255
	}
	return g
}

// put writes a text with its line's left end at x, y.
func put(page *image.Gray, s string, x, y, times int) {
	small := white(7*len(s)+7, 16)
	d := font.Drawer{Dst: small, Src: image.NewUniform(color.Black), Face: basicfont.Face7x13, Dot: fixed.P(0, 12)}
	d.DrawString(s)
	for py := range 16 {
		for px := range small.Rect.Dx() {
			if small.Pix[py*small.Stride+px] < 128 {
				draw.Draw(page, image.Rect(x+px*times, y+(py-12)*times, x+(px+1)*times, y+(py-11)*times), image.Black, image.Point{}, draw.Src)
			}
		}
	}
}

// rule draws a level or upright line.
func rule(page *image.Gray, x0, y0, x1, y1 int) {
	draw.Draw(page, image.Rect(x0, y0, x1, y1), image.Black, image.Point{}, draw.Src)
}

// worn makes a picture what a scanner of an office makes of it: grey paper
// with a shade across it, and noise.
func worn(g *image.Gray, rng *rand.Rand, noise float64) *image.Gray {
	out := image.NewGray(g.Rect)
	w, h := float64(g.Rect.Dx()), float64(g.Rect.Dy())
	for i, v := range g.Pix {
		x, y := float64(i%g.Stride), float64(i/g.Stride)
		paper := 235 - 40*x/w - 30*y/h
		out.Pix[i] = uint8(min(255, max(0, 30+float64(v)/255*(paper-30)+rng.NormFloat64()*noise)))
	}
	return out
}

func darkest(g *image.Gray) (x, y float64) {
	var n, sx, sy float64
	for i, v := range g.Pix {
		d := float64(255 - v)
		if d < 100 {
			continue
		}
		n += d
		sx += d * (float64(i%g.Stride) + 0.5)
		sy += d * (float64(i/g.Stride) + 0.5)
	}
	if n == 0 {
		return math.NaN(), math.NaN()
	}
	return sx / n, sy / n
}
