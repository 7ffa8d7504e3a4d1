package check

import (
	"fmt"
	"math"
)

// ofExtract gives the only result of an analyte in a solution, in a unit.
func (s *Sample) ofExtract(analyte, unit, method string) (int, *Result) {
	at := -1
	for j := range s.Results {
		x := &s.Results[j]
		if x.Analyte == analyte && x.Has && !x.Restates && x.Censored == "" && x.Unit == unit && (method == "" || x.Method == method) {
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

// ESPOfSAR is the sodium saturation in percent that goes with a sodium
// adsorption ratio, by the regression of the Salinity Laboratory. It is for
// ratios up to 65; below 0.854 it gives 0.
func ESPOfSAR(sar float64) float64 {
	x := -0.0126 + 0.01475*sar
	return max(0, 100*x/(1+x))
}

func espOfSAR(r *Report, add func(Found)) {
	each(r, func(i int, s *Sample) {
		j, sar := s.ofExtract("SAR", "ratio", "")
		k, esp := s.one("base_sat_Na", "%")
		if sar == nil || esp == nil || sar.Value > 65 {
			return
		}
		want := ESPOfSAR(sar.Value)
		if esp.Low() > 3*want+8 || want > 3*esp.High()+8 {
			add(Found{i, []int{k, j}, fmt.Sprintf("a sodium saturation of %s %% does not go with a sodium adsorption ratio of %s", esp.Printed, sar.Printed), "about " + num(want) + " %", esp.Printed})
		}
	})
}

func ecOfExtract(r *Report, add func(Found)) {
	each(r, func(i int, s *Sample) {
		j, ec := s.ofExtract("EC", "dS/m", "saturated-paste")
		if ec == nil || ec.High() < 0.3 {
			return
		}
		lo, hi, used := 0.0, 0.0, []int{j}
		for _, id := range []string{"Ca", "Mg", "Na"} {
			k, x := s.ofExtract(id, "meq/L", "saturated-paste")
			if x == nil {
				return
			}
			lo, hi, used = lo+x.Low(), hi+x.High(), append(used, k)
		}
		if hi < 5*ec.Low() || lo > 20*ec.High() {
			add(Found{i, used, fmt.Sprintf("a conductivity of %s dS/m does not go with %s meq/L of calcium, magnesium and sodium", ec.Printed, num((lo+hi)/2)), "about " + num(10*ec.Value) + " meq/L", num((lo+hi)/2) + " meq/L"})
		}
	})
}

// water is the parts of water to one of soil, by method. A saturated paste
// has less than one, whatever the soil.
var water = map[string]float64{"saturated-paste": 0.5, "ph-water-1-1": 1, "ph-water-1-2": 2, "ph-water-1-2.5": 2.5, "ph-water-1-5": 5}

func ecOrder(r *Report, add func(Found)) {
	each(r, func(i int, s *Sample) {
		for j := range s.Results {
			for k := range s.Results {
				thick, thin := &s.Results[j], &s.Results[k]
				if thick.Analyte != "EC" || thin.Analyte != "EC" || !thick.Has || !thin.Has || thick.Unit != thin.Unit || water[thick.Method] == 0 || water[thick.Method] >= water[thin.Method] {
					continue
				}
				if thin.Low() > thick.High()*1.1 && !math.IsInf(thin.High(), 1) {
					add(Found{i, []int{k, j}, "conductivity is printed as higher in the thinner extract", "at most " + thick.Printed, thin.Printed})
				}
			}
		}
	})
}
