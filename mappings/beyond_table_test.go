package mappings

import (
	"strings"
	"testing"

	"example.org/windrow/ingest"
)

// What stands around the rows of a sheet. Common practice, no source, in all
// tests of this file.

const limited = `
    format: workbook
    one sample each: row
    tables:
      - name: samples
        each row: a sample
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: pH}
          - {heading: P, unit: ppm}
          - {heading: K, unit: ppm}
        skip rows: [{begins: LOQ, why: limits}, {begins: Mean, why: a mean}]
`

func TestBlankRows(t *testing.T) {
	const heading = "LAB\nNo. | pH | P | K\n| | ppm | ppm\n"
	const one, two = "S-1 pH=6.4 pH\nS-1 P=12 mg/kg\nS-1 K=140 mg/kg\n", "S-2 pH=5.9 pH\nS-2 P=13 mg/kg\nS-2 K=150 mg/kg\n"
	try(t, top+limited, []trial{
		{"under limits that are skipped", grid(heading + "LOQ | | 2 | 5\n\nS-1 | 6.4 | 12 | 140"), one},
		{"between two samples", grid(heading + "S-1 | 6.4 | 12 | 140\n\nS-2 | 5.9 | 13 | 150"), one + two},
		{"before a title that is no sample", grid(heading + "S-1 | 6.4 | 12 | 140\n\nLast year\nS-2 | 5.9 | 13 | 150"), one + "! number-unaccounted\n"},
		{"before a number of another form", grid(heading + "S-1 | 6.4 | 12 | 140\n\nQC7 | 5.9 | 13 | 150"), one + "! number-unaccounted\n"},
		{"before the same sample again", grid(heading + "S-1 | 6.4 | 12 | 140\n\nS-1 | 5.9 | 13 | 150"), one + strings.ReplaceAll(two, "S-2", "S-1") + "! sample-twice\n"},
		{"before a row that is skipped and has numbers", grid(heading + "S-1 | 6.4 | 12 | 140\n\nMean | 5.9 | 13 | 150\nS-2 | 5.9 | 13 | 150"), one + "! number-unaccounted\n"},
	})
	const tests = top + `
    format: workbook
    one sample each: sheet
    sample: [{after: Sample, reads: lab_sample_id}]
    tables:
      - name: results
        each row: a test
        columns:
          - {heading: Test, reads: test}
          - {heading: Result, reads: result}
          - {heading: Unit, reads: unit}
        skip rows: [{begins: Nutrients, why: a title}]
`
	const head = "LAB\nSample | S-1\nTest | Result | Unit\npH | 6.4 |\n\n"
	try(t, tests, []trial{
		{"before a further test", grid(head + "P | 12 | ppm\nK | 140 | ppm"), one},
		{"before a title that is skipped", grid(head + "Nutrients\nP | 12 | ppm\n\nK | 140 | ppm"), one},
		{"before a title that nobody declared", grid(head + "Earlier\nP | 12 | ppm"), "S-1 pH=6.4 pH\n! number-unaccounted\n"},
		{"before the same test", grid(head + "pH | 6.1 |"), "S-1 pH=6.4 pH\nS-1 pH=6.1 pH\n! read-twice\n"},
	})
}

// A number in a text that the mapping quotes is accounted for by the quote, and
// no other number is.
func TestNumbersInTextsReliedOn(t *testing.T) {
	relies := func(text string) string {
		return strings.Replace(top+limited, "    one sample each", "    relies on: [\""+text+"\"]\n    one sample each", 1)
	}
	const one = "S-1 pH=6.4 pH\nS-1 P=12 mg/kg\nS-1 K=140 mg/kg\n"
	doc := func(foot string) *ingest.Document {
		return grid("LAB\nNo. | pH | P | K\n| | ppm | ppm\nS-1 | 6.4 | 12 | 140\n\n" + foot)
	}
	try(t, relies("to 6 2/3 inches"), []trial{
		{"as quoted", doc("Amounts are to 6 2/3 inches."), one},
		{"another number", doc("Amounts are to 8 inches."), one + "! layout-changed\n"},
		{"a further number behind it", doc("Amounts are to 6 2/3 inches. Lead 410."), one + "! number-unaccounted\n"},
		{"a further number before it", doc("Lead 410; amounts are to 6 2/3 inches."), one + "! number-unaccounted\n"},
	})
	try(t, relies("to # inches"), []trial{{"a sign for any digit is no quote", doc("Amounts are to 6 inches."), one + "! number-unaccounted\n"}})
	try(t, relies("Lead * inches"), []trial{{"nor is one for any text", doc("Lead 410 to 6 inches."), one + "! number-unaccounted\n"}})
}

// A unit behind a number in its cell is what the report says of the number.
func TestUnitInTheCell(t *testing.T) {
	m := strings.Replace(top+limited, "          - {heading: pH}\n", "          - {heading: pH}\n          - {heading: OM, test: Organic matter, unit: \"%\"}\n", 1)
	doc := func(row string) *ingest.Document {
		return grid("LAB\nNo. | pH | OM | P | K\n| | % | ppm | ppm\n" + row)
	}
	const rest = "S-1 P=12 mg/kg\nS-1 K=140 mg/kg\n"
	try(t, m, []trial{
		{"the unit of the heading", doc("S-1 | 6.4 | 3.1% | 12 | 140 mg/kg"), "S-1 pH=6.4 pH\nS-1 OM=3.1 %\n" + rest},
		{"a limit with its unit", doc("S-1 | 6.4 | 3.1 | <12 ppm | 140"), "S-1 pH=6.4 pH\nS-1 OM=3.1 %\n" + strings.Replace(rest, "P=", "P=<", 1)},
		{"another unit", doc("S-1 | 6.4 | 3.1 | 12 | 280 lb/acre"), "S-1 pH=6.4 pH\nS-1 OM=3.1 %\nS-1 P=12 mg/kg\nS-1 K=280 lb/acre\n! unit-differs\n"},
		{"a unit where none belongs", doc("S-1 | 6.4 % | 3.1 | 12 | 140"), "S-1 pH=6.4 %\nS-1 OM=3.1 %\n" + rest + "! unit-differs\n"},
		{"no unit", doc("S-1 | 6.4 | 3.1 | 12 | 140 wet"), "S-1 pH=6.4 pH\nS-1 OM=3.1 %\nS-1 P=12 mg/kg\n! not-a-number\n"},
		{"a range", doc("S-1 | 6.4 | 3.1 | 12 | 140-150 ppm"), "S-1 pH=6.4 pH\nS-1 OM=3.1 %\nS-1 P=12 mg/kg\n! not-a-number\n"},
	})
}

// Status words that stand by themselves, notes on all that is measured, and a
// title that names the unit of the rows under it.
func TestNotesAroundTables(t *testing.T) {
	const one = "S-1 pH=6.4 pH\nS-1 P=12 mg/kg\nS-1 K=140 mg/kg\n"
	for note, want := range map[string]string{
		"PRELIMINARY":                            "not-final",
		"Status | Provisional":                   "not-final",
		"Not yet approved":                       "not-final",
		"All elements in kg/ha of soil.":         "says-otherwise",
		"Nutrients are per litre of soil.":       "says-otherwise",
		"Nutrients in lb/acre":                   "says-otherwise",
		"Not corrected for dilution.":            "says-otherwise",
		"All elements in mg/kg.":                 "",
		"Corrected for dilution.":                "",
		"Approved by the head of the laboratory": "",
	} {
		if want != "" {
			want = "! " + want + "\n"
		}
		try(t, top+limited, []trial{{note, grid("LAB | | " + note + "\n\nNo. | pH | P | K\n| | ppm | ppm\nS-1 | 6.4 | 12 | 140"), one + want}})
	}
	const titled = top + `
    format: workbook
    one sample each: sheet
    sample: [{after: Sample, reads: lab_sample_id}]
    tables:
      - name: results
        each row: a test
        columns:
          - {heading: Test, reads: test}
          - {heading: Result, reads: result}
          - {heading: Unit, reads: unit}
        skip rows: [{begins: Nutrients, why: a title}, {begins: Other, why: a title}]
`
	doc := func(unit string) *ingest.Document {
		return grid("LAB\nSample | S-1\nTest | Result | Unit\nNutrients (" + unit + ")\npH | 6.4 |\nP | 12 | ppm\nK | 140 | ppm\nOther\nKdep | 40 | lb/acre")
	}
	all := one + "S-1 Mg=40 lb/acre\n"
	try(t, titled, []trial{
		{"a title with the unit of its rows", doc("ppm"), all},
		{"a title with the unit of other rows", doc("lb/acre"), all + "! says-otherwise\n"},
	})
}

// A mark is let hang on numbers for what its note says; a note of another
// meaning puts those numbers in doubt.
func TestNoteOfAMark(t *testing.T) {
	m := strings.Replace(top+limited, "    one sample each", "    marks: [\"*\"]\n    one sample each", 1)
	const one = "S-1 pH=6.4 pH\nS-1 P=12 mg/kg\nS-1 K=140 mg/kg\n"
	doc := func(p, note string) *ingest.Document {
		return grid("LAB\nNo. | pH | P | K\n| | ppm | ppm\nS-1 | 6.4 | " + p + " | 140\n\n" + note)
	}
	try(t, m, []trial{
		{"harmless", doc("12*", "* mean of two"), one},
		{"in doubt", doc("12*", "* estimated, outside calibration"), one + "? P result-in-doubt\n"},
		{"in doubt, in Spanish", doc("12*", "* valor estimado"), one + "? P result-in-doubt\n"},
		{"no number has the mark", doc("12", "* estimated, outside calibration"), one},
	})
	known := strings.Replace(m, "    one sample each", "    relies on: [\"\\\\* estimated, outside calibration\"]\n    one sample each", 1)
	try(t, known, []trial{{"the mapping knows the note", doc("12*", "* estimated, outside calibration"), one}})
}

// A row that by its name is the laboratory's own sample, or another sample once
// more, is not taken for a client's without a word.
func TestSamplesOfTheLaboratory(t *testing.T) {
	m := strings.Replace(top+limited, "          - {heading: pH}\n", "          - {heading: Name, reads: client_sample_id}\n          - {heading: pH}\n", 1)
	for _, c := range []struct {
		id, name string
		doubt    bool
	}{
		{"S-2", "Std soil", true}, {"S-2", "Check sample 4", true}, {"S-2", "Method blank", true}, {"S-2", "QC 12", true}, {"S-2", "LCS", true}, {"S-2", "Suelo patrón", true}, {"S-2", "Lab duplicate", true},
		{"S-1 (2025)", "Barn", true}, {"S-1 dup", "Barn", true}, {"S-1-2025", "Barn", true},
		{"S-2", "Control", false}, {"S-2", "Blanchard field", false}, {"S-2", "Checkerboard", false}, {"S-2", "Standing corn", false}, {"S-2", "Reference Road", false}, {"S-12", "Barn", false}, {"S-1-3", "Barn", false}, {"S-1A", "Barn", false},
	} {
		x := read(t, m, grid("LAB\nNo. | Name | pH | P | K\n| | | ppm | ppm\nS-1 | Home | 6.4 | 12 | 140\n"+c.id+" | "+c.name+" | 5.9 | 13 | 150"))
		if len(x.Samples) != 2 || len(x.Reasons) > 0 {
			t.Fatalf("%s %s: %s", c.id, c.name, summary(x))
		}
		for i, s := range x.Samples {
			for _, rd := range s.Readings {
				if got := len(rd.Doubts) == 1 && rd.Doubts[0].Code == "sample-of-the-laboratory"; got != (c.doubt && i == 1) {
					t.Errorf("%s %s: %s of sample %d in doubt: %v", c.id, c.name, rd.Analyte, i, got)
				}
			}
		}
	}
}

// The sheet of another year, or of check samples, is told where the mapping
// reads it as any other.
func TestSheetsOfEarlierResults(t *testing.T) {
	m := strings.Replace(top+limited, "    tables:", "    report: [{after: Reported, reads: date_reported, optional: yes}]\n    tables:", 1)
	const text = "LAB\nReported | 2026-03-16\nNo. | pH | P | K\n| | ppm | ppm\n"
	for name, doubt := range map[string]bool{"2025": true, "Results 2024": true, "Last year": true, "Previous results": true, "QC": true, "Duplicates": true, "2026": false, "2027": false, "Results": false, "Old barn": false, "County 2025 survey": false} {
		d := grid(text + "S-1 | 6.4 | 12 | 140")
		p := grid(text + "S-2 | 5.9 | 13 | 150").Pages[0]
		p.Number, p.Name = 2, name
		d.Pages = append(d.Pages, p)
		x := read(t, m, d)
		if len(x.Samples) != 2 || len(x.Reasons) > 0 {
			t.Fatalf("%s: %s", name, summary(x))
		}
		if n := len(x.Samples[0].Readings[0].Doubts); n > 0 {
			t.Errorf("%s: the first sheet is in doubt", name)
		}
		if got := len(x.Samples[1].Readings[0].Doubts) == 1; got != doubt {
			t.Errorf("%s: in doubt %v, want %v", name, got, doubt)
		}
		d.Pages = d.Pages[1:]
		if x = read(t, m, d); len(x.Samples[0].Readings[0].Doubts) > 0 {
			t.Errorf("%s: in doubt as the only sheet", name)
		}
	}
}

// A row that a web page hides is no row of the report, and is told.
func TestHiddenRowsOfAPage(t *testing.T) {
	m := strings.Replace(top+limited, "format: workbook", "format: html", 1)
	doc := func(hidden string) *ingest.Document {
		d := grid("LAB\nNo. | pH | P | K\n| | ppm | ppm\nS-1 | 6.4 | 12 | 140")
		d.Format = ingest.HTML
		p := d.Pages[0]
		p.Rows += 2
		p.Cells = append(p.Cells, ingest.Cell{Row: p.Rows, Col: 1, Text: hidden, Kind: ingest.TextCell, Hidden: true})
		return d
	}
	const one = "S-1 pH=6.4 pH\nS-1 P=12 mg/kg\nS-1 K=140 mg/kg\n"
	try(t, m, []trial{
		{"a row of a test", doc("Organic matterLOI%5.2"), one + "! hidden-numbers\n"},
		{"a row of a test with a short name", doc("pH 6.9"), one + "! hidden-numbers\n"},
		{"a line for mail programs", doc("Your results of 9 April are here"), one},
		{"a word that begins alike", doc("pHantom 5"), one},
	})
}
