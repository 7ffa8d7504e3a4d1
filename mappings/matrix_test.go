package mappings

import "testing"

// What was tested stands in a column that nothing is read from, or in the cell
// behind its label.
func TestWhatWasTested(t *testing.T) {
	m := top + `
    format: workbook
    one sample each: row
    tables:
      - name: results
        each row: a sample
        columns:
          - {heading: "No.", reads: lab_sample_id}
          - {heading: Matrix, reads: nothing, why: always soil, optional: yes}
          - {heading: pH, reads: result}
`
	for _, c := range []struct{ what, sheet, code string }{
		{"soil", "LAB\nNo.|Matrix|pH\n1|Soil|6.1\n2|Soil|6.3", ""},
		{"one of water", "LAB\nNo.|Matrix|pH\n1|Soil|6.1\n2|Water|6.3", "says-otherwise"},
		{"water, in the next cell", "LAB\nMatrix:|Water\nNo.|pH\n1|6.1", "says-otherwise"},
		{"soil, in the next cell", "LAB\nMatrix:|Soil\nNo.|pH\n1|6.1", ""},
	} {
		x := read(t, m, grid(c.sheet))
		code := ""
		for _, r := range x.Reasons {
			code += r.Code
		}
		if code != c.code {
			t.Errorf("%s: %q, want %q", c.what, code, c.code)
		}
	}
}
