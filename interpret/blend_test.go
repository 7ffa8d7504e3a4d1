package interpret

import (
	"io/fs"
	"math/big"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"example.org/windrow/ingest"
	"example.org/windrow/interpret/rules"
	"pgregory.net/rapid"
)

func graded(grades ...string) []*Fertilizer {
	var out []*Fertilizer
	for _, g := range grades {
		out = append(out, &Fertilizer{ID: g, Name: g, Grade: Grade(g)})
	}
	return out
}

func wanting(t fatal, n, p, k string) want {
	var w want
	for i, s := range []string{n, p, k} {
		if s != "" {
			w.rate[i] = num(t, s)
		}
	}
	return w
}

// Choices worked by hand from the numbers on the labels.
func TestBlendByHand(t *testing.T) {
	near := rat(9, 10)
	for name, c := range map[string]struct {
		list    []string
		n, p, k string
		want    string // lb of each, in order of the list
	}{
		"one product gives all three":                {[]string{"10-10-10", "0-46-0"}, "2.5", "2.5", "2.5", "10-10-10 25"},
		"phosphate must not be given":                {[]string{"10-10-10", "15.5-0-0", "0-0-50"}, "2.5", "", "1", "15.5-0-0 16.129, 0-0-50 2"},
		"nitrogen bounds a complete fertilizer":      {[]string{"10-10-10", "0-46-0", "0-0-50"}, "1", "2", "1", "10-10-10 10, 0-46-0 2.174"},
		"one product near enough before two":         {[]string{"20-0-8", "25-0-0"}, "2", "", "0.85", "20-0-8 10"},
		"three singles":                              {[]string{"46-0-0", "0-46-0", "0-0-60"}, "2", "1", "3", "46-0-0 4.348, 0-46-0 2.174, 0-0-60 5"},
		"what cannot be met is left open":            {[]string{"0-46-0"}, "2", "1", "", "0-46-0 2.174"},
		"nothing fits":                               {[]string{"10-10-10"}, "2", "", "", ""},
		"the lighter of two that do the same":        {[]string{"10-0-0", "20-0-0"}, "2", "", "", "20-0-0 10"},
		"first in the list where all else is equal":  {[]string{"10-0-10", "10-0-10"}, "1", "", "1", "10-0-10 10"},
		"a question about potash keeps potash out":   {[]string{"20-0-8", "25-0-0"}, "2", "", "", "25-0-0 8"},
		"phosphate alone is no reason for nitrogen":  {[]string{"10-10-10", "0-46-0"}, "", "1.15", "", "0-46-0 2.5"},
		"two products where one would leave it open": {[]string{"10-6-4", "0-0-50"}, "1", "0.6", "1.4", "10-6-4 10, 0-0-50 2"},
	} {
		t.Run(name, func(t *testing.T) {
			list := graded(c.list...)
			m := blend(list, wanting(t, c.n, c.p, c.k), near)
			var got []string
			if m != nil {
				for j, i := range m.of {
					got = append(got, string(list[i].Grade)+" "+plain(m.lb[j], 3))
				}
			}
			if s := strings.Join(got, ", "); s != c.want {
				t.Errorf("got %s, want %s", s, c.want)
			}
		})
	}
}

// Public question thread 603771 (row C068 of the published checks): 3,500 sq
// ft at 1-0.5-1 lb from 21-22-4, 32-0-4 and 0-0-60. The answer there sets
// phosphate first; so does the exact choice, as each bound is reached.
func TestBlendOfAPublicQuestion(t *testing.T) {
	list := graded("21-22-4", "0-0-60", "32-0-4")
	m := blend(list, wanting(t, "1", "0.5", "1"), rat(99, 100))
	if m == nil || len(m.of) != 3 {
		t.Fatalf("%+v", m)
	}
	area := rat(35, 10)
	within(t, mul(m.lb[0], area), "7.95", "0.01")
	within(t, mul(m.lb[2], area), "5.72", "0.01")
	for n := range m.gives {
		if m.gives[n].Cmp([]*big.Rat{rat(1, 1), rat(1, 2), rat(1, 1)}[n]) != 0 {
			t.Errorf("%s: %s", labelOrder[n], m.gives[n].FloatString(4))
		}
	}
}

// An organic source counts by what the season gets, and its whole nitrogen by
// the limit in law.
func TestOrganicNitrogenIsHeldToTheTotal(t *testing.T) {
	blood := &Fertilizer{ID: "blood", Grade: "10-0-0", FirstSeason: &FirstSeason{Percent: "50"}}
	w := wanting(t, "2", "", "")
	if m := blend([]*Fertilizer{blood}, w, rat(1, 1)); m.lb[0].Cmp(rat(40, 1)) != 0 {
		t.Errorf("%s lb, want 40", m.lb[0].FloatString(3))
	}
	w.totalN = rat(3, 1)
	m := blend([]*Fertilizer{blood}, w, rat(1, 1))
	if m.lb[0].Cmp(rat(30, 1)) != 0 || m.total.Cmp(rat(3, 1)) != 0 || m.gives[0].Cmp(rat(3, 2)) != 0 {
		t.Errorf("%s lb give %s of %s", m.lb[0].FloatString(3), m.gives[0].FloatString(3), m.total.FloatString(3))
	}
}

func TestCheaperComesFirst(t *testing.T) {
	list := graded("20-0-0", "10-0-0")
	list[0].Price, list[0].BagLb = "40", "40"
	list[1].Price, list[1].BagLb = "10", "40"
	if m := blend(list, wanting(t, "2", "", ""), rat(9, 10)); list[m.of[0]].Grade != "10-0-0" || m.cost.Cmp(rat(5, 1)) != 0 {
		t.Errorf("%+v", m)
	}
}

// Nothing is ever exceeded, and no mix on a grid of the same products leaves
// less open: the corners hold the best.
func TestBlendIsExactAndKeepsItsBounds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var list []*Fertilizer
		for range rapid.IntRange(1, 6).Draw(t, "products") {
			g := make([]string, 3)
			for i := range g {
				g[i] = itoa(rapid.IntRange(0, 30).Draw(t, "percent"))
			}
			f := graded(strings.Join(g, "-"))[0]
			if _, ok := f.Grade.parts(); ok {
				list = append(list, f)
			}
		}
		w := want{}
		for i := range w.rate {
			if r := rapid.IntRange(0, 40).Draw(t, "rate"); r > 0 {
				w.rate[i] = rat(int64(r), 10)
			}
		}
		m := blend(list, w, rat(1, 1))
		if m == nil {
			return
		}
		for n := range w.rate {
			most := new(big.Rat)
			if w.rate[n] != nil {
				most = w.rate[n]
			}
			if m.gives[n].Cmp(most) > 0 {
				t.Fatalf("%s of %s where %s is wanted", m.gives[n].FloatString(4), labelOrder[n], most.FloatString(4))
			}
		}
		if len(m.of) > mostProducts {
			t.Fatal("too many products")
		}
		// Another mix of up to two products, at random: never both within the
		// bounds and less open, unless three were needed and it is exact.
		var supplies [][4]*big.Rat
		for _, f := range list {
			supplies = append(supplies, f.supply())
		}
		i, j := rapid.IntRange(0, len(list)-1).Draw(t, "i"), rapid.IntRange(0, len(list)-1).Draw(t, "j")
		lb := []*big.Rat{rat(int64(rapid.IntRange(0, 400).Draw(t, "a")), 10), rat(int64(rapid.IntRange(0, 400).Draw(t, "b")), 10)}
		o := weigh(list, supplies, w, []int{i, j}, lb)
		for n := range w.rate {
			if w.rate[n] == nil && o.gives[n].Sign() > 0 || w.rate[n] != nil && o.gives[n].Cmp(w.rate[n]) > 0 {
				return
			}
		}
		if o.short.Cmp(m.short) < 0 {
			t.Fatalf("%v %v leave %s open, the choice leaves %s", list[i].Grade, list[j].Grade, o.short.FloatString(4), m.short.FloatString(4))
		}
	})
}

// The plan of an advice keeps to every rate and law, for all uses and states.
func TestPlansKeepToRatesAndLaws(t *testing.T) {
	plans, lawful := 0, 0
	for _, rs := range allLoaded(t) {
		rapid.Check(t, func(t *rapid.T) {
			rec := drawnFor(t, rs)
			region := rapid.SampledFrom([]string{"", "CX", "NJ", "NY", "FL", "MN", "CT", "MA"}).Draw(t, "region")
			on := rapid.SampledFrom([]string{"2026-04-01", "2026-12-20", "2028-06-01"}).Draw(t, "day")
			a := Advise(rec, okReport, rs, Ask{On: on, Region: region, AreaSqFt: "2500"})
			rates := map[string]*big.Rat{}
			for _, l := range a.Lines {
				if l.When != Not && l.Need != "" {
					rates[l.ID] = num(t, l.Need)
				}
			}
			laws := rs.Laws.In(region, householder, on)
			if asks(a, "against-the-law") {
				t.Fatalf("the way to an amount does not keep to the law: %+v", a.Questions)
			}
			if a.LandUse.Turf && len(laws) > 0 {
				lawful++
				for _, l := range a.Lines {
					s := Spread{On: on, SlowPct: rat(20, 1), TestedOn: rec.Sample.Sampled, PNeeded: true}
					if l.NotBefore != "" {
						s.On = l.NotBefore
					}
					each := new(big.Rat)
					if l.When != Not && l.Need != "" {
						each = quo(num(t, l.Need), rat(int64(max(1, len(l.Parts))), 1))
					}
					switch l.ID {
					case "N":
						s.N, s.NSoFar = each, sub(num(t, l.Need), each)
					case "P2O5":
						s.P2O5, s.PSoFar = each, sub(num(t, l.Need), each)
					default:
						continue
					}
					if b := Broken(laws, s); len(b) > 0 {
						t.Fatalf("%s in %s: %s breaks %s", l.ID, region, each.FloatString(3), b[0].ID)
					}
				}
			}
			if a.Plan == nil {
				return
			}
			plans++
			if len(a.Plan.Disclosure) == 0 {
				t.Fatal("the share that is near enough is common practice, and the plan does not say so")
			}
			for n, gives := range a.Plan.Gives {
				if rates[n] == nil || num(t, gives).Cmp(add(rates[n], rat(1, 10000))) > 0 {
					t.Fatalf("the plan gives %s of %s where %v is advised", gives, n, rates[n])
				}
			}
			for _, it := range a.Plan.Products {
				if len(it.PerArea) == 0 || it.Lb() == "" {
					t.Fatalf("%+v", it)
				}
			}
		})
	}
	if plans < 50 || lawful < 10 {
		t.Errorf("%d plans, %d under a law: too little was tested", plans, lawful)
	}
}

// Lb is what a plan tells first.
func (it PlanItem) Lb() string { return it.PerArea[0].Lb }

func TestPlanOfAGarden(t *testing.T) {
	rs := loaded(t)
	rec := recordOf("vegetable garden", res("pH", "6.5", "ph-water-1-1"), res("P", "30", "mehlich-3-icp"), res("K", "60", "mehlich-3-icp"))
	a := Advise(rec, okReport, rs, Ask{On: "2026-04-01", AreaSqFt: "400"})
	if a.Plan == nil || len(a.Plan.Products) == 0 {
		t.Fatalf("%+v", a.Lines)
	}
	// N 2.5, P2O5 2, K2O 2: 20 lb of 10-10-10 give 2 of each, which is 80 % of the nitrogen; so one more product joins it.
	if p := a.Plan; len(p.Products) != 2 || p.Gives["N"] != "2.5" || p.Gives["P2O5"] != "2" || p.Gives["K2O"] != "2" || len(p.Short) != 0 {
		t.Errorf("%+v", p)
	}
	if it := a.Plan.Products[0]; it.Grade != "10-10-10" || it.Lb() != "8" || it.PerArea[0].Cups != "16" || it.Bags != "0.25" {
		t.Errorf("%+v", it)
	}
}

// A soil that has enough of everything needs nothing bought, and that is said.
func TestNothingNeeded(t *testing.T) {
	rs := loaded(t)
	a := Advise(recordOf("native bed", res("pH", "6.0", "ph-water-1-1"), res("P", "50", "mehlich-3-icp"), res("K", "100", "mehlich-3-icp")), okReport, rs, Ask{On: "2026-04-01"})
	if a.Plan != nil || a.Outcome != Advised || len(a.Lines) < 4 {
		t.Errorf("%+v", a)
	}
	for _, l := range a.Lines {
		if l.When != Not {
			t.Errorf("%s is advised", l.ID)
		}
	}
}

// ECCE: a label's own number counts alone, else purity times fineness. The
// worked figures are rows L012 and L014 of the facts (arithmetic on factors
// that are from memory): 95 x (0.35 x 0.5 + 0.60) = 73.6; 90 x (0.5 x 0.5 +
// 0.4) = 58.5.
func TestEffectiveLimestone(t *testing.T) {
	iowa := Limestone{CCE: "95", Fineness: []Sieve{{Percent: "5", Counts: "0"}, {Percent: "35", Counts: "0.5"}, {Percent: "60", Counts: "1"}}}
	within(t, iowa.Effective(), "73.6", "0.05")
	kentucky := Limestone{CCE: "90", Fineness: []Sieve{{Percent: "10", Counts: "0"}, {Percent: "50", Counts: "0.5"}, {Percent: "40", Counts: "1"}}}
	within(t, kentucky.Effective(), "58.5", "0.001")
	within(t, (&Limestone{CCE: "95", ECCE: "80"}).Effective(), "80", "0")
	rs := *loaded(t)
	list := *rs.Products
	list.Limestones = []Limestone{{ID: "own", Name: "crushed limestone of the quarry", CCE: "95", Fineness: iowa.Fineness, Source: "trade", Provenance: Office}}
	rs.Products = &list
	acid := garden(res("pH", "5.4", "ph-water-1-1"), res("buffer_pH", "6.2", "mehlich-buffer"))
	pure, coarse := Advise(acid, okReport, loaded(t), Ask{}).Lines[0], Advise(acid, okReport, &rs, Ask{}).Lines[0]
	if pure.Need != coarse.Need || coarse.Product.Of != "crushed limestone of the quarry" {
		t.Errorf("%s %s %s", pure.Need, coarse.Need, coarse.Product.Of)
	}
	within(t, num(t, coarse.Product.Exact), quo(mul(num(t, pure.Need), rat(100, 1)), iowa.Effective()).FloatString(4), "0.001")
	within(t, num(t, pure.Product.TonsAcre), "1.47", "0.005")
	within(t, num(t, pure.Product.Per100), "6.73", "0.005")
}

func TestFaultyProductsAndLimits(t *testing.T) {
	text := func(name string) string {
		b, err := fs.ReadFile(rules.FS, name)
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	for code, c := range map[string][3]string{
		"not-a-grade":       {ProductsFile, "grade: 10-10-10", "grade: 10-10-10-10"},
		"not-a-percent":     {ProductsFile, "slow_percent: 30", "slow_percent: 130"},
		"unknown-source":    {ProductsFile, "source: earthkind-organic", "source: earthkid"},
		"row-twice":         {ProductsFile, "id: f-5-10-10", "id: f-10-10-10"},
		"not-above-nothing": {ProductsFile, "bag_lb: 40", "bag_lb: 0"},
		"unknown-topic":     {LimitsFile, "topic: turf-n-once", "topic: turf-n-twice"},
		"not-a-region":      {LimitsFile, "region: NJ", "region: New Jersey"},
		"law-unclear":       {LimitsFile, "    figure: 0.9\n    unit: lb/1000 sq ft\n", ""},
		"not-a-date":        {LimitsFile, `from: "11-15"`, `from: "15-11"`},
		"wrong-unit":        {LimitsFile, "figure: 3.2\n    unit: lb/1000 sq ft", "figure: 3.2\n    unit: lb/acre"},
	} {
		t.Run(code, func(t *testing.T) {
			good := text(c[0])
			if !strings.Contains(good, c[1]) {
				t.Fatal("the text to spoil is not there")
			}
			_, faults := LoadRules(rules.FS, fstest.MapFS{c[0]: {Data: []byte(strings.Replace(good, c[1], c[2], 1))}})
			if !slices.ContainsFunc(faults, func(f *ingest.Reason) bool { return f.Code == code && f.Rule.Line > 0 }) {
				t.Errorf("%v", faults)
			}
		})
	}
}

// Where a rule set would go against a law that its amounts are not cut by, the
// line is taken back and a person is asked: here phosphate where the test does
// not call for it.
func TestGuardTakesBackWhatBreaksALaw(t *testing.T) {
	rs := *loaded(t)
	rs.Nutrients = append([]NutrientTable{{ID: "odd", For: []string{"lawn"}, Nutrient: "P2O5", By: "P", Unit: unitPerThousand, Use: useAlways, Maintenance: "1", When: "Never.",
		Rows: []NutrientRow{{ID: "odd-O", Class: Optimum, Rate: "1", Source: "trade", Provenance: Office}}}}, rs.Nutrients...)
	rec := recordOf("lawn", res("pH", "6.5", "ph-water-1-1"), res("P", "50", "mehlich-3-icp"))
	if n := needOf(Advise(rec, okReport, &rs, Ask{On: "2026-04-01"}), "P2O5"); n == nil || n.Cmp(rat(1, 1)) != 0 {
		t.Fatal("without a law the table does not answer")
	}
	a := Advise(rec, okReport, &rs, Ask{On: "2026-04-01", Region: "NJ"})
	if n := needOf(a, "P2O5"); n == nil || n.Sign() != 0 || !asks(a, "against-the-law") || a.Plan != nil && a.Plan.Gives["P2O5"] != "" {
		t.Errorf("%+v", a.Lines)
	}
}
