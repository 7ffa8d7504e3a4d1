package interpret

import (
	"slices"
	"strings"
	"testing"

	"example.org/windrow/normalize"
)

func inUnit(r *normalize.Result, unit string) *normalize.Result {
	r.Unit = unit
	return r
}

// Colorado State University Extension fact sheet 0.504 calls a soil sodic above
// an SAR of 13 or a sodium share of 15 percent, and suspects sodium from pH 8.4
// or 8.5 on. Nothing is spread before somebody was asked, and nobody is sent
// for a test that the report has.
func TestSodiumStopsAndIsNotAskedForTwice(t *testing.T) {
	rest := []*normalize.Result{res("P", "10", "mehlich-3-icp"), res("K", "30", "mehlich-3-icp")}
	ph := func(v string) *normalize.Result { return res("pH", v, "ph-water-1-1") }
	sar := func(v string) *normalize.Result { return inUnit(res("SAR", v, "calculated-sar"), "ratio") }
	share := func(v string) *normalize.Result { return inUnit(res("base_sat_Na", v, "from-cec"), "%") }
	na, cec := res("Na", "800", "mehlich-3-icp"), res("CEC", "12", "summation")
	for name, c := range map[string]struct {
		rs     []*normalize.Result
		id, do string
	}{
		"SAR 16":                  {[]*normalize.Result{ph("7.0"), sar("16")}, "sodium", callBefore},
		"SAR 12":                  {[]*normalize.Result{ph("7.0"), sar("12")}, "", ""},
		"share 17":                {[]*normalize.Result{ph("7.0"), share("17")}, "sodium", callBefore},
		"share 14":                {[]*normalize.Result{ph("7.0"), share("14")}, "", ""},
		"share under 20":          {[]*normalize.Result{ph("7.0"), func() *normalize.Result { r := share("20"); r.Censored = "<"; return r }()}, "", ""},
		"800 of CEC 12":           {[]*normalize.Result{ph("7.0"), na, cec}, "sodium", callBefore}, // 800/229.9/12 = 29 percent
		"800 of CEC 60":           {[]*normalize.Result{ph("7.0"), na, res("CEC", "60", "summation")}, "", ""},
		"800 alone":               {[]*normalize.Result{ph("7.0"), na}, "", ""},
		"pH 8.6 alone":            {[]*normalize.Result{ph("8.6")}, "sodium", askSodium},
		"pH 8.6, sodium measured": {[]*normalize.Result{ph("8.6"), na}, "sodium", callBefore},
		"pH 8.6, little sodium":   {[]*normalize.Result{ph("8.6"), sar("2")}, "ph-high", callBefore},
		"pH 8.6, too much":        {[]*normalize.Result{ph("8.6"), sar("15"), na}, "sodium", callBefore},
	} {
		for _, rs := range allLoaded(t) {
			a := Advise(recordOf(rs.LandUses[0].Name, append(slices.Clone(rest), c.rs...)...), okReport, rs, Ask{On: "2026-04-01"})
			var got Alarm
			if len(a.Alarms) > 0 {
				got = a.Alarms[0]
			}
			if got.ID != c.id || got.Do != c.do || len(a.Alarms) > 1 {
				t.Errorf("%s, %s: %+v", rs.ID, name, a.Alarms)
			}
			if c.id == "" {
				continue
			}
			if !got.Stop || len(got.Basis) == 0 || a.Plan != nil {
				t.Errorf("%s, %s: %+v %+v", rs.ID, name, got, a.Plan)
			}
			for _, l := range a.Lines {
				if l.Amount != nil || l.Product != nil {
					t.Errorf("%s, %s: an amount of %s", rs.ID, name, l.ID)
				}
			}
			for _, s := range a.Cautions {
				if c.do == callBefore && strings.Contains(s.Text, "Ask the laboratory for a test of sodium") {
					t.Errorf("%s, %s: sent for a test that the report has", rs.ID, name)
				}
			}
		}
	}
}

// Salts that no table of a rule set is made for are seen by every one of them.
func TestSaltsAreSeenByEveryRuleSet(t *testing.T) {
	for _, rs := range allLoaded(t) {
		for _, u := range rs.LandUses {
			for _, ec := range []*normalize.Result{res("EC", "3.1", "saturated-paste"), res("EC", "1.9", "ph-water-1-5"), res("EC", "2.5", "ph-water-1-2")} {
				a := Advise(recordOf(u.Name, res("pH", "6.4", "ph-water-1-1"), res("P", "10", "mehlich-3-icp"), res("Zn", "0.3", "dtpa"), ec), okReport, rs, Ask{On: "2026-04-01", PlantAge: "5"})
				if !slices.ContainsFunc(a.Alarms, func(x Alarm) bool { return strings.HasPrefix(x.ID, "salts") }) && !slices.ContainsFunc(a.Lines, func(l Line) bool { return l.ID == "salts" }) {
					t.Errorf("%s, %s: EC %s by %s goes by unseen", rs.ID, u.Name, ec.Value, ec.Method)
				}
				for _, l := range a.Lines {
					if len(a.Alarms) > 0 && l.When != Not && slices.Contains(knownNutrients, l.ID) {
						t.Errorf("%s, %s: EC %s by %s, and %s", rs.ID, u.Name, ec.Value, ec.Method, l.What)
					}
				}
			}
		}
	}
	// Only in sand is 0.15 more than usual (Clemson, row R313).
	a := Advise(recordOf("vegetable garden", res("pH", "6.4", "ph-water-1-1"), res("EC", "0.2", "ph-water-1-2")), okReport, loaded(t), Ask{On: "2026-04-01"})
	if len(a.Alarms) > 0 || !slices.ContainsFunc(a.Cautions, func(s Said) bool { return s.ID == "salts-if-sandy" && s.Basis[0].Row == "R313" }) {
		t.Errorf("%+v %+v", a.Alarms, a.Cautions)
	}
}

// The Rutgers table for sweet corn adds no nitrogen from 31 ppm of nitrate
// nitrogen on (row R338, by the University of Delaware); for other uses that is
// a reason to ask.
func TestMuchNitrateIsAskedAbout(t *testing.T) {
	for _, rs := range allLoaded(t) {
		for _, u := range rs.LandUses {
			for value, much := range map[string]bool{"30": false, "31": true, "140": true} {
				a := Advise(recordOf(u.Name, res("pH", "6.4", "ph-water-1-1"), res("NO3-N", value, "kcl-2m")), okReport, rs, Ask{On: "2026-04-01", PlantAge: "5", Plants: "2"})
				if asks(a, "nitrate-high") != much {
					t.Errorf("%s, %s, nitrate %s: %+v", rs.ID, u.Name, value, a.Questions)
				}
				for _, l := range a.Lines {
					if much && l.ID == "N" && l.When != Not {
						t.Errorf("%s, %s, nitrate %s: %s", rs.ID, u.Name, value, l.What)
					}
				}
			}
		}
	}
}

// Rutgers NJAES advises against more than 10 percent of organic matter as a
// growing medium; from 18 percent of carbon on, 31 of organic matter, Soil
// Taxonomy calls it organic soil material whatever its clay.
func TestOrganicMatterMayBeTooMuch(t *testing.T) {
	rs := loaded(t)
	for om, want := range map[string]string{"9.9": "Organic matter is fine.", "10": "Add no compost, manure or peat for now.", "18": "Add no compost, manure or peat for now.", "31": "", "62": ""} {
		tex := res("texture", "", "hydrometer")
		tex.Class = "loam"
		a := Advise(recordOf("raised bed", res("pH", "6.4", "ph-water-1-1"), res("OM", om, "loi"), tex), okReport, rs, Ask{On: "2026-04-01"})
		said := ""
		for _, l := range a.Lines {
			if l.ID == "OM" || l.ID == "OM-much" {
				said = l.What
			}
		}
		if want == "" && (!asks(a, "not-soil") || a.Outcome != AskOnly) || want != "" && !strings.HasPrefix(said, want) {
			t.Errorf("OM %s: %q %+v", om, said, a.Questions)
		}
	}
}

// What the Rutgers table of trace elements calls a warning (rows R043, R046 and
// R049) leads the letter, and what it calls deficient is not added unasked.
func TestTraceElementsAreAskedAbout(t *testing.T) {
	rs := loaded(t)
	for name, c := range map[string]struct {
		rs      []*normalize.Result
		much    string
		caution string
	}{
		"fine":  {[]*normalize.Result{res("B", "0.8", "mehlich-3-icp"), res("Zn", "4", "mehlich-3-icp")}, "", ""},
		"much":  {[]*normalize.Result{res("B", "24", "mehlich-3-icp"), res("Cu", "35", "mehlich-3-icp"), res("Zn", "120", "mehlich-3-icp")}, "The soil holds so much zinc, copper and boron that plants may suffer.", "trace-high"},
		"iron":  {[]*normalize.Result{res("Fe", "150", "mehlich-3-icp")}, "", ""}, // many soils have it
		"short": {[]*normalize.Result{res("B", "0.2", "mehlich-3-icp")}, "", "trace-low"},
	} {
		a := Advise(recordOf("vegetable garden", append([]*normalize.Result{res("pH", "6.4", "ph-water-1-1")}, c.rs...)...), okReport, rs, Ask{On: "2026-04-01"})
		much := ""
		if len(a.Alarms) > 0 {
			much = a.Alarms[0].Text
		}
		if much != c.much {
			t.Errorf("%s: %q", name, much)
		}
		for _, id := range []string{"trace-high", "trace-low"} {
			if slices.ContainsFunc(a.Cautions, func(s Said) bool { return s.ID == id && len(s.Basis) > 0 }) != (id == c.caution) {
				t.Errorf("%s: %s is %v", name, id, a.Cautions)
			}
		}
	}
	// California advises zinc, so nobody has to ask about that.
	a := Advise(recordOf("lettuces", res("pH", "7.4", "ph-water-1-1"), res("Zn", "0.4", "dtpa")), okReport, setNamed(t, "california-olsen"), Ask{On: "2026-04-01"})
	for _, s := range a.Cautions {
		if s.ID == "trace-low" {
			t.Error(s.Text)
		}
	}
}

// Tables are made for the top 6 to 8 inches; a deeper sample is used, and told.
func TestDeepSamplesAreTold(t *testing.T) {
	for depth, told := range map[normalize.Decimal]bool{"": false, "4": false, "6": false, "8": false, "9": false, "9.1": true, "12": true} {
		rec := recordOf("vegetable garden", res("pH", "6.4", "ph-water-1-1"))
		rec.Sample.DepthIn = depth
		for _, rs := range allLoaded(t) {
			a := Advise(rec, okReport, rs, Ask{On: "2026-04-01", LandUse: rs.LandUses[0].Name})
			if slices.ContainsFunc(a.Cautions, func(s Said) bool { return s.ID == "deep-sample" }) != told {
				t.Errorf("%s, %q in: %v", rs.ID, depth, a.Cautions)
			}
		}
	}
}
