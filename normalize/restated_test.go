package normalize

import (
	"slices"
	"testing"

	"example.org/windrow/mappings"
)

// Of a test that is printed in two units or as two forms, one result counts,
// and nothing of the other weakens what the checks say of the sample.
func TestRestated(t *testing.T) {
	for _, c := range []struct {
		name, lines string
		counts      []int // ordinals of what counts
	}{
		{"the one that needs no conversion", "Zn 2.6 lb/acre dtpa; Zn 1.3 mg/kg dtpa", []int{1}},
		{"the element before the oxide", "P 48.1 mg/kg mehlich-3-icp basis=P2O5; P 21 mg/kg mehlich-3-icp", []int{1}},
		{"the first of two that need one each", "P 48.1 mg/kg mehlich-3-icp basis=P2O5; P 42 lb/acre mehlich-3-icp", []int{0}},
		{"one with a value before one without", "P - mg/kg mehlich-3-icp; P 42 lb/acre mehlich-3-icp", []int{1}},
		{"three ways to say one thing", "P 48.1 mg/kg mehlich-3-icp basis=P2O5; P 42 lb/acre mehlich-3-icp; P 21 mg/kg mehlich-3-icp", []int{2}},
		{"two methods are two tests", "P 60 lb/acre mehlich-3-icp; P 33 mg/kg olsen", []int{0, 1}},
		{"an amount and an index are two things to say", "P 35 index mehlich-3-icp; P 33 mg/kg mehlich-3-icp", []int{0, 1}},
		{"one unit and form twice is no statement in other words", "P 33 mg/kg mehlich-3-icp; P 34 mg/kg mehlich-3-icp", []int{0, 1}},
	} {
		rec := Build(&mappings.Extract{Samples: []*mappings.SampleExtract{reads(c.lines)}}, Options{}).Records[0]
		var counts []int
		for i, res := range rec.Results {
			if !res.Restates {
				counts = append(counts, i)
			}
		}
		if !slices.Equal(counts, c.counts) {
			t.Errorf("%s: %v count, want %v", c.name, counts, c.counts)
		}
		if once := rec.Once(); len(once.Results) != len(c.counts) {
			t.Errorf("%s: once has %d results", c.name, len(once.Results))
		}
	}
}

// What a sample's other numbers say is still seen where one of them stands
// there twice: potassium at 9 % of a CEC of 10 would be 352 mg/kg.
func TestRestatedHidesNothing(t *testing.T) {
	rep := Build(&mappings.Extract{Samples: []*mappings.SampleExtract{reads("CEC 10.0 cmol(+)/kg summation; base_sat_K 9 % from-cec; K 196 mg/kg mehlich-3-icp; K 392 lb/acre mehlich-3-icp")}}, Options{})
	if codes := spoken(rep); !codes["saturation-of-cation"] || codes["units-disagree"] {
		t.Errorf("got %v", codes)
	}
	if rec := rep.Records[0]; rec.Results[2].Restates || !rec.Results[3].Restates {
		t.Error("the pounds to the acre count")
	}
	// A doubt that only the second figure has stands in the place of the first.
	rec := rep.Records[0]
	rec.Results[3].Status = Held
	if got := rec.Once().Results[2]; got != rec.Results[3] {
		t.Errorf("%s %s stands there, whose doubt is not seen", got.Printed.Text, got.Printed.Unit)
	}
	if got := rec.Results[2]; got.Restates {
		t.Error("asking for each test once changed the record")
	}
}

// A report that prints a test in two units and one that prints it in one of them
// say the same of a sample, or contradict each other.
func TestRestatedAcrossReports(t *testing.T) {
	made := func(id, lines string) *Report {
		rep := Build(&mappings.Extract{Samples: []*mappings.SampleExtract{reads(lines + "; lab_sample_id:7; date_reported:2026-04-14; client_name:Rosa_Hale")}}, Options{})
		rep.ID, rep.Lab.ID, rep.Number = id, "pennywort", "81"
		return rep
	}
	both := made("R1", "Zn 1.3 mg/kg dtpa; Zn 2.6 lb/acre dtpa")
	if other := made("R2", "Zn 2.6 lb/acre dtpa"); Contradicts(both, other) || Contradicts(other, both) {
		t.Error("the same amount is called a contradiction")
	}
	if other := made("R2", "Zn 9.6 lb/acre dtpa"); !Contradicts(both, other) || !Contradicts(other, both) {
		t.Error("another amount is accepted, since the one report prints it in two units")
	}
}

// Two figures that a mapping doesn't clearly call two tests are set against each
// other all the same: words such as "per acre" must not turn the comparison off.
func TestFiguresOfOneTestDisagree(t *testing.T) {
	for _, c := range []struct {
		name, lines, code string
	}{
		{"one test", "Zn 2.0 mg/kg dtpa; Zn 8.0 lb/acre dtpa", "units-disagree"},
		{"words that only name the unit", "Zn 2.0 mg/kg dtpa; Zn 8.0 lb/acre dtpa detail=per_acre", "units-disagree"},
		{"words that only name the form", "P 30 mg/kg mehlich-3-icp detail=element; P 10 mg/kg mehlich-3-icp basis=P2O5 detail=oxide", "bases-disagree"},
		{"a method that stands at one only", "Zn 2.0 mg/kg dtpa; Zn 8.0 lb/acre", "units-disagree"},
		{"one layer in two units", "NO3-N 12 mg/kg kcl-2m detail=0-8_in; NO3-N 60 lb/acre kcl-2m detail=0-8_in_per_acre", "units-disagree"},
		{"the same amount", "Zn 2.0 mg/kg dtpa; Zn 4.0 lb/acre dtpa detail=per_acre", ""},
		{"two methods", "Zn 2.0 mg/kg dtpa; Zn 8.0 lb/acre mehlich-3-icp", ""},
		{"two layers", "NO3-N 12 mg/kg kcl-2m detail=0-8_in; NO3-N 60 lb/acre kcl-2m detail=8-24_in", ""},
		{"two fractions without methods", "P 820 mg/kg detail=total; P 60 lb/acre", ""},
		{"two tests in one unit", "Zn 2.0 mg/kg dtpa; Zn 8.0 mg/kg dtpa detail=second_extract", ""},
	} {
		rep := Build(&mappings.Extract{Samples: []*mappings.SampleExtract{reads(c.lines)}}, Options{})
		codes := spoken(rep)
		for _, code := range []string{"units-disagree", "bases-disagree", "read-twice"} {
			if codes[code] != (code == c.code) {
				t.Errorf("%s: %s is %v", c.name, code, codes[code])
			}
		}
		if rec := rep.Records[0]; c.code != "" && (rec.Results[0].Status != Flagged || rec.Results[1].Status != Flagged) {
			t.Errorf("%s: %s and %s, want both flagged", c.name, rec.Results[0].Status, rec.Results[1].Status)
		}
	}
}
