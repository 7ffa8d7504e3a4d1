package main

import (
	"testing"

	"example.org/windrow/interpret"
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
