package mappings

import (
	"errors"
	"strings"
	"testing"

	"example.org/windrow/ingest"
)

// bound puts documents behind each other as the pages or sheets of one.
func bound(docs ...*ingest.Document) *ingest.Document {
	out := docs[0]
	for i, d := range docs[1:] {
		p := d.Pages[0]
		p.Number = i + 2
		out.Pages = append(out.Pages, p)
	}
	return out
}

// sheet is a grid of that name.
func sheet(name, text string) *ingest.Document {
	return with(grid(text), func(p *ingest.Page) { p.Name = name })
}

// A cover sheet says what holds for all the others; what it lacks the others
// must have.
func TestCoverSheet(t *testing.T) {
	m := top + `
    format: workbook
    one sample each: row
    sheets without results: [Cover, Key]
    report:
      - {after: "Client", reads: client_name}
      - {after: "Reported", reads: date_reported}
    tables:
      - name: samples
        each row: a sample
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: P, unit: ppm}
`
	const results = "LAB | 2026\nNo. | P\n | ppm\n1 | 12"
	cover := func() *ingest.Document { return sheet("Cover", "Client | Ann\nReported | 2026-03-30\nPage | 77") }
	plain := strings.Replace(results, " | 2026", "", 1)
	try(t, m, []trial{
		{"its fields hold and its other numbers are no results", bound(cover(), sheet("March", plain)), "\n1 P=12 mg/kg\n"},
		{"a cover that has lost a label holds", bound(sheet("Cover", "Client | Ann\nIssued | 2026-03-30"), sheet("March", plain)), "\n1 P=12 mg/kg\n! layout-changed\n"},
		{"no cover holds", sheet("March", plain), "\n1 P=12 mg/kg\n! layout-changed\n"},
		{"a key without fields excuses nothing", bound(sheet("Key", "P | 12 is low"), sheet("March", plain)), "\n1 P=12 mg/kg\n! layout-changed\n"},
		{"what stands on the sheet itself need not be on the cover", bound(sheet("Cover", "Client | Ann"), sheet("March", "LAB | Reported | 2026-03-30\nNo. | P\n | ppm\n1 | 12")), "\n1 P=12 mg/kg\n"},
		{"a second sheet must have it too", bound(sheet("Cover", "Client | Ann"), sheet("March", "LAB | Reported | 2026-03-30\nNo. | P\n | ppm\n1 | 12"), sheet("April", strings.Replace(plain, "\n1", "\n2", 1))), "\n1 P=12 mg/kg\n2 P=12 mg/kg\n! layout-changed\n"},
		{"a date that can't be read holds", bound(sheet("Cover", "Client | Ann\nReported | 30 March"), sheet("March", plain)), "\n1 P=12 mg/kg\n! date-unreadable\n"},
		{"a number beside the results is still none of the cover's", bound(cover(), sheet("March", results)), "\n1 P=12 mg/kg\n! number-unaccounted\n"},
	})
	x := read(t, m, bound(cover(), sheet("March", plain)))
	if f := x.Samples[0].Fields; f[ClientName].Value != "Ann" || f[DateReported].Value != "2026-03-30" {
		t.Errorf("fields of the cover: %+v", f)
	}
}

// A sample that goes on over the page is one sample, and only where the page
// says that it is the same one.
func TestSampleContinues(t *testing.T) {
	m := func(words string) string {
		return top + `
    format: pdf
    one sample each: page
    sample continues on: "` + words + `"
    sample: [{after: "Sample No.", reads: lab_sample_id}]
    labels: [{test: pH}, {test: P}, {test: K}]
`
	}
	first := func() *ingest.Document { return drawn("LAB\n\nSample No.  17\n\npH  6.4\nP  12 ppm") }
	next := func(s string) *ingest.Document { return drawn("LAB\n\n" + s) }
	try(t, m("Continued: sample {lab_sample_id}"), []trial{
		{"the same sample", bound(first(), next("Continued: sample 17\n\nK  140 ppm")), "\n17 pH=6.4 pH\n17 P=12 mg/kg\n17 K=140 mg/kg\n"},
		{"another sample's page holds", bound(first(), next("Continued: sample 18\n\nK  140 ppm")), "\n17 pH=6.4 pH\n17 P=12 mg/kg\n17 K=140 mg/kg\n! pages-disagree\n"},
		{"a test on both pages holds", bound(first(), next("Continued: sample 17\n\nP  13 ppm")), "\n17 pH=6.4 pH\n17 P=12 mg/kg\n17 P=13 mg/kg\n! read-twice\n"},
		{"a page that begins another sample", bound(first(), next("Sample No.  18\n\nK  140 ppm")), "\n17 pH=6.4 pH\n17 P=12 mg/kg\n18 K=140 mg/kg\n"},
		{"a page of nobody's holds", bound(first(), next("K  140 ppm")), "\n17 pH=6.4 pH\n17 P=12 mg/kg\n K=140 mg/kg\n! layout-changed\n! sample-without-number\n"},
		{"the rest without its beginning holds", next("Continued: sample 17\n\nK  140 ppm"), "\n K=140 mg/kg\n! layout-changed\n! sample-without-number\n"},
	})
	// Words that don't name the sample can't join another one's page to it.
	try(t, m("Further results"), []trial{
		{"nameless", bound(first(), next("Further results\n\nK  140 ppm")), "\n17 pH=6.4 pH\n17 P=12 mg/kg\n17 K=140 mg/kg\n"},
		{"another number on the page holds", bound(first(), next("Further results\n\nSample No.  18\n\nK  140 ppm")), "\n17 pH=6.4 pH\n17 P=12 mg/kg\n17 K=140 mg/kg\n! number-unaccounted\n"},
	})
}

// A star is running text: it takes no column, no blank line and no result
// beside it along.
func TestStarsTakeNoColumns(t *testing.T) {
	m := func(rule string) string {
		return top + `
    format: pdf
    one sample each: page
    sample: [{after: "Sample No.", reads: lab_sample_id}]
    tables:
      - name: results
        each row: a test
        columns:
          - {heading: Test, reads: test}
          - {heading: Result, reads: result}
          - {heading: Unit, reads: unit}
    not results: [` + rule + `]
`
	}
	page := func(lines string) *ingest.Document {
		return drawn("LAB\n\nSample No.  17\n\n" + lines + "\n\n\nTest      Result     Unit\npH          6.4\nP            12      ppm")
	}
	const both = "\n17 pH=6.4 pH\n17 P=12 mg/kg\n"
	try(t, m(`{text: "typical * 30 ppm", why: other soils}`), []trial{
		{"running text", page("typical soils have 30 ppm"), both},
		{"over a line's end", page("typical soils have\n30 ppm"), both},
		{"over a wide gap holds", page("typical                   99         30 ppm"), both + "! number-unaccounted\n"},
		{"over a blank line holds", page("typical\n\n\n99 and 30 ppm"), both + "! number-unaccounted\n"},
	})
	beside := func(line string) *ingest.Document {
		return drawn("LAB\n\nSample No.  17\n\n                         Test      Result     Unit\n" +
			"                         pH          6.4\n" + line)
	}
	for _, rule := range []string{`{line: "NOTE *", why: a remark}`, `{line: "NOTE {any}", why: a remark}`, `{text: "NOTE *", why: a remark}`} {
		x := read(t, m(rule), beside("NOTE of 2025             P            12      ppm"))
		if got := summary(x); !x.Held() && !strings.Contains(got, "P=12 mg/kg") {
			t.Errorf("%s took a result along:\n%s", rule, got)
		}
	}
	try(t, m(`{line: "Account: *", why: the account}`), []trial{
		{"a line of several pieces where no table stands", page("Account: 12           Samples: 14"), both},
		{"another line holds", page("Accounts 12           Samples: 14"), both + "! number-unaccounted\n"},
	})
}

// Ratings stand under their numbers or under their labels; a word that is no
// rating is not taken for one silently.
func TestRatingsUnderNumbers(t *testing.T) {
	m := top + `
    format: pdf
    one sample each: row
    tables:
      - name: samples
        each row: a sample
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: P, unit: ppm, reads: "{result} {rating?}"}
          - {heading: K, unit: ppm, reads: "{result} {rating?}"}
`
	const head = "LAB\nNo.      P        K\n        ppm      ppm\n"
	try(t, m, []trial{
		{"close under", drawn(head + "101      12      140\n          L        H\n102      90       80\n          H"), "\n101 P=12 mg/kg L\n101 K=140 mg/kg H\n102 P=90 mg/kg H\n102 K=80 mg/kg\n"},
		{"a line apart", drawn(head + "101      12      140\n\n          L        H"), "\n101 P=12 mg/kg L\n101 K=140 mg/kg H\n"},
		{"a word that is no rating is flagged", drawn(head + "101      12      140\n          L       Hi"), "\n101 P=12 mg/kg L\n101 K=140 mg/kg Hi\n? K rating-unknown\n"},
		{"a number under a number holds", drawn(head + "101      12      140\n         13"), "\n101 P=12 mg/kg\n101 K=140 mg/kg\n! row-without-label\n"},
		{"the rest of a number holds", drawn(head + "101     1 2      140"), "\n101 P=1 mg/kg 2\n101 K=140 mg/kg\n! cell-differs\n"},
	})
	l := top + `
    format: pdf
    one sample each: page
    sample: [{after: "Sample No.", reads: lab_sample_id}]
    labels:
      - {test: P, below: P, reads: "{result} {unit} {rating?}"}
      - {test: K, below: K, reads: "{result} {unit} {rating?}"}
      - {test: Organic matter, reads: "{result} {unit} {rating?}"}
`
	const no = "LAB\n\nSample No.  17\n\n"
	try(t, l, []trial{
		{"under the label", drawn(no + "P              K\n12 ppm         140 ppm\nL              H"), "\n17 P=12 mg/kg L\n17 K=140 mg/kg H\n"},
		{"one without", drawn(no + "P              K\n12 ppm         140 ppm\n               H"), "\n17 P=12 mg/kg\n17 K=140 mg/kg H\n"},
		{"a number under the number holds", drawn(no + "P              K\n12 ppm         140 ppm\n13             H"), "\n17 P=12 mg/kg\n17 K=140 mg/kg H\n! number-unaccounted\n"},
		{"beside the label", drawn(no + "Organic matter  5.6 %  M"), "\n17 OM=5.6 % M\n"},
		{"a stray word is flagged", drawn(no + "Organic matter  5.6 %  Fair"), "\n17 OM=5.6 % Fair\n? OM rating-unknown\n"},
		{"a label over another unit holds", drawn(no + "P              K\n12 lb/acre     140 ppm"), "\n17 P=12 lb/acre\n17 K=140 mg/kg\n! unit-differs\n"},
	})
}

// An example states values, or the reason for which its report is held: one
// code, or several of which it depends on the machine which comes.
func TestExamplesOfAMapping(t *testing.T) {
	m := func(example string) string {
		return top + list + "examples: [{file: a.xlsx, " + example + "}]\n"
	}
	ok := func() *ingest.Document {
		return grid("LAB\nSample | Status | Test | Sign | Result | Unit\nS-01 | FINAL | P | | 12 | ppm\nS-02 | FINAL | P | | 13 | ppm")
	}
	odd := func() *ingest.Document {
		return grid("LAB\nSample | Status | Test | Sign | Result | Unit\nS-01 | DRAFT | P | | 12 | ppm")
	}
	scan := &ingest.Reason{Code: "scan-no-ocr", Severity: ingest.Hold}
	for _, c := range []struct {
		name, example string
		doc           *ingest.Document
		later         []*ingest.Reason
		err           error
		right         int
		problems      string // texts of which each problem holds one, by bars; "" for none
	}{
		{"values", `sample: S-01, readings: 2, expect: {P: "12", lab_sample_id: S-01}`, ok(), nil, nil, 3, ""},
		{"another value", `sample: S-02, expect: {P: "12"}`, ok(), nil, nil, 0, "P of sample S-02"},
		{"another count", `readings: 3`, ok(), nil, nil, 0, "the number of readings"},
		{"a sample that is not there", `sample: S-03, expect: {P: "12"}`, ok(), nil, nil, 0, "sample is not in the report"},
		{"which sample is not said", `expect: {P: "12"}`, ok(), nil, nil, 0, "sample is not in the report"},
		{"no value for it", `sample: S-01, expect: {K: "12"}`, ok(), nil, nil, 0, "K of sample S-01"},
		{"held without being expected", `readings: 1`, odd(), nil, nil, 0, "does not allow|the number of readings"},
		{"held as expected", `held: cell-not-allowed`, odd(), nil, nil, 1, ""},
		{"held for one of two", `held: test-unknown or cell-not-allowed`, odd(), nil, nil, 1, ""},
		{"held for none of two", `held: test-unknown or unit-differs`, odd(), nil, nil, 0, "should be held"},
		{"a code that only begins like it", `held: cell-not or test`, odd(), nil, nil, 0, "should be held"},
		{"a form that is read by now", `held: layout-changed`, ok(), nil, nil, 0, "the mapping reads it now"},
		{"not held", `held: scan-unconfirmed or scan-no-ocr`, ok(), nil, nil, 0, "should be held"},
		{"held later", `held: scan-unconfirmed or scan-no-ocr`, ok(), []*ingest.Reason{scan}, nil, 1, ""},
		{"held by its reader", `held: scan-unconfirmed or scan-no-ocr`, nil, nil, scan, 1, ""},
		{"not readable", `held: unit-differs`, nil, nil, errors.New("no such file"), 0, "can't be read"},
		{"not recognised", `readings: 2`, grid("OTHER\nx | y"), nil, nil, 0, "not recognised"},
		{"not recognised as expected", `held: lab-unknown or unit-differs`, grid("OTHER\nx | y"), nil, nil, 1, ""},
	} {
		mp, reasons := Decode("test.yaml", []byte(m(c.example)), words{})
		if mp == nil {
			t.Fatalf("%s: %v", c.name, reasons)
		}
		s := &Set{vocab: words{}, list: []*Mapping{mp}}
		res := s.TestExamples(mp, func(string) ([]*ingest.Document, []*ingest.Reason, error) {
			return []*ingest.Document{c.doc}, c.later, c.err
		})[0]
		var want []string
		if c.problems != "" {
			want = strings.Split(c.problems, "|")
		}
		fits := len(res.Problems) == len(want) && res.Right == c.right
		for i := range want {
			fits = fits && strings.Contains(res.Problems[i].What, want[i])
		}
		if !fits {
			t.Errorf("%s: %d of %d right, problems %v; want %d right and %q", c.name, res.Right, res.Expected, res.Problems, c.right, want)
		}
	}
}
