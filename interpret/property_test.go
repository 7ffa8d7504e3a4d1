package interpret

import (
	"fmt"
	"math/big"
	"reflect"
	"testing"

	"example.org/windrow/normalize"
	"pgregory.net/rapid"
)

func dec(t *rapid.T, name string, lo, hi, places int) string {
	return new(big.Rat).SetFrac64(int64(rapid.IntRange(lo, hi).Draw(t, name)), pow10(places)).FloatString(places)
}

func pow10(n int) int64 {
	p := int64(1)
	for range n {
		p *= 10
	}
	return p
}

var builtInUses = []string{"vegetable garden", "raised bed", "lawn", "native bed", "flower bed", "blueberry", "strawberry", "fruit trees", "field corn", "soybean", "wheat"}

// drawn is a random record that a laboratory could have printed.
func drawn(t *rapid.T, use string) *normalize.Record {
	rec := recordOf(use, res("pH", dec(t, "pH", 40, 85, 1), "ph-water-1-1"))
	if rapid.Bool().Draw(t, "buffer") {
		rec.Results = append(rec.Results, res("buffer_pH", dec(t, "bpH", 520, 660, 2), "mehlich-buffer"))
	}
	if rapid.Bool().Draw(t, "has acidity") {
		rec.Results = append(rec.Results, res("acidity", dec(t, "acidity", 0, 280, 1), "mehlich-buffer"))
	}
	for _, a := range []string{"P", "K", "Mg", "Ca"} {
		if rapid.Bool().Draw(t, "has "+a) {
			rec.Results = append(rec.Results, res(a, dec(t, a, 0, 2500, 1), "mehlich-3-icp"))
		}
	}
	return rec
}

func needOf(a *Advice, id string) *big.Rat {
	for _, l := range a.Lines {
		if l.ID == id && l.Need != "" {
			r, _ := parseNum(l.Need)
			return r
		}
	}
	return nil
}

func set(rec *normalize.Record, analyte, value string) *normalize.Record {
	c := *rec
	c.Results = nil
	for _, r := range rec.Results {
		if r.Analyte == analyte {
			r = res(analyte, value, r.Method)
		}
		c.Results = append(c.Results, r)
	}
	return &c
}

func TestNeverLimeAndSulfur(t *testing.T) {
	base := loaded(t)
	rs := *base
	sulfur := tennessee
	sulfur.For = nil
	for _, u := range rs.LandUses {
		sulfur.For = append(sulfur.For, u.ID)
	}
	rs.Sulfur = []SulfurRule{sulfur}
	rs.PH = append([]PHTarget{}, base.PH...)
	for i := range rs.PH {
		rs.PH[i].AcidifyAbove = "6.4"
	}
	limed, sour := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		rec := drawn(t, rapid.SampledFrom(builtInUses).Draw(t, "use"))
		tex := res("texture", "", "hydrometer")
		tex.Class = "clay"
		rec.Results = append(rec.Results, tex)
		a := Advise(rec, okReport, &rs, Ask{On: "2026-04-01"})
		lime, sulf := needOf(a, "lime"), needOf(a, "sulfur")
		isLime, isSulf := lime != nil && lime.Sign() > 0, sulf != nil && sulf.Sign() > 0
		if isLime {
			limed++
		}
		if isSulf {
			sour++
		}
		if isLime && isSulf {
			t.Fatal("lime and sulfur for one soil")
		}
	})
	if limed == 0 || sour == 0 {
		t.Errorf("limed %d, sulfur %d: nothing was tested", limed, sour)
	}
}

// A richer soil never gets more, and a feeding never exceeds its cap.
func TestRatesFallAndCapsHold(t *testing.T) {
	rs := loaded(t)
	rapid.Check(t, func(t *rapid.T) {
		use := rapid.SampledFrom(builtInUses).Draw(t, "use")
		rec := drawn(t, use)
		analyte := rapid.SampledFrom([]string{"P", "K"}).Draw(t, "analyte")
		n := map[string]string{"P": "P2O5", "K": "K2O"}[analyte]
		lo := rapid.IntRange(0, 2000).Draw(t, "lower")
		hi := rapid.IntRange(lo, 2500).Draw(t, "higher")
		x := needOf(Advise(set(rec, analyte, fmt.Sprint(lo)), okReport, rs, Ask{}), n)
		y := needOf(Advise(set(rec, analyte, fmt.Sprint(hi)), okReport, rs, Ask{}), n)
		if x != nil && y != nil && y.Cmp(x) > 0 {
			t.Fatalf("%s %d gets %s, %d gets %s", analyte, lo, x.FloatString(2), hi, y.FloatString(2))
		}
		for _, l := range Advise(rec, okReport, rs, Ask{AreaSqFt: "1000"}).Lines {
			if l.ID == "lime" && use == "lawn" {
				for _, p := range l.Parts {
					if num(t, p.PerArea[0].Lb).Cmp(rat(50, 1)) > 0 {
						t.Fatalf("%s lb at once on a lawn", p.PerArea[0].Lb)
					}
				}
			}
			if tab := rs.table(l0(use), l.ID); tab != nil && tab.OnceMost != nil {
				for _, p := range l.Parts {
					once := quo(mul(num(t, p.PerArea[0].Lb), tab.Material.Percent.rat()), rat(100, 1))
					if once.Cmp(tab.OnceMost.Most.rat()) > 0 {
						t.Fatalf("%s lb of %s at once", once.FloatString(3), l.ID)
					}
				}
			}
		}
	})
}

func l0(use string) string {
	return map[string]string{"vegetable garden": "vegetable-garden", "raised bed": "vegetable-garden", "lawn": "lawn", "native bed": "native-bed"}[use]
}

// Every line of advice, caution and rating rests on a row that names a known
// source, and weak rows are disclosed.
func TestEverythingIsTraceable(t *testing.T) {
	rs := loaded(t)
	lines := 0
	rapid.Check(t, func(t *rapid.T) {
		a := Advise(drawn(t, rapid.SampledFrom(builtInUses).Draw(t, "use")), okReport, rs, Ask{On: "2026-04-01"})
		weak := false
		check := func(what string, bs []Basis) {
			if len(bs) == 0 {
				t.Fatalf("%s rests on nothing", what)
			}
			for _, b := range bs {
				if _, ok := rs.Sources[b.Source]; !ok || b.Row == "" || b.At == "" || b.Provenance == "" {
					t.Fatalf("%s: %+v", what, b)
				}
			}
		}
		for _, l := range a.Lines {
			lines++
			check(l.ID, l.Basis)
			for _, b := range l.Basis {
				weak = weak || !b.Provenance.Firm()
			}
		}
		for _, c := range a.Cautions {
			check(c.ID, c.Basis)
		}
		for _, r := range a.Ratings {
			if r.Class != "" {
				check(r.Analyte, r.Basis)
			}
		}
		if weak && len(a.Disclosure) == 0 {
			t.Fatal("a weak row was used and not disclosed")
		}
	})
	if lines == 0 {
		t.Error("nothing was tested")
	}
}

func TestSameInSameOut(t *testing.T) {
	rs := loaded(t)
	rapid.Check(t, func(t *rapid.T) {
		rec := drawn(t, rapid.SampledFrom(builtInUses).Draw(t, "use"))
		if !reflect.DeepEqual(Advise(rec, okReport, rs, Ask{On: "2026-04-01"}), Advise(rec, okReport, rs, Ask{On: "2026-04-01"})) {
			t.Fatal("the same record gave two advices")
		}
	})
}
