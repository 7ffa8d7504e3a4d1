package check

import "testing"

// No test of soil has a value below zero, in units of which the tables know no
// limits as in others: a dash before a number was printed, or slipped in.
// Common practice, no source.
func TestBelowZeroIsImpossible(t *testing.T) {
	for _, c := range []struct {
		value, low, high float64
		want             int
	}{{-0.44, 0, 0, 1}, {0, 0, 0, 0}, {1e6, 0, 0, 0}, {-0.44, 0, 500, 1}, {0.44, 0, 500, 0}, {501, 0, 500, 1}} {
		n := 0
		impossible(&Report{Samples: []Sample{{Results: []Result{{Analyte: "B", Name: "B", Unit: "mg/L", Has: true, Value: c.value, PossibleLow: c.low, PossibleHigh: c.high}}}}}, func(f Found) {
			n++
			if f.Expected == "" {
				t.Errorf("%v: no expectation", c.value)
			}
		})
		if n != c.want {
			t.Errorf("%v of %v to %v: %d findings, want %d", c.value, c.low, c.high, n, c.want)
		}
	}
}
