package normalize

import (
	"math/big"
	"strings"
	"testing"

	"example.org/windrow/mappings"
)

// What if a mapping or a laboratory went wrong in a way that no heading
// shows? Each misreading here is made in every sample of every truth file
// that can have it, one sample at a time, and it is counted how often the
// cross-checks notice. The floors are what was measured when this was
// written, less a little: a check that grows blind fails here.
func TestMisreadingsAreNoticed(t *testing.T) {
	scale := func(analyte string, f int64) func(s *mappings.SampleExtract) bool {
		return func(s *mappings.SampleExtract) bool {
			for i := range s.Readings {
				rd := &s.Readings[i]
				if r, ok := new(big.Rat).SetString(rd.Number); ok && rd.Analyte == analyte && rd.Basis != IndexBasis && rd.Censor == "" && r.Sign() > 0 {
					rd.Number, rd.Full = strings.TrimSuffix(r.Mul(r, big.NewRat(f, 1)).FloatString(2), ".00"), ""
					return true
				}
			}
			return false
		}
	}
	swap := func(a, b string) func(s *mappings.SampleExtract) bool {
		return func(s *mappings.SampleExtract) bool {
			var x, y *mappings.Reading
			for i := range s.Readings {
				switch s.Readings[i].Analyte {
				case a:
					x = &s.Readings[i]
				case b:
					y = &s.Readings[i]
				}
			}
			if x == nil || y == nil || x.Number == "" || y.Number == "" || x.Number == y.Number {
				return false
			}
			x.Number, y.Number, x.Full, y.Full = y.Number, x.Number, "", ""
			return true
		}
	}
	basis := func(analyte, b string) func(s *mappings.SampleExtract) bool {
		return func(s *mappings.SampleExtract) bool {
			for i := range s.Readings {
				if rd := &s.Readings[i]; rd.Analyte == analyte && rd.Number != "" && rd.Unit != "index" && rd.Unit != "cmol(+)/kg" {
					rd.Basis = b
					return true
				}
			}
			return false
		}
	}
	for _, c := range []struct {
		name  string
		do    func(*mappings.SampleExtract) bool
		floor float64 // percent that must be noticed
	}{
		{"the decimal point of pH lost", scale("pH", 10), 100},
		{"the decimal point of CEC lost", scale("CEC", 10), 98},
		{"calcium ten times too high", scale("Ca", 10), 94},
		{"calcium doubled (lb/acre taken for ppm)", scale("Ca", 2), 94},
		{"magnesium doubled", scale("Mg", 2), 93},
		{"potassium ten times too high", scale("K", 10), 94},
		{"calcium and magnesium exchanged", swap("Ca", "Mg"), 83},
		{"potassium and magnesium exchanged", swap("K", "Mg"), 73},
		{"acidity and CEC exchanged", swap("acidity", "CEC"), 99},
		{"sand and clay exchanged", swap("sand", "clay"), 60},
		{"pH and buffer pH exchanged", swap("pH", "buffer_pH"), 50},
		{"potassium taken as K2O", basis("K", "K2O"), 70},
		{"boron in ppm though in ppb", func(s *mappings.SampleExtract) bool {
			for i := range s.Readings {
				if rd := &s.Readings[i]; rd.Analyte == "B" && rd.Unit == "ug/kg" {
					rd.Unit = "mg/kg"
					return true
				}
			}
			return false
		}, 95},
	} {
		made, noticed := 0, 0
		for _, f := range truths(t) {
			ex := f.extract(t)
			for _, s := range ex.Samples {
				one := &mappings.SampleExtract{Fields: s.Fields, Readings: append([]mappings.Reading(nil), s.Readings...), Density: s.Density}
				if !c.do(one) {
					continue
				}
				made++
				rep := Build(&mappings.Extract{Source: ex.Source, Samples: []*mappings.SampleExtract{one}}, Options{})
				if rep.Status != OK {
					noticed++
				}
			}
		}
		if made < 20 {
			t.Errorf("%s: only %d samples can have it", c.name, made)
			continue
		}
		p := 100 * float64(noticed) / float64(made)
		t.Logf("%-42s noticed in %5.1f %% of %d", c.name, p, made)
		if p < c.floor {
			t.Errorf("%s: noticed in %.1f %% of %d samples, floor %.0f %%", c.name, p, made, c.floor)
		}
	}
}
