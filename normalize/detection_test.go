package normalize

import (
	"fmt"
	"math/big"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// planted is an error put into good readings: what a lost point, a slipped
// column or a tired typist makes of a report. plant changes the extract and
// reports whether it could.
type planted struct {
	name  string
	plant func(r *rand.Rand, ex *mappings.Extract) bool
	floor float64 // percent that must be noticed: what was measured, less a little
	alone float64 // the same in a report of one sample; 0 for what needs several
}

// numeric are the readings of a sample that hold a plain amount.
func numeric(s *mappings.SampleExtract) (at []int) {
	for i := range s.Readings {
		if rd := &s.Readings[i]; rd.Number != "" && rd.Basis != IndexBasis && rd.Unit != "index" && rd.Censor == "" && strings.Trim(rd.Number, "0.") != "" {
			at = append(at, i)
		}
	}
	return at
}

func anySample(r *rand.Rand, ex *mappings.Extract) *mappings.SampleExtract {
	return ex.Samples[r.IntN(len(ex.Samples))]
}

func put(rd *mappings.Reading, number string) { rd.Number, rd.Printed, rd.Full = number, number, "" }

func trade(a, b *mappings.Reading) bool {
	if a.Number == b.Number {
		return false
	}
	x, y := a.Number, b.Number
	put(a, y)
	put(b, x)
	return true
}

// times multiplies a number by ten to the k without losing or gaining digits.
func times(number string, k int) string {
	v, _ := new(big.Rat).SetString(number)
	_, frac, _ := strings.Cut(number, ".")
	if k > 0 {
		return v.Mul(v, big.NewRat(10, 1)).FloatString(max(0, len(frac)-1))
	}
	return v.Mul(v, big.NewRat(1, 10)).FloatString(len(frac) + 1)
}

func one(change func(number string, r *rand.Rand) string) func(*rand.Rand, *mappings.Extract) bool {
	return func(r *rand.Rand, ex *mappings.Extract) bool {
		s := anySample(r, ex)
		at := numeric(s)
		if len(at) == 0 {
			return false
		}
		rd := &s.Readings[at[r.IntN(len(at))]]
		n := change(rd.Number, r)
		if n == "" || n == rd.Number {
			return false
		}
		put(rd, n)
		return true
	}
}

// side gives the readings of two analytes of a sample, nil unless each stands
// there once.
func side(s *mappings.SampleExtract, a, b string) (x, y *mappings.Reading) {
	for i := range s.Readings {
		switch rd := &s.Readings[i]; {
		case rd.Number == "" || rd.Basis == IndexBasis || rd.Censor != "":
		case rd.Analyte == a && x == nil:
			x = rd
		case rd.Analyte == b && y == nil:
			y = rd
		}
	}
	return x, y
}

func plantings() []planted {
	return []planted{
		{"ten times too high", one(func(n string, _ *rand.Rand) string { return times(n, 1) }), 70, 56},
		{"ten times too low", one(func(n string, _ *rand.Rand) string { return times(n, -1) }), 58, 49},
		{"the decimal point lost", one(func(n string, _ *rand.Rand) string {
			if !strings.Contains(n, ".") {
				return ""
			}
			return strings.TrimLeft(strings.Replace(n, ".", "", 1), "0")
		}), 76, 57},
		{"two digits exchanged", one(func(n string, r *rand.Rand) string {
			b := []byte(n)
			for range 8 {
				i := r.IntN(max(1, len(b)-1))
				if i+1 < len(b) && b[i] != '.' && b[i+1] != '.' && b[i] != b[i+1] && (b[i+1] != '0' || i > 0) {
					b[i], b[i+1] = b[i+1], b[i]
					return string(b)
				}
			}
			return ""
		}), 44, 38},
		{"two neighbouring results exchanged", func(r *rand.Rand, ex *mappings.Extract) bool {
			s := anySample(r, ex)
			at := numeric(s)
			if len(at) < 2 {
				return false
			}
			k := r.IntN(len(at) - 1)
			return trade(&s.Readings[at[k]], &s.Readings[at[k+1]])
		}, 73, 67},
		{"phosphorus and potassium exchanged", func(r *rand.Rand, ex *mappings.Extract) bool {
			x, y := side(anySample(r, ex), "P", "K")
			return x != nil && y != nil && trade(x, y)
		}, 75, 74},
		{"a row shifted by one column from some column on", func(r *rand.Rand, ex *mappings.Extract) bool {
			s := anySample(r, ex)
			at := numeric(s)
			if len(at) < 4 {
				return false
			}
			from := r.IntN(len(at) - 2)
			for k := len(at) - 1; k > from; k-- {
				put(&s.Readings[at[k]], s.Readings[at[k-1]].Number)
			}
			return true
		}, 95, 95},
		{"a column shifted by one row in a report of several samples", func(r *rand.Rand, ex *mappings.Extract) bool {
			if len(ex.Samples) < 3 {
				return false
			}
			at := numeric(ex.Samples[0])
			if len(at) == 0 {
				return false
			}
			j, changed := at[r.IntN(len(at))], false
			for k := len(ex.Samples) - 1; k > 0; k-- {
				a, b := ex.Samples[k], ex.Samples[k-1]
				if j >= len(a.Readings) || j >= len(b.Readings) || a.Readings[j].Analyte != b.Readings[j].Analyte || a.Readings[j].Number == "" || b.Readings[j].Number == "" {
					return false
				}
				changed = changed || a.Readings[j].Number != b.Readings[j].Number
				put(&a.Readings[j], b.Readings[j].Number)
			}
			return changed
		}, 54, 0},
		{"two neighbouring columns exchanged in the whole report", func(r *rand.Rand, ex *mappings.Extract) bool {
			at := numeric(ex.Samples[0])
			if len(at) < 2 {
				return false
			}
			k, changed := r.IntN(len(at)-1), false
			i, j := at[k], at[k+1]
			for _, s := range ex.Samples {
				if j >= len(s.Readings) || s.Readings[i].Analyte != ex.Samples[0].Readings[i].Analyte || s.Readings[j].Analyte != ex.Samples[0].Readings[j].Analyte {
					return false
				}
				changed = trade(&s.Readings[i], &s.Readings[j]) || changed
			}
			return changed
		}, 79, 65},
		{"a row printed over the one after it", func(r *rand.Rand, ex *mappings.Extract) bool {
			if len(ex.Samples) < 2 {
				return false
			}
			k := r.IntN(len(ex.Samples) - 1)
			ex.Samples[k+1].Readings = append([]mappings.Reading(nil), ex.Samples[k].Readings...)
			return true
		}, 99, 0},
	}
}

// copied is an extract whose readings may be changed.
func copied(ex *mappings.Extract) *mappings.Extract {
	c := *ex
	c.Samples = make([]*mappings.SampleExtract, len(ex.Samples))
	for i, s := range ex.Samples {
		one := *s
		one.Readings = slices.Clone(s.Readings)
		for k := range one.Readings {
			if s.Density != nil && one.Readings[k].Analyte == "density" {
				one.Density = &one.Readings[k]
			}
		}
		c.Samples[i] = &one
	}
	return &c
}

// What share of errors does the cross-examination notice? Errors of ten kinds
// are planted at random, always the same ones, in the good readings of the
// truth files, and it is counted how often a finding flags or holds the
// report. The floors are what was measured, less a little: a check that grows
// blind fails here, and so does one that is taken away.
func TestPlantedErrorsAreNoticed(t *testing.T) {
	var good, alone []*mappings.Extract // without what is flagged as it is
	for _, f := range truths(t) {
		ex := f.extract(t)
		if len(ex.Samples) > 40 || Build(ex, Options{}).Status != OK {
			continue
		}
		good = append(good, ex)
		for _, s := range ex.Samples {
			one := copied(ex)
			one.Samples = []*mappings.SampleExtract{s}
			alone = append(alone, one)
		}
	}
	t.Run("reports as they came", func(t *testing.T) { notice(t, good, func(p *planted) float64 { return p.floor }) })
	t.Run("reports of one sample", func(t *testing.T) { notice(t, alone, func(p *planted) float64 { return p.alone }) })
}

// notice plants errors of each kind and counts those noticed. A kind without a
// floor can't be planted in these reports.
func notice(t *testing.T, good []*mappings.Extract, floor func(*planted) float64) {
	const tries = 150
	for n, p := range plantings() {
		least := floor(&p)
		if least == 0 {
			continue
		}
		r := rand.New(rand.NewPCG(uint64(n), 1911)) //nolint:gosec // the same errors each time are wanted
		made, noticed, by := 0, 0, map[string]int{}
		for k := 0; made < tries && k < 20*tries; k++ {
			ex := copied(good[r.IntN(len(good))])
			if !p.plant(r, ex) {
				continue
			}
			made++
			rep := Build(ex, Options{})
			if rep.Status != OK {
				noticed++
			}
			for c := range spoken(rep) {
				by[c]++
			}
		}
		if made < tries {
			t.Errorf("%s: only %d could be planted", p.name, made)
			continue
		}
		share := 100 * float64(noticed) / float64(made)
		t.Logf("%-58s %5.1f %% of %d   %s", p.name, share, made, fmt.Sprint(by))
		if share < least {
			t.Errorf("%s: noticed in %.1f %%, floor %.0f %%", p.name, share, least)
		}
	}
}

// spoken are the checks that flagged or held something of a report.
func spoken(rep *Report) map[string]bool {
	seen := map[string]bool{}
	for _, rec := range rep.Records {
		all := slices.Clone(rec.Checks)
		for _, res := range rec.Results {
			all = append(all, res.Findings...)
		}
		for _, f := range all {
			if f.Severity != ingest.Note {
				seen[f.Check] = true
			}
		}
	}
	return seen
}
