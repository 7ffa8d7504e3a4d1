package check

import (
	"fmt"
	"math"
	"strings"
)

// What a soil's pH can be: in water from the ultra acid to the very strongly
// alkaline soils of the handbook's classes, and in a salt solution half a unit
// to a unit lower. Drained acid sulfate soils, mine spoil and raw humus go
// below, and nothing that is farmed does: a person looks at the report.
const leastPHWater, leastPHSalt, mostPHOfSoil = 3.0, 2.5, 10.5

// leastPH is the least pH of a soil by the method of a result.
func leastPHOf(x *Result) float64 {
	if strings.HasPrefix(x.Method, "ph-cacl2") || strings.Contains(x.Method, "kcl") {
		return leastPHSalt
	}
	return leastPHWater
}

// notOfSoil reports whether a result is a pH that can be, though not of soil.
func notOfSoil(x *Result) bool {
	return x.Analyte == "pH" && x.Unit == "pH" && x.Has && x.Value >= x.PossibleLow && (x.PossibleHigh == 0 || x.Value <= x.PossibleHigh) && (x.Value < leastPHOf(x) || x.Value > mostPHOfSoil)
}

func phOfSoil(r *Report, add func(Found)) {
	each(r, func(i int, s *Sample) {
		for j := range s.Results {
			if x := &s.Results[j]; notOfSoil(x) {
				add(Found{i, []int{j}, fmt.Sprintf("a pH of %s is not one that farmed or garden soil has; drained acid sulfate soil and mine spoil may be below %s", x.Printed, num(leastPHOf(x))), span(leastPHOf(x), mostPHOfSoil), x.Printed})
			}
		}
	})
}

// waterLike is the ends of what a sample's pH would be in water: pH in CaCl2
// lies 0.5 to 0.7 lower (conyers-davey-1988; a tenth more is allowed here), a paste reads up to 0.3 lower
// than a thin suspension (common practice). A pH by KCl or by no stated method
// says too little.
func waterLike(s *Sample) (j int, p *Result, lo, hi float64) {
	j, p = s.one("pH", "pH")
	if p == nil || p.Censored != "" || p.Value < leastPHSalt || p.Value > mostPHOfSoil {
		return -1, nil, 0, 0 // the pH itself is found fault with
	}
	switch lo, hi = p.Low(), p.High(); {
	case strings.HasPrefix(p.Method, "ph-water"):
	case strings.HasPrefix(p.Method, "ph-cacl2"):
		lo, hi = lo+0.4, hi+0.8
	case p.Method == "saturated-paste":
		hi += 0.3
	default:
		return -1, nil, 0, 0
	}
	return j, p, lo, hi
}

// mostAcidity is the largest share of a CEC, in percent, that acidity takes up
// at a pH in water: a third at pH 7 and some 27 more for each unit below.
// Laboratories that reckon acidity from a buffer find a tenth at most at pH 6.6,
// a third at 6, half at 5.2; what lies above the line is some error. Common
// practice, no source.
func mostAcidity(pH float64) float64 { return 33 + 27*max(0, 7-pH) }

// Soils as acid as this in water have exchangeable aluminium and acidity for a
// quarter of the effective CEC and more; below pH 5 it is mostly above half
// (Kamprath 1970, from memory). Salt lowers the pH of a soil that has bases.
const veryAcid, leastAcidity = 4.5, 25.0

// acidityShare is the ends of acidity in percent of the CEC, as printed or
// else what the bases leave of it, and the results that it follows from.
func acidityShare(s *Sample) (lo, hi float64, used []int, shown string) {
	k, cec := s.one("CEC", "cmol(+)/kg")
	known := cec != nil && cec.Censored == "" && cec.Low() > 0
	if j, x := s.one("base_sat_H", "%"); x != nil && x.Censored == "" {
		return x.Low(), x.High(), []int{j}, "acidity of " + x.Printed + " % of the CEC"
	}
	if j, x := s.one("acidity", "cmol(+)/kg"); x != nil && x.Censored == "" && known {
		return 100 * x.Low() / cec.High(), 100 * x.High() / cec.Low(), []int{j, k}, fmt.Sprintf("acidity of %s in a CEC of %s", x.Printed, cec.Printed)
	}
	bl, bh, used, whole := exchangeable(s)
	if !whole || !known {
		return 0, math.Inf(1), nil, ""
	}
	for _, b := range bases {
		if _, x := s.one(b.analyte, "mg/kg"); x != nil && x.Censored == ">" {
			return 0, math.Inf(1), nil, "" // a base below a limit is at most the limit
		}
	}
	return 100 * (1 - bh/cec.Low()), 100 * (1 - bl/cec.High()), append([]int{k}, used...), fmt.Sprintf("bases of only %s of a CEC of %s", span(bl, bh), cec.Printed)
}

func acidityOfPH(r *Report, add func(Found)) {
	each(r, func(i int, s *Sample) {
		j, p, lo, hi := waterLike(s)
		if p == nil {
			return
		}
		shareLow, shareHigh, used, shown := acidityShare(s)
		if used == nil {
			return
		}
		_, cec := s.one("CEC", "cmol(+)/kg")
		atEight := false // such a CEC has acidity that none of the soil's own pH has
		if cec != nil {
			rank, _ := cecKind(s, cec)
			atEight = rank == 3
		}
		at := append([]int{j}, used...)
		if most := mostAcidity(lo); shareLow > most && !atEight {
			add(Found{i, at, fmt.Sprintf("a soil of pH %s does not go with %s: so much acidity belongs to a far lower pH", p.Printed, shown), "at most " + num(most) + " % acidity", num(shareLow) + " % and more"})
		}
		_, ec := s.one("EC", "dS/m")
		salty := ec != nil && ec.High() > 2
		if hi < veryAcid && shareHigh < leastAcidity && !salty {
			add(Found{i, at, fmt.Sprintf("a soil as acid as pH %s does not go with %s", p.Printed, shown), "at least " + num(leastAcidity) + " % acidity", num(shareHigh) + " % at most"})
		}
	})
}

// How far a soil below pH 4.5 lowers its buffer at least: any but a clean sand
// by this, and one that holds bases for a CEC of five and more by the second.
// Common practice, no source.
const leastLowering, leastLoweringOfBases, someBases = 0.3, 0.5, 5.0

func bufferOfPH(r *Report, add func(Found)) {
	buffers(r, func(i, j int, s *Sample, b *Result, start float64) {
		k, p, _, hi := waterLike(s)
		if p == nil || hi >= veryAcid || b.Censored != "" {
			return
		}
		least := leastLowering
		if lo, _, _, _ := exchangeable(s); lo >= someBases {
			least = leastLoweringOfBases
		}
		if b.Low() > start-least {
			add(Found{i, []int{k, j}, fmt.Sprintf("a soil as acid as pH %s lowers a buffer that starts at %s by more than to %s", p.Printed, num(start), b.Printed), "at most " + num(start-least), b.Printed})
		}
	})
}
