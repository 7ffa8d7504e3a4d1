package normalize

import "testing"

// Names that may be of one client, and names of two; common practice, no
// source.
func TestSameClient(t *testing.T) {
	for _, c := range []struct {
		a, b string
		same bool
	}{
		{"Rosa Hale", "ROSA  HALE", true}, {"Hale-Moss", "Hale Moss", true}, {"O'Dowd", "O’Dowd", true}, {"Smithy, Jr. & Sons", "Smithy Jr & Sons", true},
		{"R. Hale", "Rosa Hale", true}, {"R Hale", "Rosa Hale", true}, {"Hale, R.", "Rosa Hale", true}, {"Hale, Rosa", "Rosa Hale", true},
		{"Rosa M. Hale", "Rosa Hale", true}, {"R. M. Hale", "Rosa Maria Hale", true}, {"R. & T. Hale", "Rosa and Tom Hale", false},
		{"R. & T. Hale", "Rosa & Tom Hale", true}, {"Geo. Hale", "George Hale", true}, {"Björn Åsa", "B. ÅSA", true},
		{"Rosa Hale", "Ruth Hale", false}, {"R. Hale", "Tom Hale", false}, {"R. Hale", "Rosa Moss", false}, {"Hale", "Rosa Hale", false},
		{"Rosa Hale", "Rosa Maria Hale", false}, {"Hale Farm", "Hale Hill Farm", false}, {"Ro Hale", "Rosa Hale", false},
		{"R. H.", "Rosa Hale", false}, {"Ann Brook", "Ned Oak", false}, {"", "Ned Oak", false},
	} {
		if got := sameClient(c.a, c.b); got != c.same {
			t.Errorf("%q and %q: %v, want %v", c.a, c.b, got, c.same)
		}
		if got := sameClient(c.b, c.a); got != c.same {
			t.Errorf("%q and %q: %v, want %v", c.b, c.a, got, c.same)
		}
	}
}

// A report with a name written out and one with its initial are held against
// each other for their results alone.
func TestAbbreviatedClientIsNoContradiction(t *testing.T) {
	rep := func(id, client, p string) *Report {
		return &Report{ID: id, Number: "81", Lab: Lab{ID: "pennywort"}, Records: []*Record{{Sample: Sample{LabID: "B-11", Reported: "2026-04-14"}, Client: &Client{Name: client},
			Results: []*Result{{Analyte: "P", Method: "mehlich-3-icp", Unit: "mg/kg", Value: Decimal(p), Printed: Printed{Text: p, Number: Decimal(p)}}}}}}
	}
	whole := rep("R1", "Rosa Hale", "21")
	if other := rep("R2", "R. Hale", "21"); Contradicts(whole, other) || Contradicts(other, whole) {
		t.Error("an initial is taken for another client")
	}
	if other := rep("R2", "R. Hale", "44"); !Contradicts(whole, other) || !Contradicts(other, whole) {
		t.Error("another result is accepted beside an initial")
	}
	if other := rep("R2", "Ruth Hale", "21"); !Contradicts(whole, other) {
		t.Error("two clients of one report number are accepted")
	}
}

// The numbers of clients are those that a look at every pair gives, joined.
func TestClientGroups(t *testing.T) {
	names := []string{"Rosa Hale", "Ned Oak", "R. Hale", "Hale, Rosa", "Ruth Hale", "", "ned  oak", "Hale Farm", "Hale-Moss", "Hale Moss", "Mc Donald", "McDonald", "", "Björn Åsa", "B. ÅSA", "Oak Farm", "M Donald"}
	got := ClientGroups(names)
	want := make([]int, len(names)) // the first name that a chain of pairs leads to
	for i := range names {
		want[i] = i
	}
	for changed := true; changed; {
		changed = false
		for i := range names {
			for j := range names {
				if (names[i] == names[j] || names[i] != "" && names[j] != "" && sameClient(names[i], names[j])) && want[i] != want[j] {
					want[i], want[j], changed = min(want[i], want[j]), min(want[i], want[j]), true
				}
			}
		}
	}
	for i := range names {
		for j := range names {
			if (got[i] == got[j]) != (want[i] == want[j]) {
				t.Errorf("%q and %q: %d and %d, want %d and %d", names[i], names[j], got[i], got[j], want[i], want[j])
			}
		}
	}
	if got[0] != 0 || got[1] != 1 || got[0] != got[4] {
		t.Errorf("R. Hale joins Rosa and Ruth, so that they are counted as one: %v", got)
	}
}
