package draft

import (
	"strings"
	"testing"
)

// A list that names its laboratory above its headings is known by that name:
// a renamed heading must not make it a report of nobody.
func TestKnownByItsName(t *testing.T) {
	csv := `
Wren Soil House|||
Client|Moss Farm|Issued|2026-04-02
Determinations: pH 1:1 in water|P by strong Bray

Tin no.|Mark|pH|P Bray strong (mg/kg)|CEC cmol(+)/kg
WS26-001|North|6.5|30|9.1
WS26-002|South|5.9|22|8.8
WS26-003|East|6.1|27|9.0
`
	got, dr := drafted(t, grid(csv, ""))
	if !strings.Contains(dr.Text, "\nrecognise: [Wren Soil House") || strings.Contains(dr.Text, "recognise: [Tin") {
		t.Error("not known by its name:\n" + dr.Text)
	}
	for _, w := range []string{"WS26-001 pH = 6.5", "WS26-002 P = 22 mg/kg", "WS26-003 CEC = 9.0 cmol(+)/kg"} {
		if !strings.Contains(got, w) {
			t.Errorf("no %q in\n%s", w, got)
		}
	}
	if !strings.Contains(dr.Text, "method: strong Bray") {
		t.Error("Bray strong is not taken for the strong Bray:\n" + dr.Text)
	}
	if !asks(dr, "heading: Tin no.") {
		t.Error("no question about the sample numbers")
	}
	_, dr = drafted(t, grid(csv[strings.Index(csv, "Tin no"):], ""))
	if !strings.Contains(dr.Text, "QUESTION: these reports don't name their laboratory") {
		t.Error("not asked how reports without a name are known:\n" + dr.Text)
	}
}

// A column of numbers of one form, under a heading that no list knows, can
// only be that of the samples; it is asked about.
func TestSampleNumberUnderAnUnknownHeading(t *testing.T) {
	got, dr := drafted(t, grid(`
Wren Soil House
Tin no.|Name on tin|pH|P mg/kg|K mg/kg
T-0412|North|6.5|30|120
T-0413|South|5.9|22|98
T-0419|East|6.1|27|101
`, "Data"))
	if !strings.Contains(got, "T-0412 pH = 6.5") || !asks(dr, "heading: Tin no.") {
		t.Errorf("got\n%s\n%s", got, dr.Text)
	}
	// Two columns of results are no numbers of samples.
	got, _ = drafted(t, grid(`
Wren Soil House
Lab no|Zeta|pH|P mg/kg
T-0412|31|6.5|30
T-0413|32|5.9|22
`, "Data"))
	if !strings.Contains(got, "T-0412 pH") {
		t.Errorf("got\n%s", got)
	}
}

// A wider heading that names a test does not reach over a field or another
// test beside it.
func TestWiderHeadingIsTrimmed(t *testing.T) {
	_, dr := drafted(t, drawn(`
VESPER SOIL LABORATORY
                        pH
Lab no.    Depth   water   salt   OM     CEC
           in                     %      meq/100g
VF26-011   0-6     6.5     6.0    3.0    9.1
VF26-012   0-6     5.9     5.2    2.2    8.8
VF26-013   0-6     6.1     5.6    2.7    9.0
`))
	for _, l := range strings.Split(dr.Text, "\n") {
		if strings.Contains(l, "under: pH") && (strings.Contains(l, "Depth") || strings.Contains(l, "OM") || strings.Contains(l, "CEC")) {
			t.Errorf("pH stands over it: %s", l)
		}
	}
	d := newDrafter(Options{Vocabulary: vocabulary()})
	cols := []*column{{heading: []string{"Depth"}, under: []string{"pH"}}, {heading: []string{"water"}, under: []string{"pH"}}, {heading: []string{"buffer"}, under: []string{"pH"}}, {heading: []string{"OM"}, under: []string{"pH"}, unit: "%"}}
	d.trimGroups(cols)
	if len(cols[0].under)+len(cols[3].under) != 0 || len(cols[1].under) != 1 || len(cols[2].under) != 1 {
		t.Errorf("under %v %v %v %v", cols[0].under, cols[1].under, cols[2].under, cols[3].under)
	}
}
