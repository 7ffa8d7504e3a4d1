package check

import (
	"fmt"
	"slices"
)

// above calls f for each two results of an analyte and unit in a sample of
// which the first, by one of the weaker methods, exceeds the second, by one of
// the stronger, by more than rounding and slack.
func above(s *Sample, analyte string, weaker, stronger []string, slack float64, f func(j, k int, a, b *Result)) {
	for j := range s.Results {
		a := &s.Results[j]
		if a.Analyte != analyte || !a.Has || a.Unit != "mg/kg" || !slices.Contains(weaker, a.Method) {
			continue
		}
		for k := range s.Results {
			b := &s.Results[k]
			if b.Analyte == analyte && b.Has && b.Unit == a.Unit && slices.Contains(stronger, b.Method) && a.Low() > b.High()*(1+slack) {
				f(j, k, a, b)
			}
		}
	}
}

func extractOrder(r *Report, add func(Found)) {
	orders := standard().orders
	each(r, func(i int, s *Sample) {
		for _, o := range orders {
			if o.NotOnLime {
				if lime, known := limy(s); lime || !known {
					continue
				}
			}
			for _, id := range o.Analytes {
				above(s, id, o.Weaker, o.Stronger, o.Slack, func(j, k int, a, b *Result) {
					add(Found{i, []int{j, k}, fmt.Sprintf("more %s is printed by %s than by %s: %s", a.Name, a.Method, b.Method, o.Reason), "at most " + b.Printed, a.Printed})
				})
			}
		}
	})
}

func colorAboveICP(r *Report, add func(Found)) {
	each(r, func(i int, s *Sample) {
		for _, m := range []string{"mehlich-3", "mehlich-1"} {
			above(s, "P", []string{m + "-colorimetric"}, []string{m + "-icp"}, 0.1, func(j, k int, a, b *Result) {
				add(Found{i, []int{j, k}, "more phosphorus is printed by color than by ICP in the same extract", "at most " + b.Printed, a.Printed})
			})
		}
	})
}

// extractAboveTotal knows totals by the kind of their method.
func extractAboveTotal(r *Report, add func(Found)) {
	each(r, func(i int, s *Sample) {
		for j := range s.Results {
			t := &s.Results[j]
			if !t.Has || t.MethodKind != "total" || t.Unit != "mg/kg" {
				continue
			}
			for k := range s.Results {
				x := &s.Results[k]
				if x.Has && x.Analyte == t.Analyte && x.MethodKind == "extraction" && x.Unit == t.Unit && x.Low() > t.High()*1.1 {
					add(Found{i, []int{k, j}, fmt.Sprintf("more %s is printed in an extract than in total", x.Name), "at most " + t.Printed, x.Printed})
				}
			}
		}
	})
}

func nitrogenAboveTotal(r *Report, add func(Found)) {
	each(r, func(i int, s *Sample) {
		j, tn := s.one("TN", "%")
		if tn == nil {
			if j, tn = s.ofMethodKind("TN", "%", "total"); tn == nil {
				return
			}
		}
		sum, used := 0.0, []int{j}
		for _, id := range []string{"NO3-N", "NH4-N"} {
			if k, x := s.one(id, "mg/kg"); x != nil {
				sum, used = sum+x.Low(), append(used, k)
			}
		}
		if most := tn.High() * 10000; sum > most {
			add(Found{i, used, "more nitrate and ammonium nitrogen is printed than nitrogen in total", "at most " + num(most) + " mg/kg", num(sum) + " mg/kg"})
		}
	})
}

// ofMethodKind gives the only result of an analyte by a kind of method.
func (s *Sample) ofMethodKind(analyte, unit, kind string) (int, *Result) {
	at := -1
	for j := range s.Results {
		if x := &s.Results[j]; x.Analyte == analyte && x.Has && !x.Restates && x.Unit == unit && x.MethodKind == kind {
			if at >= 0 {
				return -1, nil
			}
			at = j
		}
	}
	if at < 0 {
		return -1, nil
	}
	return at, &s.Results[at]
}
