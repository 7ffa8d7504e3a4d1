package mappings

import (
	"strings"
	"testing"

	"example.org/windrow/ingest"
)

// Samples of which more than one row, table or sheet tells. Common practice, no
// source, in all tests of this file.

const listed = `
    format: workbook
    one sample each: row
    tables:
      - name: list
        each row: a reading
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: Name, reads: client_sample_id}
          - {heading: Test, reads: test}
          - {heading: Sign, reads: qualifier}
          - {heading: Result, reads: result}
          - {heading: Unit, reads: unit}
`

const (
	oneS = "S-1 pH=6.4 pH\nS-1 P=12 mg/kg\n"
	twoS = "S-2 pH=5.9 pH\nS-2 P=13 mg/kg\n"
)

func TestFieldsPrintedOnce(t *testing.T) {
	const rows = "LAB\nNo. | Name | Test | Sign | Result | Unit\nS-1 | Home | pH | | 6.4\n| | P | | 12 | ppm\nS-2 | Far | pH | | 5.9\n| | P | | 13 | ppm"
	down := func(cells ...string) *ingest.Document {
		return with(grid(rows), func(p *ingest.Page) {
			for i := range p.Cells {
				for _, text := range cells {
					if p.Cells[i].Text == text {
						p.Cells[i].Across, p.Cells[i].Down = 1, 2
					}
				}
			}
		})
	}
	try(t, top+listed, []trial{
		{"merged over its rows", down("S-1", "S-2", "Home", "Far"), oneS + twoS},
		{"in the first row alone, and the mapping does not say so", grid(rows), "S-1 pH=6.4 pH\nS-2 pH=5.9 pH\n! row-without-label\n"},
		{"the number merged and the name not", down("S-1", "S-2"), oneS + twoS + "! rows-disagree\n"},
	})
	said := strings.NewReplacer("reads: lab_sample_id", "reads: lab_sample_id, blank means: as above", "reads: client_sample_id", "reads: client_sample_id, blank means: as above").Replace(top + listed)
	try(t, said, []trial{
		{"as the mapping says", grid(rows), oneS + twoS},
		{"a name that is not printed is not the name of the sample above", grid(strings.Replace(rows, "S-2 | Far", "S-2 |", 1)), oneS + twoS},
		{"a number that is lost is told by the test that is there twice", grid(strings.Replace(rows, "S-2 | Far", "|", 1)), oneS + strings.ReplaceAll(twoS, "S-2", "S-1") + "! read-twice\n"},
	})
	x := read(t, said, grid(strings.Replace(rows, "S-2 | Far", "S-2 |", 1)))
	if got := x.Samples[1].Fields[ClientSampleID].Value; got != "" {
		t.Errorf("the second sample is called %q", got)
	}
	// What is printed once over several samples.
	m := top + strings.Replace(slips, "          - NOTE", "          - {heading: County, reads: county}", 1)
	x = read(t, m, with(grid("LAB\nNo. | pH | P | K | County\n| | ppm | ppm |\n1 | 6.4 | 12 | 140 | Finch\n2 | 5.9 | 13 | 150 |\n3 | 5.9 | 13 | 150 |"), func(p *ingest.Page) {
		for i := range p.Cells {
			if p.Cells[i].Text == "Finch" {
				p.Cells[i].Across, p.Cells[i].Down = 1, 2
			}
		}
	}))
	if len(x.Samples) != 3 || x.Samples[1].Fields[County].Value != "Finch" || x.Samples[2].Fields[County].Value != "" {
		t.Errorf("a county over two of three samples: %+v", x.Samples)
	}
}

// A word for no value may stand in the column of signs, and the number's place
// be empty.
func TestMissingInTheColumnOfSigns(t *testing.T) {
	const rows = "LAB\nNo. | Name | Test | Sign | Result | Unit\nS-1 | Home | pH | | 6.4\nS-1 | Home | P | n/a | | ppm"
	try(t, top+listed, []trial{
		{"n/a", grid(rows), "S-1 pH=6.4 pH\nS-1 P=missing n/a mg/kg\n"},
		{"a sign alone", grid(strings.Replace(rows, "n/a", "<", 1)), "S-1 pH=6.4 pH\n! result-empty\n"},
		{"nothing", grid(strings.Replace(rows, "n/a", "", 1)), "S-1 pH=6.4 pH\n! result-empty\n"},
	})
}

// Two tables may tell of one sample.
func TestOneSampleInTwoTables(t *testing.T) {
	const m = top + `
    format: workbook
    one sample each: row
    tables:
      - name: one
        each row: a sample
        columns: [{heading: No., reads: lab_sample_id}, {heading: Name, reads: client_sample_id}, {heading: pH}, {heading: P, unit: ppm}]
      - name: two
        each row: a sample
        columns: [{heading: No., reads: lab_sample_id}, {heading: Name, reads: client_sample_id}, {heading: K, unit: ppm}]
`
	doc := func(second string) *ingest.Document {
		d := grid("LAB\nNo. | Name | pH | P\n| | | ppm\nS-1 | Home | 6.4 | 12\nS-2 | Far | 5.9 | 13")
		p := grid("LAB\n" + second).Pages[0]
		p.Number, p.Name = 2, "Sheet2"
		d.Pages = append(d.Pages, p)
		return d
	}
	const k = "No. | Name | K\n| | ppm\n"
	joined := oneS + "S-1 K=140 mg/kg\n" + twoS + "S-2 K=150 mg/kg\n"
	try(t, m, []trial{
		{"the same samples", doc(k + "S-1 | Home | 140\nS-2 | Far | 150"), joined},
		{"in another order", doc(k + "S-2 | Far | 150\nS-1 | Home | 140"), joined},
		{"one of them", doc(k + "S-2 | Far | 150"), oneS + twoS + "S-2 K=150 mg/kg\n"},
		{"another name", doc(k + "S-1 | Hill | 140\nS-2 | Far | 150"), oneS + twoS + "S-2 K=150 mg/kg\nS-1 K=140 mg/kg\n! sample-twice\n"},
		{"the same results again", doc("No. | Name | pH | P\n| | | ppm\nS-1 | Home | 6.1 | 14\n\n" + k + "S-2 | Far | 150"), oneS + twoS + "S-2 K=150 mg/kg\nS-1 pH=6.1 pH\nS-1 P=14 mg/kg\n! sample-twice\n"},
	})
}

// A label and its value in one cell, as in the lines of a text without columns.
func TestValueInTheCellOfItsLabel(t *testing.T) {
	const m = top + `
    format: workbook
    one sample each: sheet
    sample: [{after: "Sample:", reads: lab_sample_id}]
    labels:
      - {test: pH}
      - {test: P, reads: "{result} {unit} {rating?}"}
      - {test: K, after: Potassium, reads: "{result} {unit}"}
`
	try(t, m, []trial{
		{"colons and dots", grid("LAB\nSample: S-1\npH: 6.4\nP: 12 ppm L\nPotassium ..... 140 ppm"), "S-1 pH=6.4 pH\nS-1 P=12 mg/kg L\nS-1 K=140 mg/kg\n"},
		{"a limit", grid("LAB\nSample: S-1\npH: 6.4\nP: <12 ppm"), "S-1 pH=6.4 pH\nS-1 P=<12 mg/kg\n"},
		{"another label that begins alike", grid("LAB\nSample: S-1\npH: 6.4\npH CaCl2: 5.9\nP: 12 ppm"), oneS + "! number-unaccounted\n"},
		{"another unit", grid("LAB\nSample: S-1\npH: 6.4\nP: 12 lb/acre"), "S-1 pH=6.4 pH\nS-1 P=12 lb/acre\n! unit-differs\n"},
		{"words", grid("LAB\nSample: S-1\npH: 6.4\nP: see page 2"), "S-1 pH=6.4 pH\n! number-unaccounted\n! result-blank\n"},
		{"twice", grid("LAB\nSample: S-1\npH: 6.4\npH: 6.1\nP: 12 ppm"), oneS + "! read-twice\n"},
	})
	const blocks = top + `
    format: workbook
    one sample each: block
    block: {begins: "Sample:"}
    sample: [{after: "Sample:", reads: lab_sample_id}]
    labels: [{test: pH}, {test: P, reads: "{result} {unit}"}]
`
	try(t, blocks, []trial{{"the words that begin a block are a label", grid("LAB\nSample: | S-1\npH | 6.4\nP | 12 | ppm\nSample: | S-2\npH | 5.9\nP | 13 | ppm"), oneS + twoS}})
}

// The name of a laboratory may have a number in it.
func TestNumberInTheNameOfTheLaboratory(t *testing.T) {
	m := strings.Replace(top+limited, "recognise: [LAB]", "recognise: [LAB 21]", 1)
	try(t, m, []trial{
		{"by itself", grid("LAB 21\nNo. | pH | P | K\n| | ppm | ppm\nS-1 | 6.4 | 12 | 140"), oneS + "S-1 K=140 mg/kg\n"},
		{"with another number", grid("LAB 21 from 410\nNo. | pH | P | K\n| | ppm | ppm\nS-1 | 6.4 | 12 | 140"), oneS + "S-1 K=140 mg/kg\n! number-unaccounted\n"},
	})
}

// The headings of a table may stand in a sheet once more, right under it.
func TestHeadingsAgain(t *testing.T) {
	const m = top + `
    format: workbook
    one sample each: column
    tables:
      - name: results
        each row: a test
        heading row: 2
        columns: [{heading: Test, reads: test}, {heading: Unit, reads: unit}, {samples: "S-#", reads: result}]
`
	const first, second = "LAB\nTest | Unit | S-1\npH | | 6.4\nP | ppm | 12\n\n", "Test | Unit | S-2\npH | | 5.9\nP | ppm | 13"
	try(t, m, []trial{
		{"more samples", grid(first + second), oneS + twoS},
		{"under a title of their own", grid(first + "Last year\n" + second), oneS + "! number-unaccounted\n"},
		{"under a title further up", grid(first + "Last year\n\n" + second), oneS + "! number-unaccounted\n"},
		{"the same samples", grid(first + strings.Replace(second, "S-2", "S-1", 1)), oneS + strings.ReplaceAll(twoS, "S-2", "S-1") + "! sample-twice\n"},
		{"in another order", grid(first + "Unit | Test | S-2\n | pH | 5.9\nppm | P | 13"), oneS + "! number-unaccounted\n"},
		{"with a column more", grid(first + strings.Replace(second, "S-2", "S-2 | Mean", 1)), oneS + "! number-unaccounted\n"},
	})
	const rows = "No. | pH | P | K\n| | ppm | ppm\n"
	try(t, top+limited, []trial{
		{"samples in rows", grid("LAB\n" + rows + "S-1 | 6.4 | 12 | 140\n\n" + rows + "S-2 | 5.9 | 13 | 150"), oneS + "S-1 K=140 mg/kg\n" + twoS + "S-2 K=150 mg/kg\n"},
		{"in another unit", grid("LAB\n" + rows + "S-1 | 6.4 | 12 | 140\n\n" + strings.Replace(rows, "| ppm |", "| lb/acre |", 1) + "S-2 | 5.9 | 13 | 150"), oneS + "S-1 K=140 mg/kg\n! number-unaccounted\n"},
	})
}
