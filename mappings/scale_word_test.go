package mappings

import (
	"strings"
	"testing"
)

// A test may name the published scale that its laboratory uses; a name that
// nobody knows is a mistake with its place.
func TestPublishedScale(t *testing.T) {
	const layout = `
    format: workbook
    one sample each: row
    tables:
      - name: samples
        each row: a sample
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: K, reads: result}
          - {heading: P, reads: result}
`
	m := tested("  K: {analyte: K, unit not printed: index, basis: index, method: Olsen, published scale: ireland-k-index}\n  P: {analyte: P, unit not printed: ppm, method: Olsen}\n") + layout
	x := read(t, m, grid("LAB\nNo. | K | P\n1 | 3 | 12"))
	if rs := x.Samples[0].Readings; len(rs) != 2 || rs[0].Scale != "ireland-k-index" || rs[0].Number != "3" || rs[1].Scale != "" {
		t.Errorf("%+v", rs)
	}
	_, reasons := Decode("test.yaml", []byte(strings.Replace(m, "ireland-k-index", "our-own", 1)), words{})
	if len(reasons) != 1 || !strings.Contains(reasons[0].What, `the published scale "our-own" is not known`) || reasons[0].Where.Line == 0 {
		t.Errorf("%v", reasons)
	}
}
