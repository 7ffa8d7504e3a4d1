package interpret

import (
	"strings"
	"testing"

	"example.org/windrow/normalize"
)

// The crop pages of the University of Georgia, codes 041 (orchardgrass pasture),
// 037 (Coastal bermuda hay) and 103 (muscadine, home garden), read whole but
// for their blank tables: bands in lb/acre as printed, pH, nitrogen and
// magnesium an acre, feeding of a vine by its year.
func TestGeorgiaPages(t *testing.T) {
	bands := map[string]map[string][][2]string{ // lb/acre and the page's word
		"georgia-coastal-plain": {
			"P":  {{"30", "low"}, {"31", "medium"}, {"60", "medium"}, {"61", "high"}, {"100", "high"}, {"102", "very high"}},
			"K":  {{"60", "low"}, {"61", "medium"}, {"150", "medium"}, {"151", "high"}, {"250", "high"}, {"252", "very high"}},
			"Mg": {{"30", "low"}, {"31", "medium"}, {"60", "medium"}, {"62", "high"}},
		},
		"georgia-piedmont": {
			"P":  {{"20", "low"}, {"21", "medium"}, {"40", "medium"}, {"41", "high"}, {"75", "high"}, {"77", "very high"}},
			"K":  {{"100", "low"}, {"101", "medium"}, {"200", "medium"}, {"201", "high"}, {"350", "high"}, {"352", "very high"}},
			"Mg": {{"60", "low"}, {"61", "medium"}, {"120", "medium"}, {"122", "high"}},
		},
	}
	for id, analytes := range bands {
		rs := setNamed(t, id)
		for analyte, edges := range analytes {
			for _, e := range edges {
				for _, use := range []string{"orchardgrass-pasture", "bermuda-hay"} {
					g := rs.rate(res(analyte, plain(quo(num(t, e[0]), rat(2, 1)), 2), "mehlich-1"), use, ground{})
					word := g.Word
					if word == "" {
						word = g.Class
					}
					if word != e[1] {
						t.Errorf("%s, %s: %s lb/acre of %s is %q, printed %q", id, use, e[0], analyte, word, e[1])
					}
				}
			}
		}
		soil := func(use, ph string, more ...*normalize.Result) *Advice {
			return Advise(recordOf(use, append([]*normalize.Result{res("pH", ph, "ph-water-1-1")}, more...)...), okReport, rs, Ask{On: "2026-04-01", PlantAge: "0"})
		}
		acre := quo(rat(100000, 1), rat(43560, 1)) // lb/1000 sq ft of 100 lb on an acre
		within(t, needOf(soil("orchardgrass pasture", "6.0"), "N"), plain(quo(acre, rat(2, 1)), 6), "0.00001")
		hay := soil("bermudagrass hay", "6.4", res("Mg", "5", "mehlich-1"))
		within(t, needOf(hay, "N"), plain(mul(acre, rat(2, 1)), 6), "0.00001")
		within(t, needOf(hay, "Mg"), "0.57", "0.004") // 25 lb on an acre
		for _, l := range hay.Lines {
			if l.ID == "N" && len(l.Parts) != 2 { // 75 to 100 lb at a time
				t.Errorf("%d feedings", len(l.Parts))
			}
		}
		if a := soil("orchardgrass pasture", "5.9"); !asks(a, "ask-us-pH") {
			t.Errorf("%+v", a.Questions)
		}
	}
	rs := setNamed(t, "georgia-coastal-plain")
	vine := func(age, p, k string) (*Advice, *Line) {
		a := Advise(recordOf("muscadine", res("pH", "5.8", "ph-water-1-1"), res("P", p, "mehlich-1"), res("K", k, "mehlich-1")), okReport, rs, Ask{On: "2026-04-01", PlantAge: age})
		for i := range a.Lines {
			if a.Lines[i].ID == "N" {
				return a, &a.Lines[i]
			}
		}
		return a, nil
	}
	for age, want := range map[string]string{
		"0": "10-10-10 0.5 after rain has settled the soil; 34-0-0 0.125 in late May, in early July",
		"1": "10-10-10 1 in March; 34-0-0 0.25 in late May, in early July",
		"2": "10-10-10 2 in March; 10-10-10 1 in May",
		"3": "10-10-10 3 in March; 34-0-0 0.5 around June 1",
		"9": "10-10-10 3 in March; 34-0-0 0.5 around June 1",
	} {
		_, l := vine(age, "5", "20")
		if l == nil {
			t.Fatalf("%s years: no feeding", age)
		}
		var got []string
		for _, f := range l.Each {
			got = append(got, f.Grade+" "+f.Exact+" "+strings.Join(f.Times, ", "))
		}
		if strings.Join(got, "; ") != want {
			t.Errorf("%s years: %s, want %s", age, strings.Join(got, "; "), want)
		}
	}
	// Its 10-10-10 is for a soil that is known to need it.
	for _, soil := range [][2]string{{"60", "20"}, {"5", "140"}, {"35", "20"}} {
		if a, l := vine("3", soil[0], soil[1]); l != nil || !asks(a, "plant-soil-rich") {
			t.Errorf("%v: %+v", soil, l)
		}
	}
}

// University of California, Family Farm Series: where zinc by DTPA is deficient,
// 10 to 20 lb of zinc on an acre broadcast; Ventura County page: no response
// from 1.5 mg/kg.
func TestZincOfCalifornia(t *testing.T) {
	rs := setNamed(t, "california-olsen")
	for v, lbAcre := range map[string]string{"0.3": "10", "0.6": "10", "1.4": "10", "1.5": "0", "4": "0"} {
		a := Advise(recordOf("lettuce", res("pH", "7.4", "ph-water-1-1"), res("Zn", v, "dtpa")), okReport, rs, Ask{On: "2026-04-01"})
		n := needOf(a, "Zn")
		if n == nil {
			t.Fatalf("zinc %s: %+v", v, a.Lines)
		}
		within(t, mul(n, rat(4356, 100)), lbAcre, "0.001")
	}
	if a := Advise(recordOf("lettuce", res("pH", "7.4", "ph-water-1-1"), res("Zn", "0.3", "mehlich-3")), okReport, rs, Ask{}); needOf(a, "Zn") != nil {
		t.Error("zinc by another extract is fed by the table for DTPA")
	}
}

// University of Nebraska, column on pasture of December 2020: above 25 ppm by
// Bray or Mehlich no phosphate is needed; the Olsen test gives other values, and
// the column prints none for it.
func TestPastureOfNebraska(t *testing.T) {
	rs := setNamed(t, "nebraska-2017")
	for _, m := range []string{"bray-p1", "mehlich-3"} {
		for v, none := range map[string]bool{"24": false, "26": true, "80": true} {
			a := Advise(recordOf("pasture", res("P", v, m)), okReport, rs, Ask{On: "2026-04-01"})
			if n := needOf(a, "P2O5"); none != (n != nil && n.Sign() == 0) || !none && n != nil {
				t.Errorf("%s by %s: %v %+v", v, m, n, a.Questions)
			}
		}
	}
	if a := Advise(recordOf("pasture", res("P", "30", "olsen")), okReport, rs, Ask{On: "2026-04-01"}); needOf(a, "P2O5") != nil {
		t.Error("Olsen is rated by a table for Bray and Mehlich")
	}
}
