package mappings

import (
	"strings"
	"testing"
)

// Each value says under which label it is printed, and where that stands:
// heading by heading for a column, and the label itself for a row, a line and
// a sentence.
func TestPrintedLabels(t *testing.T) {
	sheet := formTop + `  P: {analyte: P, unit: ppm}
  K: {analyte: K, unit: ppm}
layouts:
  - name: sheet
    format: workbook
    one sample each: row
    tables:
      - name: samples
        each row: a sample
        columns:
          - {heading: No., reads: lab_sample_id}
          - {under: [Results, Extractable], heading: [P, Olsen], unit: ppm, test: P}
          - {under: [Results, Extractable], heading: K, unit: ppm}
`
	letter := formTop + "  P: {analyte: P, unit: ppm}\n  K: {analyte: K, unit: ppm}\n" + formLabels + `      - {test: P, after: "Phosphorus:", reads: "{result} {unit}"}
    sentences:
      - {text: "Your potassium is {result} ppm.", test: K}
`
	rows := formTop + `  P: {analyte: P, unit: ppm, also: [Phosphorus]}
layouts:
  - name: rows
    format: workbook
    one sample each: sheet
    sample: [{after: "No.", reads: lab_sample_id}]
    tables:
      - name: results
        each row: a test
        columns: [{heading: Test, reads: test}, {heading: Result, reads: result}, {heading: Unit, reads: unit}]
`
	list := formTop + `  P: {analyte: P, unit: ppm}
layouts:
  - name: list
    format: workbook
    one sample each: row
    tables:
      - name: list
        each row: a reading
        columns: [{heading: No., reads: lab_sample_id}, {heading: Test, reads: test}, {heading: Result, reads: result}, {heading: Unit, reads: unit}]
`
	for _, c := range []struct{ name, mapping, page, want string }{
		{"columns", sheet, "LAB\n|Results|\n|Extractable|\nNo.|P|K\n|Olsen|\n|ppm|ppm\n1|12|100\n2|13|110", "P 12: Results > Extractable > P > Olsen at Sheet1!B4; K 100: Results > Extractable > K at Sheet1!C4; P 13: Results > Extractable > P > Olsen at Sheet1!B4; K 110: Results > Extractable > K at Sheet1!C4"},
		{"label and sentence", letter, "LAB\nNo. 7\nPhosphorus:  12 ppm\nYour potassium is 100 ppm.", "K 100: Your potassium is at page 1 box 0,56-102,66; P 12: Phosphorus: at page 1 box 0,44-66,54"},
		{"rows", rows, "LAB\nNo.|7\nTest|Result|Unit\nPhosphorus|12|ppm", "P 12: Phosphorus at Sheet1!A4"},
		{"list", list, "LAB\nNo.|Test|Result|Unit\n1|P|12|ppm\n2|P|13|ppm", "P 12: P at Sheet1!B3; P 13: P at Sheet1!B4"},
	} {
		m, reasons := Decode("test.yaml", []byte(c.mapping), words{})
		if m == nil {
			t.Fatal(c.name, reasons)
		}
		doc := grid(c.page)
		if c.name == "label and sentence" {
			doc = drawn(c.page)
		}
		x := readLayout(doc, m.Layouts[0], words{}, true)
		var got []string
		shared := map[*PrintedLabel]bool{}
		for _, s := range x.Samples {
			for _, rd := range s.Readings {
				if rd.Label == nil {
					t.Fatalf("%s: %s %s has no label", c.name, rd.Analyte, rd.Printed)
				}
				shared[rd.Label] = true
				got = append(got, rd.Analyte+" "+rd.Printed+": "+rd.Label.Text+" at "+rd.Label.Place.Inside())
			}
		}
		if out := strings.Join(got, "; "); out != c.want {
			t.Errorf("%s: %s\nwant %s\n%v", c.name, out, c.want, x.Reasons)
		}
		if c.name == "columns" && len(shared) != 2 {
			t.Errorf("the results of two columns have %d labels", len(shared))
		}
	}
}
