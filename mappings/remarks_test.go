package mappings

import (
	"strings"
	"testing"

	"example.org/windrow/ingest"
)

// codesOf are the codes of all reasons of an extract.
func codesOf(x *Extract) string {
	var out []string
	for _, r := range x.Reasons {
		out = append(out, r.Code)
	}
	return strings.Join(out, " ")
}

// What a column of remarks says of the result beside it, in a sentence. Common
// practice, no source.
func TestRemarksThatSayOtherwise(t *testing.T) {
	book := withNote("{heading: Note, reads: nothing, why: a remark}")
	page := strings.Replace(book, "workbook", "pdf", 1)
	for _, c := range []struct{ note, want string }{
		{"preliminary result", "not-final"},
		{"superseded by rerun", "not-final"},
		{"a dilution: multiply by 10", "says-otherwise"},
		{"P is reported in lb/acre", "says-otherwise"},
		{"P by Olsen this time", "says-otherwise"},
		{"P x10 diluted", "says-otherwise"},
		{"K out of range", "says-otherwise"},
		{"P diluido 10 veces", "says-otherwise"},
		{"corrected for dilution", ""},
		{"see the guide on lime", ""},
		{"P is reported in ppm", ""},
		{"apply P at 40 lb/acre", ""},
	} {
		x := read(t, book, grid("LAB\nNo. | pH | P | K | Note\n| | ppm | ppm |\n1 | 6.4 | 12 | 140 |\n2 | 5.9 | 13 | 150 | "+c.note+"\n3 | 5.9 | 13 | 150 | "+c.note))
		if got := codesOf(x); got != c.want {
			t.Errorf("%s: %q, want %q once", c.note, got, c.want)
		}
		x = read(t, page, drawn("LAB\n\nNo.   pH    P     K     Note\n            ppm   ppm\n1     6.4   12    140   dry\n2     5.9   13    150   "+c.note))
		if got := codesOf(x); got != c.want {
			t.Errorf("on a page: %s: %q, want %q", c.note, got, c.want)
		}
	}
	named := withNote("{heading: Note, reads: nothing, why: a remark, only: [preliminary result, dry]}")
	x := read(t, named, grid("LAB\nNo. | pH | P | K | Note\n| | ppm | ppm |\n1 | 6.4 | 12 | 140 | dry\n2 | 5.9 | 13 | 150 | preliminary result"))
	if got := codesOf(x); got != "" {
		t.Errorf("words that the mapping names: %q", got)
	}
}

// A sentence on all results is of each of them: one in another unit is in doubt,
// though others are in the unit of the sentence.
func TestSentenceOnAllResults(t *testing.T) {
	m := tested(`  pH: {analyte: pH, method: "1:1 water"}
  P: {analyte: P, unit: ppm, method: Mehlich-3}
  K: {analyte: K, unit: lb/acre, method: Mehlich-3}
`) + `
    format: workbook
    one sample each: row
    tables:
      - name: samples
        each row: a sample
        columns: [{heading: No., reads: lab_sample_id}, {heading: pH}, {heading: P, unit: ppm}, {heading: K, unit: lb/acre}]
`
	for _, c := range []struct{ note, want string }{
		{"All results are given in ppm.", "says-otherwise"},
		{"Every value is reported in lb/acre", "says-otherwise"},
		{"All results are given in ppm unless another unit is printed.", ""},
		{"Results are given in ppm.", ""},
		{"All K results are given in lb/acre.", ""},
	} {
		x := read(t, m, grid("LAB\nNo. | pH | P | K\n| | ppm | lb/acre\n1 | 6.4 | 12 | 140\n\n"+c.note))
		if got := codesOf(x); got != c.want {
			t.Errorf("%s: %q, want %q", c.note, got, c.want)
		}
	}
}

// A paragraph of a web page or of a letter has sentences beside those that are
// read, and what one says of a result is not said of the next one.
func TestSentencesBesideThoseRead(t *testing.T) {
	m := top + `
    format: FORMAT
    one sample each: EACH
    sample: [{text: "for your sample {lab_sample_id}."}]
    sentences:
      - {text: "There are {result} ppm of phosphorus", test: P}
      - {text: "and {result} ppm of potassium", test: K}
      - {text: "Organic matter makes up {result}% of the soil", test: Organic matter}
`
	const fine = "LAB\nHere are the results for your sample 7. There are 12 ppm of phosphorus and 140 ppm of potassium, so that no potash is needed. Organic matter makes up 3.1% of the soil."
	book := strings.NewReplacer("FORMAT", "workbook", "EACH", "sheet").Replace(m)
	page := strings.NewReplacer("FORMAT", "pdf", "EACH", "page").Replace(m)
	for _, c := range []struct{ old, new, want string }{
		{"", "", ""},
		{"the results", "the preliminary results", "not-final"},
		{"so that", "which are given in lb/acre, so that", "says-otherwise"},
		{"ppm of potassium", "ppm of potassium (acid extract)", ""},
	} {
		text := strings.Replace(fine, c.old, c.new, 1)
		for form, x := range map[string]*Extract{"cell": read(t, book, grid(text)), "page": read(t, page, drawn(text))} {
			if got := codesOf(x); got != c.want {
				t.Errorf("%s in a %s: %q, want %q", c.new, form, got, c.want)
			}
			if got := summary(x); c.want == "" && got != "7 P=12 mg/kg\n7 K=140 mg/kg\n7 OM=3.1 %\n" {
				t.Errorf("in a %s: %s", form, got)
			}
		}
	}
}

// A column of methods that says another method than the label beside it: one of
// the two is wrong. What the mapping says of the printed words decides.
func TestLabelAgainstPrintedMethod(t *testing.T) {
	m := `
    format: workbook
    one sample each: row
    tables:
      - name: list
        each row: a reading
        columns: [{heading: No., reads: lab_sample_id}, {heading: Test, reads: test}, {heading: Result, reads: result}, {heading: Unit, reads: unit}, {heading: Method, reads: method}]
`
	tests := tested("  P, Olsen: {analyte: P, unit: ppm}\n  P: {analyte: P, detail: plain, unit: ppm}\n") + m
	list := func(test, method string) *ingest.Document {
		return grid("LAB\nNo. | Test | Result | Unit | Method\n1 | " + test + " | 12 | ppm | " + method)
	}
	try(t, tests, []trial{
		{"they agree", list("P, Olsen", "Olsen"), "\n1 P=12 mg/kg\n"},
		{"they do not", list("P, Olsen", "Mehlich-3"), "\n1 P=12 mg/kg\n! method-differs\n"},
		{"a label without a method", list("P", "Mehlich-3"), "\n1 P=12 mg/kg\n"},
	})
	try(t, strings.Replace(tests, "tests:", "method words: {Mehlich-3: Olsen}\ntests:", 1), []trial{{"the mapping's word", list("P, Olsen", "Mehlich-3"), "\n1 P=12 mg/kg\n"}})
}

// A field in quotes may go on over lines. They are of its record, and end no table.
func TestRecordOverSeveralLines(t *testing.T) {
	m := strings.Replace(withNote("{heading: Note, reads: nothing, why: a remark}"), "workbook", "delimited\n    separator: comma\n    encoding: utf-8", 1)
	d := grid("LAB\nNo. | pH | P | K | Note\n| | ppm | ppm |\n1 | 6.4 | 12 | 140 | a\n\n\n2 | 5.9 | 13 | 150 |")
	d.Format, d.Dialect = ingest.CSV, &ingest.Dialect{Encoding: "utf-8", Delimiter: ","}
	cells := d.Pages[0].Cells
	for i := range cells {
		cells[i].Line = cells[i].Row
		if cells[i].Text == "a" {
			cells[i].Text = "high salts:\nleach before\nplanting"
		}
	}
	const both = "\n1 pH=6.4 pH\n1 P=12 mg/kg\n1 K=140 mg/kg\n2 pH=5.9 pH\n2 P=13 mg/kg\n2 K=150 mg/kg\n"
	try(t, m, []trial{{"three lines of one field", d, both}})
}

// A sample of which the laboratory's number is not printed is known by the
// client's name for it alone.
func TestSampleWithoutLaboratoryNumber(t *testing.T) {
	m := top + `
    format: workbook
    one sample each: sheet
    sample: [{after: "Lab no.", reads: lab_sample_id}, {after: Sample, reads: client_sample_id}]
    labels: [{test: pH}]
`
	try(t, m, []trial{
		{"with its number", grid("LAB\nLab no. | 7\nSample | Hill\npH | 6.4"), "\n7 pH=6.4 pH\n"},
		{"without", grid("LAB\nLab no. |\nSample | Hill\npH | 6.4"), "\n pH=6.4 pH\n! sample-without-number\n"},
		{"with a word for none", grid("LAB\nLab no. | n/a\nSample | Hill\npH | 6.4"), "\n pH=6.4 pH\n"},
	})
	if x := read(t, m, grid("LAB\nLab no. |\nSample | Hill\npH | 6.4")); x.Held() {
		t.Error("a sample with a name is held for want of a number")
	}
}

// A laboratory's signs beside its numbers: U for a test that was not found above
// the number, J for an estimate. EPA's National Functional Guidelines for
// Inorganic Superfund Methods Data Review use them so (from memory).
func TestQualifiers(t *testing.T) {
	m := func(qualifier string) string {
		return strings.Replace(top, "tests:", "qualifiers: {U: less than, J: in doubt, H: as printed}\ntests:", 1) + `
    format: workbook
    one sample each: row
    tables:
      - name: list
        each row: a reading
        columns: [{heading: No., reads: lab_sample_id}, {heading: Test, reads: test}, {heading: Result, reads: ` + qualifier + `, {heading: Unit, reads: unit}]
`
	}
	row := func(result, sign string) *ingest.Document {
		return grid("LAB\nNo. | Test | Result | Qual | Unit\n1 | P | " + result + " | " + sign + " | ppm")
	}
	apart := m("result}, {heading: Qual, reads: qualifier}")
	try(t, apart, []trial{
		{"none", row("12", ""), "\n1 P=12 mg/kg\n"},
		{"less than", row("12", "U"), "\n1 P=<12 mg/kg\n"},
		{"which the number says too", row("<12", "U"), "\n1 P=<12 mg/kg\n"},
		{"and not otherwise", row(">12", "U"), "\n1 P=>12 mg/kg\n! qualifier-unknown\n"},
		{"in doubt", row("12", "J"), "\n1 P=12 mg/kg\n? P result-in-doubt\n"},
		{"as printed", row("12", "H"), "\n1 P=12 mg/kg\n"},
		{"a sign of the trade", row("12", "<"), "\n1 P=<12 mg/kg\n"},
		{"one that the mapping does not know", row("12", "R"), "\n1 P=12 mg/kg\n! qualifier-unknown\n"},
	})
	together := grid("LAB\nNo. | Test | Result | Unit\n1 | P | 12 U | ppm\n2 | P | 13 | ppm")
	try(t, m(`"{result} {qualifier?}"}`), []trial{{"in the cell of the number", together, "\n1 P=<12 mg/kg\n2 P=13 mg/kg\n"}})
	if x := read(t, apart, row("12", "U")); x.Samples[0].Readings[0].SignPlace.Cell != "D3" {
		t.Errorf("the place of the sign: %v", x.Samples[0].Readings[0].SignPlace)
	}
	named := m(`result}, {heading: Qual, reads: nothing, why: signs, only: [H, ""]}`)
	try(t, named, []trial{
		{"signs that change nothing", row("12", "H"), "\n1 P=12 mg/kg\n"},
		{"an empty cell among them", row("12", ""), "\n1 P=12 mg/kg\n"},
		{"another one", row("12", "U"), "\n! cell-not-allowed\n"},
	})
}
