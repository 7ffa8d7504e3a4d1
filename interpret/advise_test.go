package interpret

import (
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
)

func garden(rs ...*normalize.Result) *normalize.Record { return recordOf("vegetable garden", rs...) }

var goodGarden = []*normalize.Result{res("pH", "6.5", "ph-water-1-1"), res("P", "50", "mehlich-3-icp"), res("K", "150", "mehlich-3-icp")}

// Each case is a report that is not fit for some or all advice: the question
// must be asked, and what it blocks must not be advised.
func TestQuestionsInsteadOfAdvice(t *testing.T) {
	rs := loaded(t)
	flagged := res("P", "50", "mehlich-3-icp")
	flagged.Status = normalize.Flagged
	acidFlagged := res("pH", "5.2", "ph-water-1-1")
	acidFlagged.Status = normalize.Flagged
	badBuffer := res("buffer_pH", "6.2", "mehlich-buffer")
	badBuffer.Status = normalize.Flagged
	held := garden(goodGarden...)
	held.Status = normalize.Held
	checked := garden(goodGarden...)
	checked.Checks = []normalize.Finding{{Check: "duplicate-sample", Severity: ingest.Flag, What: "two samples carry one number"}}
	undated := garden(goodGarden...)
	undated.Sample.Sampled = ""
	below := garden(goodGarden...)
	below.Sample.DepthTopIn, below.Sample.DepthIn = "6", "24"
	acid := res("pH", "5.2", "ph-water-1-1")
	cases := []struct {
		name    string
		rec     *normalize.Record
		ask     Ask
		code    string
		outcome Outcome
		without []string
	}{
		{"held", held, Ask{}, "record-held", AskOnly, []string{"lime", "N", "P2O5", "K2O"}},
		{"record flagged", checked, Ask{}, "record-doubtful", AskOnly, []string{"lime", "N", "P2O5", "K2O"}},
		{"result flagged", garden(res("pH", "6.5", "ph-water-1-1"), flagged), Ask{}, "result-doubtful", Partly, []string{"P2O5"}},
		{"pH flagged", garden(acidFlagged, res("buffer_pH", "6.2", "mehlich-buffer")), Ask{}, "result-doubtful", Partly, []string{"lime"}},
		{"buffer flagged", garden(acid, badBuffer), Ask{}, "result-doubtful", Partly, []string{"lime"}},
		{"no buffer", garden(acid), Ask{}, "buffer-missing", Partly, []string{"lime"}},
		{"Sikora buffer", garden(acid, res("buffer_pH", "6.6", "sikora-buffer")), Ask{}, "buffer-other", Partly, []string{"lime"}},
		{"SMP buffer", garden(acid, res("buffer_pH", "6.6", "smp-buffer")), Ask{}, "buffer-other", Partly, []string{"lime"}},
		{"buffer against pH", garden(acid, res("buffer_pH", "6.6", "mehlich-buffer")), Ask{}, "buffer-odd", Partly, []string{"lime"}},
		{"pH in calcium chloride", garden(res("pH", "5.2", "ph-cacl2"), res("buffer_pH", "6.2", "mehlich-buffer")), Ask{}, "ph-not-usable", Partly, []string{"lime"}},
		{"pH by no method", garden(res("pH", "5.2", ""), res("buffer_pH", "6.2", "mehlich-buffer")), Ask{}, "ph-not-usable", Partly, []string{"lime"}},
		{"no pH", garden(res("P", "50", "mehlich-3-icp")), Ask{}, "ph-missing", Partly, []string{"lime"}},
		{"impossible pH", garden(res("pH", "3.1", "ph-water-1-1")), Ask{}, "ph-impossible", AskOnly, []string{"lime", "N"}},
		{"no land use", recordOf("", goodGarden...), Ask{}, "land-use-missing", AskOnly, []string{"lime", "N"}},
		{"unknown land use", recordOf("cotton", goodGarden...), Ask{}, "land-use-unknown", AskOnly, []string{"lime", "N"}},
		{"too old", garden(goodGarden...), Ask{On: "2029-03-02"}, "sample-old", AskOnly, []string{"lime", "N"}},
		{"a layer below the surface", below, Ask{On: "2026-04-01"}, "below-surface", AskOnly, []string{"lime", "N", "P2O5", "K2O"}},
		{"from the future", garden(goodGarden...), Ask{On: "2026-02-28"}, "sample-future", AskOnly, []string{"lime", "N"}},
		{"undated", undated, Ask{On: "2026-04-01"}, "sample-undated", AskOnly, []string{"lime", "N"}},
		{"date unclear", garden(goodGarden...), Ask{On: "4/1/2026"}, "date-unclear", AskOnly, []string{"lime", "N"}},
		{"before the tables", garden(goodGarden...), Ask{On: "2020-03-02"}, "rules-not-in-force", AskOnly, []string{"lime", "N"}},
		{"area unclear", garden(goodGarden...), Ask{AreaSqFt: "about 40"}, "area-unclear", Partly, nil},
		{"area negative", garden(goodGarden...), Ask{AreaSqFt: "-40"}, "area-unclear", Partly, nil},
		{"two pH values", garden(res("pH", "5.2", "ph-water-1-1"), res("pH", "6.5", "ph-water-1-1"), res("buffer_pH", "6.2", "mehlich-buffer")), Ask{}, "two-results", Partly, []string{"lime"}},
		{"lead by no method", garden(append([]*normalize.Result{res("Pb", "300", "")}, goodGarden...)...), Ask{}, "lead-method", Partly, nil},
		{"phosphorus by no method", garden(res("pH", "6.5", "ph-water-1-1"), res("P", "5", "")), Ask{}, "method-not-stated", Partly, []string{"P2O5"}},
		{"phosphorus by another method", garden(res("pH", "6.5", "ph-water-1-1"), res("P", "5", "olsen")), Ask{}, "not-rated", Partly, []string{"P2O5"}},
		{"native bed very low", recordOf("native bed", res("pH", "6.0", "ph-water-1-1"), res("P", "3", "mehlich-3-icp")), Ask{}, "ask-us-P2O5", Partly, []string{"P2O5"}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			a := Advise(c.rec, okReport, rs, c.ask)
			if !asks(a, c.code) {
				t.Errorf("not asked: %s; asked: %+v", c.code, a.Questions)
			}
			if a.Outcome != c.outcome {
				t.Errorf("outcome %s, want %s", a.Outcome, c.outcome)
			}
			for _, id := range c.without {
				if needOf(a, id) != nil {
					t.Errorf("%s is advised all the same", id)
				}
			}
		})
	}
	bare := recordOf("", goodGarden...)
	bare.Sample.DepthTopIn, bare.Sample.DepthIn = "6", "24"
	if a := Advise(bare, okReport, rs, Ask{On: "2029-04-01"}); len(a.Questions) != 1 || a.Questions[0].Code != "below-surface" || a.Outcome != AskOnly {
		t.Errorf("of a layer below the surface is asked %+v", a.Questions)
	}
	for _, g := range Advise(below, okReport, rs, Ask{On: "2026-04-01"}).Ratings {
		if g.Class != "" || !strings.Contains(g.Not, "top layer") {
			t.Errorf("%s of a layer below the surface is rated %s", g.Analyte, g.Class)
		}
	}
	if a := Advise(garden(goodGarden...), okReport, rs, Ask{On: "2026-04-01"}); a.Outcome != Advised || len(a.Questions) != 0 {
		t.Errorf("a sound report is questioned: %+v", a.Questions)
	}
	if a := Advise(garden(goodGarden...), okReport, rs, Ask{On: "2029-03-01"}); asks(a, "sample-old") {
		t.Error("a sample of just three years is called old")
	}
}

// Only the methods that a table is calibrated for are rated, and the reason
// is said.
func TestOnlyCalibratedMethodsAreRated(t *testing.T) {
	rs := loaded(t)
	for _, m := range methodIDs {
		g := rs.rate(res("P", "40", m), "vegetable-garden", ground{})
		want := m == "mehlich-3" || m == "mehlich-3-icp"
		if (g.Class != "") != want {
			t.Errorf("phosphorus by %s: class %q", m, g.Class)
		}
		if !want && g.Not == "" {
			t.Errorf("phosphorus by %s: no reason", m)
		}
	}
	index := res("P", "", "mehlich-3-icp")
	index.Unit, index.Basis, index.Value = "index", "index", "64"
	if g := rs.rate(index, "vegetable-garden", ground{}); g.Class != "" {
		t.Error("an index was rated as an amount")
	}
	volume := res("P", "", "mehlich-3-icp")
	volume.Volumetric = &normalize.Quantity{Value: "40", Unit: "mg/dm3"}
	if g := rs.rate(volume, "vegetable-garden", ground{}); g.Class != "" || !strings.Contains(g.Not, "by volume") {
		t.Error(g)
	}
}

func TestRatingTellsItsBound(t *testing.T) {
	rs := loaded(t)
	g := rs.rate(res("P", "22.8", "mehlich-3-icp"), "lawn", ground{})
	if g.Class != Low || g.Decided != "12.5 up to 23 mg/kg" || g.ToNext != "0.2" || g.NextClass != Medium || g.Close != "" {
		t.Errorf("%+v", g)
	}
	// Printed to whole pounds an acre: 45 lb/acre may be anything from 44.5
	// to 45.5, which reaches 22.75 mg/kg and not the bound at 23.
	r := res("P", "22.5", "mehlich-3-icp")
	r.Printed = normalize.Printed{Text: "45", Number: "45", Unit: "lb/acre"}
	if g = rs.rate(r, "lawn", ground{}); g.Close != "" {
		t.Errorf("%+v", g)
	}
	if g = rs.rate(res("P", "23", "mehlich-3-icp"), "lawn", ground{}); g.Class != Medium || g.Close != "23" {
		t.Errorf("%+v", g)
	}
	limit := res("P", "10", "mehlich-3-icp")
	limit.Censored = "<"
	if g = rs.rate(limit, "lawn", ground{}); g.Class != VeryLow || g.Close != "" {
		t.Errorf("%+v", g)
	}
	limit.Value = "30"
	if g = rs.rate(limit, "lawn", ground{}); g.Class != "" || g.Not == "" {
		t.Errorf("%+v", g)
	}
	over := res("P", "80", "mehlich-3-icp")
	over.Censored = ">"
	if g = rs.rate(over, "lawn", ground{}); g.Class != Excessive {
		t.Errorf("%+v", g)
	}
}

func TestLabRatingBesideOurs(t *testing.T) {
	rs := loaded(t)
	r := res("Ca", "1102", "mehlich-3-icp")
	r.Printed.Rating = "Optimum"
	if g := rs.rate(r, "lawn", ground{}); g.Class != Excessive || g.LabWord != "Optimum" || g.Differs == "" {
		t.Errorf("%+v", g)
	}
	r = res("P", "102", "mehlich-3-icp")
	r.Printed.Rating = "Above Optimum"
	if g := rs.rate(r, "lawn", ground{}); g.Differs != "" {
		t.Errorf("the same meaning is called different: %+v", g)
	}
	r.Printed.Rating, r.Printed.Class = "V", "very high"
	if g := rs.rate(r, "lawn", ground{}); g.Differs != "" {
		t.Errorf("%+v", g)
	}
}

// An extract is never set against a limit for total lead, however high.
func TestExtractedLeadIsNeverATotal(t *testing.T) {
	rs := loaded(t)
	for _, m := range []string{"mehlich-3", "mehlich-3-icp", "mehlich-3-screen", "modified-morgan", "modified-morgan-screen", "mehlich-1", "dtpa"} {
		for _, v := range []string{"1", "150", "450", "9999"} {
			l := leadOf(rs, v, m)
			if l.Kind == "total" || l.Tier != "" || l.NoFood || len(l.History) > 0 {
				t.Errorf("%s %s: %+v", m, v, l)
			}
		}
	}
	both, _ := rs.leadAdvice([]*normalize.Result{res("Pb", "60", "total-digestion"), res("Pb", "300", "mehlich-3-screen")}, "")
	if both.Kind != "total" || both.Tier != "below the lowest federal figure" {
		t.Errorf("%+v", both)
	}
	two, _ := rs.leadAdvice([]*normalize.Result{res("Pb", "450", "total-digestion"), res("Pb", "60", "total-digestion")}, "")
	if !two.NoFood {
		t.Error("the lower of two totals was taken")
	}
	a := Advise(garden(append([]*normalize.Result{res("Pb", "450", "total-digestion")}, goodGarden...)...), okReport, rs, Ask{On: "2026-04-01"})
	for _, l := range a.Lines {
		if l.ID != "lead" {
			t.Errorf("%s is advised for a food crop in soil that may grow none", l.ID)
		}
	}
}

// A lead figure with a doubt is neither used nor passed over.
func TestDoubtfulLeadIsNotCalledUntested(t *testing.T) {
	rs := loaded(t)
	pb := res("Pb", "700", "total-digestion")
	pb.Status = normalize.Flagged
	a := Advise(garden(append([]*normalize.Result{pb}, goodGarden...)...), okReport, rs, Ask{On: "2026-04-01"})
	if a.Lead == nil || a.Lead.Kind != "open" || !asks(a, "result-doubtful") || a.Lead.Tier != "" {
		t.Errorf("%+v %+v", a.Lead, a.Questions)
	}
	zinc := res("Zn", "3", "mehlich-3-icp")
	zinc.Status = normalize.Flagged
	if a := Advise(garden(append([]*normalize.Result{zinc}, goodGarden...)...), okReport, rs, Ask{On: "2026-04-01"}); len(a.Questions) != 0 {
		t.Errorf("%+v", a.Questions)
	}
}

// However acid the lawn, no more is planned than up to the next pH test.
func TestNoLimePlanPastTheNextTest(t *testing.T) {
	rs := loaded(t)
	a := Advise(recordOf("lawn", res("pH", "4.8", "ph-water-1-1"), res("acidity", "14.2", "mehlich-buffer")), okReport, rs, Ask{On: "2026-04-01"})
	l := a.Lines[0]
	if l.Need != "280" || len(l.Parts) != 3 || l.Parts[2].PerArea[0].Lb != "50" || !l.Parts[2].Retest || !strings.Contains(l.Note, "6 parts") {
		t.Errorf("%s %+v %s", l.Need, l.Parts, l.Note)
	}
}

func TestLandUses(t *testing.T) {
	rs := loaded(t)
	for said, want := range map[string]string{"Raised  Bed": "vegetable-garden", "community garden": "vegetable-garden", "lawn": "lawn", "NATIVE BED": "native-bed"} {
		if a := Advise(recordOf(said, goodGarden...), okReport, rs, Ask{}); a.LandUse.ID != want {
			t.Errorf("%q is %q", said, a.LandUse.ID)
		}
	}
	a := Advise(recordOf("vegetable garden", goodGarden...), okReport, rs, Ask{LandUse: "lawn"})
	if a.LandUse.ID != "lawn" || a.LandUse.From != "asked" {
		t.Errorf("%+v", a.LandUse)
	}
}

func TestRoundLb(t *testing.T) {
	for in, want := range map[string][2]string{
		"0": {"0", "0"}, "0.01": {"0.05", "0.01"}, "0.326": {"0.35", "0.3"}, "2.667": {"2.7", "2.6"}, "8.617": {"8.5", "8.5"}, "8.76": {"9", "8.5"},
		"67.35": {"67", "67"}, "112.4": {"110", "110"}, "119": {"120", "110"}, "50": {"50", "50"},
	} {
		if got := RoundLb(num(t, in), false); got != want[0] {
			t.Errorf("%s: %s, want %s", in, got, want[0])
		}
		if got := RoundLb(num(t, in), true); got != want[1] {
			t.Errorf("%s downwards: %s, want %s", in, got, want[1])
		}
	}
}

func TestMagnesiumComesWithTheLime(t *testing.T) {
	rs := loaded(t)
	low := res("Mg", "30", "mehlich-3-icp")
	a := Advise(garden(res("pH", "5.4", "ph-water-1-1"), res("buffer_pH", "6.2", "mehlich-buffer"), low), okReport, rs, Ask{})
	if needOf(a, "Mg") != nil || !strings.Contains(a.Lines[0].What, "dolomitic") {
		t.Errorf("%+v", a.Lines[0])
	}
	a = Advise(garden(res("pH", "6.5", "ph-water-1-1"), low), okReport, rs, Ask{})
	if needOf(a, "Mg") == nil {
		t.Error("low magnesium without lime is left out")
	}
}
