package main

import (
	"bytes"
	"strings"
	"testing"

	"example.org/windrow/interpret"
	"example.org/windrow/normalize"
)

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
