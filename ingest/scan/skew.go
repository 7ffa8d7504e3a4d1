package scan

import (
	"image"
	"math"
)

func sqrt(v float64) float64 { return math.Sqrt(max(0, v)) }

const (
	mostSkew  = 10.0 // degrees that are looked at
	leastSkew = 0.3  // degrees below which a page is left as it is
)

// skew is by how many degrees the lines of a page fall to the right. Seen
// along its lines a page has rows of ink and rows of paper: the angle is the
// one at which they differ most (the projection profile; W. Postl, ICPR 1986).
// The picture has white paper. A page without enough ink has none.
func skew(g *image.Gray, dpi float64) float64 {
	points := ink(g, dpi, 75)
	if len(points) < 200 {
		return 0
	}
	search := func(pts []point, from, to, step float64) float64 {
		best, at := -1.0, 0.0
		for a := from; a <= to+step/2; a += step {
			if s := sharpness(pts, a); s > best {
				best, at = s, a
			}
		}
		return at
	}
	coarse := search(points, -mostSkew, mostSkew, 0.4)
	fine := ink(g, dpi, 150)
	near := search(fine, coarse-0.4, coarse+0.4, 0.1)
	last := search(fine, near-0.1, near+0.1, 0.02)
	// The top of a parabola through the neighbours.
	a, b, c := sharpness(fine, last-0.06), sharpness(fine, last), sharpness(fine, last+0.06)
	if d := a - 2*b + c; d < 0 {
		last += 0.03 * min(max((a-c)/d, -1), 1)
	}
	return last
}

type point struct{ x, y float32 }

// ink is the dark pixels of a picture, made smaller to so many dots an inch.
func ink(g *image.Gray, dpi, want float64) []point {
	k := max(1, int(dpi/want))
	w, h := g.Rect.Dx()/k, g.Rect.Dy()/k
	level := int(otsu(g)) * k * k
	const most = 400_000
	var pts []point
	for y := range h {
		for x := range w {
			s := 0
			for dy := range k {
				at := (y*k+dy)*g.Stride + x*k
				for _, v := range g.Pix[at : at+k] {
					s += int(v)
				}
			}
			if s < level {
				pts = append(pts, point{float32(x), float32(y)})
			}
		}
	}
	if n := len(pts)/most + 1; n > 1 {
		for i := range len(pts) / n {
			pts[i] = pts[i*n]
		}
		pts = pts[:len(pts)/n]
	}
	return pts
}

// sharpness is how much the rows of a page differ from their neighbours when
// it is seen at an angle.
func sharpness(pts []point, degrees float64) float64 {
	t := float32(math.Tan(degrees * math.Pi / 180))
	var low, high float32
	low, high = math.MaxFloat32, -math.MaxFloat32
	for _, p := range pts {
		v := p.y - p.x*t
		low, high = min(low, v), max(high, v)
	}
	rows := make([]float64, int(high-low)+3)
	for _, p := range pts {
		// Each point is shared between two rows, so that the sum is smooth.
		v := p.y - p.x*t - low
		i := int(v)
		f := float64(v) - float64(i)
		rows[i] += 1 - f
		rows[i+1] += f
	}
	var s float64
	for i := 1; i < len(rows); i++ {
		d := rows[i] - rows[i-1]
		s += d * d
	}
	return s
}

// resample turns a picture by so many degrees against its skew about its
// middle and scales it, by cubic interpolation (R. Keys, IEEE Trans. ASSP 29,
// 1981). What comes in from outside is white.
func resample(g *image.Gray, degrees, scale float64) *image.Gray {
	w, h := g.Rect.Dx(), g.Rect.Dy()
	ow, oh := max(1, int(math.Round(float64(w)*scale))), max(1, int(math.Round(float64(h)*scale)))
	if degrees == 0 && ow == w && oh == h {
		return g
	}
	if scale < 0.7 {
		// Made smaller by averaging first, so that thin strokes stay.
		k := int(math.Round(1 / scale))
		if k > 1 {
			g = shrink(g, k)
			scale *= float64(w) / float64(g.Rect.Dx())
			w, h = g.Rect.Dx(), g.Rect.Dy()
		}
	}
	out := image.NewGray(image.Rect(0, 0, ow, oh))
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	sin, cos = sin/scale, cos/scale
	for y := range oh {
		dy := float64(y) + 0.5 - float64(oh)/2
		for x := range ow {
			dx := float64(x) + 0.5 - float64(ow)/2
			sx := dx*cos - dy*sin + float64(w)/2 - 0.5
			sy := dx*sin + dy*cos + float64(h)/2 - 0.5
			out.Pix[y*out.Stride+x] = cubic(g, sx, sy, w, h)
		}
	}
	return out
}

func shrink(g *image.Gray, k int) *image.Gray {
	w, h := g.Rect.Dx()/k, g.Rect.Dy()/k
	out := image.NewGray(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			s := 0
			for dy := range k {
				at := (y*k+dy)*g.Stride + x*k
				for _, v := range g.Pix[at : at+k] {
					s += int(v)
				}
			}
			out.Pix[y*out.Stride+x] = uint8(s / (k * k))
		}
	}
	return out
}

// weights are those of the four pixels around a place between two, by its
// part of the way in 64ths, in 256ths.
var weights = func() (all [65][4]int32) {
	const a = -0.5
	for i := range all {
		f := float64(i) / 64
		f2, f3 := f*f, f*f*f
		w := [4]float64{a*f3 - 2*a*f2 + a*f, (a+2)*f3 - (a+3)*f2 + 1, -(a+2)*f3 + (2*a+3)*f2 - a*f, -a*f3 + a*f2}
		left := int32(256)
		for k := range 4 {
			all[i][k] = int32(math.Round(w[k] * 256))
			left -= all[i][k]
		}
		all[i][1+i/33] += left // they add up to one
	}
	return all
}()

func cubic(g *image.Gray, x, y float64, w, h int) uint8 {
	fx, fy := math.Floor(x), math.Floor(y)
	ix, iy := int(fx), int(fy)
	if ix < -1 || iy < -1 || ix > w || iy > h {
		return 255
	}
	wx, wy := &weights[int((x-fx)*64+0.5)], &weights[int((y-fy)*64+0.5)]
	var sum int32
	if ix >= 1 && iy >= 1 && ix+2 < w && iy+2 < h {
		at := (iy-1)*g.Stride + ix - 1
		for j := range 4 {
			p := g.Pix[at : at+4 : at+4]
			sum += (int32(p[0])*wx[0] + int32(p[1])*wx[1] + int32(p[2])*wx[2] + int32(p[3])*wx[3]) * wy[j]
			at += g.Stride
		}
	} else {
		for j := range 4 {
			yy := iy - 1 + j
			for i := range 4 {
				v := int32(255)
				if xx := ix - 1 + i; xx >= 0 && yy >= 0 && xx < w && yy < h {
					v = int32(g.Pix[yy*g.Stride+xx])
				}
				sum += v * wx[i] * wy[j]
			}
		}
	}
	return uint8(min(255, max(0, (sum+1<<15)>>16)))
}

// quarter turns a picture clockwise by 0, 90, 180 or 270 degrees.
func quarter(g *image.Gray, degrees int) *image.Gray {
	w, h := g.Rect.Dx(), g.Rect.Dy()
	switch degrees {
	case 90, 270:
		out := image.NewGray(image.Rect(0, 0, h, w))
		for y := range h {
			for x := range w {
				if v := g.Pix[y*g.Stride+x]; degrees == 90 {
					out.Pix[x*out.Stride+h-1-y] = v
				} else {
					out.Pix[(w-1-x)*out.Stride+y] = v
				}
			}
		}
		return out
	case 180:
		out := image.NewGray(image.Rect(0, 0, w, h))
		for y := range h {
			for x := range w {
				out.Pix[(h-1-y)*out.Stride+w-1-x] = g.Pix[y*g.Stride+x]
			}
		}
		return out
	}
	return g
}
