package draft

import (
	"strings"
	"testing"

	"example.org/windrow/ingest"
)

// sheetShapes are sheets and files with more than a heading and rows of samples.
var sheetShapes = []shape{
	{"limits under the heading, and a blank row", grid(`
Lab No|Field|Date|pH|P|K
||||ppm|ppm
LOQ||||2|5

881|A|2026-03-01|6.1|20|105
882|B|2026-03-01|6.6|27|130
`, ""), `
881 pH = 6.1 pH
881 P = 20 mg/kg
881 K = 105 mg/kg
882 pH = 6.6 pH
882 P = 27 mg/kg
882 K = 130 mg/kg
`, []string{"begins: LOQ", "which date is this?"}},
	{"tests as wider headings, merged over their unit and their rating", wide(grid(`
Sample||pH||P||S
Lab No|Field|Water|Rating|lb/acre|Rating|ppm
881|A|6.1|Low|20|High|7.5
882|B|6.6|High|27|High|9.0
`, "Results"), "Sample", "pH", "P"), `
881 pH = 6.1 pH Low
881 P = 20 lb/acre High
881 S = 7.5 mg/kg
882 pH = 6.6 pH High
882 P = 27 lb/acre High
882 S = 9.0 mg/kg
`, nil},
	{"samples across, and a row of names without a known label", grid(`
Test|Unit|M2291-1|M2291-2
Your plot||Rose bed|Herb bed
pH||6.1|6.9
P|ppm|64|151
`, "Results"), `
M2291-1 pH = 6.1 pH
M2291-1 P = 64 mg/kg
M2291-2 pH = 6.9 pH
M2291-2 P = 151 mg/kg
`, []string{"row: Your plot"}},
	{"a column of percentages", grid(`
Lab No|pH|Organic matter|P
||%|ppm
881|6.1|3.4%|20
882|6.6|2.0%|27
`, "Results"), `
881 pH = 6.1 pH
881 OM = 3.4 %
881 P = 20 mg/kg
882 pH = 6.6 pH
882 OM = 2.0 %
882 P = 27 mg/kg
`, nil},
}

// wide merges the cells with some texts over two columns.
func wide(d *ingest.Document, texts ...string) *ingest.Document {
	for i := range d.Pages[0].Cells {
		for _, t := range texts {
			if c := &d.Pages[0].Cells[i]; c.Row == 1 && c.Text == t {
				c.Across, c.Down = 2, 1
			}
		}
	}
	return d
}

// The sheet of another year is not taken for one of this report.
func TestSheetOfAnotherYear(t *testing.T) {
	text := "Quarry Ridge Soil Laboratory\nReported|2026-03-16\nLab No|pH|P\n||ppm\n881|6.1|20\n882|6.6|27"
	doc := grid(text, "Results")
	old := grid(strings.ReplaceAll(text, "88", "77"), "2025")
	old.Pages[0].Number = 2
	doc.Pages = append(doc.Pages, old.Pages...)
	dr, reasons := Propose([][]*ingest.Document{{doc}}, Options{Vocabulary: vocabulary()})
	if dr == nil {
		t.Fatal(reasons)
	}
	if !strings.Contains(dr.Text, `sheets without results: ["2025"]`) {
		t.Errorf("the sheet of last year is read:\n%s", dr.Text)
	}
}

// A sentence of the letter around a table is not the laboratory's name.
func TestNameInALetter(t *testing.T) {
	doc := grid("Dear Juniper,\nPlease find below the results of your soil test.\nMosswell Garden Desk\nLab No|pH|P\n||ppm\n881|6.1|20\n882|6.6|27", "page")
	doc.Format = ingest.HTML
	dr, reasons := Propose([][]*ingest.Document{{doc}}, Options{Vocabulary: vocabulary()})
	if dr == nil {
		t.Fatal(reasons)
	}
	if !strings.Contains(dr.Text, "lab: Mosswell Garden Desk") || strings.Contains(dr.Text, "Please find") {
		t.Errorf("not the laboratory's name:\n%s", dr.Text)
	}
}
