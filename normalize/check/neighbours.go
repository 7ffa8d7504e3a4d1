package check

import (
	"fmt"
	"math"
	"sort"
)

// enough is how many samples of a report must have a test before one of them
// is judged by the others.
const enough = 6

// A column is what the samples of a report have for one test, as printed. Most
// amounts spread evenly on a scale of ratios, so that is what they are
// compared on; pH is a logarithm already.
type column struct {
	ratio          bool // compared as logarithms
	n              int
	middle, spread float64   // median, and a robust standard deviation with a floor
	sorted         []float64 // as printed
	places         int       // decimals that most of them have
}

// The least spread that is reckoned with: as a logarithm of ten (a factor of
// 1.26), and in pH. Without it a report of like fields would find fault with
// the first that is a little different.
const leastRatio, leastPH = 0.10, 0.25

func newColumn(values []float64, ratio bool) *column {
	c := &column{ratio: ratio, n: len(values), sorted: values}
	sort.Float64s(c.sorted)
	on := make([]float64, 0, c.n)
	for _, v := range c.sorted {
		on = append(on, c.scale(v))
	}
	c.middle = median(on)
	for i := range on {
		on[i] = math.Abs(on[i] - c.middle)
	}
	sort.Float64s(on)
	least := leastPH
	if ratio {
		least = leastRatio
	}
	c.spread = max(1.4826*median(on), least)
	return c
}

func median(sorted []float64) float64 {
	n := len(sorted)
	return (sorted[(n-1)/2] + sorted[n/2]) / 2
}

func (c *column) scale(v float64) float64 {
	if c.ratio {
		return math.Log10(v)
	}
	return v
}

// off is how many spreads a printed number lies from the middle of a column.
func (c *column) off(v float64) float64 {
	if v <= 0 {
		return math.Inf(1)
	}
	return math.Abs(c.scale(v)-c.middle) / c.spread
}

// others gives the least and the largest number of the column but for one
// number, v, that stands in it.
func (c *column) others(v float64) (lo, hi float64) {
	lo, hi = c.sorted[0], c.sorted[c.n-1]
	if v == lo {
		lo = c.sorted[1]
	}
	if v == hi {
		hi = c.sorted[c.n-2]
	}
	return lo, hi
}

// comparable reports whether a result is an amount as printed that can be set
// against those of other samples.
func (r *Result) comparable() bool {
	return r.Has && r.Number > 0 && r.Censored == "" && r.Unit != "index"
}

// A testKey tells the tests of a report apart.
type testKey struct{ analyte, detail, method, basis, printedUnit, unit string }

func (r *Result) key() testKey {
	return testKey{r.Analyte, r.Detail, r.Method, r.Basis, r.PrintedUnit, r.Unit}
}

// columns are those tests of a report that enough of its samples have.
func columns(r *Report) map[testKey]*column {
	r.once.Do(func() { r.columns = newColumns(r) })
	return r.columns
}

func newColumns(r *Report) map[testKey]*column {
	if len(r.Samples) < enough {
		return nil
	}
	values, ratio, places := map[testKey][]float64{}, map[testKey]bool{}, map[testKey][]int{}
	each(r, func(_ int, s *Sample) {
		for j := range s.Results {
			if x := &s.Results[j]; x.comparable() {
				k := x.key()
				values[k], ratio[k] = append(values[k], x.Number), x.Unit != "pH"
				places[k] = append(places[k], x.Places)
			}
		}
	})
	out := map[testKey]*column{}
	for k, v := range values {
		if len(v) >= enough {
			out[k] = newColumn(v, ratio[k])
			sort.Ints(places[k])
			out[k].places = places[k][len(v)/2]
		}
	}
	return out
}

// A placed is a number of a sample that stands in a column of the report.
type placed struct {
	j   int
	x   *Result
	col *column
}

// rows calls f for each sample with those of its numbers that stand in a
// column, in printed order.
func rows(r *Report, f func(i int, s *Sample, row []placed)) {
	cols := columns(r)
	if len(cols) < 2 {
		return
	}
	var row []placed
	each(r, func(i int, s *Sample) {
		row = row[:0]
		for j := range s.Results {
			if x := &s.Results[j]; x.comparable() {
				if c := cols[x.key()]; c != nil {
					row = append(row, placed{j, x, c})
				}
			}
		}
		f(i, s, row)
	})
}

// How far from its own column, in spreads, a number must be to be out of
// place, how near another to be at home in it, and the least run of numbers
// that makes a shift.
const away, near, leastRun = 3.5, 2.0, 4

// mostOff is the largest distance counted: one number may not stand for many.
const mostOff = 8.0

func shiftedColumns(r *Report, add func(Found)) {
	rows(r, func(i int, s *Sample, row []placed) {
		for _, by := range []int{1, -1} {
			from, to := shift(row, by)
			if to-from < leastRun {
				continue
			}
			side := "left"
			if by > 0 {
				side = "right"
			}
			first, last := row[from], row[to-1]
			add(Found{i, numbered(s), fmt.Sprintf("the %d numbers from %s to %s each fit the column to their %s, where other samples have such numbers, and not their own: the row may have slipped",
				to-from, first.x.Name, last.x.Name, side), "numbers like those of the other samples", first.x.Printed + " to " + last.x.Printed})
			return
		}
	})
}

// shift finds the longest run of numbers that fit the column by places to the
// right (or to the left, by being -1) far better than their own: the numbers
// of a run are together away from their columns and near the others.
func shift(row []placed, by int) (from, to int) {
	for a := range row {
		own, other, far := 0.0, 0.0, 0
		for b := a; b < len(row); b++ {
			if b+by < 0 || b+by >= len(row) {
				break
			}
			v := row[b].x.Number
			there := row[b+by].col.off(v)
			if there > 2.5*near {
				break
			}
			here := min(row[b].col.off(v), mostOff)
			own, other = own+here, other+there
			if here > away {
				far++
			}
			n := b - a + 1
			if n > to-from && n >= leastRun && own/float64(n) > away && other/float64(n) < near*0.75 && 2*far > n {
				from, to = a, b+1
			}
		}
	}
	return from, to
}

func exchangedResults(r *Report, add func(Found)) {
	rows(r, func(i int, s *Sample, row []placed) {
		for a := range row {
			for b := a + 1; b < len(row) && b <= a+3; b++ {
				x, y := row[a], row[b]
				if x.x.PrintedUnit != y.x.PrintedUnit || x.x.Unit != y.x.Unit || x.col.off(x.x.Number) < away || y.col.off(y.x.Number) < away {
					continue
				}
				if x.col.off(y.x.Number) < near && y.col.off(x.x.Number) < near {
					add(Found{i, []int{x.j, y.j}, fmt.Sprintf("%s %s and %s %s would each fit the other's column, and neither fits its own: they may have been exchanged", x.x.Name, x.x.Printed, y.x.Name, y.x.Printed),
						"numbers like those of the other samples", x.x.Printed + " and " + y.x.Printed})
				}
			}
		}
	})
}

// lone is how many spreads from its column a number must be that has as many
// decimals as the others: fields do differ tenfold, and nothing but the amount
// speaks against it.
const lone = 8.0

func decimalPoint(r *Report, add func(Found)) {
	rows(r, func(i int, s *Sample, row []placed) {
		for _, p := range row {
			v := p.x.Number
			lo, hi := p.col.others(v)
			if off := p.col.off(v); off < away || v <= 3*hi && v >= lo/3 || borneOut(s, p.x) {
				continue
			} else if differs := v > hi && p.x.Places < p.col.places || v < lo && p.x.Places > p.col.places; !differs && off < lone {
				continue
			}
			for _, f := range []float64{10, 100, 0.1, 0.01} {
				if w := v / f; w >= lo && w <= hi && p.col.off(w) < near {
					add(Found{i, []int{p.j}, fmt.Sprintf("%s %s is far from the %s to %s of the other samples, and %s would fit: the decimal point may be lost or moved", p.x.Name, p.x.Printed, num(lo), num(hi), num(w)),
						num(lo) + " to " + num(hi), p.x.Printed})
					break
				}
			}
		}
	})
}

// borneOut reports whether another number of the sample says that this one is
// as printed: a cation has its saturation, and acidity its own.
func borneOut(s *Sample, x *Result) bool {
	_, cec := s.one("CEC", "cmol(+)/kg")
	if cec == nil || cec.Value <= 0 {
		return false
	}
	agree := func(amount float64, saturation *Result) bool {
		share := 100 * amount / cec.Value
		return math.Abs(share-saturation.Value) <= 0.1*max(share, saturation.Value)+2*saturation.Half
	}
	for _, b := range bases {
		if x.Analyte == b.analyte || x.Analyte == b.saturation {
			_, c := s.one(b.analyte, "mg/kg")
			_, sat := s.one(b.saturation, "%")
			return c != nil && sat != nil && agree(c.Value/c.PerCharge, sat)
		}
	}
	if x.Analyte == "acidity" || x.Analyte == "base_sat_H" {
		_, a := s.one("acidity", "cmol(+)/kg")
		_, sat := s.one("base_sat_H", "%")
		return a != nil && sat != nil && agree(a.Value, sat)
	}
	return false
}
