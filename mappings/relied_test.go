package mappings

import "testing"

// Of a legend, the mapping's writer has read what the mapping quotes of it, and
// nothing more: what goes on behind is looked at as any other text, and a quote
// may run over several lines.
func TestLegendBeyondItsQuote(t *testing.T) {
	const mapping = top + `
    format: pdf
    one sample each: row
    relies on: ["Key: P and K in ppm, zinc on request is stated in kg/ha"]
    tables:
      - name: samples
        each row: a sample
        ends before: "Key:"
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: pH}
          - {heading: P, unit: ppm}
          - {heading: K, unit: ppm}
`
	for _, c := range []struct{ legend, want string }{
		{"Key: P and K in ppm, zinc on request is stated in kg/ha", ""},
		{"Key: P and K in ppm, zinc\non request is stated in kg/ha", ""},
		{"Key: P and K in ppm, zinc on request is stated in kg/ha; all results in lb/acre", "says-otherwise"},
		{"Key: P and K in ppm, zinc\non request is stated in kg/ha; preliminary results", "not-final"},
		{"Key: P and K in ppm, zinc\non request is stated in kg/ha\nResults are expressed in lb/acre", "says-otherwise"},
		{"Draft report. Key: P and K in ppm, zinc on request is stated in kg/ha", "not-final"},
	} {
		x := read(t, mapping, drawn("LAB\nNo.  pH   P    K\n          ppm  ppm\n101  6.1  12   140\n\n"+c.legend))
		got := ""
		for _, r := range x.Reasons {
			got += r.Code
		}
		if got != c.want {
			t.Errorf("%q: %q, want %q", c.legend, got, c.want)
		}
	}
}
