package check

import (
	"fmt"
	"strings"
)

func particles(s *Sample) (used []int, sand, silt, clay *Result) {
	i, a := s.one("sand", "%")
	j, b := s.one("silt", "%")
	k, c := s.one("clay", "%")
	return []int{i, j, k}, a, b, c
}

func particleSum(r *Report, add func(Found)) {
	each(r, func(i int, s *Sample) {
		used, a, b, c := particles(s)
		if a == nil || b == nil || c == nil {
			return
		}
		lo, hi := a.Low()+b.Low()+c.Low(), a.High()+b.High()+c.High()
		if lo > 100.1 || hi < 99.9 {
			add(Found{i, used, "sand, silt and clay don't make 100 %", "100 %", num(a.Value+b.Value+c.Value) + " %"})
		}
	})
}

// TextureClass is the class of the USDA triangle for shares of sand, silt and
// clay in percent. The boundaries are from memory, unverified.
func TextureClass(sand, silt, clay float64) string {
	switch {
	case silt+1.5*clay < 15:
		return "sand"
	case silt+2*clay < 30:
		return "loamy sand"
	case clay >= 40 && silt >= 40:
		return "silty clay"
	case clay >= 35 && sand > 45:
		return "sandy clay"
	case clay >= 40:
		return "clay"
	case clay >= 27 && sand <= 20:
		return "silty clay loam"
	case clay >= 27 && sand <= 45:
		return "clay loam"
	case clay >= 20 && silt < 28 && sand > 45:
		return "sandy clay loam"
	case silt >= 80 && clay < 12:
		return "silt"
	case silt >= 50:
		return "silt loam"
	case clay >= 7 && sand <= 52 && silt >= 28:
		return "loam"
	}
	return "sandy loam"
}

// textureCodes are the usual short forms of the classes. Common practice.
var textureCodes = map[string]string{"s": "sand", "ls": "loamy sand", "sl": "sandy loam", "l": "loam", "sil": "silt loam", "si": "silt", "scl": "sandy clay loam",
	"cl": "clay loam", "sicl": "silty clay loam", "sc": "sandy clay", "sic": "silty clay", "c": "clay"}

func textureClass(r *Report, add func(Found)) {
	known := map[string]bool{}
	for _, c := range textureCodes {
		known[c] = true
	}
	each(r, func(i int, s *Sample) {
		used, a, b, c := particles(s)
		if a == nil || b == nil || c == nil {
			return
		}
		for j := range s.Results {
			x := &s.Results[j]
			if x.Analyte != "texture" || x.Class == "" {
				continue
			}
			class := strings.ToLower(strings.TrimSpace(x.Class))
			if full, ok := textureCodes[class]; ok {
				class = full
			}
			if !known[class] {
				continue // a word of the laboratory's own
			}
			// A sample on a boundary may be called by either name: hydrometer
			// readings are good to a percent or two.
			fits := false
			const step = 2.0
			for _, d := range [][2]float64{{0, 0}, {step, 0}, {-step, 0}, {0, step}, {0, -step}, {step, -step}, {-step, step}, {step, step}, {-step, -step}} {
				sand, clay := a.Value+d[0], c.Value+d[1]
				fits = fits || TextureClass(sand, 100-sand-clay, clay) == class
			}
			if !fits {
				add(Found{i, append([]int{j}, used...), fmt.Sprintf("%s %% sand, %s %% silt and %s %% clay are not the texture printed", a.Printed, b.Printed, c.Printed),
					TextureClass(a.Value, b.Value, c.Value), x.Printed})
			}
		}
	})
}
