package chart

import (
	"bytes"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"math"

	"golang.org/x/image/font"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"
)

var shades = [...]color.Gray{black: {0x1a}, grey: {0x6a}, pale: {0xd9}, white: {0xff}}

// PNG is the drawing as a picture of scale times as many dots as it has units;
// 2 gives 192 dots to the inch. The same drawing gives the same bytes.
func (d *Drawing) PNG(scale float64) ([]byte, error) {
	img := image.NewGray(image.Rect(0, 0, int(math.Ceil(d.Wide*scale)), int(math.Ceil(d.High*scale))))
	draw.Draw(img, img.Bounds(), image.White, image.Point{}, draw.Src)
	faces := map[label]font.Face{} // by size and weight alone
	for _, it := range d.items {
		switch it := it.(type) {
		case area:
			fillPolygon(img, it.points, it.ink, scale)
		case stroke:
			for _, part := range pieces(it) {
				fillPolygon(img, part, it.ink, scale)
			}
		case label:
			kind := label{size: it.size, bold: it.bold}
			f := faces[kind]
			if f == nil {
				var err error
				if f, err = face(it.bold, it.size*scale); err != nil {
					return nil, err
				}
				faces[kind] = f
			}
			x := it.at.x * scale
			switch wide := float64(font.MeasureString(f, it.text)) / 64; it.anchor {
			case middle:
				x -= wide / 2
			case end:
				x -= wide
			}
			dr := font.Drawer{Dst: img, Src: image.NewUniform(shades[black]), Face: f, Dot: fixed.Point26_6{X: fixed.Int26_6(x * 64), Y: fixed.Int26_6(it.at.y * scale * 64)}}
			dr.DrawString(it.text)
		}
	}
	var b bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&b, img); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// pieces are the rectangles that a stroke is made of: one for each part of the
// line between two points, or for each dash of it.
func pieces(s stroke) (out [][]point) {
	for i := 1; i < len(s.points); i++ {
		a, b := s.points[i-1], s.points[i]
		long := math.Hypot(b.x-a.x, b.y-a.y)
		if long == 0 {
			continue
		}
		ux, uy := (b.x-a.x)/long, (b.y-a.y)/long
		dash, gap := long, 0.0
		if s.dash > 0 {
			dash, gap = s.dash, s.dash
		}
		for at := 0.0; at < long; at += dash + gap {
			to := math.Min(at+dash, long)
			from, more := at, 0.0
			if s.dash == 0 && len(s.points) > 2 {
				more = s.width / 2 // so that corners close
			}
			from, to = from-more, to+more
			nx, ny := -uy*s.width/2, ux*s.width/2
			out = append(out, []point{{a.x + ux*from + nx, a.y + uy*from + ny}, {a.x + ux*to + nx, a.y + uy*to + ny}, {a.x + ux*to - nx, a.y + uy*to - ny}, {a.x + ux*from - nx, a.y + uy*from - ny}})
		}
	}
	return out
}

func fillPolygon(img *image.Gray, points []point, in ink, scale float64) {
	low, high := point{math.Inf(1), math.Inf(1)}, point{math.Inf(-1), math.Inf(-1)}
	for _, p := range points {
		low = point{math.Min(low.x, p.x*scale), math.Min(low.y, p.y*scale)}
		high = point{math.Max(high.x, p.x*scale), math.Max(high.y, p.y*scale)}
	}
	box := image.Rect(int(math.Floor(low.x)), int(math.Floor(low.y)), int(math.Ceil(high.x)), int(math.Ceil(high.y))).Intersect(img.Bounds())
	if box.Empty() {
		return
	}
	r := vector.NewRasterizer(box.Dx(), box.Dy())
	for i, p := range points {
		x, y := float32(p.x*scale-float64(box.Min.X)), float32(p.y*scale-float64(box.Min.Y))
		if i == 0 {
			r.MoveTo(x, y)
		} else {
			r.LineTo(x, y)
		}
	}
	r.ClosePath()
	r.Draw(img, box, image.NewUniform(shades[in]), image.Point{})
}
