package check

import (
	"fmt"
	"strings"
)

// saltPH are the results of a pH in CaCl2 or KCl, with what they may lie
// below a pH in water: common practice.
func saltPH(s *Sample, f func(j int, x *Result, most float64)) {
	for j := range s.Results {
		x := &s.Results[j]
		switch {
		case x.Analyte != "pH" || !x.Has || x.Unit != "pH":
		case strings.HasPrefix(x.Method, "ph-cacl2"):
			f(j, x, 1.5)
		case x.Method == "ph-kcl" || x.Method == "kcl-1m":
			f(j, x, 2.0)
		}
	}
}

func eachSalt(r *Report, f func(i, j, k int, salt, water *Result, most float64)) {
	each(r, func(i int, s *Sample) {
		for k := range s.Results {
			w := &s.Results[k]
			if w.Analyte == "pH" && w.Has && w.Unit == "pH" && strings.HasPrefix(w.Method, "ph-water") {
				saltPH(s, func(j int, x *Result, most float64) { f(i, j, k, x, w, most) })
			}
		}
	})
}

func phOrder(r *Report, add func(Found)) {
	eachSalt(r, func(i, j, k int, salt, water *Result, _ float64) {
		if salt.Low() > water.High()+0.2 {
			add(Found{i, []int{j, k}, fmt.Sprintf("pH in a salt solution is printed as %s, above the %s in water", salt.Printed, water.Printed), "at most " + water.Printed, salt.Printed})
		}
	})
}

func phApart(r *Report, add func(Found)) {
	eachSalt(r, func(i, j, k int, salt, water *Result, most float64) {
		if salt.High() < water.Low()-most {
			add(Found{i, []int{j, k}, fmt.Sprintf("pH in a salt solution is printed as %s, far below the %s in water", salt.Printed, water.Printed), "at least " + num(water.Value-most), salt.Printed})
		}
	})
}
