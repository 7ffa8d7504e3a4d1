package check

import (
	"fmt"
	"math"
	"sort"
)

// fewest is how many other samples must have numbers in a column before a row
// with a blank at its end is set against it. The blank is evidence already:
// enough is for rows without.
const fewest = 3

// leastBeside is how many numbers make a shift to a blank end by their amounts
// alone; by their decimals one is enough.
const leastBeside = 3

// most is how many samples a row is set against: more of a long list tell no
// more, and every row may end with a blank.
const most = 50

// A neighbour is a number of another sample.
type neighbour struct {
	sample int
	*Result
}

// A spot is where a test stands in the samples of a report; their positions tell
// nothing where samples have different tests.
type spot struct {
	analyte, detail, method string
	restates                bool
}

func (r *Result) spot() spot { return spot{r.Analyte, r.Detail, r.Method, r.Restates} }

// blank reports whether nothing is printed where a result could stand.
func (r *Result) blank() bool { return !r.Has && r.Printed == "" && r.Class == "" }

// shiftedToBlank finds rows that end (or begin) with a blank where other
// samples have numbers, and whose numbers beside it are nearer to what the
// others have one column on: a cell was left out, and the row was filled up at
// its end.
func shiftedToBlank(r *Report, add func(Found)) {
	if len(r.Samples) <= fewest {
		return
	}
	all := map[spot][]neighbour{}
	each(r, func(i int, s *Sample) {
		for j := range s.Results {
			if x := &s.Results[j]; x.comparable() && len(all[x.spot()]) < most {
				all[x.spot()] = append(all[x.spot()], neighbour{i, x})
			}
		}
	})
	each(r, func(i int, s *Sample) {
		last := len(s.Results) - 1
		for _, by := range []int{1, -1} {
			end := last
			if by < 0 {
				end = 0
			}
			if last < 1 || !s.Results[end].blank() {
				continue
			}
			if at := slippedTo(all, i, s, end, by); at != nil {
				sort.Ints(at)
				first, final := &s.Results[at[0]], &s.Results[at[len(at)-1]]
				add(Found{i, numbered(s), fmt.Sprintf("%s is blank, and the numbers beside it, from %s to %s, are more like those that other samples have one column on: the row may have slipped towards the blank", s.Results[end].Name, first.Name, final.Name),
					"numbers like those of the other samples", first.Printed + " to " + final.Printed})
				return
			}
		}
	})
}

// numbered are the results of a sample that are numbers: where in a row a slip
// begins is not known, so all of them are in doubt.
func numbered(s *Sample) (at []int) {
	for j := range s.Results {
		if s.Results[j].Has {
			at = append(at, j)
		}
	}
	return at
}

// slippedTo is the longest run of results next to a blank that have slipped,
// nil for none.
func slippedTo(all map[spot][]neighbour, i int, s *Sample, end, by int) (found []int) {
	var at []int
	nearer, decimals, own, other := 0, 0, 0.0, 0.0
	for j := end - by; j >= 0 && j < len(s.Results); j -= by {
		x := &s.Results[j]
		here, there := others(all[x.spot()], i), others(all[s.Results[j+by].spot()], i)
		if !x.comparable() || len(here) < fewest || len(there) == 0 {
			break
		}
		if len(there) < fewest && (j+by != end || len(there) < 2) {
			break
		}
		at = append(at, j)
		a, b := awayFrom(here, x), awayFrom(there, x)
		own, other = own+a, other+b
		if b < a {
			nearer++
		}
		if !printedLike(here, x) && printedLike(there, x) {
			decimals++
		}
		n := len(at)
		byAmounts := n >= leastBeside && 4*nearer >= 3*n && own > 2.5*other && own > 0.2*float64(n)
		// A single number such as 13 for 13.00 may be a spreadsheet's.
		byDecimals := decimals == n && (n > 1 || nearer == 1)
		if byAmounts || byDecimals {
			found = append([]int{}, at...)
		}
	}
	return found
}

// others are the results of a column but for those of one sample.
func others(column []neighbour, but int) (out []*Result) {
	for _, x := range column {
		if x.sample != but {
			out = append(out, x.Result)
		}
	}
	return out
}

// awayFrom is how far a number lies from the middle of a column, as a
// logarithm of ten.
func awayFrom(column []*Result, x *Result) float64 {
	var v []float64
	for _, y := range column {
		v = append(v, math.Log10(y.Number))
	}
	sort.Float64s(v)
	return math.Abs(math.Log10(x.Number) - median(v))
}

// printedLike reports whether some number of a column has as many decimals.
func printedLike(column []*Result, x *Result) bool {
	for _, y := range column {
		if y.Places == x.Places {
			return true
		}
	}
	return false
}
