package mappings

import (
	"fmt"
	"math"
	"slices"

	"example.org/windrow/ingest"
)

// A row that lost a cell has an empty place and, beside it, numbers that
// belong one place nearer to it. The empty place alone says little, as a test
// that nobody asked for leaves one too: that the numbers beside it are like
// those that other samples have one place on says that they have slipped.

// leastSlipped is how many numbers make a slip, and slippedBy and slippedMost how
// much farther from their own columns than from the next they are together, as a
// ratio and, for each, as a logarithm of ten. The check of records that looks at
// rows whose blanks are declared reckons with the same.
const (
	leastSlipped = 3
	slippedBy    = 2.5
	slippedMost  = 0.2
)

// slipped flags the numbers of a sample whose row may have slipped to an empty
// place in a column of results.
func (r *reader) slipped(e spot, column ingest.Place) {
	for _, t := range r.l.Tables {
		var cols []*Column
		at := -1
		for _, c := range t.Columns {
			if t.EachRow == "sample" && !c.Nothing && c.Test != nil && c.Reads != nil && contains(c.Reads.Names, "result") {
				if c.Place == column {
					at = len(cols)
				}
				cols = append(cols, c)
			}
		}
		if at < 0 {
			continue
		}
		for _, by := range []int{1, -1} {
			n := r.slippedRun(e.sample, cols, at, by)
			if n == 0 {
				continue
			}
			of := map[ingest.Place]bool{}
			for _, c := range cols {
				of[c.Place] = true
			}
			for i := range e.sample.Readings {
				if rd := &e.sample.Readings[i]; of[rd.Rule] && rd.Number != "" {
					rd.Doubts = append(rd.Doubts, &ingest.Reason{Code: "row-slipped", Severity: ingest.Flag, Where: rd.Place, Rule: rd.Rule,
						What:     fmt.Sprintf("%s is empty, and the %d numbers beside it are more like those that other samples have one column on: the row may have slipped", cols[at].Test.Label, n),
						Expected: "numbers like those of the other samples", Found: rd.Printed, Next: "compare the row with its headings, and ask the laboratory for the report again if a cell has slipped"})
				}
			}
			return
		}
	}
}

// slippedAcross flags the numbers of a test in a table with a column for each
// sample, where a place of its row is empty: what other samples have of one test
// is mostly alike, so that nothing tells a row that has slipped from one that
// lacks a result.
func (r *reader) slippedAcross(e spot, table ingest.Place, test *Test) {
	for _, t := range r.l.Tables {
		if t.Place != table || !slices.ContainsFunc(t.Columns, func(c *Column) bool { return c.Samples }) {
			continue
		}
		for _, s := range r.out.Samples {
			for i := range s.Readings {
				rd := &s.Readings[i]
				if rd.Rule != test.Place || rd.Number == "" || slices.ContainsFunc(rd.Doubts, func(x *ingest.Reason) bool { return x.Code == "row-slipped" }) {
					continue
				}
				rd.Doubts = append(rd.Doubts, &ingest.Reason{Code: "row-slipped", Severity: ingest.Flag, Where: rd.Place, Rule: rd.Rule,
					What:     fmt.Sprintf("the row of %s is empty for sample %s: if a cell was left out, its numbers stand under the samples beside theirs", test.Label, sampleKey(e.sample)),
					Expected: "a result for each sample, or a word for none", Found: rd.Printed, Next: "compare the row with its headings; if an empty place means that the test was not run, say so in the mapping, with blank means: not run on the column of samples"})
			}
		}
	}
}

// testedRows are the rows of tests below one heading of a table, for one sample.
type testedRows struct {
	sample   *SampleExtract
	from, to int     // its readings
	rated    []*cell // of rows that have a rating and no number
}

// rowsUnder begins them where the heading has none yet.
func (r *reader) rowsUnder(h *heads, s *SampleExtract) *testedRows {
	if r.under == nil {
		r.under = map[*heads]*testedRows{}
	}
	if r.under[h] == nil {
		r.under[h] = &testedRows{sample: s, from: len(s.Readings), to: len(s.Readings)}
	}
	return r.under[h]
}

// slippedDown flags the numbers of a column in which a row has none but is
// rated: the number that was rated is somewhere, and most likely in the row
// below or above, as are then all others.
func (r *reader) slippedDown() {
	for _, rows := range r.under {
		if len(rows.rated) == 0 {
			continue
		}
		c := rows.rated[0]
		for i := rows.from; i < rows.to; i++ {
			if rd := &rows.sample.Readings[i]; rd.Number != "" {
				rd.Doubts = append(rd.Doubts, &ingest.Reason{Code: "row-slipped", Severity: ingest.Flag, Where: rd.Place, Rule: rd.Rule,
					What:     fmt.Sprintf("%s is rated %q and has no number: if the column of results has slipped, each number stands in the row of another test", c.test.Label, c.rating),
					Expected: "a number beside each rating", Found: rd.Printed, Next: "compare the numbers with their ratings and with those of earlier reports; ask the laboratory for the report again if the column has slipped"})
			}
		}
	}
}

// slippedRun is how many numbers from an empty place on, to the right or to the
// left, belong one place nearer to it; 0 where that can't be said.
func (r *reader) slippedRun(s *SampleExtract, cols []*Column, at, by int) (run int) {
	own, other, nearer, n := 0.0, 0.0, 0, 0
	for j := at + by; j >= 0 && j < len(cols); j += by {
		x, ok := amountIn(s, cols[j])
		here, there := r.middle(s, cols[j]), r.middle(s, cols[j-by])
		if !ok || math.IsNaN(here) || math.IsNaN(there) {
			break
		}
		a, b := math.Abs(x-here), math.Abs(x-there)
		own, other, n = own+a, other+b, n+1
		if b < a {
			nearer++
		}
		if n >= leastSlipped && 4*nearer >= 3*n && own > slippedBy*other && own > slippedMost*float64(n) {
			run = n
		}
	}
	return run
}

// amountIn is what a sample has in a column, as a logarithm of ten.
func amountIn(s *SampleExtract, c *Column) (float64, bool) {
	for i := range s.Readings {
		if rd := &s.Readings[i]; rd.Rule == c.Place && rd.Number != "" && rd.Censor == "" {
			var x float64
			if _, err := fmt.Sscan(rd.Number, &x); err == nil && x > 0 {
				return math.Log10(x), true
			}
		}
	}
	return 0, false
}

// middle is the middle of what other samples have in a column, as a logarithm;
// not a number where none has any. More than some tell no more.
func (r *reader) middle(but *SampleExtract, c *Column) float64 {
	m := r.middles[c]
	if m == nil {
		m = &columnSample{}
		for _, s := range r.out.Samples {
			if x, ok := amountIn(s, c); ok {
				m.of, m.xs = append(m.of, s), append(m.xs, x)
				if len(m.xs) > mostCompared {
					break
				}
			}
		}
		m.all = middleOf(m.xs[:min(len(m.xs), mostCompared)])
		if r.middles == nil {
			r.middles = map[*Column]*columnSample{}
		}
		r.middles[c] = m
	}
	at := slices.Index(m.of, but)
	if at < 0 || at == mostCompared {
		return m.all
	}
	return middleOf(slices.Delete(slices.Clone(m.xs), at, at+1))
}

// mostCompared is how many samples a sample is compared with.
const mostCompared = 50

// columnSample is what the first samples have in a column, one more than are
// compared, since one may be the sample that is compared with them.
type columnSample struct {
	of  []*SampleExtract
	xs  []float64
	all float64 // the middle, for any other sample
}

func middleOf(xs []float64) float64 {
	if len(xs) == 0 {
		return math.NaN()
	}
	xs = slices.Sorted(slices.Values(xs))
	return (xs[(len(xs)-1)/2] + xs[len(xs)/2]) / 2
}
