package scan

import (
	"image"
	"slices"
)

// paper is the share of a patch's pixels that are taken to be darker than its
// paper: high enough to be paper also under a line of text.
const paper = 0.8

// flatten takes the shade of the paper out of a picture: afterwards paper is
// white and ink is dark, wherever on the page it is. The patches on which the
// shade is measured are a tenth of an inch.
func flatten(g *image.Gray, dpi float64) *image.Gray {
	w, h := g.Rect.Dx(), g.Rect.Dy()
	step := max(4, int(dpi/10))
	cols, rows := (w+step-1)/step, (h+step-1)/step
	shade := make([]float64, cols*rows)
	for r := range rows {
		for c := range cols {
			var hist [256]int
			n := 0
			for y := r * step; y < min(h, (r+1)*step); y++ {
				for _, v := range g.Pix[y*g.Stride+c*step : y*g.Stride+min(w, (c+1)*step)] {
					hist[v]++
					n++
				}
			}
			seen := 0
			for v := range hist {
				if seen += hist[v]; float64(seen) >= paper*float64(n) {
					shade[r*cols+c] = float64(v)
					break
				}
			}
		}
	}
	// A patch that is all ink (a bar, a logo) takes its paper from around it.
	smooth := make([]float64, len(shade))
	const reach = 2
	var near [(2*reach + 1) * (2*reach + 1)]float64
	for r := range rows {
		for c := range cols {
			list := near[:0]
			for y := max(0, r-reach); y <= min(rows-1, r+reach); y++ {
				list = append(list, shade[y*cols+max(0, c-reach):y*cols+min(cols, c+reach+1)]...)
			}
			slices.Sort(list)
			smooth[r*cols+c] = max(1, list[len(list)*3/4])
		}
	}
	out := image.NewGray(image.Rect(0, 0, w, h))
	at := func(i, n int) (int, int, float64) {
		f := (float64(i)+0.5)/float64(step) - 0.5
		a := min(max(int(f), 0), n-1)
		return a, min(a+1, n-1), min(max(f-float64(a), 0), 1)
	}
	for y := range h {
		r0, r1, fy := at(y, rows)
		for x := range w {
			c0, c1, fx := at(x, cols)
			top := smooth[r0*cols+c0]*(1-fx) + smooth[r0*cols+c1]*fx
			low := smooth[r1*cols+c0]*(1-fx) + smooth[r1*cols+c1]*fx
			bg := top*(1-fy) + low*fy
			out.Pix[y*out.Stride+x] = uint8(min(255, float64(g.Pix[y*g.Stride+x])*255/bg))
		}
	}
	return out
}

// otsu is the level that parts the pixels best into dark and light (N. Otsu,
// IEEE Trans. Syst. Man Cybern. 9, 1979: the level of the largest variance
// between the two).
func otsu(g *image.Gray) uint8 {
	var hist [256]float64
	w, h := g.Rect.Dx(), g.Rect.Dy()
	for y := range h {
		for _, v := range g.Pix[y*g.Stride : y*g.Stride+w] {
			hist[v]++
		}
	}
	var all, sum float64
	for v, n := range hist {
		all += n
		sum += float64(v) * n
	}
	best, first, last := -1.0, 128, 128
	var n0, s0 float64
	for v := range 255 {
		n0 += hist[v]
		s0 += float64(v) * hist[v]
		n1 := all - n0
		if n0 == 0 || n1 == 0 {
			continue
		}
		d := s0/n0 - (sum-s0)/n1
		switch between := n0 * n1 * d * d; {
		case between > best*(1+1e-9):
			best, first, last = between, v, v
		case between >= best*(1-1e-9):
			last = v
		}
	}
	// Where many levels part alike, as in a picture that is black and white
	// already, the one in the middle.
	return uint8((first + last) / 2)
}

// sauvola makes a picture black and white by a level for each pixel, from the
// mean and the spread of those around it (J. Sauvola, M. Pietikäinen, Pattern
// Recognition 33, 2000, with their k and R).
func sauvola(g *image.Gray, dpi float64) *image.Gray {
	const k, span = 0.3, 128.0
	w, h := g.Rect.Dx(), g.Rect.Dy()
	half := max(4, int(dpi/16))
	// Sums over everything above and to the left, for the mean and the spread.
	sums := make([]int64, (w+1)*(h+1))
	squares := make([]int64, (w+1)*(h+1))
	for y := range h {
		var s, q int64
		for x := range w {
			v := int64(g.Pix[y*g.Stride+x])
			s += v
			q += v * v
			i := (y+1)*(w+1) + x + 1
			sums[i] = sums[i-w-1] + s
			squares[i] = squares[i-w-1] + q
		}
	}
	out := image.NewGray(image.Rect(0, 0, w, h))
	for y := range h {
		y0, y1 := max(0, y-half), min(h, y+half+1)
		for x := range w {
			x0, x1 := max(0, x-half), min(w, x+half+1)
			n := float64((y1 - y0) * (x1 - x0))
			a, b, c, d := y1*(w+1)+x1, y0*(w+1)+x1, y1*(w+1)+x0, y0*(w+1)+x0
			mean := float64(sums[a]-sums[b]-sums[c]+sums[d]) / n
			v := float64(squares[a]-squares[b]-squares[c]+squares[d])/n - mean*mean
			level := mean * (1 + k*(sqrt(v)/span-1))
			if float64(g.Pix[y*g.Stride+x]) > level {
				out.Pix[y*out.Stride+x] = 255
			}
		}
	}
	return out
}
