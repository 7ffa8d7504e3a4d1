package letter

import (
	"strings"
	"testing"

	"example.org/windrow/interpret"
	"example.org/windrow/normalize"
)

// A record as normalize makes it, with what the letter needs of its results.
func measured(analyte, text, unit, word, class string) *normalize.Result {
	return &normalize.Result{Analyte: analyte, Value: normalize.Decimal(text), Unit: "mg/kg", Printed: normalize.Printed{Text: text, Unit: unit, Rating: word, Class: class}}
}

// What the laboratory measured stands in the letter: lead in the unit of the
// table, and in a sentence what has no line of its own, each once.
func TestNothingMeasuredIsLeftOut(t *testing.T) {
	rec := &normalize.Record{Results: []*normalize.Result{
		measured("Pb", "47", "ppm", "L", "low"), measured("S", "10", "ppm", "Optimum", "optimum"), measured("Zn", "0.4", "ppm", "", ""),
		measured("Cu", "1.5", "ppm", "V", "very high"), measured("B", "0.3", "ppm", "", ""), {Analyte: "Mn", Missing: "not run"}}}
	a := &interpret.Advice{Lead: &interpret.LeadAdvice{Kind: "screen", Value: "47 mg/kg"}, Ratings: []interpret.Rating{
		{Analyte: "K", Printed: "46", PrintUnit: "ppm", Value: "46", Unit: "mg/kg", Class: interpret.Medium, LabWord: "Low", LabClass: "low"},
		{Analyte: "P", Printed: "88", PrintUnit: "ppm", Value: "88", Unit: "mg/kg", Class: interpret.Excessive, LabWord: "V", LabClass: "very high"},
		{Analyte: "Zn", Printed: "0.4", PrintUnit: "ppm", Class: interpret.Low, LabWord: "Sufficient", LabClass: "sufficient"}, {Analyte: "Cu", Printed: "1.5", PrintUnit: "ppm", Class: interpret.Optimum}}}
	v := &view{tongue: tongueOf(English)}
	v.found(a, rec)
	if v.LeadValue != "47 ppm" {
		t.Errorf("the heading of lead says %q, and the table ppm", v.LeadValue)
	}
	rows := map[string]found{}
	for _, f := range v.Found {
		rows[f.Name] = f
	}
	if f := rows["Lead, a screen"]; f.Printed != "47" || f.Unit != "ppm" || f.Lab != "L, for low" {
		t.Errorf("lead in the table: %+v", f)
	}
	if f := rows["Potassium"]; f.Lab != "Low" || !f.Differs {
		t.Errorf("potassium: %q", f.Lab)
	}
	if strings.Contains(v.Explain[0], "disagree whether") {
		t.Errorf("medium and low are told as opposed: %q", v.Explain[0])
	}
	if f := rows["Phosphorus"]; f.Lab != "V, for very high" || f.Differs {
		t.Errorf("phosphorus: %q", f.Lab)
	}
	if len(v.Explain) != 1 || !strings.HasPrefix(v.Explain[0], "For potassium the laboratory uses another word") {
		t.Errorf("the note: %q", v.Explain)
	}
	want := "Also measured, and no part of our advice: sulfur 10 ppm (lab: Optimum), copper 1.5 ppm (enough; lab: V, for very high) and boron 0.3 ppm."
	if v.Rest != want {
		t.Errorf("the rest: %q, want %q", v.Rest, want)
	}
	if v.Others != "Zinc: Low (0.4 ppm; lab: Sufficient)." {
		t.Errorf("zinc is told by itself: %q", v.Others)
	}
}

// Where one says too little and the other enough, the client is asked to call;
// where both mean too little, or both enough, not.
func TestOpposedRatings(t *testing.T) {
	for _, x := range []struct {
		ours, theirs string
		opposed      bool
	}{
		{interpret.VeryLow, "high", true}, {interpret.Low, "optimum", true}, {interpret.Low, "sufficient", true},
		{interpret.Optimum, "low", true}, {interpret.Excessive, "deficient", true},
		{interpret.Medium, "low", false}, {interpret.Medium, "optimum", false}, {interpret.Optimum, "high", false},
		{interpret.Excessive, "optimum", false}, {interpret.Low, "very low", false}, {interpret.Low, "", false},
	} {
		v := &view{tongue: tongueOf(English)}
		v.found(&interpret.Advice{Ratings: []interpret.Rating{{Analyte: "P", Printed: "12", PrintUnit: "ppm", Class: x.ours, LabWord: x.theirs, LabClass: x.theirs}}}, &normalize.Record{})
		if got := strings.Contains(strings.Join(v.Explain, " "), "On phosphorus we even disagree"); got != x.opposed {
			t.Errorf("we say %q, the laboratory %q: opposed is %v", x.ours, x.theirs, got)
		}
	}
	es := &view{tongue: tongueOf(Spanish)}
	if got := es.labWord(interpret.Rating{LabWord: "4 High", LabClass: "high"}); got != "4 High (alto)" {
		t.Errorf("a word of a scale with numbers: %q", got)
	}
}
