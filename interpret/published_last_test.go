package interpret

import (
	"bytes"
	"strings"
	"testing"

	"example.org/windrow/normalize"
)

// treeAsk advises on fruit trees of an age in a soil that is poor or rich in
// phosphorus and potassium by the tables of the default rule set (36 and 73
// mg/kg and more are enough).
func treeAsk(t *testing.T, age, p, k string) *Line {
	t.Helper()
	a := Advise(recordOf("fruit trees", res("pH", "6.4", "ph-water-1-1"), res("P", p, "mehlich-3-icp"), res("K", k, "mehlich-3-icp")), okReport, loaded(t), Ask{On: "2026-03-05", PlantAge: age})
	for i := range a.Lines {
		if a.Lines[i].ID == "N" {
			return &a.Lines[i]
		}
	}
	t.Fatalf("%+v %+v", a.Lines, a.Questions)
	return nil
}

func eachTime(t *testing.T, l *Line, grade, lb string, times ...string) {
	t.Helper()
	if len(l.Each) != 1 || l.Each[0].Grade != grade || strings.Join(l.Each[0].Times, ", ") != strings.Join(times, ", ") {
		t.Fatalf("%+v", l.Each)
	}
	within(t, num(t, l.Each[0].Exact), lb, "0")
	for _, when := range times {
		if !strings.Contains(l.What, l.Each[0].Lb+" lb of ") || !strings.Contains(strings.ToLower(l.What), strings.ToLower(when)) {
			t.Errorf("not told: %s lb %s: %s", l.Each[0].Lb, when, l.What)
		}
	}
}

// The Texas page counts 10 ppm of phosphorus as half a pound and wants 2 more
// (2.5 in all), and 120 ppm of potassium as 5.5 lb and wants 2.2 more (7.7 in
// all), in pounds of the elements on 1000 square feet. It names no extract, so
// no rule set holds it; the reckoning is that of a table by shortfall.
func shortfallOf(need, perTest, ofTest string) *Shortfall {
	unit := quo(Num(perTest).rat(), Num(ofTest).rat())
	return &Shortfall{ID: "texas", PerValue: Num(unit.RatString()), Enough: Num(quo(Num(need).rat(), unit).RatString()), Source: "texas", Provenance: Inferred}
}

// lastHandlers are the published checks of feeding by the plant, of amounts by
// shortfall, of samples that are no good and of labels that are no good.
func lastHandlers() map[string]func(*testing.T) {
	shortfall := func(s *Shortfall, value, want, tolerance string) func(*testing.T) {
		return func(t *testing.T) {
			r, working := s.rate(num(t, value))
			within(t, r, want, tolerance)
			if working == "" {
				t.Error("nothing says how it came about")
			}
		}
	}
	return map[string]func(*testing.T){
		"C088": func(t *testing.T) {
			for treated, want := range map[string]string{"2026-02-15": "sample-after-treatment", "2026-03-01": "sample-after-treatment", "2026-01-19": "sample-after-treatment", "2026-01-18x": "treated-unclear", "2026-03-02": "treated-since", "2026-01-18": "", "": ""} {
				a := Advise(garden(goodGarden...), okReport, loaded(t), Ask{On: "2026-04-01", Treated: treated}) // sampled on 1 March
				if want == "" && (a.Outcome == AskOnly || len(a.Questions) > 0) || want != "" && (a.Outcome != AskOnly || !asks(a, want) || len(a.Lines) > 0) {
					t.Errorf("spread on %s: %s %+v", treated, a.Outcome, a.Questions)
				}
			}
		},
		"C095": func(t *testing.T) { eachTime(t, treeAsk(t, "4", "5", "20"), "10-10-10", "2", "in March", "in April") },
		"C096": func(t *testing.T) { eachTime(t, treeAsk(t, "4", "50", "100"), "16-0-0", "1", "in March", "in April") },
		"C097": func(t *testing.T) {
			l := treeAsk(t, "12", "5", "20")
			within(t, num(t, l.Each[0].Year), "10", "0")
			eachTime(t, l, "10-10-10", "5", "in March", "in April")
		},
		"C098": shortfall(shortfallOf("2.5", "0.5", "10"), "10", "2", "0.1"),
		"C099": shortfall(shortfallOf("7.7", "5.5", "120"), "120", "2.2", "0.1"),
		"C100": shortfall(shortfallOf("7.7", "5.5", "120"), "180", "0", "0"),
		"C109": func(t *testing.T) {
			s := &Shortfall{Enough: "60", PerValue: "1"}
			r, _ := s.rate(num(t, "35"))
			within(t, r, "25", "0")
			within(t, ProductRate(r, quo(rat(100, 1), num(t, "2.2"))), "55", "0.5") // the page's own 2.2 lb of chloride of potash for a pound
		},
		"C114": func(t *testing.T) {
			row, ok := normalize.Equations().Row("F001")
			if !ok || !row.Active {
				t.Fatal("the equation of Ohio is not in use")
			}
			got, err := row.Equation.Eval(map[string]float64{"x": 22})
			if err != nil || got < 10-0.3 || got > 10+0.3 {
				t.Errorf("%v %v", got, err)
			}
		},
		"C116": func(t *testing.T) {
			for name, r := range labeledOxides() {
				a := Advise(garden(res("pH", "6.5", "ph-water-1-1"), r), okReport, loaded(t), Ask{On: "2026-04-01"})
				if !asks(a, "labeled-as-oxide") || needOf(a, "P2O5") != nil {
					t.Errorf("%s: %+v", name, a.Questions)
				}
				for _, q := range a.Questions {
					if q.Code == "labeled-as-oxide" && !strings.Contains(q.Text, "ask the laboratory for the amount of the element") {
						t.Error(q.Text)
					}
				}
			}
			// Turned into the element, and said so, it is a value like any other.
			r := res("P", "21.8", "mehlich-3-icp")
			r.Basis, r.Steps = "P2O5", []normalize.Step{{Rule: "basis/P2O5"}}
			if g := loaded(t).rate(r, "lawn", ground{}); g.Class != Low {
				t.Errorf("%+v", g)
			}
		},
	}
}

func labeledOxides() map[string]*normalize.Result {
	by := res("P", "50", "mehlich-3-icp")
	by.Basis = "P2O5"
	unit := res("P", "50", "mehlich-3-icp")
	unit.Printed.Unit = "ppm P2O5"
	return map[string]*normalize.Result{"basis": by, "unit": unit}
}

// What feeding by the plant must never do: feed at planting, exceed the most
// in a year, or carry what the soil has too much of. Without an age it asks.
func TestFeedingByThePlant(t *testing.T) {
	rs := loaded(t)
	rec := func(use, p, k string) *normalize.Record {
		return recordOf(use, res("pH", "5.0", "ph-water-1-1"), res("P", p, "mehlich-3-icp"), res("K", k, "mehlich-3-icp"))
	}
	line := func(a *Advice) *Line {
		for i := range a.Lines {
			if a.Lines[i].ID == "N" {
				return &a.Lines[i]
			}
		}
		return nil
	}
	for _, age := range []string{"", "young", "-1", "2.5", "500"} {
		if a := Advise(rec("fruit trees", "5", "20"), okReport, rs, Ask{PlantAge: age}); !asks(a, "plant-age") || line(a) != nil {
			t.Errorf("age %q: %+v", age, a.Questions)
		}
	}
	if l := line(Advise(rec("fruit trees", "5", "20"), okReport, rs, Ask{PlantAge: "0"})); l == nil || l.When != Not || l.Need != "0" || len(l.Each) > 0 {
		t.Errorf("at planting: %+v", l)
	}
	// Enough phosphorus and little potassium is still "complete" to the
	// publication; too much phosphorus is asked about.
	if l := line(Advise(rec("fruit trees", "40", "20"), okReport, rs, Ask{PlantAge: "3"})); l == nil || l.Each[0].Grade != "10-10-10" {
		t.Errorf("%+v", l)
	}
	if a := Advise(rec("fruit trees", "90", "20"), okReport, rs, Ask{PlantAge: "3"}); line(a) != nil || !asks(a, "plant-soil-rich") {
		t.Errorf("%+v", a.Questions)
	}
	if a := Advise(recordOf("fruit trees", res("pH", "6.4", "ph-water-1-1"), res("P", "5", "mehlich-3-icp")), okReport, rs, Ask{PlantAge: "3"}); line(a) != nil {
		t.Error("fed without knowing the potassium")
	}
	// eXtension: a tenth of a pound at bloom and six weeks later, a tenth more
	// each year, up to three tenths.
	for age, lb := range map[string]string{"0": "0.1", "1": "0.2", "2": "0.3", "30": "0.3"} {
		l := line(Advise(rec("blueberry", "90", "200"), okReport, rs, Ask{PlantAge: age, Plants: "12"}))
		if l == nil {
			t.Fatal("no feeding")
		}
		eachTime(t, l, "21-0-0", lb, "at bloom", "six weeks after bloom")
		within(t, num(t, l.Each[0].All), plain(mul(num(t, lb), rat(24, 1)), 3), "0.3")
		if !strings.Contains(l.What, "For all 12 that is "+l.Each[0].All+" lb in a year.") {
			t.Error(l.What)
		}
	}
	c := Compare([]*Advice{Advise(rec("blueberry", "90", "200"), okReport, rs, Ask{PlantAge: "1"})})
	for _, x := range c {
		if x.Item == "nitrogen" && !strings.Contains(x.Says[0].Says, "each plant: 0.2 lb of 21-0-0 at bloom and six weeks after bloom") {
			t.Errorf("%+v", x)
		}
	}
}

const byShortfall = `  - id: shortfall-P2O5
    for: [native-bed]
    nutrient: P2O5
    by: P
    unit: lb/1000 sq ft
    use: always
    maintenance: 0
    when: Dig it in before planting.
    source: trade
    provenance: computed
    shortfall: {id: shortfall, methods: [mehlich-3-icp], enough: 30, per_value: 0.05, source: trade, provenance: computed}
`

// A rule set of an office's own may give amounts by shortfall: less for every
// unit that the test finds, nothing for another method, and never more than
// maintenance where the soil is rated as having enough.
func TestAmountsByShortfall(t *testing.T) {
	in := files(t, nil)
	in[ruleFile].Data = bytes.Replace(in[ruleFile].Data, []byte("  - id: native-P2O5\n"), []byte(byShortfall+"  - id: native-P2O5\n"), 1)
	sets, faults := LoadRules(in)
	for _, f := range faults {
		t.Log(f)
	}
	if len(sets) == 0 || sets[0].ID != DefaultRuleSet {
		// The set's own example of a native bed must come out otherwise now.
		if len(faults) == 0 || faults[0].Code != "example-differs" {
			t.Fatal(faults)
		}
	}
	in[ruleFile].Data = bytes.Replace(in[ruleFile].Data, []byte("      - {analyte: P, value: 30}\n      - {analyte: K, value: 30}\n    classes: {P: medium, K: low}"), []byte("      - {analyte: P, value: 31}\n      - {analyte: K, value: 30}\n    classes: {P: medium, K: low}"), 1)
	if sets, faults = LoadRules(in); len(faults) > 0 {
		t.Fatal(faults)
	}
	rs := sets[0]
	at := func(r *normalize.Result) *Advice {
		return Advise(recordOf("native bed", res("pH", "6.0", "ph-water-1-1"), r), okReport, rs, Ask{On: "2026-04-01"})
	}
	for v, want := range map[string]string{"10": "1", "20": "0.5", "29": "0.05", "30": "0", "60": "0"} {
		a := at(res("P", v, "mehlich-3-icp"))
		if n := needOf(a, "P2O5"); n == nil {
			t.Errorf("P %s: %+v", v, a.Lines)
		} else {
			within(t, n, want, "0")
		}
	}
	if a := at(res("P", "10", "olsen")); needOf(a, "P2O5") != nil {
		t.Error("another method was taken")
	}
	below, above := res("P", "10", "mehlich-3-icp"), res("P", "10", "mehlich-3-icp")
	below.Censored, above.Censored = "<", ">"
	if n := needOf(at(below), "P2O5"); n == nil || n.Cmp(rat(1, 1)) != 0 {
		t.Errorf("below 10: %v", n)
	}
	if n := needOf(at(above), "P2O5"); n != nil {
		t.Errorf("above 10 may be anything, and gets %v", n)
	}
	for slip, code := range map[string]string{"per_value: 0.05": "per_value: 0", "by: P\n    unit: lb/1000 sq ft\n    use: always": "unit: lb/1000 sq ft\n    use: always"} {
		bad := files(t, nil)
		bad[ruleFile].Data = bytes.Replace(bad[ruleFile].Data, []byte("  - id: native-P2O5\n"), []byte(strings.Replace(byShortfall, slip, code, 1)+"  - id: native-P2O5\n"), 1)
		if _, faults := LoadRules(bad); len(faults) == 0 || faults[0].Code != "rate-unclear" {
			t.Errorf("%s: %v", code, faults)
		}
	}
}

// What the laboratory's mapping says of a mark comes before what the mark means
// elsewhere; a mark of which it says nothing is read by its usual meaning.
func TestALabsMarkMeansWhatItsMappingSays(t *testing.T) {
	rate := func(value, mark, class string) Rating {
		r := res("P", value, "mehlich-3-icp")
		r.Printed.Rating, r.Printed.Class = mark, class
		return loaded(t).rate(r, "lawn", ground{})
	}
	for _, c := range []struct {
		value, mark, class string
		differs            bool
	}{
		{"50", "M", "optimum", false}, // M is "meets the need" there
		{"50", "M", "medium", true},
		{"50", "M", "", true},
		{"30", "O", "low", false}, // O is "off"
		{"30", "O", "", true},
		{"50", "L", "high", false}, // high is enough on one scale and too much on another: nothing is said
		{"50", "Optimum", "", false},
		{"90", "Low", "low", true},
	} {
		if g := rate(c.value, c.mark, c.class); (g.Differs != "") != c.differs {
			t.Errorf("%+v: %s, %q", c, g.Class, g.Differs)
		}
	}
}
