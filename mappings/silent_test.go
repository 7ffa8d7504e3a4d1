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
		{"over two tests", with(grid("LAB\nTest | Unit | S-01 | S-02\nP | ppm | 12 | 13\nK | ppm | | 150"), merge("12", 1, 2)), "\nS-02 P=13 mg/kg\nS-02 K=150 mg/kg\n! cell-merged\n! result-blank\n? K row-slipped\n"},
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

// A report that counts its pages is whole or held.
func TestMissingPages(t *testing.T) {
	m := top + `
    format: pdf
    one sample each: page
    sample: [{after: "Sample", reads: lab_sample_id}]
    labels: [{test: P}]
    not results: [{line: "* page # of #*", why: page number}, {line: "* sheet # / #", why: page number}, {line: "Page # of #", why: page number}]
`
	pages := func(feet ...string) *ingest.Document {
		var d *ingest.Document
		for i, foot := range feet {
			p := drawn("LAB   Sample 10" + string(rune('1'+i)) + "\n\nP     12 ppm\n\n\n" + foot)
			if d == nil {
				d = p
				continue
			}
			p.Pages[0].Number = len(d.Pages) + 1
			d.Pages = append(d.Pages, p.Pages...)
		}
		return d
	}
	read := func(n int) string {
		return "\n" + strings.Join([]string{"101 P=12 mg/kg\n", "102 P=12 mg/kg\n", "103 P=12 mg/kg\n", "104 P=12 mg/kg\n"}[:n], "")
	}
	try(t, m, []trial{
		{"all of them", pages("Order 7 page 1 of 2", "Order 7 page 2 of 2"), read(2)},
		{"in another order", pages("Page 2 of 2", "Page 1 of 2"), read(2)},
		{"the last is gone", pages("Order 7 sheet 1 / 2"), read(1) + "! pages-missing\n"},
		{"the first is gone", pages("Order 7 page 2 of 2"), read(1) + "! pages-missing\n"},
		{"one in the middle is gone", pages("Page 1 of 3", "Page 3 of 3"), read(2) + "! pages-missing\n"},
		{"two reports of two pages", pages("Page 1 of 2", "Page 2 of 2", "Page 1 of 2", "Page 2 of 2"), read(4)},
		{"one of two reports lacks a page", pages("Page 1 of 2", "Page 2 of 2", "Page 1 of 2"), read(3) + "! pages-missing\n"},
		{"reports of one page each", pages("Page 1 of 1", "Page 1 of 1"), read(2)},
		{"a page elsewhere is pointed at", pages("for more see page 2 of 4 there"), read(1)},
	})
}

// Rows and columns that are hidden among those of a table are told, and the
// rows below a hidden one are read; so is a number that its format hides.
func TestHiddenAmongResults(t *testing.T) {
	hide := func(row, col int) func(*ingest.Page) {
		return func(p *ingest.Page) {
			for i := range p.Cells {
				if c := &p.Cells[i]; c.Row == row || c.Col == col {
					c.Hidden = true
				}
			}
		}
	}
	const sheet = "LAB\nTest | Unit | S-01 | S-02\nDepth | | 6 | 6\nP | ppm | 12 | 13\nK | ppm | 140 | 150"
	try(t, top+across, []trial{
		{"nothing is hidden", grid(sheet), "\nS-01 P=12 mg/kg\nS-01 K=140 mg/kg\nS-02 P=13 mg/kg\nS-02 K=150 mg/kg\n"},
		{"a test", with(grid(sheet), hide(4, 0)), "\nS-01 K=140 mg/kg\nS-02 K=150 mg/kg\n! hidden-numbers\n"},
		{"the last test", with(grid(sheet), hide(5, 0)), "\nS-01 P=12 mg/kg\nS-02 P=13 mg/kg\n! hidden-numbers\n"},
		{"a sample", with(grid(sheet), hide(0, 3)), "\nS-02 P=13 mg/kg\nS-02 K=150 mg/kg\n! hidden-numbers\n"},
		{"the last sample", with(grid(sheet), hide(0, 4)), "\nS-01 P=12 mg/kg\nS-01 K=140 mg/kg\n! hidden-numbers\n"},
		{"a row elsewhere", with(grid(sheet+"\n\n\nchecked by 7"), hide(8, 0)), "\nS-01 P=12 mg/kg\nS-01 K=140 mg/kg\nS-02 P=13 mg/kg\nS-02 K=150 mg/kg\n"},
	})
	x := read(t, top+across, with(grid(sheet), hide(0, 3)))
	if len(x.Reasons) != 1 || !strings.Contains(x.Reasons[0].What, "column C is hidden") || x.Reasons[0].Found != "S-01 6 12 140" {
		t.Errorf("the reason names what is hidden: %v", x.Reasons)
	}
	empty := func(raw string) *ingest.Document {
		d := grid(sheet)
		for i := range d.Pages[0].Cells {
			if c := &d.Pages[0].Cells[i]; c.Text == "12" {
				c.Text, c.Raw, c.Kind = "", raw, ingest.NumberCell
			}
		}
		return d
	}
	const rest = "\nS-01 K=140 mg/kg\nS-02 P=13 mg/kg\nS-02 K=150 mg/kg\n! cell-shows-another-number\n! result-blank\n? P row-slipped\n"
	try(t, top+across, []trial{{"a format that shows nothing", empty("12.4"), rest}, {"a nought that is not shown", empty("0"), rest}})
	if !read(t, top+across, empty("12.4")).Held() || read(t, top+across, empty("0")).Held() {
		t.Error("a number that is not shown holds the report, a nought flags it")
	}
}

// A letter among digits is called what it is, and not an unknown unit.
func TestLetterAmongDigits(t *testing.T) {
	m := strings.Replace(top+across, "reads: result}", `reads: "{result} {unit?}"}`, 1)
	for _, printed := range []string{"1O4", "1O", "l04", "1,O4O"} {
		x := read(t, m, grid("LAB\nTest | Unit | S-01\nP | ppm | "+printed))
		if len(x.Reasons) != 1 || x.Reasons[0].Code != "not-a-number" || !strings.Contains(x.Reasons[0].What, "a letter stands among its digits") {
			t.Errorf("%s: %v", printed, x.Reasons)
		}
	}
	x := read(t, m, grid("LAB\nTest | Unit | S-01\nP | ppm | 104 stones"))
	if len(x.Reasons) != 1 || x.Reasons[0].Code != "unit-differs" {
		t.Errorf("a word is a unit: %v", x.Reasons)
	}
}

// A field into which half a file has run is not passed on.
func TestTextTooLong(t *testing.T) {
	m := top + `
    format: workbook
    one sample each: row
    tables:
      - name: samples
        each row: a sample
        columns: [{heading: No., reads: lab_sample_id}, {heading: Crop, reads: land_use}, {heading: pH}]
`
	sheet := func(crop string) *ingest.Document { return grid("LAB\nNo. | Crop | pH\n1 | " + crop + " | 6.4") }
	try(t, m, []trial{
		{"a long name", sheet(strings.Repeat("oats ", 60)), "\n1 pH=6.4 pH\n"},
		{"one that nobody gives a crop", sheet(strings.Repeat("oats ", 600)), "\n1 pH=6.4 pH\n! text-too-long\n"},
	})
	x := read(t, m, sheet(strings.Repeat("oats ", 600000)))
	if f := x.Samples[0].Fields[LandUse]; !x.Held() || f.Value != "" || len(f.Printed) > 200 {
		t.Errorf("a long text goes on: %d bytes", len(f.Printed)+len(f.Value))
	}
}
