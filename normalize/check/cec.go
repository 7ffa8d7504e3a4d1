package check

import "fmt"

// limePH is the pH in water from which free lime must be reckoned with: then
// extracts dissolve carbonate, and calcium is more than what is exchangeable.
// Common practice; laboratories' rules begin at pH 7.2 to 7.5.
const limePH = 7.3

// limy reports whether a sample's pH is so high that it may hold free lime,
// and whether its pH in water is known at all.
func limy(s *Sample) (limy, known bool) {
	_, p := waterPH(s)
	return p != nil && p.High() >= limePH, p != nil
}

// exchangeable is the sum of the printed bases in cmol(+)/kg. It is whole when
// potassium, magnesium and calcium are there.
func exchangeable(s *Sample) (lo, hi float64, used []int, whole bool) {
	whole = true
	for _, b := range bases {
		j, x := s.one(b.analyte, "mg/kg")
		if x == nil {
			whole = whole && b.analyte == "Na" // many laboratories don't run sodium
			continue
		}
		l, h := x.charge()
		lo, hi, used = lo+l, hi+h, append(used, j)
	}
	return lo, hi, used, whole
}

// cecKind orders the kinds of CEC by the pH they are measured at. One by
// summation is as high as the acidity that is in it: KCl takes only what is
// exchangeable at the soil's own pH.
func cecKind(s *Sample, cec *Result) (rank int, name string) {
	switch cec.Method {
	case "summation":
		if _, a := s.one("acidity", "cmol(+)/kg"); a != nil && (a.Method == "kcl-1m" || a.Method == "kcl-2m") {
			return 1, "effective CEC"
		}
	case "ammonium-acetate":
		return 2, "CEC at pH 7"
	case "bacl2-tea", "ammonium-acetate-8":
		return 3, "CEC at pH 8.2"
	}
	return 0, ""
}

func measured(cec *Result) bool {
	switch cec.Method {
	case "", "summation":
		return false
	}
	return true
}

func basesAboveCEC(r *Report, add func(Found)) {
	each(r, func(i int, s *Sample) {
		if lime, known := limy(s); lime || !known {
			return
		}
		lo, hi, used, _ := exchangeable(s)
		for j := range s.Results {
			cec := &s.Results[j]
			if cec.Analyte == "CEC" && cec.Has && cec.Unit == "cmol(+)/kg" && measured(cec) && lo > cec.High()*1.15 {
				add(Found{i, append([]int{j}, used...), "more exchangeable bases are printed than the CEC holds", "bases of at most " + cec.Printed, span(lo, hi) + " cmol(+)/kg"})
			}
		}
	})
}

func cecKinds(r *Report, add func(Found)) {
	each(r, func(i int, s *Sample) {
		if _, p := waterPH(s); p != nil && p.High() >= 7 {
			return
		}
		for j := range s.Results {
			for k := range s.Results {
				a, b := &s.Results[j], &s.Results[k]
				if a.Analyte != "CEC" || b.Analyte != "CEC" || !a.Has || !b.Has || a.Unit != "cmol(+)/kg" || b.Unit != a.Unit {
					continue
				}
				ra, na := cecKind(s, a)
				rb, nb := cecKind(s, b)
				if ra > 0 && ra < rb && a.Low() > b.High()*1.15 {
					add(Found{i, []int{j, k}, fmt.Sprintf("the %s is printed as larger than the %s", na, nb), "at most " + b.Printed, a.Printed})
				}
			}
		}
	})
}

// What clay and humus can bear at most, in cmol(+)/kg for each percent.
// Common practice: vermiculite has about 150 and humus about 300 cmol(+)/kg.
const perClay, perMatter, cecBesides = 1.6, 4.0, 5.0

func cecOfSoil(r *Report, add func(Found)) {
	each(r, func(i int, s *Sample) {
		j, cec := s.one("CEC", "cmol(+)/kg")
		k, clay := s.one("clay", "%")
		l, om := s.one("OM", "%")
		if lime, _ := limy(s); lime || cec == nil || clay == nil || om == nil {
			return
		}
		if most := perClay*clay.High() + perMatter*om.High() + cecBesides; cec.Low() > most {
			add(Found{i, []int{j, k, l}, fmt.Sprintf("a CEC of %s is more than %s %% clay and %s %% organic matter can bear", cec.Printed, clay.Printed, om.Printed), "at most " + num(most) + " cmol(+)/kg", cec.Printed})
		}
	})
}

// leastPerMatter is what a percent of organic matter adds to a CEC at least,
// in cmol(+)/kg. Common practice: humus has 100 and more cmol(+)/kg, fresh
// litter and raw peat half of that.
const leastPerMatter = 0.4

// From this pH in water on humus is charged whatever way its CEC is measured:
// 51 pH - 59 cmol(+)/kg, 2.2 for each percent at pH 5.5 (Helling, Chesters and
// Corey 1964, from memory). A third of that is the least, for raw litter and
// what is lost on ignition besides humus.
const charged, leastPerCharged, matterFrom = 5.5, 0.8, 6.0

func cecOfMatter(r *Report, add func(Found)) {
	each(r, func(i int, s *Sample) {
		j, cec := s.one("CEC", "cmol(+)/kg")
		k, om := s.one("OM", "%")
		if cec == nil || om == nil || om.Low() < matterFrom {
			return
		}
		// At the pH of an acid peat much of the charge is not there.
		least := 0.0
		if _, p, lo, _ := waterLike(s); p != nil && lo >= charged {
			least = leastPerCharged * om.Low()
		} else if rank, _ := cecKind(s, cec); om.Low() >= 8 && rank != 1 {
			least = leastPerMatter*om.Low() - 2
		}
		if cec.High() < least {
			add(Found{i, []int{j, k}, fmt.Sprintf("organic matter of %s %% does not go with a CEC of only %s", om.Printed, cec.Printed), "a CEC of at least " + num(least) + " cmol(+)/kg", cec.Printed})
		}
	})
}
