package interpret

import (
	"slices"
	"strings"
	"testing"

	"example.org/windrow/normalize"
)

// New Jersey closes the lawn year from 15 November to 1 March, and New York from
// 1 December to 1 April (rows M54 and M59). What is fed in fall waits for fall
// and is not told to wait until spring and to be given in fall.
func TestWaitingEndsInTheSeason(t *testing.T) {
	rs := loaded(t)
	rec := func() *normalize.Record {
		return recordOf("lawn", res("pH", "6.4", "ph-water-1-1"), res("P", "8", "mehlich-3-icp"), res("K", "30", "mehlich-3-icp"))
	}
	for _, c := range []struct {
		state, on string
		from      map[string]string
	}{
		{"NJ", "2026-03-20", map[string]string{"N": "", "P2O5": "", "K2O": ""}},
		{"NJ", "2026-01-20", map[string]string{"N": "2026-05-01", "P2O5": "2026-09-01", "K2O": ""}},
		{"NY", "2026-12-05", map[string]string{"N": "2027-05-01", "P2O5": "2027-09-01", "K2O": "2027-09-01"}},
	} {
		r := rec()
		r.Sample.Sampled = "2025-11-01"
		a := Advise(r, okReport, rs, Ask{On: c.on, Region: c.state})
		seen := 0
		for _, l := range a.Lines {
			want, about := c.from[l.ID]
			if !about {
				continue
			}
			seen++
			if l.From != want || (l.NotBefore == "") != (want == "") || want != "" && !strings.Contains(l.What, "wait until "+longDate(want)+".") {
				t.Errorf("%s on %s: %s from %q, not before %q: %s", c.state, c.on, l.ID, l.From, l.NotBefore, l.What)
			}
		}
		if seen != 3 {
			t.Errorf("%s on %s: %+v", c.state, c.on, a.Lines)
		}
	}
}

// Where a table names the months, it names as many feedings as amounts are
// given in, so that a client is not told of four times and given three.
func TestFeedingsAreAsManyAsTheirMonths(t *testing.T) {
	named := 0
	for _, rs := range allLoaded(t) {
		for i := range rs.Nutrients {
			table := &rs.Nutrients[i]
			if len(table.Months) == 0 || table.OnceMost == nil {
				continue
			}
			named++
			for _, use := range table.For {
				l, _ := rs.nutrientLine(UseRef{ID: use}, table.Nutrient, nil, areas{per: []int{1000}}, heldTo{})
				if l == nil || len(l.Parts) != len(table.Months) {
					t.Errorf("%s, %s: %d months, and %+v", rs.ID, table.ID, len(table.Months), l)
				}
			}
		}
	}
	if named < 3 {
		t.Errorf("only %d tables name their months", named)
	}
}

// A pH that is told as a limit is as acid or sweet as all that it may be; the
// amount is asked about, and never worked from the limit.
func TestLimitsOfPH(t *testing.T) {
	rs := loaded(t)
	for _, c := range []struct {
		use, sign, value, class, code string
	}{
		{"vegetable garden", "<", "4.0", TooAcid, "ph-limit"},
		{"vegetable garden", "<", "6.0", TooAcid, "ph-limit"},
		{"vegetable garden", "<", "6.5", "", "ph-not-usable"},
		{"vegetable garden", ">", "8.0", TooAlkaline, ""},
		{"vegetable garden", ">", "6.5", "", "ph-not-usable"},
		{"blueberry", ">", "6.0", TooAlkaline, "ph-limit"},
		{"blueberry", "<", "4.5", TooAcid, ""},
	} {
		ph := res("pH", c.value, "ph-water-1-1")
		ph.Censored = c.sign
		a := Advise(recordOf(c.use, ph, res("buffer_pH", "6.0", "mehlich-buffer")), okReport, rs, Ask{On: "2026-04-01"})
		if a.Ratings[0].Class != c.class {
			t.Errorf("%s, %s%s is %q: %s", c.use, c.sign, c.value, a.Ratings[0].Class, a.Ratings[0].Not)
		}
		for _, code := range []string{"ph-limit", "ph-not-usable"} {
			if asks(a, code) != (code == c.code) {
				t.Errorf("%s, %s%s: %+v", c.use, c.sign, c.value, a.Questions)
			}
		}
		for _, l := range a.Lines {
			if (l.ID == "lime" || l.ID == "sulfur") && l.When != Not {
				t.Errorf("%s, %s%s: %s", c.use, c.sign, c.value, l.What)
			}
		}
	}
}

// Where the soil can't be made fit (Royal Horticultural Society: no sulfur where
// there is lime in the soil), nobody is asked how to feed what grows there.
func TestNobodyIsAskedHowToFeedWhereItIsHopeless(t *testing.T) {
	a := Advise(recordOf("blueberry", res("pH", "7.8", "ph-water-1-1"), res("P", "10", "mehlich-3-icp"), res("K", "30", "mehlich-3-icp")), okReport, loaded(t), Ask{On: "2026-04-01", PlantAge: "4", Plants: "6"})
	if len(a.Questions) != 0 || slices.ContainsFunc(a.Lines, func(l Line) bool { return slices.Contains(knownNutrients, l.ID) }) {
		t.Errorf("%+v %+v", a.Questions, a.Lines)
	}
}

// Soil of pH 5.6 to 7.0 is best for tree fruit (row T82, Nebraska Extension).
func TestFruitTreesHaveARangeOfPH(t *testing.T) {
	for ph, want := range map[string]string{"5.5": "", "5.6": "Add no lime. The pH is right", "7.0": "Add no lime. The pH is right", "7.1": "Add no lime and no wood ash."} {
		a := Advise(recordOf("pear", res("pH", ph, "ph-water-1-1")), okReport, loaded(t), Ask{On: "2026-04-01", PlantAge: "4", Plants: "6"})
		said := ""
		for _, l := range a.Lines {
			if l.ID == "lime" {
				said = l.What
			}
		}
		if !strings.HasPrefix(said, want) || (said == "") != (want == "") || asks(a, "ask-us-pH") != (want == "") {
			t.Errorf("pH %s: %q %+v", ph, said, a.Questions)
		}
	}
}

// A new test shows what sulfur has done only where sulfur was given: bushes that
// stand already get none.
func TestTestingAgainTellsWhatWasDone(t *testing.T) {
	silt := res("texture", "", "hydrometer")
	silt.Class = "silt loam"
	for planted, want := range map[string]string{"": "A new pH shows what the sulfur has done.", "4": "Soil changes slowly."} {
		a := Advise(recordOf("blueberry", res("pH", "6.2", "ph-water-1-1"), silt), okReport, loaded(t), Ask{On: "2026-04-01", PlantAge: planted, Plants: planted})
		if a.Again.Why != want {
			t.Errorf("planted %q: %q", planted, a.Again.Why)
		}
	}
}
