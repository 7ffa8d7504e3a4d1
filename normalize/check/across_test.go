package check

import (
	"slices"
	"testing"
)

// A wrong sum and a wrong share are a report's contradictions of itself; an
// unusual value, a note and what an earlier report says are not.
func TestAcross(t *testing.T) {
	got := Across()
	for _, c := range []string{"cec-sum", "saturations-sum", "saturation-of-cation", "particle-sum", "texture-class", "units-disagree", "rating-scale", "dates-order", "ph-order"} {
		if !slices.Contains(got, c) {
			t.Errorf("%s is not among them", c)
		}
	}
	for _, c := range []string{"unusual-value", "impossible-value", "cec-lime", "buffer-not-needed", "results-before", "same-as-last-time"} {
		if slices.Contains(got, c) {
			t.Errorf("%s is among them", c)
		}
	}
	about := map[string]bool{}
	for _, c := range All() {
		about[c.About] = true
	}
	for _, a := range aboutOthers {
		if !about[a] {
			t.Errorf("no check is about %q", a)
		}
	}
}
