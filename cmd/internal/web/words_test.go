package web

import "testing"

// A sentence begins with a capital, but what is no word begins as it does.
func TestSentence(t *testing.T) {
	for from, want := range map[string]string{
		"": "", "it waits": "It waits.", "It waits.": "It waits.", "ärger": "Ärger.", "why?": "Why?",
		"mg/kg is parts per million by mass": "mg/kg is parts per million by mass.", "ppm is another way to write mg/kg": "ppm is another way to write mg/kg.",
		"pH in water is above": "pH in water is above.", "cmol(+)/kg": "cmol(+)/kg.", "lb per acre": "lb per acre.", "gives up, then": "Gives up, then.", "well-kept": "Well-kept.", "let’s see": "Let’s see.",
	} {
		if got := sentence(from); got != want {
			t.Errorf("%q: %q, want %q", from, got, want)
		}
	}
}

// A person who looks for a place on a page has no use for its frame in points.
func TestPlacesHaveNoFrames(t *testing.T) {
	for place, want := range map[string]string{"page 1 box 256,241-273,247": "page 1", "page 12 box 9.5,8-10,11.25": "page 12", "sheet box, cell B4": "sheet box, cell B4", "": ""} {
		if got := unboxed(place); got != want {
			t.Errorf("%q becomes %q, want %q", place, got, want)
		}
	}
}
