package mappings

import (
	"strings"
	"testing"
)

// A laboratory that tests a profile gives the same number to each of its layers.
func TestLayersOfOneSample(t *testing.T) {
	list := func(columns string) string {
		return top + `
    format: workbook
    one sample each: row
    tables:
      - name: results
        each row: a sample
        columns:
          - {heading: "No.", reads: lab_sample_id}
` + columns + `
          - {heading: pH, reads: result}
`
	}
	layers := func(m, sheet string) string {
		t.Helper()
		x := read(t, m, grid(sheet))
		var b strings.Builder
		for _, s := range x.Samples {
			l := layerOf(s)
			b.WriteString(s.Fields[LabSampleID].Value + " " + l.top.RatString() + " to ")
			if l.bottom == nil {
				b.WriteString("? ")
			} else {
				b.WriteString(l.bottom.RatString() + " ")
			}
			for i := range s.Readings {
				b.WriteString(s.Readings[i].Number + " ")
			}
			b.WriteString("| ")
		}
		for _, r := range x.Reasons {
			b.WriteString(r.Code + " ")
		}
		return strings.TrimSpace(b.String())
	}
	one := `          - {heading: Depth (in), reads: depth}`
	two := `          - {heading: From (cm), reads: depth_top}
          - {heading: To (cm), reads: depth}`
	form := `          - {heading: Layer (in), reads: "{depth_top} / {depth}"}`
	for _, c := range []struct{ what, columns, sheet, want string }{
		{"in one text", one, "LAB\nNo.|Depth (in)|pH\n1|0-6|12\n1|6-24|6\n2|0-6|9", "1 0 to 6 12 | 1 6 to 24 6 | 2 0 to 6 9 |"},
		{"in two columns", two, "LAB\nNo.|From (cm)|To (cm)|pH\n1|0|25.4|12\n1|25.4|50.8|6", "1 0 to 10 12 | 1 10 to 20 6 |"},
		{"in two columns, exchanged", two, "LAB\nNo.|From (cm)|To (cm)|pH\n1|25.4|0|12", "1 10 to ? 12 | depth-unreadable"},
		{"in two columns, the end above the beginning", two, "LAB\nNo.|From (cm)|To (cm)|pH\n1|25.4|12.7|12", "1 10 to 5 12 | depth-unreadable"},
		{"without its end", two, "LAB\nNo.|From (cm)|To (cm)|pH\n1|25.4||12", "1 10 to ? 12 | depth-missing"},
		{"in a form", form, "LAB\nNo.|Layer (in)|pH\n1|0 / 6|12\n1|6 / 24|6", "1 0 to 6 12 | 1 6 to 24 6 |"},
		{"the same layer twice", one, "LAB\nNo.|Depth (in)|pH\n1|0-6|12\n1|0-6|6", "1 0 to 6 12 | 1 0 to 6 6 | sample-twice"},
		{"two that overlap", one, "LAB\nNo.|Depth (in)|pH\n1|0-6|12\n1|0-24|6", "1 0 to 6 12 | 1 0 to 24 6 | sample-twice"},
		{"one without a depth", one, "LAB\nNo.|Depth (in)|pH\n1|0-6|12\n1||6", "1 0 to 6 12 | 1 0 to ? 6 | sample-twice"},
		{"a date, which a sheet made of a layer", one, "LAB\nNo.|Depth (in)|pH\n1|24 Jun|12", "1 0 to ? 12 | depth-unreadable"},
	} {
		if got := layers(list(c.columns), c.sheet); got != c.want {
			t.Errorf("%s: got %s\nwant %s", c.what, got, c.want)
		}
	}
}
