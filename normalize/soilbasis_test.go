package normalize

import (
	"slices"
	"testing"

	"example.org/windrow/mappings"
)

// The words beside a number are each number's own: two samples with the same
// digits may have them otherwise.
func TestWordsOfMassOrVolume(t *testing.T) {
	in := func(words, unit, per string) *mappings.SampleExtract {
		return &mappings.SampleExtract{Readings: []mappings.Reading{{Analyte: "P", Method: "mehlich-3-icp", Printed: "61", Number: "61", Unit: unit, PrintedUnit: unit, Per: per, PrintedMethod: words}}}
	}
	rep := Build(&mappings.Extract{Samples: []*mappings.SampleExtract{
		in("Mehlich-3", "mg/kg", ""), in("Mehlich-3, volume basis", "mg/kg", ""), in("Mehlich-3, mass basis", "mg/kg", ""),
		in("Mehlich-3, mass basis", "mg/dm3", ""), in("Mehlich-3, volume basis", "mg/dm3", ""),
		in("Mehlich-3, volume basis", "mg/kg", "volume"), // as the mapping says of this laboratory
	}}, Options{})
	var flagged []int
	for i, rec := range rep.Records {
		res := rec.Results[0]
		if slices.ContainsFunc(res.Findings, func(f Finding) bool { return f.Check == "mass-or-volume" }) {
			flagged = append(flagged, i)
			if res.Status != Flagged {
				t.Errorf("sample %d is %s", i, res.Status)
			}
		}
		if res.Printed.Method == "" {
			t.Errorf("sample %d: the printed method is lost", i)
		}
	}
	if !slices.Equal(flagged, []int{1, 3}) {
		t.Errorf("flagged %v", flagged)
	}
}
