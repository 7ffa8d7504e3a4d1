package mappings

import (
	"strings"
	"testing"

	"example.org/windrow/ingest"
)

// tested is the head of a mapping with other tests.
func tested(tests string) string {
	i, j := strings.Index(top, "tests:\n"), strings.Index(top, "layouts:\n")
	return top[:i] + "tests:\n" + tests + top[j:]
}

// Method columns: what the words mean under one test may differ from what
// they mean under the others, and a test without a word is flagged.
func TestMethodWords(t *testing.T) {
	m := strings.Replace(tested(`  pH: {analyte: pH, method words: {A: "1:1 water"}}
  P: {analyte: P, unit: ppm}
  K: {analyte: K, unit: ppm, method: Olsen}
`), "tests:\n", "method words: {A: Mehlich-3}\ntests:\n", 1) + `
    format: workbook
    one sample each: sheet
    sample: [{after: "No.", reads: lab_sample_id}]
    tables:
      - name: results
        each row: a test
        columns:
          - {heading: Test, reads: test}
          - {heading: Result, reads: result}
          - {heading: Unit, reads: unit}
          - {heading: Method, reads: method}
`
	rows := func(s string) *ingest.Document {
		return grid("LAB | No. | 7\nTest | Result | Unit | Method\n" + s)
	}
	try(t, m, []trial{
		{"no word, no method in the mapping", rows("P | 12 | ppm | "), "\n7 P=12 mg/kg\n? P method-missing\n"},
		{"a word for not known", rows("P | 12 | ppm | n/a"), "\n7 P=12 mg/kg\n? P method-missing\n"},
		{"no word, but the mapping says the method", rows("K | 12 | ppm | "), "\n7 K=12 mg/kg\n"},
		{"the mapping's method by another word", rows("K | 12 | ppm | Olsen"), "\n7 K=12 mg/kg\n"},
		{"another method than the mapping's holds", rows("K | 12 | ppm | A"), "\n7 K=12 mg/kg\n! method-differs\n"},
		{"a word that nobody knows holds", rows("P | 12 | ppm | B"), "\n7 P=12 mg/kg\n! method-unknown\n"},
		{"a word in other capitals is another word", rows("P | 12 | ppm | a"), "\n7 P=12 mg/kg\n! method-unknown\n"},
	})
	x := read(t, m, rows("pH | 6.4 | | A\nP | 12 | ppm | A"))
	if rs := x.Samples[0].Readings; len(rs) != 2 || rs[0].Method != "ph-water-1-1" || rs[1].Method != "mehlich-3" {
		t.Errorf("one word for two methods: %+v", rs)
	}
}

const formed = `
    format: workbook
    one sample each: row
    tables:
      - name: samples
        each row: a sample
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: OM, test: Organic matter, reads: "{result} {unit?}"}
          - {heading: P, reads: "{result} {unit?} {rating?}"}
          - {heading: Remark, reads: client_sample_id}
`

// A number's format may print its unit or a percent sign, which counts as
// printed. What is shown must still be what is stored.
func TestFormatsThatPrintUnits(t *testing.T) {
	row := func(om, p string, change ...func(*ingest.Page)) *ingest.Document {
		d := grid("LAB\nNo. | OM | P | Remark\n1 | " + om + " | " + p + " | back")
		for _, c := range change {
			c(d.Pages[0])
		}
		return d
	}
	n := ingest.NumberCell
	try(t, top+formed, []trial{
		{"texts", row("5.6 %", "12 ppm"), "\n1 OM=5.6 %\n1 P=12 mg/kg\n"},
		{"a percent format shows a hundred times what is stored", row("5.6%", "12 ppm", stored("5.6%", "0.056", n)), "\n1 OM=5.6 %\n1 P=12 mg/kg\n"},
		{"rounded", row("6%", "12 ppm", stored("6%", "0.0561", n)), "\n1 OM=6 %\n1 P=12 mg/kg\n"},
		{"a percent sign that is only written shows what is stored", row("5.6%", "12 ppm", stored("5.6%", "5.6", n)), "\n1 OM=5.6 %\n1 P=12 mg/kg\n"},
		{"neither of the two holds", row("5.6%", "12 ppm", stored("5.6%", "0.56", n)), "\n1 P=12 mg/kg\n! cell-shows-another-number\n"},
		{"a percent cell without its format holds", row("0.056", "12 ppm", stored("0.056", "0.056", n)), "\n1 OM=0.056 \n1 P=12 mg/kg\n! unit-missing\n"},
		{"a format with the unit", row("5.6 %", "12 ppm", stored("12 ppm", "12.2", n)), "\n1 OM=5.6 %\n1 P=12 mg/kg\n"},
		{"close behind the number", row("5.6%", "12ppm"), "\n1 OM=5.6 %\n1 P=12 mg/kg\n"},
		{"a format with the unit that shows another number holds", row("5.6 %", "12 ppm", stored("12 ppm", "12200", n)), "\n1 OM=5.6 %\n! cell-shows-another-number\n"},
		{"another unit holds", row("5.6 %", "12 lb/acre"), "\n1 OM=5.6 %\n1 P=12 lb/acre\n! unit-differs\n"},
		{"a unit and a rating", row("5.6 %", "<12 ppm L"), "\n1 OM=5.6 %\n1 P=<12 mg/kg L\n"},
		{"no unit holds", row("5.6 %", "12"), "\n1 OM=5.6 %\n1 P=12 \n! unit-missing\n"},
		{"two numbers in a cell hold", row("5.6 %", "12 14 ppm"), "\n1 OM=5.6 %\n1 P=12  14 ppm\n! cell-differs\n! unit-missing\n"},
	})
	// What goes on into the record is the stored number, as many per cent.
	for _, c := range []struct{ shown, raw, full string }{
		{"5.6%", "0.0561", "5.61"}, {"5.6%", "5.61", "5.61"}, {"0.05%", "5E-4", "0.05"},
		{"0%", "0.004", ""}, // 0.4 or 0.004: only what is shown is known
		{"1%", "0.0051", "0.51"},
	} {
		x := read(t, top+formed, row(c.shown, "12 ppm", stored(c.shown, c.raw, n)))
		if rs := x.Samples[0].Readings; x.Held() || rs[0].Full != c.full {
			t.Errorf("%s stored as %s: got %q, want %q; %v", c.shown, c.raw, rs[0].Full, c.full, x.Reasons)
		}
	}
}

// A unit that some reports leave out is meant where nothing is printed, and
// verified where something is.
func TestUnitMayBeAbsent(t *testing.T) {
	m := tested(`  Organic matter: {analyte: OM, unit: "%"}
  P: {analyte: P, unit: [ppm, mg/kg], unit may be absent: yes}
`) + formed
	row := func(p string) *ingest.Document {
		return grid("LAB\nNo. | OM | P | Remark\n1 | 5.6 % | " + p + " | back")
	}
	try(t, m, []trial{
		{"left out", row("12"), "\n1 OM=5.6 %\n1 P=12 mg/kg\n"},
		{"printed", row("12 mg/kg"), "\n1 OM=5.6 %\n1 P=12 mg/kg\n"},
		{"missing", row("n/a"), "\n1 OM=5.6 %\n1 P=missing n/a mg/kg\n"},
		{"another one printed holds", row("12 lb/acre"), "\n1 OM=5.6 %\n1 P=12 lb/acre\n! unit-differs\n"},
		{"a word that is no unit holds", row("12 approx"), "\n1 OM=5.6 %\n1 P=12 \n! unit-differs\n"},
	})
	// A unit that stands under the heading goes on holding where the cell
	// prints none, and is overruled by no cell silently.
	m = top + strings.Replace(formed, `{heading: P, reads`, `{heading: P, unit: ppm, reads`, 1)
	row = func(p string) *ingest.Document {
		return grid("LAB\nNo. | OM | P | Remark\n | | ppm |\n1 | 5.6 % | " + p + " | back")
	}
	try(t, m, []trial{
		{"under the heading", row("12"), "\n1 OM=5.6 %\n1 P=12 mg/kg\n"},
		{"and again in the cell", row("12 ppm L"), "\n1 OM=5.6 %\n1 P=12 mg/kg L\n"},
		{"another one in the cell holds", row("12 lb/acre"), "\n1 OM=5.6 %\n1 P=12 lb/acre\n! unit-differs\n"},
	})
}

// A lime index is printed as ten times the buffer pH it stands for (common
// practice, no source): the mapping says so by the unit, and what is kept is
// the number as printed beside that unit. Without the unit the number would
// be taken for a pH.
func TestLimeIndex(t *testing.T) {
	m := tested(`  Index: {analyte: buffer_pH, unit: lime index, unit may be absent: yes}
  Lime test: {analyte: buffer_pH, detail: printed, unit: lime index}
`) + `
    format: workbook
    one sample each: sheet
    sample: [{after: "No.", reads: lab_sample_id}]
    tables:
      - name: results
        each row: a test
        columns:
          - {heading: Test, reads: test}
          - {heading: Result, reads: result}
          - {heading: Unit, reads: unit}
`
	rows := func(s string) *ingest.Document { return grid("LAB | No. | 7\nTest | Result | Unit\n" + s) }
	try(t, m, []trial{
		{"the unit left out", rows("Index | 66 | "), "\n7 buffer_pH=66 lime-index\n"},
		{"the unit printed", rows("Lime test | 66 | lime index"), "\n7 buffer_pH=66 lime-index\n"},
		{"a buffer pH printed in its place holds", rows("Index | 6.6 | pH"), "\n7 buffer_pH=6.6 pH\n! unit-differs\n"},
		{"no unit where it should be printed holds", rows("Lime test | 66 | "), "\n7 buffer_pH=66 \n! unit-missing\n"},
	})
}

// A rating column rates the one test that was run, by its exact method and
// detail, and never a choice.
func TestRatingOfTheExactTest(t *testing.T) {
	m := tested(`  P: {analyte: P, unit: ppm, method: Mehlich-3}
  P Olsen: {analyte: P, unit: ppm, method: Olsen}
  K: {analyte: K, unit: ppm, method: Mehlich-3}
`) + `
    format: workbook
    one sample each: row
    tables:
      - name: samples
        each row: a sample
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: P, unit: ppm}
          - {heading: P Olsen, unit: ppm}
          - {heading: K, unit: ppm}
          - {heading: Olsen class, test: P Olsen, reads: rating}
          - {heading: P class, test: [P, P Olsen], reads: rating}
          - {heading: K class, test: K, reads: rating}
`
	row := func(s string) *ingest.Document {
		return grid("LAB\nNo. | P | P Olsen | K | Olsen class | P class | K class\n | ppm | ppm | ppm | | |\n1 | " + s)
	}
	try(t, m, []trial{
		{"each its own", row("12 | 8 | 140 | H | | L"), "\n1 P=12 mg/kg\n1 P=8 mg/kg H\n1 K=140 mg/kg L\n"},
		{"the one that was run", row("12 | | 140 | | M | "), "\n1 P=12 mg/kg M\n1 K=140 mg/kg\n"},
		{"the other one", row(" | 8 | 140 | | M | "), "\n1 P=8 mg/kg M\n1 K=140 mg/kg\n"},
		{"a rating of either holds", row("12 | 8 | 140 | | M | "), "\n1 P=12 mg/kg\n1 P=8 mg/kg\n1 K=140 mg/kg\n! rating-of-two\n"},
		{"a rating without its result is told", row("12 | | 140 | H | | "), "\n1 P=12 mg/kg\n1 K=140 mg/kg\n! rating-without-result\n"},
		{"a rating of a test not run is told", row("12 | | n/a | | | L"), "\n1 P=12 mg/kg\n1 K=missing n/a mg/kg\n! rating-without-result\n"},
		{"a word that is no rating is flagged", row("12 | | 140 | | | Ample"), "\n1 P=12 mg/kg\n1 K=140 mg/kg Ample\n? K rating-unknown\n"},
		{"a word for no rating is none", row("12 | | 140 | | | --"), "\n1 P=12 mg/kg\n1 K=140 mg/kg\n"},
	})
}

// A cell that shows another number than it holds is not read either way.
func TestCellShowsAnotherNumber(t *testing.T) {
	m := `
    format: workbook
    one sample each: row
    tables:
      - name: samples
        each row: a sample
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: P, unit: ppm}
`
	for _, c := range []struct {
		text, raw string
		kind      ingest.CellKind
		want      string
	}{
		{"6.5", "6.47", ingest.NumberCell, "1 P=6.5 mg/kg\n"},
		{"6", "6.47", ingest.NumberCell, "1 P=6 mg/kg\n"},
		{"1,235", "1234.5", ingest.NumberCell, "1 P=1235 mg/kg\n"},
		{"1 235", "1234.5", ingest.NumberCell, "1 P=1235 mg/kg\n"},
		{"1'235", "1234.5", ingest.NumberCell, "1 P=1235 mg/kg\n"},
		{"1 235", "1.235", ingest.NumberCell, "! cell-shows-another-number\n"},
		{"1 2", "12", ingest.NumberCell, "! not-a-number\n"},
		{"<0.05", "0.02", ingest.NumberCell, "1 P=<0.05 mg/kg\n"},
		{">500", "612", ingest.NumberCell, "1 P=>500 mg/kg\n"},
		{"<0.05", "0.2", ingest.NumberCell, "! cell-shows-another-number\n"},
		{"<0.05", "-0.2", ingest.NumberCell, "! cell-shows-another-number\n"},
		{"1", "1234.5", ingest.NumberCell, "! cell-shows-another-number\n"},
		{"6.4", "6.47", ingest.NumberCell, "! cell-shows-another-number\n"},
		{"4-Mar", "2026-03-04", ingest.DateCell, "! date-for-number\n"},
		{"#REF!", "", ingest.ErrorCell, "! cell-error\n"},
		{"", "", ingest.ErrorCell, "! cell-error\n"},
	} {
		d := grid("LAB\nNo. | P\n | ppm\n1 | x")
		last := &d.Pages[0].Cells[len(d.Pages[0].Cells)-1]
		last.Text, last.Raw, last.Kind = c.text, c.raw, c.kind
		if got := summary(read(t, top+m, d)); got != c.want {
			t.Errorf("%q (%s %s): got %q, want %q", c.text, c.kind, c.raw, got, c.want)
		}
	}
}
