package interpret

import (
	"strings"
	"testing"

	"example.org/windrow/normalize"
)

// No amount is given where something has to be done first, and the letter is
// led by it; the figures are those of the rows of the rule set.
func TestAlarmsComeBeforeAmounts(t *testing.T) {
	rs := loaded(t)
	low := []*normalize.Result{res("pH", "5.2", "ph-water-1-1"), res("buffer_pH", "6.1", "mehlich-buffer"), res("P", "10", "mehlich-3-icp"), res("K", "30", "mehlich-3-icp")}
	for name, c := range map[string]struct {
		r    *normalize.Result
		id   string
		stop bool
	}{
		"lead 250":    {res("Pb", "250", "total-digestion"), "metal-lead", true},
		"lead 450":    {res("Pb", "450", "total-digestion"), "metal-lead", true},
		"lead 62":     {res("Pb", "62", "mehlich-3-icp"), "metal-lead", true},
		"lead 150":    {res("Pb", "150", "total-digestion"), "", false}, // below the federal screening level: care, and no stop
		"lead 20":     {res("Pb", "20", "mehlich-3-icp"), "", false},
		"arsenic 22":  {res("As", "22", "total-digestion"), "metal-arsenic", true},
		"arsenic 5":   {res("As", "5", "total-digestion"), "", false},
		"arsenic 14":  {res("As", "14", "total-digestion"), "", false}, // as soils may hold by nature: asked about, and no stop
		"salts 2.6":   {res("EC", "2.6", "ph-water-1-2"), "salts", false},
		"salts 0.001": {res("EC", "0.001", "ph-water-1-2"), "", false},
	} {
		for _, use := range []string{"vegetable garden", "lawn"} {
			stop := c.stop && (name != "lead 62" || use != "lawn") // a screen stops what would grow food
			a := Advise(recordOf(use, append([]*normalize.Result{c.r}, low...)...), okReport, rs, Ask{On: "2026-04-01"})
			if c.id == "" {
				if len(a.Alarms) != 0 {
					t.Errorf("%s %s: %+v", name, use, a.Alarms)
				}
				continue
			}
			if len(a.Alarms) != 1 || a.Alarms[0].ID != c.id || a.Alarms[0].Stop != stop || a.Again.First == "" || a.Again.Years > 1 {
				t.Errorf("%s %s: %+v %+v", name, use, a.Alarms, a.Again)
			}
			for _, l := range a.Lines {
				if amounts := l.Amount != nil || l.Product != nil; amounts && (stop || c.id == "salts" && l.ID != "lime") {
					t.Errorf("%s %s: an amount of %s", name, use, l.ID)
				}
			}
		}
	}
	a := Advise(recordOf("vegetable garden", res("pH", "8.6", "ph-water-1-1"), res("P", "10", "mehlich-3-icp")), okReport, rs, Ask{On: "2026-04-01"})
	if len(a.Alarms) != 1 || a.Alarms[0].ID != "sodium" || a.Plan != nil {
		t.Errorf("%+v", a.Alarms)
	}
}

// Sulfur is for a bed that is not planted; University of Georgia crop pages
// cap what bushes that stand already may get at 300 lb/acre (row L230).
func TestPlantedBlueberriesGetNoSulfur(t *testing.T) {
	rs := loaded(t)
	clay := res("texture", "", "")
	clay.Class, clay.Value = "silt loam", ""
	rec := func() *normalize.Record { return recordOf("blueberry", res("pH", "6.5", "ph-water-1-1"), clay) }
	a := Advise(rec(), okReport, rs, Ask{On: "2026-04-01", Plants: "8", PlantAge: "4"})
	if !asks(a, "sulfur-planted") {
		t.Errorf("%+v", a.Questions)
	}
	for _, l := range a.Lines {
		if l.ID == "sulfur" {
			t.Errorf("%+v", l)
		}
	}
	capped := false
	for _, c := range a.Cautions {
		capped = capped || c.ID == "L230"
	}
	if !capped {
		t.Error("the cap for bushes that stand already is not told")
	}
	a = Advise(rec(), okReport, rs, Ask{On: "2026-04-01"})
	for _, l := range a.Lines {
		for _, o := range l.Instead {
			if strings.Contains(o.Of, "aluminum") {
				t.Error("aluminum sulfate is offered for blueberries")
			}
		}
	}
}

// Clemson's classes of salts in a suspension of 1:2 by texture: 0.3 is a
// build-up in a loam (rows R315 to R317), normal in a clay loam (R318) and too
// much in a sand (R314). Salts that build up come first without stopping the
// rest; salts that can't be rated are asked about before anything is fed, from
// the figures under watch. That the same soil shows more in less water is common
// practice, no source.
func TestSaltsComeFirstOrAreAskedAbout(t *testing.T) {
	rs := loaded(t)
	low := []*normalize.Result{res("pH", "6.5", "ph-water-1-1"), res("P", "10", "mehlich-3-icp"), res("K", "30", "mehlich-3-icp")}
	for name, c := range map[string]struct {
		ec, method, texture string
		first, asked        bool
	}{
		"builds up":           {"0.3", "ph-water-1-2", "loam", true, false},
		"normal":              {"0.29", "ph-water-1-2", "clay loam", false, false},
		"too much":            {"0.3", "ph-water-1-2", "sand", false, false},
		"texture unknown":     {"0.3", "ph-water-1-2", "", false, true},
		"low in all":          {"0.14", "ph-water-1-2", "", false, false},
		"not too much in any": {"0.29", "ph-water-1-2", "", false, false},
		"too much in all":     {"2.1", "ph-water-1-2", "", false, false},
		"another method":      {"3.0", "saturated-paste", "loam", false, true},
		"low by any method":   {"1.9", "saturated-paste", "loam", false, false},
		"thin":                {"0.12", "ph-water-1-5", "loam", false, true},
		"thin, and low":       {"0.11", "ph-water-1-5", "loam", false, false},
		"thick":               {"0.6", "ph-water-1-1", "loam", false, true},
	} {
		rs2 := append([]*normalize.Result{res("EC", c.ec, c.method)}, low...)
		if c.texture != "" {
			x := res("texture", "", "")
			x.Class, x.Value = c.texture, ""
			rs2 = append(rs2, x)
		}
		a := Advise(recordOf("vegetable garden", rs2...), okReport, rs, Ask{On: "2026-04-01"})
		first, asked, fed := false, false, false
		for _, l := range a.Lines {
			first = first || l.ID == "salts" && l.When == First && len(l.Basis) > 0 && strings.HasPrefix(l.What, "The soil holds more salt than is usual.")
			fed = fed || l.ID == "K2O" && l.When != Not
		}
		for _, s := range a.Cautions {
			asked = asked || s.ID == "salts-unrated" && len(s.Basis) > 0 && strings.Contains(s.Text, "Until we can, add no fertilizer")
		}
		want := ""
		if strings.HasPrefix(name, "too much") {
			want = "salts"
		} else if c.asked {
			want = "salts-unrated"
		}
		got := ""
		if len(a.Alarms) > 0 {
			got = a.Alarms[0].ID
		}
		if first != c.first || asked != c.asked || got != want || fed == (want != "") {
			t.Errorf("%s: first %v, asked %v, fed %v, alarms %v, questions %v", name, first, asked, fed, a.Alarms, a.Questions)
		}
	}
}
