package draft

import (
	"strings"
	"testing"
)

// pairShapes are reports with two columns of one test: the same amount in two
// units or forms, what to apply, or a result of another year.
var pairShapes = []shape{
	{"a test in two units and two forms, whose numbers go together", grid(`
PENNYWORT SOIL LABORATORY
Lab No|Zn|Zn|P|P2O5
|ppm|lb/acre|ppm|ppm
101|1.3|2.6|21|48.1
102|1.9|3.8|32|73.3
103|2.2|4.4|29|66.5
`, ""), `
101 Zn = 1.3 mg/kg
101 Zn = 2.6 lb/acre
101 P = 21 mg/kg
101 P as P2O5 = 48.1 mg/kg
102 Zn = 1.9 mg/kg
102 Zn = 3.8 lb/acre
102 P = 32 mg/kg
102 P as P2O5 = 73.3 mg/kg
103 Zn = 2.2 mg/kg
103 Zn = 4.4 lb/acre
103 P = 29 mg/kg
103 P as P2O5 = 66.5 mg/kg
`, []string{"lb/acre"}},
	{"what to apply is no second form of the test", grid(`
PENNYWORT SOIL LABORATORY
Lab No|pH|P|P2O5
||ppm|lb/acre
101|6.1|21|60
102|6.4|32|40
103|6.3|29|45
`, ""), `
101 pH = 6.1 pH
101 P = 21 mg/kg
102 pH = 6.4 pH
102 P = 32 mg/kg
103 pH = 6.3 pH
103 P = 29 mg/kg
`, []string{"heading: P,", "[P2O5, lb/acre]"}},
	{"last year's result under a wide heading, its numbers to the right", drawn(`
PENNYWORT SOIL LABORATORY
Client: Orla Finch    Reported: 2026-04-02

Lab No      pH     P2O5      P2O5 last year   Zn     OM
                lb/acre             lb/acre  ppm      %
5501       6.2       92                  80  1.4    3.2
5502       5.8       41                  44  0.9    4.1
5503       7.1      130                 120  2.2    2.6
5504       6.7      <10                  18  0.5    5.0
`), `
5501 pH = 6.2 pH
5501 P as P2O5 = 92 lb/acre
5501 Zn = 1.4 mg/kg
5501 OM = 3.2 %
5502 pH = 5.8 pH
5502 P as P2O5 = 41 lb/acre
5502 Zn = 0.9 mg/kg
5502 OM = 4.1 %
5503 pH = 7.1 pH
5503 P as P2O5 = 130 lb/acre
5503 Zn = 2.2 mg/kg
5503 OM = 2.6 %
5504 pH = 6.7 pH
5504 P as P2O5 = <10 lb/acre
5504 Zn = 0.5 mg/kg
5504 OM = 5.0 %
`, nil},
}

// A column of another year's results is declared as what it is, and not as
// words of which a number would hold the next report.
func TestLastYearIsDeclared(t *testing.T) {
	for _, c := range pairShapes {
		if !strings.HasPrefix(c.name, "last year's result") {
			continue
		}
		_, dr := drafted(t, c.doc)
		if want := `{heading: [P2O5 last year, lb/acre], reads: nothing, why: "an earlier result, for comparison", numbers: yes}`; dr == nil || !strings.Contains(dr.Text, want) {
			t.Errorf("no line with %s", want)
		}
		return
	}
	t.Fatal("no such shape")
}
