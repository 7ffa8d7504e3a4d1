package check

import "fmt"

func carbonAboveMatter(r *Report, add func(Found)) {
	each(r, func(i int, s *Sample) {
		j, c := s.one("OC", "%")
		if c == nil {
			return
		}
		if k, m := s.one("OM", "%"); m != nil && c.Low() > m.High() {
			add(Found{i, []int{j, k}, "more organic carbon is printed than organic matter", "less than " + m.Printed, c.Printed})
		}
		if k, t := s.one("TC", "%"); t != nil && c.Low() > t.High()*1.05 {
			add(Found{i, []int{j, k}, "more organic carbon is printed than carbon in total", "at most " + t.Printed, c.Printed})
		}
	})
}

func carbonOfMatter(r *Report, add func(Found)) {
	each(r, func(i int, s *Sample) {
		j, c := s.one("OC", "%")
		k, m := s.one("OM", "%")
		if c == nil || m == nil || m.High() < 0.5 || c.Low() > m.High() { // the last is said already
			return
		}
		if m.High() < 1.3*c.Low() || m.Low() > 4*c.High() {
			add(Found{i, []int{j, k}, fmt.Sprintf("organic matter of %s %% does not go with organic carbon of %s %%", m.Printed, c.Printed), "about " + num(1.724*c.Value) + " %", m.Printed})
		}
	})
}

func carbonToNitrogen(r *Report, add func(Found)) {
	each(r, func(i int, s *Sample) {
		j, c := s.one("OC", "%")
		if c == nil {
			j, c = s.one("TC", "%")
		}
		k, n := s.one("TN", "%")
		if n == nil {
			k, n = s.ofMethodKind("TN", "%", "total")
		}
		if c == nil || n == nil || n.Low() <= 0 {
			return
		}
		if c.High() < 3*n.Low() || c.Low() > 100*n.High() {
			add(Found{i, []int{j, k}, fmt.Sprintf("carbon of %s %% does not go with nitrogen of %s %%", c.Printed, n.Printed), "carbon 3 to 100 times nitrogen", num(c.Value/n.Value) + " times"})
		}
	})
}

func densityOfMatter(r *Report, add func(Found)) {
	each(r, func(i int, s *Sample) {
		j, d := s.one("density", "g/cm3")
		k, om := s.one("OM", "%")
		if d == nil || om == nil {
			return
		}
		if om.Low() >= 20 && d.Low() >= 1.15 || om.High() <= 3 && d.High() <= 0.65 {
			add(Found{i, []int{k, j}, fmt.Sprintf("organic matter of %s %% does not go with a density of %s g/cm3", om.Printed, d.Printed), "light soil with much organic matter, heavy with little", d.Printed})
		}
	})
}
