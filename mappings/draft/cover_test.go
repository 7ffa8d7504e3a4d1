package draft

import (
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// A cover sheet says what holds for all the others, and what the samples
// across are called is no word for no value.
func TestCoverAndSamplesAcross(t *testing.T) {
	doc := grid(`
Quarry Ridge Soil Laboratory | Results | | |
Laboratory number | Unit | 7050 | 7051 | 7052
Your mark | | Tile E | Tile W | Long strip
Soil pH | | 6.4 | 5.9 | 7.1
Phosphorus | ppm | 31 | 12 | not run
Potassium | ppm | 140 | 96 | 118
Calcium | ppm | 1410 | 960 | 1180
`, "Results")
	cover := grid(`
Quarry Ridge Soil Laboratory |
Report number | QR-26-7
Client | Penny Quill Ranch
County | Wren
Report date | 2026-03-16
`, "Cover")
	doc.Pages[0].Number = 2
	doc.Pages = append(cover.Pages, doc.Pages...)
	v := vocabulary()
	dr, reasons := Propose([][]*ingest.Document{{doc}}, Options{Vocabulary: v})
	if dr == nil {
		t.Fatal(reasons)
	}
	for _, want := range []string{"sheets without results: [Cover]", "{after: Client, reads: client_name}", "{after: Report date, reads: date_reported}", "missing: [not run]"} {
		if !strings.Contains(dr.Text, want) {
			t.Errorf("the draft lacks %q:\n%s", want, dr.Text)
		}
	}
	m, why := mappings.Decode("a.yaml", []byte(dr.Text), v)
	if m == nil {
		t.Fatal(why)
	}
	x := readBy(m, m.Layouts[0].Name, doc, v)
	if x == nil || len(x.Samples) != 3 || x.Samples[2].Fields[mappings.ClientName].Value != "Penny Quill Ranch" || x.Samples[1].Fields[mappings.ClientSampleID].Value != "Tile W" {
		t.Errorf("the draft does not read the cover with the samples:\n%s", dr.Text)
	}
}
