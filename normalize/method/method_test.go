package method

import (
	"math/big"
	"slices"
	"strings"
	"testing"
)

// The analyte ids are a contract with scripts that read the plain results
// table.
func TestContractedAnalytes(t *testing.T) {
	for _, id := range strings.Fields("pH buffer_pH OM P K Ca Mg S Na B Zn Mn Cu Fe Al Cl NO3-N NH4-N EC CEC acidity base_sat_K base_sat_Ca base_sat_Mg base_sat_Na base_sat_H base_sat_total Pb Cd As Cr Ni SAR sand silt clay texture density solids") {
		if a, ok := Standard().Analyte(id); !ok || a.ID != id {
			t.Errorf("no analyte %s", id)
		}
	}
}

func TestSpellingsLeadHome(t *testing.T) {
	n := 0
	for _, m := range Standard().Methods {
		for _, s := range append([]string{m.ID, m.Name}, m.Spellings...) {
			for _, f := range []string{s, strings.ToUpper(s), " " + s} {
				if got, ok := Standard().Method(f); !ok || got != m {
					t.Errorf("%q is not %s", f, m.ID)
				}
				n++
			}
		}
	}
	for _, a := range Standard().Analytes {
		for _, s := range append([]string{a.ID}, a.Spellings...) {
			if got, ok := Standard().Analyte(s); !ok || got != a {
				t.Errorf("%q is not %s", s, a.ID)
			}
			n++
		}
	}
	t.Logf("%d spellings of %d methods and %d analytes", n, len(Standard().Methods), len(Standard().Analytes))
}

// Methods that must never be pooled are rows of their own.
func TestNeverPooled(t *testing.T) {
	for _, group := range [][]string{
		{"Mehlich-3 (ICP)", "Mehlich-3 (colorimetric)", "Mehlich-1 (ICP)", "Bray-P1", "Bray-P2", "Olsen", "Morgan", "modified Morgan"},
		{"SMP buffer", "Mehlich buffer", "Adams-Evans buffer", "Woodruff buffer", "Sikora buffer"},
		{"1:1 soil:water", "1:2 soil:water", "0.01 M CaCl2", "saturated paste"},
		{"Mehlich-3 screen", "Total (EPA 3050-type digestion)"},
		{"Loss on ignition", "Walkley-Black"},
	} {
		var ids []string
		for _, s := range group {
			m, ok := Standard().Method(s)
			if !ok || slices.Contains(ids, m.ID) {
				t.Errorf("%q is unknown or pooled with another", s)
				continue
			}
			ids = append(ids, m.ID)
		}
	}
}

func TestRanges(t *testing.T) {
	ph, _ := Standard().Analyte("pH")
	for _, c := range []struct {
		v               string
		possible, usual bool
	}{{"6.5", true, true}, {"65", false, false}, {"14", true, false}, {"-0.1", false, false}, {"2.9", true, false}} {
		r, _ := new(big.Rat).SetString(c.v)
		if ph.Possible.Holds(r) != c.possible || ph.Usual.Holds(r) != c.usual {
			t.Errorf("pH %s: possible %v, usual %v", c.v, ph.Possible.Holds(r), ph.Usual.Holds(r))
		}
	}
	for _, a := range Standard().Analytes {
		if a.Possible != nil && a.Usual != nil && (a.Usual.Low.Cmp(a.Possible.Low) < 0 || a.Usual.High.Cmp(a.Possible.High) > 0) {
			t.Errorf("%s: usual values that are not possible", a.ID)
		}
	}
}

func TestScores(t *testing.T) {
	a, ok := Standard().Analyte("score: Soil Health")
	if !ok || a.ID != "score:soil-health" || a.Kind != Index || a.Unit != "index" {
		t.Errorf("%+v %v", a, ok)
	}
	if _, ok := Standard().Analyte("score: - "); ok {
		t.Error("a score without a name is known")
	}
}

// What an extract was measured with is part of a method: the two are found
// together in the ways in which reports write them (common practice, no
// source), and never one for the other.
func TestDeterminations(t *testing.T) {
	tab := Standard()
	for text, want := range map[string]string{
		"DTPA (ICP)": "dtpa-icp", "DTPA ICP": "dtpa-icp", "dtpa by ICP-OES": "dtpa-icp", "DTPA/ICP": "dtpa-icp", "DTPA": "dtpa",
		"Bray-P1 (colorimetric)": "bray-p1-colorimetric", "Bray P1, molybdate": "bray-p1-colorimetric", "Olsen colour": "olsen-colorimetric",
		"1 M ammonium acetate pH 7 (AA)": "ammonium-acetate-aa", "Mehlich-3 (ICP)": "mehlich-3-icp", "Mehlich-3 by ICP-AES": "mehlich-3-icp", "modified Morgan (ICP)": "modified-morgan-icp",
		"hot water ICP": "hot-water-icp",
	} {
		m, ok := tab.Method(text)
		if !ok || m.ID != want {
			t.Errorf("%q: got %+v, want %s", text, m, want)
		}
	}
	for _, text := range []string{"ICP", "unknown (ICP)", "Mehlich-3 screen ICP", "by ICP"} {
		if m, ok := tab.Method(text); ok {
			t.Errorf("%q was taken for %s", text, m.ID)
		}
	}
}
