package check

import (
	"fmt"
	"sort"
)

func impossible(r *Report, add func(Found)) {
	each(r, func(i int, s *Sample) {
		for j := range s.Results {
			x := &s.Results[j]
			known := x.PossibleLow != 0 || x.PossibleHigh != 0
			if !x.Has || !known && x.Value >= 0 || known && x.Value >= x.PossibleLow && x.Value <= x.PossibleHigh {
				continue
			}
			what := fmt.Sprintf("%s can't be %s", x.Name, amount(x))
			lo, hi := x.usual()
			if v := x.Value / 10; x.Value > 0 && v >= lo && v <= hi && (x.Unit == "pH" || x.Unit == "%") {
				what += "; a decimal point may have been lost"
			}
			expected := "zero or more"
			if known {
				expected = span(x.PossibleLow, x.PossibleHigh)
			}
			add(Found{i, []int{j}, what, expected, x.Printed})
		}
	})
}

func unusual(r *Report, add func(Found)) {
	each(r, func(i int, s *Sample) {
		for j := range s.Results {
			x := &s.Results[j]
			lo, hi := x.usual()
			if !x.Has || x.Censored != "" || lo == 0 && hi == 0 {
				continue
			}
			if x.PossibleHigh != 0 && (x.Value < x.PossibleLow || x.Value > x.PossibleHigh) {
				continue // said already
			}
			if notOfSoil(x) {
				continue // will be said
			}
			if x.High() < lo || x.Low() > hi {
				add(Found{i, []int{j}, fmt.Sprintf("%s of %s is far from what soils have", x.Name, amount(x)), span(lo, hi), x.Printed})
			}
		}
	})
}

// amount is a value with its unit, where the unit says more than the name.
func amount(x *Result) string {
	if x.Unit == "pH" || x.Unit == "ratio" {
		return num(x.Value)
	}
	return num(x.Value) + " " + x.Unit
}

func methodUnfit(r *Report, add func(Found)) {
	each(r, func(i int, s *Sample) {
		for j := range s.Results {
			if x := &s.Results[j]; !x.MethodFits {
				add(Found{i, []int{j}, fmt.Sprintf("%s is not measured by %s", x.Name, x.Method), "", x.Method})
			}
		}
	})
}

// Starting pH of the buffers, by method id. Common practice, no source.
var bufferStart = map[string]float64{"mehlich-buffer": 6.6, "modified-mehlich-buffer": 6.6, "smp-buffer": 7.5, "sikora-buffer": 7.7, "moore-sikora-buffer": 8.0,
	"adams-evans-buffer": 8.0, "woodruff-buffer": 7.0}

// bufferSlack is how far a reading may lie outside its limits before it is
// more than the scatter of two electrodes, in pH.
const bufferSlack = 0.3

// saltSlack is how far below both soil and buffer their mixture may read, in
// pH: the salts in a buffer drive acidity off the soil, as in a salt pH, which
// is up to about one unit below the pH in water. Common practice, no source.
const saltSlack = 1.0

func buffers(r *Report, f func(i, j int, s *Sample, b *Result, start float64)) {
	each(r, func(i int, s *Sample) {
		for j := range s.Results {
			b := &s.Results[j]
			if start, ok := bufferStart[b.Method]; ok && b.Analyte == "buffer_pH" && b.Has {
				f(i, j, s, b, start)
			}
		}
	})
}

func bufferAboveStart(r *Report, add func(Found)) {
	buffers(r, func(i, j int, _ *Sample, b *Result, start float64) {
		if b.Low() > start+bufferSlack {
			add(Found{i, []int{j}, fmt.Sprintf("this buffer starts at pH %s and soil only lowers it, but %s is printed", num(start), b.Printed), "at most " + num(start), b.Printed})
		}
	})
}

func waterPH(s *Sample) (int, *Result) {
	k, p := s.one("pH", "pH")
	if p == nil || len(p.Method) < 8 || p.Method[:8] != "ph-water" {
		return -1, nil
	}
	return k, p
}

func bufferBelowSoil(r *Report, add func(Found)) {
	buffers(r, func(i, j int, s *Sample, b *Result, start float64) {
		k, p := waterPH(s)
		if p == nil {
			return
		}
		if least := min(p.Low(), start); b.High() < least-saltSlack {
			add(Found{i, []int{j, k}, "soil and buffer mixed can't be much more acid than both: the buffer pH is far below the soil pH", "at least " + num(least), b.Printed})
		}
	})
}

func bufferNotNeeded(r *Report, add func(Found)) {
	buffers(r, func(i, j int, s *Sample, b *Result, _ float64) {
		if _, p := waterPH(s); p != nil && p.Low() > 7.0 {
			add(Found{i, []int{j}, "a buffer pH is printed although the soil is not acid", "soil pH below 7.0", p.Printed})
		}
	})
}

// acidityOrder compares the samples of one report: acidity is read off the
// buffer pH, so more of the one goes with less of the other, whatever the
// laboratory's own line between them.
func acidityOrder(r *Report, add func(Found)) {
	type entry struct {
		i, j int
		b, a *Result
	}
	groups := map[string][]entry{}
	var order []string
	buffers(r, func(i, j int, s *Sample, b *Result, _ float64) {
		if _, a := s.one("acidity", "cmol(+)/kg"); a != nil && a.Method == b.Method && a.Censored == "" && b.Censored == "" {
			if groups[b.Method] == nil {
				order = append(order, b.Method)
			}
			groups[b.Method] = append(groups[b.Method], entry{i, j, b, a})
		}
	})
	for _, m := range order {
		g := groups[m]
		sort.SliceStable(g, func(x, y int) bool { return g[x].b.Value < g[y].b.Value })
		least := 0 // the entry of the least acidity among the lower buffer pH
		for n := 1; n < len(g); n++ {
			l := g[least]
			if l.b.High() < g[n].b.Low() && l.a.High()+l.a.Half < g[n].a.Low()-g[n].a.Half {
				add(Found{g[n].i, []int{g[n].j}, fmt.Sprintf("buffer pH %s goes with acidity %s here, but the lower buffer pH %s of sample %s with acidity %s", g[n].b.Printed, g[n].a.Printed, l.b.Printed,
					r.Samples[l.i].LabID, l.a.Printed), "acidity of at most " + l.a.Printed, g[n].a.Printed})
			}
			if g[n].a.Value < l.a.Value {
				least = n
			}
		}
	}
}
