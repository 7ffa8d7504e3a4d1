package check

import "fmt"

// How deep one sample is taken at most, in centimetres: two feet where the
// topsoil is tested, and four where only what moves with water is. Common
// practice, no source.
const deepest, deepestOfMobile = 61.5, 123.0

// moves are the tests for which the subsoil is sampled in one piece.
var moves = map[string]bool{"NO3-N": true, "NH4-N": true, "SO4-S": true, "S": true, "Cl": true, "EC": true, "B": true, "moisture": true}

func depthUnusual(r *Report, add func(Found)) {
	each(r, func(i int, s *Sample) {
		if s.Depth <= 0 {
			return
		}
		most := deepestOfMobile
		thick := s.Depth - s.Top
		for j := range s.Results {
			if !moves[s.Results[j].Analyte] {
				most = deepest
				break
			}
		}
		if thick > most || thick < 1 {
			add(Found{Sample: i, What: fmt.Sprintf("the sample is said to be from %s to %s cm of depth, and one sample is hardly taken so", num(s.Top), num(s.Depth)), Expected: "a layer of 1 to " + num(most) + " cm", Found: num(thick) + " cm"})
		}
	})
}
