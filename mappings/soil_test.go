package mappings

import (
	"strings"
	"testing"

	"example.org/windrow/ingest"
)

const soilMapping = `windrow mapping: 1
lab: Test Laboratory
id: test
recognise: [LAB]
dates: YYYY-MM-DD
units:
  lb/acre: {depth: 6 2/3 in, soil: 2000000 lb/acre}
tests:
  P: {analyte: P, unit: lb/acre}
layouts:
  - name: sheet
    format: workbook
    one sample each: row
    report: [{always: 6 in, reads: depth}]
    tables:
      - name: samples
        each row: a sample
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: Depth, reads: depth, optional: yes}
          - {heading: P, unit: lb/acre}
`

// A depth that is printed and another one that the mapping states: whichever
// the value rests on, the report says that there are two.
func TestDepthsThatDiffer(t *testing.T) {
	for _, c := range []struct{ name, change, page, depth, said string }{
		{"no depth is printed", "", "LAB\nNo.|P\n|lb/acre\n1|30", "6", ""},
		{"the same, in other words", "", "LAB\nNo.|Depth|P\n||lb/acre\n1|0-15 cm|30", "5.91", "layer-differs note"},
		{"another than the laboratory's practice", "", "LAB\nNo.|Depth|P\n||lb/acre\n1|0-8 in|30", "8", "depth-differs flag 6 in/0-8 in; layer-differs note 6 2/3 in/0-8 in"},
		{"the layer of the unit", "always: 6 in=always: 6 2/3 in", "LAB\nNo.|Depth|P\n||lb/acre\n1|6.7 in|30", "6.7", ""},
	} {
		y := soilMapping
		if a, b, ok := strings.Cut(c.change, "="); ok {
			y = strings.Replace(y, a, b, 1)
		}
		m, reasons := Decode("test.yaml", []byte(y), words{})
		if m == nil {
			t.Fatal(reasons)
		}
		x := readLayout(grid(c.page), m.Layouts[0], words{}, true)
		if len(x.Samples) != 1 || x.Held() {
			t.Fatalf("%s: %v", c.name, x.Reasons)
		}
		if got := x.Samples[0].Fields[Depth].Value; got != c.depth {
			t.Errorf("%s: depth %s", c.name, got)
		}
		var said []string
		for _, r := range x.Reasons {
			if r.Rule.Line == 0 || r.Next == "" || r.Where.Cell != "B4" {
				t.Errorf("%s: %v", c.name, r)
			}
			if text := r.Code + " " + string(r.Severity); c.name == "the same, in other words" {
				said = append(said, text)
			} else {
				said = append(said, text+" "+r.Expected+"/"+r.Found)
			}
		}
		if got := strings.Join(said, "; "); got != c.said {
			t.Errorf("%s: %s", c.name, got)
		}
	}
}

// The printed depth holds whichever of the two rules comes first.
func TestPrintedDepthHolds(t *testing.T) {
	y := strings.Replace(formTop+"  P: {analyte: P, unit: ppm}\n"+formLabels+"      - {test: P, after: Phosphorus, reads: \"{result} {unit}\"}\n",
		`{after: "No.", reads: lab_sample_id}`, `{after: "No.", reads: lab_sample_id}, {after: "Depth:", reads: depth, optional: yes}, {always: 6 in, reads: depth}`, 1)
	m, reasons := Decode("test.yaml", []byte(y), words{})
	if m == nil {
		t.Fatal(reasons)
	}
	x := readLayout(drawn("LAB\nNo. 7\nDepth:  0-8 in\nPhosphorus  12 ppm"), m.Layouts[0], words{}, true)
	if len(x.Reasons) != 1 || x.Reasons[0].Code != "depth-differs" || x.Reasons[0].Severity != ingest.Flag || x.Reasons[0].Where.Box == nil || x.Samples[0].Fields[Depth].Value != "8" {
		t.Errorf("%v", x.Reasons)
	}
}
