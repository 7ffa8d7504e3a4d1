package scan

import "image"

// Rules are the lines of a table. Left in, they are read as letters, and a
// letter that touches one is read wrongly.
const (
	shortestLevel   = 1.0  // inches; the feet of a word's letters may join to a shorter line
	shortestUpright = 0.4  // inches; no letter is as high
	thickestRule    = 0.03 // inches; a thicker line is a bar, a logo, or part of a letter
	ruleGap         = 0.01 // inches that a rule may be broken for
)

// withoutRules takes level and upright rules out of a picture with white
// paper. Where a stroke of a letter crosses a rule, the stroke stays.
func withoutRules(g *image.Gray, dpi float64, level uint8) *image.Gray {
	w, h := g.Rect.Dx(), g.Rect.Dy()
	dark := make([]bool, w*h)
	for y := range h {
		for x := range w {
			dark[y*w+x] = g.Pix[y*g.Stride+x] <= level
		}
	}
	out := image.NewGray(g.Rect)
	for y := range h {
		copy(out.Pix[y*out.Stride:y*out.Stride+w], g.Pix[y*g.Stride:y*g.Stride+w])
	}
	thick, gap := max(3, int(thickestRule*dpi+0.5)), max(1, int(ruleGap*dpi))
	level1 := direction{dark, w, h, 1, w}
	upright := direction{dark, h, w, w, 1}
	levelRules, uprightRules := level1.rules(int(shortestLevel*dpi), gap), upright.rules(int(shortestUpright*dpi), gap)
	level1.erase(out, levelRules, uprightRules, thick)
	upright.erase(out, uprightRules, levelRules, thick)
	return out
}

// A direction is a way of going over the pixels of a picture: n along it by m
// across it. step and line lead from a pixel to the next along and across.
type direction struct {
	dark       []bool
	n, m       int
	step, line int
}

// rules marks the dark pixels that belong to a long run along the direction.
// A run may fall by less than a pixel in its length, and may be broken for a
// short way.
func (d direction) rules(long, gap int) []bool {
	marked := make([]bool, len(d.dark))
	for across := range d.m {
		row := across * d.line
		// Dark here or directly beside: a rule that is a little askew goes on in
		// the next row.
		on := func(along int) bool {
			i := along*d.step + row
			return d.dark[i] || across > 0 && d.dark[i-d.line] || across+1 < d.m && d.dark[i+d.line]
		}
		start, last := -1, -1
		for along := 0; along <= d.n; along++ {
			if along < d.n && on(along) {
				if start < 0 {
					start = along
				}
				last = along
				continue
			}
			if start >= 0 && (along == d.n || along-last > gap) {
				if last-start+1 >= long {
					for k := start; k <= last; k++ {
						i := k*d.step + row
						marked[i] = d.dark[i]
					}
				}
				start = -1
			}
		}
	}
	return marked
}

// erase takes marked pixels out where the ink is thin across the direction,
// or where two rules cross.
func (d direction) erase(out *image.Gray, marked, crossing []bool, thick int) {
	for across := range d.m {
		for along := range d.n {
			i := along*d.step + across*d.line
			if !marked[i] {
				continue
			}
			a, b := across, across
			if !crossing[i] {
				for a > 0 && across-a <= thick && d.dark[along*d.step+(a-1)*d.line] {
					a--
				}
				for b+1 < d.m && b-across <= thick && d.dark[along*d.step+(b+1)*d.line] {
					b++
				}
				if b-a+1 > thick {
					continue
				}
			}
			for k := max(0, a-1); k <= min(d.m-1, b+1); k++ {
				x, y := along, k
				if d.step != 1 {
					x, y = k, along
				}
				out.Pix[y*out.Stride+x] = 255
			}
		}
	}
}

// speckFree is how many inches around a speck are free of other ink. A small
// spot beside a figure is left: it may be a decimal point.
const speckFree = 0.05

// withoutSpecks takes out spots of at most so many dark pixels that stand by
// themselves.
func withoutSpecks(g *image.Gray, dpi float64, level uint8, most int) *image.Gray {
	w, h := g.Rect.Dx(), g.Rect.Dy()
	out := image.NewGray(g.Rect)
	for y := range h {
		copy(out.Pix[y*out.Stride:y*out.Stride+w], g.Pix[y*g.Stride:y*g.Stride+w])
	}
	spots := spotsOf(g, level, most)
	reach := max(2, int(speckFree*dpi))
	for _, s := range spots {
		if !s.alone(g, level, reach) {
			continue
		}
		for y := max(0, s.y0-1); y <= min(h-1, s.y1+1); y++ {
			for x := max(0, s.x0-1); x <= min(w-1, s.x1+1); x++ {
				out.Pix[y*out.Stride+x] = 255
			}
		}
	}
	return out
}

// A spot is a piece of connected ink.
type spot struct {
	x0, y0, x1, y1 int // its outermost pixels
	size           int // pixels
}

// alone reports whether there is no other ink within reach.
func (s spot) alone(g *image.Gray, level uint8, reach int) bool {
	n := 0
	for y := max(0, s.y0-reach); y <= min(g.Rect.Dy()-1, s.y1+reach); y++ {
		for _, v := range g.Pix[y*g.Stride+max(0, s.x0-reach) : y*g.Stride+min(g.Rect.Dx(), s.x1+reach+1)] {
			if v <= level {
				n++
			}
		}
	}
	// Another speck or two is no text.
	return n <= 3*s.size
}

// spotsOf finds the pieces of connected ink of at most so many pixels, from
// the top; 0 for of any size.
func spotsOf(g *image.Gray, level uint8, most int) []spot {
	w, h := g.Rect.Dx(), g.Rect.Dy()
	seen := make([]bool, w*h)
	var out []spot
	var queue []int32
	for y := range h {
		for x := range w {
			if seen[y*w+x] || g.Pix[y*g.Stride+x] > level {
				continue
			}
			s := spot{x, y, x, y, 0}
			queue = append(queue[:0], int32(y*w+x))
			seen[y*w+x] = true
			for k := 0; k < len(queue); k++ {
				px, py := int(queue[k])%w, int(queue[k])/w
				s.x0, s.x1, s.y1 = min(s.x0, px), max(s.x1, px), max(s.y1, py)
				s.y0 = min(s.y0, py)
				for ny := max(0, py-1); ny <= min(h-1, py+1); ny++ {
					for nx := max(0, px-1); nx <= min(w-1, px+1); nx++ {
						if !seen[ny*w+nx] && g.Pix[ny*g.Stride+nx] <= level {
							seen[ny*w+nx] = true
							queue = append(queue, int32(ny*w+nx))
						}
					}
				}
			}
			if s.size = len(queue); most == 0 || s.size <= most {
				out = append(out, s)
			}
		}
	}
	return out
}
