package mappings

import (
	"strings"
	"testing"

	"example.org/windrow/ingest"
)

// A trial is one little report and what must come of it: what is read and
// what holds or flags it, as check writes them.
type trial struct {
	name string
	doc  *ingest.Document
	want string
}

// try reads every trial by one mapping. doubts are told too, as they flag a
// reading without holding its report.
func try(t *testing.T, mapping string, trials []trial) {
	t.Helper()
	for _, c := range trials {
		x := read(t, mapping, c.doc)
		got := summary(x)
		for _, s := range x.Samples {
			for _, rd := range s.Readings {
				for _, d := range rd.Doubts {
					got += "? " + rd.Analyte + " " + d.Code + "\n"
				}
			}
		}
		if got != strings.TrimLeft(c.want, "\n") {
			t.Errorf("%s: got\n%swant%s", c.name, got, c.want)
			for _, r := range x.Reasons {
				t.Log(r)
			}
		}
	}
}

// with is a document with changes made to it.
func with(d *ingest.Document, change func(*ingest.Page)) *ingest.Document {
	change(d.Pages[0])
	return d
}

// stored sets what a cell holds where that differs from what it shows.
func stored(text, raw string, kind ingest.CellKind) func(*ingest.Page) {
	return func(p *ingest.Page) {
		for i := range p.Cells {
			if c := &p.Cells[i]; c.Text == text {
				c.Raw, c.Kind = raw, kind
			}
		}
	}
}

func short(rows ...int) func(*ingest.Page) { return func(p *ingest.Page) { p.Short = rows } }

const list = `
    format: workbook
    one sample each: row
    tables:
      - name: list
        each row: a reading
        columns:
          - {heading: Sample, reads: lab_sample_id, only: "S-##"}
          - {heading: Status, reads: nothing, why: state of the test, only: FINAL}
          - {heading: Test, reads: test}
          - {heading: Sign, reads: qualifier}
          - {heading: Result, reads: result}
          - {heading: Unit, reads: unit}
        skip rows: [{column: Status, says: SUPERSEDED, why: an earlier result}, {begins: Control, why: the laboratory's own sample}]
`

// Rows of a long list are read only in the states that the mapping allows.
// A row that is skipped is skipped by what its column says and by nothing
// else.
func TestStateOfRows(t *testing.T) {
	try(t, top+list, []trial{
		{"final rows are read", grid(`
LAB
Sample | Status | Test | Sign | Result | Unit
S-01   | FINAL  | pH   |      | 6.4    |
S-01   | FINAL  | P    | <    | 5      | ppm
S-02   | FINAL  | P    |      | 12     | ppm
`), "\nS-01 pH=6.4 pH\nS-01 P=<5 mg/kg\nS-02 P=12 mg/kg\n"},
		{"an earlier result is left out, before or after the one that holds", grid(`
LAB
Sample | Status     | Test | Sign | Result | Unit
S-01   | SUPERSEDED | P    |      | 99     | ppm
S-01   | FINAL      | P    |      | 12     | ppm
S-02   | FINAL      | P    |      | 13     | ppm
S-02   | SUPERSEDED | P    |      | 98     | ppm
Control| FINAL      | P    |      | 97     | ppm
`), "\nS-01 P=12 mg/kg\nS-02 P=13 mg/kg\n"},
		{"a state that is not allowed holds", grid(`
LAB
Sample | Status      | Test | Sign | Result | Unit
S-01   | PRELIMINARY | P    |      | 12     | ppm
`), "\n! cell-not-allowed\n"},
		{"a word that only begins like the skipped one is not skipped", grid(`
LAB
Sample | Status         | Test | Sign | Result | Unit
S-01   | SUPERSEDED BY 2| P    |      | 12     | ppm
`), "\n! cell-not-allowed\n"},
		{"an empty state holds", grid(`
LAB
Sample | Status | Test | Sign | Result | Unit
S-01   |        | P    |      | 12     | ppm
`), "\n! cell-not-allowed\n"},
		{"the skipped word in another column skips nothing", grid(`
LAB
Sample | Status | Test       | Sign | Result | Unit
S-01   | FINAL  | SUPERSEDED |      | 12     | ppm
`), "\n! test-unknown\n"},
		{"a sample number of another form holds", grid(`
LAB
Sample | Status | Test | Sign | Result | Unit
S-1    | FINAL  | P    |      | 12     | ppm
`), "\n! cell-not-allowed\n"},
		{"two results that both hold are no choice", grid(`
LAB
Sample | Status | Test | Sign | Result | Unit
S-01   | FINAL  | P    |      | 12     | ppm
S-01   | FINAL  | P    |      | 13     | ppm
`), "\nS-01 P=12 mg/kg\nS-01 P=13 mg/kg\n! read-twice\n"},
		{"an empty result holds", grid(`
LAB
Sample | Status | Test | Sign | Result | Unit
S-01   | FINAL  | P    |      |        | ppm
`), "\n! result-empty\n"},
		{"an empty result behind a sign holds", grid(`
LAB
Sample | Status | Test | Sign | Result | Unit
S-01   | FINAL  | P    | <    |        | ppm
`), "\n! result-empty\n"},
		{"a sign that nobody knows holds", grid(`
LAB
Sample | Status | Test | Sign | Result | Unit
S-01   | FINAL  | P    | J    | 12     | ppm
`), "\nS-01 P=12 mg/kg\n! qualifier-unknown\n"},
	})
}

// A row of a web page with a cell too few may have lost any of them: what
// follows stands one column too far left, and reads as something else.
func TestShortRows(t *testing.T) {
	m := top + `
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
        skip rows: [{begins: Mean, why: a mean}]
`
	const whole = `
LAB
No. | pH  | P   | K
    |     | ppm | ppm
1   | 6.4 | 12  | 140
2   | 5.9 | 180 |
`
	try(t, m, []trial{
		{"an empty cell is a cell, and its result is missed", grid(whole), "\n1 pH=6.4 pH\n1 P=12 mg/kg\n1 K=140 mg/kg\n2 pH=5.9 pH\n2 P=180 mg/kg\n! result-blank\n"},
		{"a row without the cell holds", with(grid(whole), short(5)), "\n1 pH=6.4 pH\n1 P=12 mg/kg\n1 K=140 mg/kg\n! row-too-short\n"},
		{"a short row elsewhere does not matter", with(grid(whole), short(1, 9)), "\n1 pH=6.4 pH\n1 P=12 mg/kg\n1 K=140 mg/kg\n2 pH=5.9 pH\n2 P=180 mg/kg\n! result-blank\n"},
		{"a short row that is no sample does not matter", with(grid(strings.Replace(whole, "2   |", "Mean|", 1)), short(5)), "\n1 pH=6.4 pH\n1 P=12 mg/kg\n1 K=140 mg/kg\n"},
	})
	try(t, top+list, []trial{{"a short row of a long list holds", with(grid(`
LAB
Sample | Status | Test | Sign | Result | Unit
S-01   | FINAL  | P    | 12   | ppm    |
S-02   | FINAL  | P    |      | 12     | ppm
`), short(3)), "\nS-02 P=12 mg/kg\n! row-too-short\n"}})
}

// What a reader says about a source that a person must see reaches the
// reading, and what it only remarks does not hold it.
func TestNotesOfTheReader(t *testing.T) {
	note := func(code string, sev ingest.Severity) *ingest.Document {
		d := grid("LAB\nSample | Status | Test | Sign | Result | Unit\nS-01 | FINAL | P | | 12 | ppm")
		d.Notes = []*ingest.Reason{{Code: code, Severity: sev, What: "text is struck out", Expected: "text that holds", Found: "21", Next: "look at the page"}}
		return d
	}
	try(t, top+list, []trial{
		{"struck-out text holds", note("struck-out-text", ingest.Hold), "\nS-01 P=12 mg/kg\n! struck-out-text\n"},
		{"a remark does not", note("page-title", ingest.Note), "\nS-01 P=12 mg/kg\n"},
	})
	if x := read(t, top+list, note("struck-out-text", ingest.Hold)); !x.Held() {
		t.Error("a report with struck-out text is not held")
	}
}

// Fields of samples that stand in rows; a depth without a unit takes that of
// its rule and never another.
func TestFieldRowsWithDepth(t *testing.T) {
	m := func(rule string) string {
		return strings.Replace(top, "tests:\n", "units:\n  lb/acre: {soil per inch: 300000 lb/acre}\ntests:\n", 1) + `
    format: workbook
    one sample each: column
    tables:
      - name: results
        each row: a test
        columns:
          - {heading: Test, reads: test}
          - {heading: Unit, reads: unit}
          - {samples: "S-##", reads: result}
        field rows: [` + rule + `]
`
	}
	across := func(a, b string) *ingest.Document {
		return grid("LAB\nTest | Unit | S-01 | S-02\nDepth | | " + a + " | " + b + "\nKdep | lb/acre | 200 | 300")
	}
	try(t, m("{row: Depth, reads: depth, unit: in}"), []trial{
		{"inches", across("6", "8"), "\nS-01 Mg=200 lb/acre of 1800000 lb/acre to 6 in\nS-02 Mg=300 lb/acre of 2400000 lb/acre to 8 in\n"},
		{"a printed unit goes before the rule's", across("6", "25.4 cm"), "\nS-01 Mg=200 lb/acre of 1800000 lb/acre to 6 in\nS-02 Mg=300 lb/acre of 3000000 lb/acre to 10 in\n"},
		{"a depth not known holds", across("6", "n/a"), "\nS-01 Mg=200 lb/acre of 1800000 lb/acre to 6 in\nS-02 Mg=300 lb/acre\n! depth-missing\n"},
		{"a layer below the surface weighs what its thickness does", across("6", "6-18"), "\nS-01 Mg=200 lb/acre of 1800000 lb/acre to 6 in\nS-02 Mg=300 lb/acre of 3600000 lb/acre to 12 in\n"},
		{"a layer upside down holds", across("6", "12-6"), "\nS-01 Mg=200 lb/acre of 1800000 lb/acre to 6 in\nS-02 Mg=300 lb/acre\n! depth-missing\n! depth-unreadable\n"},
	})
	try(t, m("{row: Depth, reads: depth, unit: cm}"), []trial{
		{"centimetres", across("12.7", "25.4"), "\nS-01 Mg=200 lb/acre of 1500000 lb/acre to 5 in\nS-02 Mg=300 lb/acre of 3000000 lb/acre to 10 in\n"}})
	try(t, m("{row: Depth, reads: depth}"), []trial{
		{"a depth that nobody gives a unit holds", across("6", "8 in"), "\nS-01 Mg=200 lb/acre\nS-02 Mg=300 lb/acre of 2400000 lb/acre to 8 in\n! depth-missing\n! depth-unreadable\n"}})
	try(t, m(`{row: Depth, reads: "0-{depth}", unit: in}`), []trial{
		{"a form", across("0-6", "0-8 in"), "\nS-01 Mg=200 lb/acre of 1800000 lb/acre to 6 in\nS-02 Mg=300 lb/acre of 2400000 lb/acre to 8 in\n"},
		{"another form holds", across("0-6", "8"), "\nS-01 Mg=200 lb/acre of 1800000 lb/acre to 6 in\nS-02 Mg=300 lb/acre\n! depth-missing\n! field-differs\n"}})
}
