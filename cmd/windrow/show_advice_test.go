package main

import (
	"bytes"
	"strings"
	"testing"

	"example.org/windrow/interpret"
	"example.org/windrow/normalize"
)

// A line tells what may stand in for its material, with the whole amount and
// what to know of it.
func TestLineTellsWhatMayStandIn(t *testing.T) {
	area := func(lb string) []interpret.ForArea {
		return []interpret.ForArea{{SqFt: "240", Lb: lb, Own: true}, {SqFt: "100", Lb: "1"}}
	}
	l := interpret.Line{ID: "sulfur", What: "Dig elemental sulfur in before planting.", Product: &interpret.Amount{Of: "elemental sulfur", PerArea: area("5.5")},
		Instead: []interpret.Instead{{Amount: interpret.Amount{Of: "iron sulfate", PerArea: area("48")}, Note: "It stains paving."}}}
	want := "Dig elemental sulfur in before planting. (elemental sulfur: 5.5 lb for 240 sq ft.) Or in place of all of it 48 lb of iron sulfate for 240 sq ft: It stains paving."
	if got := lineText(l); got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

// What comes before all else is shown before the ratings and the amounts, as
// in the letter.
func TestAdviceShowsAlarmsFirst(t *testing.T) {
	a := &interpret.Advice{
		Alarms:  []interpret.Alarm{{ID: "metal-lead", Text: "The lead in this soil is high enough to take care.", Do: "Do not dig before you have called.", Again: "Send a new sample when asked.", Stop: true}},
		Ratings: []interpret.Rating{{Analyte: "pH", Value: "6.1", Class: "in range"}},
		Lines:   []interpret.Line{{ID: "lime", When: interpret.Not, What: "Add no lime."}},
	}
	var b bytes.Buffer
	printAdvice(&b, a, &normalize.Record{Sample: normalize.Sample{LabID: "1"}})
	text := strings.Join(strings.Fields(b.String()), " ")
	said := "before all else: The lead in this soil is high enough to take care. Do not dig before you have called. Send a new sample when asked. No amounts are given until then."
	if i, j := strings.Index(text, said), strings.Index(text, "ANALYTE"); i < 0 || j < i {
		t.Errorf("it shows\n%s", b.String())
	}
}
