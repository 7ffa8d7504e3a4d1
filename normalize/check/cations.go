package check

import (
	"fmt"
	"math"
)

// bases are the cations of a CEC by summation, with their saturations.
var bases = []struct{ analyte, saturation string }{{"K", "base_sat_K"}, {"Mg", "base_sat_Mg"}, {"Ca", "base_sat_Ca"}, {"Na", "base_sat_Na"}}

// factorSlack allows for the rounded factors that laboratories use (200 for
// 200.39, 120 for 121.5, 390 for 391): up to 1.3 %. Common practice.
const factorSlack = 0.02

// charge is the ends of a cation's amount in cmol(+)/kg.
func (r *Result) charge() (lo, hi float64) { return r.Low() / r.PerCharge, r.High() / r.PerCharge }

func cecSum(r *Report, add func(Found)) {
	each(r, func(i int, s *Sample) {
		k, cec := s.one("CEC", "cmol(+)/kg")
		if cec == nil || cec.Method != "summation" || cec.Censored != "" {
			return
		}
		var lo, hi float64
		var na *Result
		used := []int{k}
		for _, b := range bases {
			j, x := s.one(b.analyte, "mg/kg")
			if x == nil {
				if b.analyte == "Na" {
					continue // many laboratories don't run sodium
				}
				return
			}
			if b.analyte == "Na" {
				na = x
			}
			l, h := x.charge()
			lo, hi, used = lo+l, hi+h, append(used, j)
		}
		oneSided := false
		if j, x := s.one("acidity", "cmol(+)/kg"); x != nil {
			lo, hi, used = lo+x.Low(), hi+x.High(), append(used, j)
		} else if j, x := s.one("base_sat_H", "%"); x != nil {
			lo, hi, used = lo+x.Low()*cec.Low()/100, hi+x.High()*cec.High()/100, append(used, j)
		} else {
			oneSided = true // acidity is part of the sum but isn't printed
		}
		if na != nil { // some laboratories print sodium and leave it out of the sum
			l, _ := na.charge()
			lo -= l
		}
		lo, hi = lo*(1-factorSlack), hi*(1+factorSlack)
		if cec.High()+cec.Half < lo || !oneSided && cec.Low()-cec.Half > hi {
			add(Found{i, used, "the printed CEC is not the sum of the printed cations and acidity", span(lo, hi) + " cmol(+)/kg", cec.Printed})
		}
	})
}

func saturationsSum(r *Report, add func(Found)) {
	each(r, func(i int, s *Sample) {
		var lo, hi float64
		var used []int
		complete := true
		for _, id := range []string{"base_sat_K", "base_sat_Mg", "base_sat_Ca", "base_sat_Na", "base_sat_H"} {
			j, x := s.one(id, "%")
			if x == nil {
				complete = complete && id == "base_sat_Na"
				continue
			}
			lo, hi, used = lo+x.Low(), hi+x.High(), append(used, j)
		}
		const slack = 0.11 // the last digit of a total of rounded shares
		if complete && (lo > 100+slack || hi < 100-slack) || !complete && len(used) > 1 && lo > 100+slack {
			want := "100 %"
			if !complete {
				want = "at most 100 %"
			}
			add(Found{i, used, "the printed saturations don't add up", want, num((lo+hi)/2) + " %"})
		}
	})
}

func saturationOfCation(r *Report, add func(Found)) {
	each(r, func(i int, s *Sample) {
		k, cec := s.one("CEC", "cmol(+)/kg")
		if cec == nil || cec.Low() <= 0 || cec.Censored != "" {
			return
		}
		test := func(j, l int, sat *Result, lo, hi float64, name string) {
			lo, hi = 100*lo/cec.High()*(1-factorSlack), 100*hi/cec.Low()*(1+factorSlack)
			// Whole percents that a laboratory makes add to 100 can be off by one.
			if sat.High()+sat.Half < lo || sat.Low()-sat.Half > hi {
				add(Found{i, []int{j, l, k}, fmt.Sprintf("the printed %s is not its share of the printed CEC", name), span(lo, hi) + " %", sat.Printed})
			}
		}
		for _, b := range bases {
			j, sat := s.one(b.saturation, "%")
			l, x := s.one(b.analyte, "mg/kg")
			if sat != nil && x != nil {
				lo, hi := x.charge()
				test(j, l, sat, lo, hi, sat.Name)
			}
		}
		j, sat := s.one("base_sat_H", "%")
		l, x := s.one("acidity", "cmol(+)/kg")
		if sat != nil && x != nil {
			test(j, l, sat, x.Low(), x.High(), sat.Name)
		}
	})
}

func baseSaturationTotal(r *Report, add func(Found)) {
	each(r, func(i int, s *Sample) {
		j, total := s.one("base_sat_total", "%")
		if total == nil || total.Censored != "" {
			return
		}
		if k, cec := s.one("CEC", "cmol(+)/kg"); cec != nil && cec.Low() > 0 {
			if l, ac := s.one("acidity", "cmol(+)/kg"); ac != nil {
				lo, hi := 100*(1-ac.High()/cec.Low()), 100*(1-ac.Low()/cec.High())
				if total.High()+total.Half < lo || total.Low()-total.Half > hi {
					add(Found{i, []int{j, k, l}, "the printed base saturation is not what acidity leaves of the CEC", span(lo, hi) + " %", total.Printed})
				}
			}
		}
		var lo, hi float64
		used := []int{j}
		for _, b := range bases {
			k, x := s.one(b.saturation, "%")
			if x == nil {
				if b.analyte == "Na" {
					continue
				}
				return
			}
			lo, hi, used = lo+x.Low(), hi+x.High(), append(used, k)
		}
		if total.High()+total.Half < lo || total.Low()-total.Half > hi {
			add(Found{i, used, "the printed base saturation is not the sum of the saturations of the bases", span(lo, hi) + " %", total.Printed})
		}
	})
}

func acidityAboveCEC(r *Report, add func(Found)) {
	each(r, func(i int, s *Sample) {
		j, ac := s.one("acidity", "cmol(+)/kg")
		k, cec := s.one("CEC", "cmol(+)/kg")
		if ac != nil && cec != nil && ac.Low() > cec.High()*(1+factorSlack) {
			add(Found{i, []int{j, k}, "acidity is printed as more than the whole CEC", "at most " + cec.Printed, ac.Printed})
		}
	})
}

// sarOfExtract recomputes Na / sqrt((Ca + Mg) / 2) from a saturated-paste
// extract in meq/L.
func sarOfExtract(r *Report, add func(Found)) {
	each(r, func(i int, s *Sample) {
		var at [4]int
		var of [4]*Result
		for k, id := range []string{"SAR", "Na", "Ca", "Mg"} {
			for j := range s.Results {
				x := &s.Results[j]
				if x.Analyte == id && x.Has && x.Censored == "" && (id == "SAR" || x.Unit == "meq/L") {
					if of[k] != nil {
						return // two extracts: nothing says which is meant
					}
					at[k], of[k] = j, x
				}
			}
			if of[k] == nil {
				return
			}
		}
		sar, na, ca, mg := of[0], of[1], of[2], of[3]
		if ca.Low()+mg.Low() <= 0 {
			return
		}
		lo, hi := na.Low()/math.Sqrt((ca.High()+mg.High())/2), na.High()/math.Sqrt((ca.Low()+mg.Low())/2)
		if sar.High()+sar.Half < lo || sar.Low()-sar.Half > hi {
			add(Found{i, at[:], "the printed sodium adsorption ratio is not that of the printed sodium, calcium and magnesium", span(lo, hi), sar.Printed})
		}
	})
}
