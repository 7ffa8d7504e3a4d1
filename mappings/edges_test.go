package mappings

import (
	"strings"
	"testing"
)

const misaligned = `
    format: pdf
    one sample each: row
    tables:
      - name: samples
        each row: a sample
        columns:
          - {heading: Lab no., reads: lab_sample_id}
          - {heading: pH}
          - {heading: P, unit: ppm, reads: "{result} {rating?}"}
          - {heading: K, unit: ppm, reads: "{result} {rating?}"}
          - {heading: Remark, reads: client_sample_id}
`

// Headings at the left of wide columns over numbers at the right: the nearest
// heading is the next column's. Taking it would shift every number by one,
// and the last column, being text, would hide it.
func TestNumbersFarFromTheirHeadings(t *testing.T) {
	check(t, misaligned, drawn(`
LAB
Lab no.  pH          P           K           Remark
                     ppm         ppm
101             6.4          12         140  back
102             5.9         9 L        95 H  front
`), `
101 pH=6.4 pH
101 P=12 mg/kg
101 K=140 mg/kg
102 pH=5.9 pH
102 P=9 mg/kg L
102 K=95 mg/kg H
`)
}

// With a column empty on the whole page there are fewer strips of ink than
// headings, and nothing says which column the numbers belong to: a person
// must look.
func TestNumbersWithoutTheirHeadingHold(t *testing.T) {
	x := read(t, top+misaligned, drawn(`
LAB
Lab no.  pH          P           K           Remark
                     ppm         ppm
101             6.4                     140  back
102             5.9                      95  front
`))
	if !x.Held() {
		t.Errorf("read as\n%s", summary(x))
	}
	if s := summary(x); !strings.Contains(s, "! between-columns") {
		t.Errorf("got %s", s)
	}
}

// An empty column is no doubt where numbers stand under their headings.
func TestEmptyColumn(t *testing.T) {
	check(t, misaligned, drawn(`
LAB
Lab no.   pH       P        K         Remark
                  ppm      ppm
101       6.4              140        back
102       5.9               95
`), "\n101 pH=6.4 pH\n101 K=140 mg/kg\n102 pH=5.9 pH\n102 K=95 mg/kg\n")
}

// A rating in a strip of its own beside the number, with the heading between.
func TestNumberAndRatingApart(t *testing.T) {
	check(t, misaligned, drawn(`
LAB
Lab no.   pH         P          K        Remark
                    ppm        ppm
101       6.4      12    L   140   H     back
102       5.9       9    H    95   L     front
`), "\n101 pH=6.4 pH\n101 P=12 mg/kg L\n101 K=140 mg/kg H\n102 pH=5.9 pH\n102 P=9 mg/kg H\n102 K=95 mg/kg L\n")
}
