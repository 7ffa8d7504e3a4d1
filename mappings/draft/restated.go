package draft

import (
	"strconv"
	"strings"
)

// leastRatio is how far two columns of one test must be from the same number
// to be taken for the test in two units: the same number under two units is one
// unit too many.
const leastRatio = 1.03

// restates reports whether two columns of one test give it in two units or as
// two forms of the element: their numbers go together, row by row, by one
// factor. A column of amounts to apply, which falls where the other rises, does
// not. One row tells nothing.
func (d *drafter) restates(o, c *column) bool {
	a, _, _ := unitOf(d.v, o.unit)
	b, _, _ := unitOf(d.v, c.unit)
	if o.reads != "" || c.reads != "" || o.m.basis == c.m.basis && (a == b || a == "" || b == "") {
		return false
	}
	lo, hi := 0.0, 0.0
	least, most := 0.0, 0.0
	rows := 0
	for i := range min(len(o.cells), len(c.cells)) {
		x, halfX, ok := plainNumber(o.cells[i])
		y, halfY, ok2 := plainNumber(c.cells[i])
		if !ok || !ok2 {
			continue
		}
		if x <= halfX || y <= halfY {
			continue // a nought goes with every nought
		}
		from, to := (y-halfY)/(x+halfX)/rounded, (y+halfY)/(x-halfX)*rounded
		if rows == 0 {
			lo, hi, least, most = from, to, x, x
		}
		lo, hi, least, most = max(lo, from), min(hi, to), min(least, x), max(most, x)
		if lo > hi {
			return false
		}
		rows++
	}
	return rows > 1 && most > 1.1*least && (lo > leastRatio || hi < 1/leastRatio)
}

// rounded is by how much factors may be rounded that a laboratory reckons by.
const rounded = 1.005

// plainNumber is a number as printed with half a unit of its last digit.
func plainNumber(text string) (v, half float64, ok bool) {
	text = strings.TrimSpace(text)
	if !strings.Contains(text, ".") && strings.Count(text, ",") == 1 {
		text = strings.Replace(text, ",", ".", 1)
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || !isNumber(text) {
		return 0, 0, false
	}
	half = 0.5
	if _, decimals, has := strings.Cut(text, "."); has {
		for range decimals {
			half /= 10
		}
	}
	return v, half, true
}
