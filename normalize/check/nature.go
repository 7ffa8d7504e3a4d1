package check

import (
	"fmt"
	"math"
	"strings"
	"sync"
)

// A Typical is what most fields have of an analyte by some methods: the middle
// and, for how far fields scatter about it, the spread as a logarithm of ten.
// One sample by itself is judged by it where there are no others to compare.
type Typical struct {
	Analyte    string
	Methods    []string // method ids; none for whatever extract is not named before
	Middle     float64  // in the analyte's unit
	Spread     float64
	Source     string // key in the bibliography
	Provenance string
	Note       string
}

func (t *Typical) has(x *Result) bool {
	if len(t.Methods) == 0 {
		return true
	}
	for _, m := range t.Methods {
		if m == x.Method {
			return true
		}
	}
	return false
}

var typicals = sync.OnceValue(func() map[string][]Typical {
	m := map[string][]Typical{}
	for _, t := range Typicals() {
		m[t.Analyte] = append(m[t.Analyte], t)
	}
	return m
})

// typical is the row for a result; the first that has its method. None for a
// solution, a total or something that is no amount.
func typical(x *Result) *Typical {
	if x.MethodKind == "solution" || x.MethodKind == "total" || x.Unit != "mg/kg" && x.Unit != "%" && x.Unit != "cmol(+)/kg" {
		return nil
	}
	rows := typicals()[x.Analyte]
	for k := range rows {
		if rows[k].has(x) {
			return &rows[k]
		}
	}
	return nil
}

// off is how many spreads an amount lies from the middle.
func (t *Typical) off(v float64) float64 {
	if v <= 0 {
		return math.Inf(1)
	}
	return math.Abs(math.Log10(v/t.Middle)) / t.Spread
}

// Two amounts are taken for exchanged when each lies this many spreads from
// its own middle and, exchanged, within the second of the other's.
const strange, atHome = 2.5, 1.5

func exchangedAmounts(r *Report, add func(Found)) {
	type amount struct {
		j   int
		x   *Result
		t   *Typical
		off float64
	}
	var row []amount
	each(r, func(i int, s *Sample) {
		row = row[:0]
		for j := range s.Results {
			if x := &s.Results[j]; x.comparable() {
				if t := typical(x); t != nil {
					if off := t.off(x.Value); off > strange {
						row = append(row, amount{j, x, t, off})
					}
				}
			}
		}
		for a := range row {
			for b := a + 1; b < len(row); b++ {
				x, y := &row[a], &row[b]
				if x.x.Analyte == y.x.Analyte {
					continue
				}
				// What each would be if the other's number stood in its place.
				if x.t.off(y.x.Number*x.x.Value/x.x.Number) < atHome && y.t.off(x.x.Number*y.x.Value/y.x.Number) < atHome {
					add(Found{i, []int{x.j, y.j}, fmt.Sprintf("%s %s and %s %s are both far from what fields have, and each would suit the other: they may have been exchanged", x.x.Name, x.x.Printed, y.x.Name, y.x.Printed),
						"amounts like those of other fields", x.x.Printed + " and " + y.x.Printed})
				}
			}
		}
	})
}

// calcium is a sample's only extractable calcium, in mg/kg.
func calcium(s *Sample) (int, *Result) {
	j, ca := s.one("Ca", "mg/kg")
	if ca == nil || ca.Censored == ">" {
		return -1, nil
	}
	return j, ca
}

// phosphorusAboveCalcium: calcium is the chief cation of a soil, and what
// binds phosphorus in it; even soils dunged for decades have several times as
// much of it.
func phosphorusAboveCalcium(r *Report, add func(Found)) {
	each(r, func(i int, s *Sample) {
		k, ca := calcium(s)
		if ca == nil {
			return
		}
		for j := range s.Results {
			p := &s.Results[j]
			if p.Analyte == "P" && p.Has && p.Unit == "mg/kg" && p.MethodKind != "solution" && p.MethodKind != "total" && p.Low() > ca.High() {
				add(Found{i, []int{j, k}, fmt.Sprintf("more phosphorus (%s) is printed than calcium (%s)", amount(p), amount(ca)), "phosphorus well below calcium", p.Printed + " and " + ca.Printed})
			}
		}
	})
}

// mostMagnesium is how many times calcium magnesium may be, by charge, before
// it is thought to stand in calcium's place.
const mostMagnesium = 4.0

func calciumLeads(r *Report, add func(Found)) {
	each(r, func(i int, s *Sample) {
		j, ca := calcium(s)
		if ca == nil {
			return
		}
		_, most := ca.charge()
		for _, o := range []struct {
			analyte string
			times   float64
		}{{"K", 1}, {"Mg", mostMagnesium}} {
			k, x := s.one(o.analyte, "mg/kg")
			if x == nil {
				continue
			}
			if lo, _ := x.charge(); lo > o.times*most {
				add(Found{i, []int{j, k}, fmt.Sprintf("%s of %s is far below the %s of %s: calcium is the chief cation of a soil", strings.ToLower(ca.Name), amount(ca), strings.ToLower(x.Name), amount(x)), "more calcium", ca.Printed})
			}
		}
	})
}
