package interpret

import (
	"bytes"
	"strings"
	"testing"

	"example.org/windrow/normalize"
)

func metalSaid(t *testing.T, on string, r *normalize.Result) (figures, do string) {
	t.Helper()
	for _, rs := range allLoaded(t) {
		a := Advise(recordOf(rs.LandUses[0].Name, res("pH", "6.5", "ph-water-1-1"), r), okReport, rs, Ask{On: on})
		f, d := "", ""
		for _, c := range a.Cautions {
			switch c.ID {
			case "arsenic", "cadmium":
				f = c.Text
			case "arsenic-do", "arsenic-ask", "cadmium-do":
				d = c.Text
			}
		}
		if rs.ID != DefaultRuleSet && (f != figures || d != do) {
			t.Errorf("%s says otherwise than the default rule set: %q %q", rs.ID, f, d)
		}
		figures, do = f, d
	}
	return figures, do
}

// New Jersey Administrative Code 7:26D, Appendix 1, Table 1 (current through 6
// January 2025): residential, arsenic 19, cadmium 71 mg/kg; California DTSC
// Note 11: 12 mg/kg of arsenic in the south; Washington Table 749-2: cadmium
// 25; 40 CFR 503.13: arsenic 41 kg/ha, cadmium 39 mg/kg of sludge.
func TestPublishedFiguresForMetals(t *testing.T) {
	f, do := metalSaid(t, "2026-04-01", res("As", "11.9", "total-digestion"))
	for _, w := range []string{"12 mg/kg of total arsenic", "19 mg/kg", "20 mg/kg", "None of these is a limit for your garden. Your state and county decide"} {
		if !strings.Contains(f, w) {
			t.Errorf("not told: %s in %q", w, f)
		}
	}
	if do != "" {
		t.Errorf("11.9 is under every figure, and is called one to act on: %s", do)
	}
	// 12 is what soils hold by nature, a reason to ask; 19, to which New Jersey
	// cleans soil at homes, is the lowest at which somebody acts.
	const ask, act = "Total arsenic is near the upper end of what soils hold by nature.", "Total arsenic is at or above a figure at which some agency looks closer."
	for v, want := range map[string]string{"12": ask, "18.9": ask, "19": act, "250": act, "0": "", "5": ""} {
		if _, do := metalSaid(t, "2026-04-01", res("As", v, "aqua-regia")); !strings.HasPrefix(do, want) || (want == "") != (do == "") {
			t.Errorf("arsenic %s: %q", v, do)
		}
	}
	for v, act := range map[string]bool{"24.9": false, "25": true, "39": true} {
		f, do := metalSaid(t, "2026-04-01", res("Cd", v, "total-digestion"))
		if (do != "") != act || !strings.Contains(f, "71 mg/kg of total cadmium") || strings.Contains(f, "sludge") {
			t.Errorf("cadmium %s: %q %q", v, f, do)
		}
		if act && (!strings.Contains(do, "cover bare soil") || !strings.Contains(do, "Call your state environment agency or health department")) {
			t.Error(do)
		}
	}
	// On a day before a rule its figure is not told.
	if f, _ := metalSaid(t, "2024-06-01", res("As", "15", "total-digestion")); strings.Contains(f, "19 mg/kg") || !strings.Contains(f, "12 mg/kg") {
		t.Errorf("%q", f)
	}
	// What is below a limit of detection may be as much as the limit.
	nd := res("As", "20", "total-digestion")
	nd.Censored = "<"
	if _, do := metalSaid(t, "2026-04-01", nd); do == "" {
		t.Error("below 20 may be 19")
	}
}

// A weak extract is never set beside a figure for a total, nor is a total in
// another unit or one that is in doubt.
func TestAnExtractMeetsNoFigure(t *testing.T) {
	held, unit := res("As", "50", "total-digestion"), res("As", "50", "total-digestion")
	held.Status, unit.Unit = normalize.Flagged, "lb/acre"
	for name, r := range map[string]*normalize.Result{"Mehlich-3": res("As", "50", "mehlich-3"), "DTPA": res("Cd", "100", "dtpa"), "Mehlich-1": res("Cd", "100", "mehlich-1"), "no method": res("As", "50", ""), "flagged": held, "another unit": unit} {
		if f, do := metalSaid(t, "2026-04-01", r); f != "" || do != "" {
			t.Errorf("%s: %q %q", name, f, do)
		}
	}
}

// The history of lead on a day: what was not yet known is not told, and what
// was in force then is called so (1994: 400; 17 January 2024: 200 and 100;
// October 2025: 200 and 600, the 100 withdrawn).
func TestHistoryOfLeadOnADay(t *testing.T) {
	rs := loaded(t)
	told := func(on string) string {
		l, _ := rs.leadAdvice([]*normalize.Result{res("Pb", "150", "total-digestion")}, on)
		return strings.Join(l.History, "\n")
	}
	for on, c := range map[string]struct{ say, hush []string }{
		"2023-06-01": {[]string{"1994: 400 mg/kg", "(in force on the day of this letter)"}, []string{"2024:", "2025:", "replaced"}},
		"2024-06-01": {[]string{"1994: 400 mg/kg", "(replaced in 2024)", "2024: 200 mg/kg", "2024: 100 mg/kg, federal screening level where there are other sources of lead (in force on the day of this letter)"}, []string{"2025:", "withdrawn"}},
		"2026-04-01": {[]string{"2025: 200 mg/kg", "2025: 600 mg/kg", "(withdrawn in 2025)", "2009: 80 mg/kg"}, []string{"in force on the day"}},
		"":           {[]string{"2025: 600 mg/kg", "(withdrawn in 2025)"}, []string{"in force on the day"}},
	} {
		for _, w := range c.say {
			if !strings.Contains(told(on), w) {
				t.Errorf("%s: not told: %s in\n%s", on, w, told(on))
			}
		}
		for _, w := range c.hush {
			if strings.Contains(told(on), w) {
				t.Errorf("%s: told: %s", on, w)
			}
		}
	}
}

// A figure that soil is compared with was read, and its text tells it.
func TestFaultyMetals(t *testing.T) {
	for _, c := range []struct{ old, new, code string }{
		{"figure: 19, compare: true", "figure: 21, compare: true", "figure-not-told"},
		{"source: nj-7-26d, provenance: seen}\n      - {id: M78", "source: nj-7-26d, provenance: memory}\n      - {id: M78", "not-firm"},
		{"date: 2025-01-06, who", "date: 2025, who", "not-a-date"},
		{"analyte: As\n    unit: mg/kg", "analyte: As\n    unit: lb/acre", "wrong-unit"},
	} {
		in := files(t, nil)
		if !bytes.Contains(in[ruleFile].Data, []byte(c.old)) {
			t.Fatal(c.old)
		}
		in[ruleFile].Data = bytes.Replace(in[ruleFile].Data, []byte(c.old), []byte(c.new), 1)
		if _, faults := LoadRules(in); len(faults) == 0 || faults[0].Code != c.code {
			t.Errorf("%s: %v", c.code, faults)
		}
	}
}
