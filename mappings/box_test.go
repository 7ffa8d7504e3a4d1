package mappings

import (
	"strings"
	"testing"
)

// What a box beside a table holds is no result, and no cell of the table; a
// box that does not stand apart, or speaks of results, holds the report.
func TestBoxBesideATable(t *testing.T) {
	const mapping = top + `
    format: pdf
    one sample each: page
    sample: [{after: "No.:", reads: lab_sample_id}]
    tables:
      - name: results
        each row: a test
        columns:
          - {heading: Test, reads: test}
          - {heading: Result, reads: result}
          - {heading: Unit, reads: unit}
          - {heading: Level, reads: rating}
    not results:
      - {box: In house, why: what the laboratory notes for itself}
`
	const page = `
LAB
No.: 7
Test      Result  Unit  Level
pH           6.1        M       In house
P             12  ppm   L       Tray 16
K            140  ppm   H       Rack 7
`
	const read1 = "7 pH=6.1 pH M\n7 P=12 mg/kg L\n7 K=140 mg/kg H"
	for _, c := range []struct{ what, old, new, want string }{
		{"as it stands", "", "", read1},
		{"further down", "Rack 7\n", "Rack 7\n\n\n                                Batch 9\n", "! row-without-label"},
		{"too near", "L       Tray 16", "L Tray 16      ", "! box-not-apart"},
		{"a result in it", "Rack 7", "P 13", "! result-in-box"},
		{"a result denied in it", "Rack 7", "diluted x10", "! result-in-box"},
		{"measured again", "Rack 7", "recheck 6.9", "! result-in-box"},
		{"not final", "Rack 7", "preliminary results", "! not-final"},
		{"not final, over two lines", "Tray 16\nK            140  ppm   H       Rack 7", "results are\nK            140  ppm   H       preliminary", "! not-final"},
	} {
		x := read(t, mapping, drawn(strings.Replace(page, c.old, c.new, 1)))
		got := strings.TrimSpace(summary(x))
		if strings.HasPrefix(c.want, "!") && !strings.Contains(got, c.want) || !strings.HasPrefix(c.want, "!") && c.old == "" && got != c.want {
			t.Errorf("%s: got\n%s\nwant %s", c.what, got, c.want)
		}
		if c.old != "" && !x.Held() {
			t.Errorf("%s: not held", c.what)
		}
	}
}
