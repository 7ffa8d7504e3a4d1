package mappings

import (
	"strings"
	"testing"

	"example.org/windrow/ingest"
)

// A heading that is printed again within a table goes on with the same
// columns or holds: rows under columns in another order are not the first
// heading's.
func TestHeadingAgainInATable(t *testing.T) {
	m := func(format string) string {
		return top + `
    format: ` + format + `
    one sample each: row
    tables:
      - name: samples
        each row: a sample
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: pH}
          - {heading: P (ppm), test: P}
          - {heading: K (ppm), test: K}
`
	}
	const one = "No.    pH     P (ppm)  K (ppm)\n101    6.4      12      140\n"
	try(t, m("pdf"), []trial{
		{"the same order", drawn("LAB\n" + one + "No.    pH     P (ppm)  K (ppm)\n102    5.9      13      150"), "\n101 pH=6.4 pH\n101 P=12 mg/kg\n101 K=140 mg/kg\n102 pH=5.9 pH\n102 P=13 mg/kg\n102 K=150 mg/kg\n"},
		{"another order holds", drawn("LAB\n" + one + "No.    pH     K (ppm)  P (ppm)\n102    5.9     150       13"), "\n101 pH=6.4 pH\n101 P=12 mg/kg\n101 K=140 mg/kg\n! layout-changed\n"},
	})
	try(t, m("workbook"), []trial{
		{"the same order in a sheet", grid("LAB\nNo. | pH | P (ppm) | K (ppm)\n101 | 6.4 | 12 | 140\nNo. | pH | P (ppm) | K (ppm)\n102 | 5.9 | 13 | 150"), "\n101 pH=6.4 pH\n101 P=12 mg/kg\n101 K=140 mg/kg\n102 pH=5.9 pH\n102 P=13 mg/kg\n102 K=150 mg/kg\n"},
		{"another order in a sheet holds", grid("LAB\nNo. | pH | P (ppm) | K (ppm)\n101 | 6.4 | 12 | 140\nNo. | pH | K (ppm) | P (ppm)\n102 | 5.9 | 150 | 13"), "\n101 pH=6.4 pH\n101 P=12 mg/kg\n101 K=140 mg/kg\n! layout-changed\n"},
	})
}

// The same for tests, and for samples across, whose numbers are headings.
func TestHeadingAgainOverTests(t *testing.T) {
	rows := top + `
    format: workbook
    one sample each: sheet
    sample: [{after: "Sample", reads: lab_sample_id}]
    tables:
      - name: results
        each row: a test
        columns:
          - {heading: Test, reads: test}
          - {heading: Result, reads: result}
          - {heading: Last, reads: nothing, why: last year}
          - {heading: Unit, reads: unit}
`
	try(t, rows, []trial{
		{"the same order", grid("LAB | Sample | 7\nTest | Result | Last | Unit\nP | 12 | 11 | ppm\nTest | Result | Last | Unit\nK | 140 | 130 | ppm"), "\n7 P=12 mg/kg\n7 K=140 mg/kg\n"},
		{"another order holds", grid("LAB | Sample | 7\nTest | Result | Last | Unit\nP | 12 | 11 | ppm\nTest | Last | Result | Unit\nK | 130 | 140 | ppm"), "\n7 P=12 mg/kg\n! layout-changed\n"},
		{"a new column holds", grid("LAB | Sample | 7\nTest | Result | Last | Unit\nP | 12 | 11 | ppm\nTest | Target | Last | Unit\nK | 130 | 140 | ppm"), "\n7 P=12 mg/kg\n! layout-changed\n"},
	})
	across := top + `
    format: workbook
    one sample each: column
    tables:
      - name: results
        each row: a test
        columns:
          - {heading: Test, reads: test}
          - {heading: Unit, reads: unit}
          - {samples: "S-##", reads: result}
`
	try(t, across, []trial{
		{"the same samples", grid("LAB\nTest | Unit | S-01 | S-02\nP | ppm | 12 | 13\nTest | Unit | S-01 | S-02\nK | ppm | 140 | 150"), "\nS-01 P=12 mg/kg\nS-01 K=140 mg/kg\nS-02 P=13 mg/kg\nS-02 K=150 mg/kg\n"},
		{"other samples hold", grid("LAB\nTest | Unit | S-01 | S-02\nP | ppm | 12 | 13\nTest | Unit | S-02 | S-01\nK | ppm | 150 | 140"), "\nS-01 P=12 mg/kg\nS-02 P=13 mg/kg\n! layout-changed\n"},
	})
}

// What a layout relies on, where it begins, and when it holds.
func TestWhatALayoutReliesOn(t *testing.T) {
	m := top + `
    format: workbook
    from: 2026-01-01
    until: 2026-12-31
    relies on: ["by dry weight"]
    one sample each: row
    report: [{below: Reported, reads: date_reported}, {text: "Report {report_no} by dry weight"}]
    tables:
      - name: samples
        each row: a sample
        starts after: Results
        ends before: End
        heading row: 5
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: P (ppm), test: P}
          - {heading: K (ppm), test: K, optional: yes}
`
	page := func(from, to string) *ingest.Document {
		const whole = "LAB | Reported\n | 2026-03-30\nReport A7 by dry weight\nResults\nNo. | P (ppm) | K (ppm)\n1 | 12 | 140\nEnd of 1 result"
		if strings.Count(whole, from) != 1 {
			t.Fatalf("%q stands there %d times", from, strings.Count(whole, from))
		}
		return grid(strings.Replace(whole, from, to, 1))
	}
	try(t, m+"    not results: [{text: \"End of # result\", why: a count}]\n", []trial{
		{"all is there", page("LAB", "LAB"), "\n1 P=12 mg/kg\n1 K=140 mg/kg\n"},
		{"a column that may lack", page(" | K (ppm)\n1 | 12 | 140", "\n1 | 12"), "\n1 P=12 mg/kg\n"},
		{"a landmark that has changed holds", page("dry weight", "volume"), "\n1 P=12 mg/kg\n1 K=140 mg/kg\n! layout-changed\n"},
		{"a table that begins elsewhere holds", page("Results", "Findings"), "\n! layout-changed\n"},
		{"a heading in another row holds", page("Results\n", "Results\nof this year\n"), "\n! layout-changed\n"},
		{"a report from after its time holds", page("2026-03-30", "2027-03-30"), "\n1 P=12 mg/kg\n1 K=140 mg/kg\n! layout-out-of-force\n"},
		{"another count holds", page("End of 1", "End of 10"), "\n1 P=12 mg/kg\n1 K=140 mg/kg\n! number-unaccounted\n"},
	})
	x := read(t, m+"    not results: [{text: \"End of # result\", why: a count}]\n", page("LAB", "LAB"))
	if f := x.Samples[0].Fields; f[ReportNo].Value != "A7" || f[DateReported].Value != "2026-03-30" {
		t.Errorf("fields: %+v", f)
	}
}

// A cell that has another form than its column, and numbers in a heading with
// a unit.
func TestFormOfACell(t *testing.T) {
	m := top + `
    format: workbook
    one sample each: row
    tables:
      - name: samples
        each row: a sample
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: P, unit: ppm, reads: "= {result}"}
          - {heading: Use, reads: land_use}
`
	row := func(p string) *ingest.Document { return grid("LAB\nNo. | P | Use\n | ppm |\n1 | " + p + " | lawn") }
	try(t, m, []trial{
		{"its form", row("= 12"), "\n1 P=12 mg/kg\n"},
		{"a missing value in any form", row("n/a"), "\n1 P=missing n/a mg/kg\n"},
		{"another form holds", row("12"), "\n! cell-differs\n"},
	})
}

func TestThisYear(t *testing.T) {
	m := `
    format: pdf
    one sample each: page
    report: [{after: Reported, reads: date_reported}]
    sample: [{after: "No.", reads: lab_sample_id}]
    tables:
      - name: results
        each row: a test
        columns:
          - {heading: Test, reads: test}
          - {heading: "{this year}", reads: result}
          - {heading: "{last year}", reads: nothing, why: last year}
`
	check(t, m, drawn(`
LAB      No. 17    Reported 2027-02-03
Test     2027   2026
pH        6.4    6.2
`), "\n17 pH=6.4 pH\n")
	check(t, m, drawn(`
LAB      No. 17    Reported 2027-02-03
Test     2026   2027
pH        6.4    6.2
`), "\n! layout-changed\n")
}
