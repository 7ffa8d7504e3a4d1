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

// A summed is a printed CEC by summation with what it should be the sum of.
type summed struct {
	cec      *Result
	used     []int
	lo, hi   float64 // of the sum; lo leaves out sodium, as some laboratories do
	noCa     float64 // the lower end without calcium
	limy     bool
	oneSided bool // acidity is part of the sum but isn't printed
}

func sums(r *Report, f func(i int, c *summed)) {
	each(r, func(i int, s *Sample) {
		k, cec := s.one("CEC", "cmol(+)/kg")
		if cec == nil || cec.Method != "summation" || cec.Censored != "" {
			return
		}
		lo, hi, used, whole := exchangeable(s)
		if !whole {
			return
		}
		c := &summed{cec: cec, used: append([]int{k}, used...)}
		c.limy, _ = limy(s)
		if j, x := s.one("acidity", "cmol(+)/kg"); x != nil {
			lo, hi, c.used = lo+x.Low(), hi+x.High(), append(c.used, j)
		} else if j, x := s.one("base_sat_H", "%"); x != nil {
			lo, hi, c.used = lo+x.Low()*cec.Low()/100, hi+x.High()*cec.High()/100, append(c.used, j)
		} else {
			c.oneSided = !c.limy // no acidity is reckoned on a limy soil
		}
		if _, na := s.one("Na", "mg/kg"); na != nil {
			l, _ := na.charge()
			lo -= l
		}
		_, ca := s.one("Ca", "mg/kg")
		l, _ := ca.charge()
		c.noCa = (lo - l) * (1 - factorSlack)
		c.lo, c.hi = lo*(1-factorSlack), hi*(1+factorSlack)
		f(i, c)
	})
}

// tooSmall reports whether the CEC is less than its parts, and whether lime
// can account for it.
func (c *summed) tooSmall() (small, byLime bool) {
	small = c.cec.High()+c.cec.Half < c.lo
	return small, small && c.limy && c.cec.High() >= c.noCa
}

func cecSum(r *Report, add func(Found)) {
	sums(r, func(i int, c *summed) {
		small, byLime := c.tooSmall()
		if small && !byLime || !c.oneSided && c.cec.Low()-c.cec.Half > c.hi {
			add(Found{i, c.used, "the printed CEC is not the sum of the printed cations and acidity", span(c.lo, c.hi) + " cmol(+)/kg", c.cec.Printed})
		}
	})
}

func cecLime(r *Report, add func(Found)) {
	sums(r, func(i int, c *summed) {
		if _, byLime := c.tooSmall(); byLime {
			add(Found{i, c.used, "the printed CEC is less than the sum of the printed cations; on a soil with free lime, calcium may have been left out of it in part", span(c.lo, c.hi) + " cmol(+)/kg", c.cec.Printed})
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
