package mappings

import (
	"strings"
	"testing"
)

const tightly = `
    format: pdf
    one sample each: row
    tables:
      - name: samples
        each row: a sample
        columns:
          - {heading: Lab no., reads: lab_sample_id}
          - {heading: pH}
          - {heading: P, unit: ppm}
          - {heading: K, unit: ppm, reads: "{result} {rating?}"}
`

// Columns a space apart are read where each has its heading and what the
// mapping says is in it, and are held where a number may belong to another.
func TestTightColumns(t *testing.T) {
	for _, c := range []struct{ what, page, want, held string }{
		{"all there", `
LAB
Lab no. pH   P   K
            ppm ppm
L-101   6.4  12 140
L-102   5.9   9  95
`, "L-101 pH=6.4 pH\nL-101 P=12 mg/kg\nL-101 K=140 mg/kg\nL-102 pH=5.9 pH\nL-102 P=9 mg/kg\nL-102 K=95 mg/kg", ""},
		{"a limit", `
LAB
Lab no. pH    P   K
             ppm ppm
L-101   6.4 < 12 140
L-102   5.9    9 95
`, "L-101 pH=6.4 pH\nL-101 P=<12 mg/kg\nL-101 K=140 mg/kg\nL-102 pH=5.9 pH\nL-102 P=9 mg/kg\nL-102 K=95 mg/kg", ""},
		{"a number under two headings", `
LAB
Lab no. pH   P   K
            ppm ppm
L-101   6.4   1234
L-102   5.9   1567
`, "", "between-columns"},
		{"a number that may go on", `
LAB
Lab no. pH   P   K
            ppm ppm
L-101   6.4  12 140 H
L-102   5.9   9  95 L
`, "L-101 pH=6.4 pH\nL-101 P=12 mg/kg\nL-101 K=140 mg/kg H\nL-102 pH=5.9 pH\nL-102 P=9 mg/kg\nL-102 K=95 mg/kg L", ""},
		{"a word that is in no list", `
LAB
Lab no. pH   P   K
            ppm ppm
L-101   6.4 12x 140
L-102   5.9   9  95
`, "", "between-columns"},
	} {
		x := read(t, top+tightly, drawn(c.page))
		got := summary(x)
		if c.held != "" && !strings.Contains(got, "! "+c.held) {
			t.Errorf("%s: not %s but\n%s", c.what, c.held, got)
		}
		if c.held == "" && strings.TrimSpace(got) != c.want {
			t.Errorf("%s: got\n%s\nwant\n%s", c.what, got, c.want)
		}
	}
}
