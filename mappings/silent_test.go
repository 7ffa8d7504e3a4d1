package mappings

import (
	"strings"
	"testing"

	"example.org/windrow/ingest"
)

// The tests below are of mistakes of a report that leave every number in it
// well formed: a cell that slipped, a value that is gone, a part that hides.
// Each was made by hand from a report that reads well; the rules they test are
// the trade's own caution, without a published source.

const slips = `
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
          - NOTE
`

func withNote(note string) string { return top + strings.Replace(slips, "NOTE", note, 1) }

// A column that is not read holds words unless the mapping says otherwise: the
// last number of a row that has gained an empty cell ends up in it.
func TestNumberInColumnOfWords(t *testing.T) {
	const plain = "{heading: Note, reads: nothing, why: a remark}"
	rows := func(last string) *ingest.Document {
		return grid("LAB\nNo. | pH | P | K | Note\n| | ppm | ppm |\n1 | 6.4 | 12 | 140 | wet\n" + last)
	}
	const first = "\n1 pH=6.4 pH\n1 P=12 mg/kg\n1 K=140 mg/kg\n"
	const both = first + "2 pH=5.9 pH\n2 P=13 mg/kg\n2 K=150 mg/kg\n"
	try(t, withNote(plain), []trial{
		{"words are a remark", rows("2 | 5.9 | 13 | 150 | see lot 7"), both},
		{"an empty remark", rows("2 | 5.9 | 13 | 150 |"), both},
		{"a row that slipped by a cell", rows("2 | | 5.9 | 13 | 150"), first + "2 P=5.9 mg/kg\n2 K=13 mg/kg\n! number-unaccounted\n! result-blank\n"},
		{"a decimal comma is a number too", rows("2 | 5.9 | 13 | 150 | 1,5"), both + "! number-unaccounted\n"},
		{"a limit", rows("2 | 5.9 | 13 | 150 | <5"), both + "! number-unaccounted\n"},
		{"a number with its unit", rows("2 | 5.9 | 13 | 150 | 150 ppm"), both + "! number-unaccounted\n"},
	})
	for _, says := range []string{
		"{heading: Note, reads: nothing, why: a remark, numbers: yes}",
		"{heading: Note, reads: nothing, why: the price}",
		"{heading: Note, reads: nothing, why: last year's result}",
		`{heading: Note, reads: nothing, why: a remark, only: ["###", wet]}`,
	} {
		try(t, withNote(says), []trial{{says, rows("2 | 5.9 | 13 | 150 | 110"), both}})
	}
	try(t, withNote("{heading: Note, reads: nothing, why: the price, numbers: no}"), []trial{
		{"numbers: no outranks the reason's words", rows("2 | 5.9 | 13 | 150 | 110"), both + "! number-unaccounted\n"}})
	try(t, top+`
    format: workbook
    one sample each: sheet
    sample: [{after: "Sample", reads: lab_sample_id}]
    tables:
      - name: results
        each row: a test
        columns: [{heading: Test, reads: test}, {heading: Result, reads: result}, {heading: Unit, reads: unit}, {heading: Remark, reads: nothing, why: words}]
`, []trial{{"a row of one test", grid("LAB | Sample | 7\nTest | Result | Unit | Remark\nP | 12 | ppm | 13"), "\n7 P=12 mg/kg\n! number-unaccounted\n"}})
}

// A result that other samples have, or whose name stands there without a
// value, is missed; a column that is empty for all is a test that nobody asked
// for, and a mapping can say what an empty cell means.
func TestBlankResults(t *testing.T) {
	const note = "{heading: Note, reads: nothing, why: a remark}"
	try(t, withNote(note), []trial{
		{"one of three", grid("LAB\nNo. | pH | P | K | Note\n| | ppm | ppm |\n1 | 6.4 | 12 | 140 |\n2 | 6.4 | | 140 |\n3 | 6.4 | 12 | 140 |"),
			"\n1 pH=6.4 pH\n1 P=12 mg/kg\n1 K=140 mg/kg\n2 pH=6.4 pH\n2 K=140 mg/kg\n3 pH=6.4 pH\n3 P=12 mg/kg\n3 K=140 mg/kg\n! result-blank\n"},
		{"none of two", grid("LAB\nNo. | pH | P | K | Note\n| | ppm | ppm |\n1 | 6.4 | | 140 |\n2 | 6.4 | | 140 |"),
			"\n1 pH=6.4 pH\n1 K=140 mg/kg\n2 pH=6.4 pH\n2 K=140 mg/kg\n"},
		{"the only sample", grid("LAB\nNo. | pH | P | K | Note\n| | ppm | ppm |\n1 | 6.4 | | 140 |"), "\n1 pH=6.4 pH\n1 K=140 mg/kg\n! result-blank\n"},
	})
	try(t, strings.Replace(withNote(note), "{heading: P, unit: ppm}", "{heading: P, unit: ppm, blank means: not run}", 1), []trial{
		{"an empty cell with a meaning", grid("LAB\nNo. | pH | P | K | Note\n| | ppm | ppm |\n1 | 6.4 | 12 | 140 |\n2 | 6.4 | | 140 |"),
			"\n1 pH=6.4 pH\n1 P=12 mg/kg\n1 K=140 mg/kg\n2 pH=6.4 pH\n2 P=missing not run mg/kg\n2 K=140 mg/kg\n"}})
	x := read(t, withNote(note), grid("LAB\nNo. | pH | P | K | Note\n| | ppm | ppm |\n1 | 6.4 | 12 | 140 |\n2 | 6.4 | | 140 |"))
	if len(x.Reasons) != 1 || x.Reasons[0].Where.Cell != "C5" || x.Held() {
		t.Errorf("the place of the empty cell: %v", x.Reasons)
	}

	one := func(result string) string {
		return top + `
    format: pdf
    one sample each: page
    sample: [{after: "Sample", reads: lab_sample_id}]
    tables:
      - name: results
        each row: a test
        columns: [{heading: Test, reads: test}, ` + result + `, {heading: Unit, reads: unit}]
`
	}
	page := func(p string) *ingest.Document {
		return drawn("LAB   Sample 7\n\nTest      Result    Unit\nP         " + p + "       ppm\nK         140       ppm")
	}
	try(t, one("{heading: Result, reads: result}"), []trial{
		{"a test with its value", page("12 "), "\n7 P=12 mg/kg\n7 K=140 mg/kg\n"},
		{"a test without its value", page("   "), "\n7 K=140 mg/kg\n! result-blank\n"},
	})
	try(t, one("{heading: Result, reads: result, blank means: not run}"), []trial{{"which means something", page("   "), "\n7 P=missing not run mg/kg\n7 K=140 mg/kg\n"}})

	labels := func(more string) string {
		return top + `
    format: pdf
    one sample each: page
    sample: [{after: "Sample", reads: lab_sample_id}]
    labels: [{test: P` + more + `}, {test: K}]
`
	}
	try(t, labels(""), []trial{
		{"labels with values", drawn("LAB   Sample 7\n\nP     12 ppm\nK     140 ppm"), "\n7 P=12 mg/kg\n7 K=140 mg/kg\n"},
		{"a label without a value", drawn("LAB   Sample 7\n\nP\nK     140 ppm"), "\n7 K=140 mg/kg\n! result-blank\n"},
		{"a label that is not there", drawn("LAB   Sample 7\n\nK     140 ppm"), "\n7 K=140 mg/kg\n"},
	})
	try(t, labels(", blank means: not run"), []trial{{"which means something", drawn("LAB   Sample 7\n\nP\nK     140 ppm"), "\n7 K=140 mg/kg\n7 P=missing not run mg/kg\n"}})
}

const across = `
    format: workbook
    one sample each: column
    tables:
      - name: results
        each row: a test
        columns:
          - {heading: Test, reads: test}
          - {heading: Unit, reads: unit}
          - {samples: "S-##", reads: result}
        field rows: [{row: Depth, reads: depth, unit: in}]
`

// A number in a cell that reaches over two samples belongs to one of them.
func TestMergedResult(t *testing.T) {
	merge := func(text string, wide, down int) func(*ingest.Page) {
		return func(p *ingest.Page) {
			for i := range p.Cells {
				if c := &p.Cells[i]; c.Text == text {
					c.Across, c.Down = wide, down
				}
			}
		}
	}
	const sheet = "LAB\nTest | Unit | S-01 | S-02\nDepth | | 6 | 6\nP | ppm | 12 |\nK | ppm | 140 | 150"
	try(t, top+across, []trial{
		{"over two samples", with(grid(sheet), merge("12", 2, 1)), "\nS-01 K=140 mg/kg\nS-02 K=150 mg/kg\n! cell-merged\n! result-blank\n"},
		{"over two tests", with(grid("LAB\nTest | Unit | S-01 | S-02\nP | ppm | 12 | 13\nK | ppm | | 150"), merge("12", 1, 2)), "\nS-02 P=13 mg/kg\nS-02 K=150 mg/kg\n! cell-merged\n! result-blank\n"},
		{"a merged label is none of it", with(grid("LAB\nTest | Unit | S-01 | S-02\nP | ppm | 12 | 13"), merge("P", 1, 2)), "\nS-01 P=12 mg/kg\nS-02 P=13 mg/kg\n"},
	})
}

// The unit of a depth that is printed in a cell of its own is not passed over.
func TestPrintedDepthUnit(t *testing.T) {
	sheet := func(unit string) *ingest.Document {
		return grid("LAB\nTest | Unit | S-01\nDepth | " + unit + " | 6\nP | ppm | 12")
	}
	try(t, top+across, []trial{
		{"the mapping's", sheet("inches"), "\nS-01 P=12 mg/kg\n"},
		{"none", sheet(""), "\nS-01 P=12 mg/kg\n"},
		{"a word for none", sheet("n/a"), "\nS-01 P=12 mg/kg\n"},
		{"another", sheet("cm"), "\nS-01 P=12 mg/kg\n! unit-differs\n"},
		{"an unknown one", sheet("spans"), "\nS-01 P=12 mg/kg\n! depth-unreadable\n! unit-differs\n"},
	})
	free := strings.Replace(across, ", unit: in}", "}", 1)
	x := read(t, top+free, sheet("cm"))
	if got := x.Samples[0].Fields[Depth].Value; x.Held() || got != "2.36" { // 6 / 2.54
		t.Errorf("a depth in printed centimetres: %q %v", got, x.Reasons)
	}
	beside := top + `
    format: workbook
    one sample each: sheet
    sample: [{after: Sample, reads: lab_sample_id}, {after: Depth, reads: depth, unit: in}]
    labels: [{test: P}]
`
	try(t, beside, []trial{
		{"beside its value", grid("LAB\nSample | 7\nDepth | 6 | in\nP | 12 | ppm"), "\n7 P=12 mg/kg\n"},
		{"another beside its value", grid("LAB\nSample | 7\nDepth | 6 | cm\nP | 12 | ppm"), "\n7 P=12 mg/kg\n! unit-differs\n"},
	})
}

// A laboratory's number for a sample has digits, unless it calls its samples
// by letters.
func TestSampleNumberCutOff(t *testing.T) {
	m := top + `
    format: pdf
    one sample each: page
    sample: [{after: "Sample", reads: lab_sample_id}]
    labels: [{test: P}]
`
	pages := func(ids ...string) *ingest.Document {
		var d *ingest.Document
		for _, id := range ids {
			p := drawn("LAB   Sample " + id + "\n\nP     12 ppm")
			if d == nil {
				d = p
				continue
			}
			p.Pages[0].Number = len(d.Pages) + 1
			d.Pages = append(d.Pages, p.Pages...)
		}
		return d
	}
	try(t, m, []trial{
		{"numbers", pages("PX-1107", "PX-1108"), "\nPX-1107 P=12 mg/kg\nPX-1108 P=12 mg/kg\n"},
		{"only what begins one", pages("PX-"), "\nPX- P=12 mg/kg\n! sample-without-number\n"},
		{"letters among numbers", pages("PX-1107", "PX"), "\nPX-1107 P=12 mg/kg\nPX P=12 mg/kg\n! sample-without-number\n"},
		{"letters only", pages("A", "B"), "\nA P=12 mg/kg\nB P=12 mg/kg\n"},
	})
}
