package pdf

import (
	"math"

	"example.org/windrow/ingest"
)

// A matrix is a coordinate transformation (8.3.3): x' = ax+cy+e, y' = bx+dy+f.
type matrix struct{ a, b, c, d, e, f float64 }

var identity = matrix{a: 1, d: 1}

// then is the transformation m followed by n.
func (m matrix) then(n matrix) matrix {
	return matrix{
		m.a*n.a + m.b*n.c, m.a*n.b + m.b*n.d,
		m.c*n.a + m.d*n.c, m.c*n.b + m.d*n.d,
		m.e*n.a + m.f*n.c + n.e, m.e*n.b + m.f*n.d + n.f,
	}
}

// shifted is a move by x, y followed by m.
func (m matrix) shifted(x, y float64) matrix {
	m.e, m.f = m.apply(x, y)
	return m
}

func (m matrix) apply(x, y float64) (float64, float64) {
	return m.a*x + m.c*y + m.e, m.b*x + m.d*y + m.f
}

// box is the smallest upright box around the transformed rectangle.
func (m matrix) box(x0, y0, x1, y1 float64) ingest.Box {
	ax, ay := m.apply(x0, y0)
	bx, by := m.apply(x1, y0)
	cx, cy := m.apply(x0, y1)
	dx, dy := m.apply(x1, y1)
	return ingest.Box{X0: min(ax, bx, cx, dx), Y0: min(ay, by, cy, dy), X1: max(ax, bx, cx, dx), Y1: max(ay, by, cy, dy)}
}

// finite reports whether every element is a number of a sane size.
func (m matrix) finite() bool {
	for _, v := range [...]float64{m.a, m.b, m.c, m.d, m.e, m.f} {
		if math.IsNaN(v) || math.Abs(v) > 1e12 {
			return false
		}
	}
	return true
}

// upright reports whether rectangles stay rectangles with level sides.
func (m matrix) upright() bool {
	const slack = 1e-3
	s := math.Abs(m.a) + math.Abs(m.b) + math.Abs(m.c) + math.Abs(m.d)
	return math.Abs(m.b)+math.Abs(m.c) < slack*s || math.Abs(m.a)+math.Abs(m.d) < slack*s
}

func inside(b ingest.Box, x, y, slack float64) bool {
	return x >= b.X0-slack && x <= b.X1+slack && y >= b.Y0-slack && y <= b.Y1+slack
}

func overlap(a, b ingest.Box) ingest.Box {
	o := ingest.Box{X0: max(a.X0, b.X0), Y0: max(a.Y0, b.Y0), X1: min(a.X1, b.X1), Y1: min(a.Y1, b.Y1)}
	o.X1, o.Y1 = max(o.X0, o.X1), max(o.Y0, o.Y1)
	return o
}
