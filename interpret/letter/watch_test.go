package letter

import (
	"strings"
	"testing"

	"example.org/windrow/interpret"
	"example.org/windrow/normalize"
)

// What decided something is never told as no part of the advice, and what a
// person should ask about is not called good.
func TestWhatStandsOutIsTold(t *testing.T) {
	res := func(id, v, unit string) *normalize.Result {
		return &normalize.Result{Analyte: id, Status: normalize.OK, Unit: unit, Value: normalize.Decimal(v), Printed: normalize.Printed{Text: v, Number: normalize.Decimal(v), Unit: unit}}
	}
	rating := func(id, class string) interpret.Rating {
		return interpret.Rating{Analyte: id, Class: class, Printed: "9"}
	}
	season := []interpret.Line{{ID: "N", When: interpret.Season}}
	good := []interpret.Rating{rating("pH", interpret.InRange), rating("P", interpret.Optimum), rating("K", interpret.Optimum)}
	for name, c := range map[string]struct {
		a      interpret.Advice
		rec    normalize.Record
		bottom string // how the bottom line begins
		beside string // what is told as having been used
		others string
	}{
		"good":    {a: interpret.Advice{Ratings: good, Lines: season}, bottom: "Your soil is in good shape."},
		"sweet":   {a: interpret.Advice{Ratings: []interpret.Rating{rating("pH", interpret.TooAlkaline), good[1], good[2]}, Lines: season}, bottom: "The pH of your soil is above the range."},
		"rich":    {a: interpret.Advice{Ratings: good, Lines: append([]interpret.Line{{ID: "OM-much", When: interpret.Not}}, season...)}, bottom: "Your soil holds more than it needs."},
		"salty":   {a: interpret.Advice{Ratings: good, Lines: append([]interpret.Line{{ID: "salts", When: interpret.First}}, season...)}, bottom: "Your soil needs a little help."},
		"trees":   {a: interpret.Advice{Ratings: []interpret.Rating{good[0], rating("P", interpret.Low), good[2]}, Lines: []interpret.Line{{ID: "N", When: interpret.Season, Each: []interpret.PlantFeed{{Grade: "10-10-10"}}}}}, bottom: "Your soil needs a little help. This season, add fertilizer."},
		"planted": {a: interpret.Advice{Ratings: []interpret.Rating{good[0], rating("P", interpret.Low), good[2]}, Lines: []interpret.Line{{ID: "N", When: interpret.Not}}}, bottom: "Add no lime and no fertilizer for now."},
		"sodium":  {a: interpret.Advice{Ratings: good, Alarms: []interpret.Alarm{{ID: "sodium", Text: "The soil holds too much sodium.", Do: "Call us before you plant or add anything."}}}, rec: normalize.Record{Results: []*normalize.Result{res("Na", "800", "ppm"), res("SAR", "16", "")}}, bottom: "The soil holds too much sodium.", beside: "Also on the report: sodium 800 ppm and sodium ratio (SAR) 16."},
		"nitrate": {a: interpret.Advice{Ratings: good, Lines: season, Questions: []interpret.Question{{Code: "nitrate-high", Blocks: "N"}}}, rec: normalize.Record{Results: []*normalize.Result{res("NO3-N", "85", "ppm")}},
			bottom: "Your soil is in good shape.", beside: "nitrate nitrogen 85 ppm"},
		"boron": {a: interpret.Advice{Ratings: append([]interpret.Rating{rating("B", interpret.High)}, good...)}, rec: normalize.Record{Results: []*normalize.Result{res("B", "9", "ppm")}}, bottom: "Your soil", others: "Boron: High, add none and ask us (9 ppm)."},
		"salts": {a: interpret.Advice{Ratings: append([]interpret.Rating{rating("EC", interpret.Excessive)}, good...)}, rec: normalize.Record{Results: []*normalize.Result{res("EC", "9", "dS/m")}}, bottom: "Your soil", others: "Salts (EC): Very high (9 dS/m)."},
	} {
		v := &view{tongue: tongueOf(English)}
		v.found(&c.a, &c.rec)
		v.bottom(&c.a)
		if !strings.HasPrefix(strings.Join(v.Bottom, " "), c.bottom) {
			t.Errorf("%s: %q", name, v.Bottom)
		}
		used, rest, _ := strings.Cut(v.Rest, "Also measured")
		if !strings.Contains(used, c.beside) || c.beside != "" && rest != "" {
			t.Errorf("%s: %q", name, v.Rest)
		}
		if c.others != "" && v.Others != c.others {
			t.Errorf("%s: %q", name, v.Others)
		}
	}
}

// Lime where the table calls calcium plenty is explained, and nowhere else.
func TestLimeOverCalciumIsExplained(t *testing.T) {
	lime := interpret.Line{ID: "lime", When: interpret.First, What: "Spread ground limestone."}
	no := interpret.Line{ID: "lime", When: interpret.Not, What: "Add no lime."}
	for _, c := range []struct {
		line  interpret.Line
		class string
		want  bool
	}{{lime, interpret.Excessive, true}, {lime, interpret.High, true}, {lime, interpret.Optimum, false}, {no, interpret.Excessive, false}} {
		v := &view{tongue: tongueOf(English)}
		v.actions(&interpret.Advice{Ratings: []interpret.Rating{{Analyte: "Ca", Class: c.class}}, Lines: []interpret.Line{c.line}})
		if got := strings.Contains(strings.Join(v.Notes, " "), "Lime is for the pH"); got != c.want {
			t.Errorf("%s, %s: %q", c.line.What, c.class, v.Notes)
		}
	}
}

// Who sampled too deep is not told to sample to the same depth again.
func TestDeepSamplesAreNotSampledDeepAgain(t *testing.T) {
	for _, lang := range Languages() {
		seen := map[string]bool{}
		for _, cautions := range [][]interpret.Said{nil, {{ID: "deep-sample", Text: "The amounts may not fit."}}} {
			v := newView(&Letter{Language: lang, Record: &normalize.Record{}, Report: &normalize.Report{}, Advice: &interpret.Advice{Outcome: interpret.Advised, Cautions: cautions, Again: interpret.Again{Years: 3, Why: "Soil changes slowly."}}})
			seen[v.Again] = true
			if deep := strings.Contains(v.Again, "6") && strings.Contains(v.Again, "8"); deep != (cautions != nil) {
				t.Errorf("%s: %q", lang, v.Again)
			}
		}
		if len(seen) != 2 {
			t.Errorf("%s says the same of both", lang)
		}
	}
}
