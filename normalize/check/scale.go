package check

import (
	"fmt"
	"math"
)

// ratingScale compares numbers as printed: a scale is in the printed unit.
func ratingScale(r *Report, add func(Found)) {
	each(r, func(i int, s *Sample) {
		for j := range s.Results {
			x := &s.Results[j]
			if x.Band == nil {
				continue
			}
			half := 0.5 * math.Pow(10, -float64(x.Places))
			lo, hi := x.Number-half, x.Number+half
			switch x.Censored {
			case "<":
				lo = math.Inf(-1)
			case ">":
				hi = math.Inf(1)
			}
			if hi >= x.Band.Low && lo <= x.Band.High {
				continue
			}
			want := span(x.Band.Low, x.Band.High)
			switch {
			case math.IsInf(x.Band.Low, -1):
				want = "under " + num(x.Band.High)
			case math.IsInf(x.Band.High, 1):
				want = "over " + num(x.Band.Low)
			}
			add(Found{i, []int{j}, fmt.Sprintf("%s %s is rated “%s”, which on the laboratory's own scale is %s", x.Name, x.Printed, x.Rating, want), want, x.Printed})
		}
	})
}
