package mappings

import (
	"strings"
	"testing"
)

// A unit or a method right over or under the heading of a column says what the
// numbers under it are, whether or not the mapping has a place for it.
func TestBesideAHeading(t *testing.T) {
	sheet := top + `
    format: workbook
    one sample each: row
    tables:
      - name: samples
        each row: a sample
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: pH}
          - {heading: P (ppm), test: P}
          - {heading: K (ppm), test: K}
          - {heading: Remark, reads: nothing, why: a remark, optional: yes}
`
	const values = "\n101 pH=6.4 pH\n101 P=12 mg/kg\n101 K=140 mg/kg\n"
	const head, row = "No. | pH | P (ppm) | K (ppm)\n", "101 | 6.4 | 12 | 140"
	try(t, sheet, []trial{
		{"nothing beside", grid("LAB\n" + head + row), values},
		{"another unit under it", grid("LAB\n" + head + " | | lb/acre | ppm\n" + row), values + "! unit-differs\n"},
		{"another unit over it", grid("LAB\n | | (lb/acre)\n" + head + row), values + "! unit-differs\n"},
		{"its own unit again", grid("LAB\n" + head + " | | mg/kg | ppm\n" + row), values},
		{"another method over it", grid("LAB\n | | Olsen\n" + head + row), values + "! method-differs\n"},
		{"its own method", grid("LAB\n | | Mehlich-3\n" + head + row), "\n101 pH=6.4 pH\n101 P=12 mg/kg\n101 K=140 mg/kg\n! number-unaccounted\n"},
		{"other words", grid("LAB\n | | Macronutrients\n" + head + row), values},
		{"over a column that is not read", grid("LAB\n | | | | Olsen\n" + strings.TrimSpace(head) + " | Remark\n" + row), values},
		{"further away", grid("LAB\n | | Olsen\n\n" + head + row), values},
	})
	page := strings.Replace(sheet, "format: workbook", "format: pdf", 1)
	const printed = "No.    pH     P (ppm)    K (ppm)\n"
	const numbers = "101    6.4    12         140"
	try(t, page, []trial{
		{"on a page", drawn("LAB\n\n\n\n" + printed + numbers), values},
		{"another unit over it on a page", drawn("LAB\n\n\n              lb/acre\n" + printed + numbers), values + "! unit-differs\n"},
	})
}

// What stands behind a label with a colon in one cell is its value, and the
// next cell, whatever it says, is not.
func TestLabelAndValueInOneCell(t *testing.T) {
	m := top + `
    format: workbook
    one sample each: row
    report: [{after: "Client:", reads: client_name}, {after: "Depth:", reads: depth, unit: in}]
    tables:
      - name: samples
        each row: a sample
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: pH}
`
	for _, c := range []struct{ rows, client, depth string }{
		{"Client: | Orla Thistlewood\nDepth: | 6", "Orla Thistlewood", "6"},
		{"Client: Orla Thistlewood\nDepth: | 6", "Orla Thistlewood", "6"},
		{"Client: Orla Thistlewood | | All results in kg/ha\nDepth: | 6", "Orla Thistlewood", "6"},
		{"Client: A. Reed\nDepth: (in) | 6", "A. Reed", "6"},
		{"Client: A. Reed\nDepth: 8 | 6", "A. Reed", "8"},
	} {
		x := read(t, m, grid("LAB\n"+c.rows+"\n\nNo. | pH\n101 | 6.4"))
		if len(x.Samples) != 1 {
			t.Fatalf("%q: %v", c.rows, x.Reasons)
		}
		if f := x.Samples[0].Fields; f[ClientName].Value != c.client || f[Depth].Printed != c.depth {
			t.Errorf("%q: client %q, depth %q", c.rows, f[ClientName].Value, f[Depth].Printed)
		}
	}
}
