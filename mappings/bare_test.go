package mappings

import (
	"fmt"
	"strings"
	"testing"
	"time"
)

// Words by themselves beside a result, in its column, or on a line of their own.
func TestBareWords(t *testing.T) {
	m := tested(`  pH: {analyte: pH, method: "1:1 water"}
  P: {analyte: P, unit not printed: ppm, method: Mehlich-3}
  K: {analyte: K, unit not printed: ppm, method: Mehlich-3}
`) + `
    format: workbook
    one sample each: sheet
    sample: [{after: "Sample", reads: lab_sample_id}]
    tables:
      - name: results
        each row: a test
        columns:
          - {heading: Test, reads: test}
          - {heading: Result, reads: result}
          - {heading: Old, reads: nothing, why: last year, optional: yes}
`
	const head = "LAB | Sample | 7\nTest | Result\n"
	const all = "\n7 pH=6.4 pH\n7 P=38 mg/kg\n7 K=140 mg/kg\n"
	const held = all + "! says-otherwise\n"
	try(t, m, []trial{
		{"none", grid(head + "pH | 6.4\nP | 38\nK | 140"), all},
		{"the unit of the mapping", grid(head + "pH | 6.4\nP | 38 | ppm\nK | 140"), all},
		{"another unit beside a result", grid(head + "pH | 6.4\nP | 38 | lb/acre\nK | 140"), held},
		{"another method beside a result", grid(head + "pH | 6.4\nP | 38 | Olsen\nK | 140"), held},
		{"another form beside a result", grid(head + "pH | 6.4\nP | 38 | as phosphate\nK | 140"), held},
		{"a sign beside a result", grid(head + "pH | 6.4\nP | 38 | <\nK | 140"), held},
		{"words of a limit beside a result", grid(head + "pH | 6.4\nP | 38 | below detection limit\nK | 140"), held},
		{"a unit in the middle", grid(head + "pH | 6.4\n | lb/acre\nP | 38\nK | 140"), held},
		{"a unit below", grid(head + "pH | 6.4\nP | 38\nK | 140\n\n(lb/acre)"), held},
		{"a method below, in brackets", grid(head + "pH | 6.4\nP | 38\nK | 140\n\n(Olsen)"), held},
		{"a name below", grid(head + "pH | 6.4\nP | 38\nK | 140\n\nOlsen"), all},
		{"a form below, in a few words", grid(head + "pH | 6.4\nP | 38\nK | 140\n\nMeth: as oxides"), held},
		{"words that say nothing", grid(head + "pH | 6.4 | fine\nP | 38\nK | 140\n\nKind regards"), all},
		{"a unit of a column that is not read", grid("LAB | Sample | 7\nTest | Result | Old\n | | lb/acre\npH | 6.4 |\nP | 38 |\nK | 140 |"), all},
	})
}

// A column of words that the mapping reads nothing from may come to say the unit,
// the method or the sign of a result; not where the mapping names its words.
func TestWordsOfAColumnThatIsNotRead(t *testing.T) {
	m := tested(`  P: {analyte: P, unit not printed: ppm, method: Mehlich-3}
`) + `
    format: workbook
    one sample each: row
    tables:
      - name: samples
        each row: a sample
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: Remark, reads: nothing, why: words}
          - {heading: State, reads: nothing, why: words, only: [done, Olsen]}
          - {heading: P}
`
	for cells, want := range map[string]string{"fine | done": "", "ppm | done": "", "Mehlich-3 | done": "", "fine | Olsen": "", " | done": "",
		"lb/acre | done": "says-otherwise", "Olsen | done": "says-otherwise", "< | done": "says-otherwise", "estimated | done": "says-otherwise"} {
		code := ""
		if x := read(t, m, grid("LAB\nNo. | Remark | State | P\n7 | "+cells+" | 38\n8 | fine | done | 40")); len(x.Reasons) > 0 {
			code = x.Reasons[0].Code
		}
		if code != want {
			t.Errorf("%q: %q, want %q", cells, code, want)
		}
	}
}

// A row of units under headings whose tests are printed without one.
func TestUnitsUnderHeadings(t *testing.T) {
	m := tested(`  P: {analyte: P, unit not printed: ppm}
`) + `
    format: workbook
    one sample each: row
    tables:
      - name: samples
        each row: a sample
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: P}
`
	try(t, m, []trial{
		{"the one of the mapping", grid("LAB\nNo. | P\n | ppm\n7 | 38"), "\n7 P=38 mg/kg\n"},
		{"another one", grid("LAB\nNo. | P\n | lb/acre\n7 | 38"), "\n7 P=38 mg/kg\n! unit-differs\n"},
	})
}

// What follows the words by which a row is skipped may contradict the mapping.
func TestWordsBehindASkippedRow(t *testing.T) {
	m := tested(`  P: {analyte: P, unit not printed: ppm, method: Mehlich-3}
`) + `
    format: workbook
    one sample each: sheet
    sample: [{after: "Sample", reads: lab_sample_id}]
    tables:
      - name: results
        each row: a test
        columns:
          - {heading: Test, reads: test}
          - {heading: Result, reads: result}
        skip rows: [{begins: By Mehlich-3, why: a title}]
`
	for rest, want := range map[string]string{"": "", " of the field": "", " (Olsen for phosphorus)": "says-otherwise", " (lb/acre)": "says-otherwise", " (results x 10)": "says-otherwise", ", diluted": "says-otherwise"} {
		code := ""
		if x := read(t, m, grid("LAB | Sample | 7\nTest | Result\nBy Mehlich-3"+rest+"\nP | 38")); len(x.Reasons) > 0 {
			code = x.Reasons[0].Code
		}
		if code != want {
			t.Errorf("%q: %q, want %q", rest, code, want)
		}
	}
}

// A declared part that begins in the right column of a page takes nothing of the
// left one, and one under a heading in the middle takes whole lines.
func TestPartInTheRightColumn(t *testing.T) {
	m := tested(`  P: {analyte: P, unit not printed: ppm}
`) + `
    format: pdf
    one sample each: page
    sample: [{after: "Sample", reads: lab_sample_id}]
    labels: [{test: P, after: "P:", reads: "{result}"}]
    not results: [{from: Lime to reach, to before: Ask us, why: advice}]
`
	for _, c := range []struct{ page, want string }{
		{"LAB\nSample 7\n\nP: 38                         Lime to reach\nthanks                        pH 6.5   50 lb\nbye                           pH 6.8   80 lb\n                              Ask us", ""},
		{"LAB\nSample 7\n\nP: 38                         Lime to reach\nSodium: 17                    pH 6.5   50 lb\nbye                           pH 6.8   80 lb\n                              Ask us", "number-unaccounted"},
		{"LAB\nSample 7\n\nP: 38\n\n            Lime to reach\npH     6.5      6.8\n50 lb   80 lb    90 lb\nAsk us", ""},
	} {
		code := ""
		if x := read(t, m, drawn(c.page)); len(x.Reasons) > 0 {
			code = x.Reasons[0].Code
		}
		if code != c.want {
			t.Errorf("%q: %q, want %q", c.page, code, c.want)
		}
	}
}

// What stands in each row of a long list takes no longer for each row than in a
// short one: held against all results row by row, lists of some thousand rows
// ran out of time.
func TestLongLists(t *testing.T) {
	m := tested(`  pH: {analyte: pH, method: "1:1 water"}
  P: {analyte: P, unit not printed: ppm, method: Mehlich-3}
  K: {analyte: K, unit not printed: ppm, method: Mehlich-3}
`)
	list := m + `
    format: workbook
    one sample each: row
    tables:
      - name: list
        each row: a reading
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: Test, reads: test}
          - {heading: Result, reads: result}
          - {heading: Remark, reads: nothing, why: words}
`
	remarks := func(n int, remark func(i int) string) string {
		var b strings.Builder
		b.WriteString("LAB\nNo. | Test | Result | Remark\n")
		for i := range n {
			fmt.Fprintf(&b, "S-%d | %s | 6%d | %s\n", i/3, []string{"pH", "P", "K"}[i%3], i%9, remark(i))
		}
		return b.String()
	}
	wide := m + `
    format: workbook
    one sample each: row
    tables:
      - name: wide
        each row: a sample
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: pH}
          - {heading: P}
          - {heading: K}
`
	var seldom strings.Builder
	seldom.WriteString("LAB\nNo. | pH | P | K\n")
	for i := range 12_000 {
		p := ""
		if i%400 == 0 {
			p = "31"
		}
		fmt.Fprintf(&seldom, "S-%d | 6.%d | %s | 1%d\n", i, i%9, p, i%90)
	}
	for what, c := range map[string]struct {
		mapping, sheet string
		samples        int
		reason         string
	}{
		"words": {list, remarks(30_000, func(i int) string { return []string{"Mehlich-3", "ppm"}[i%2] }), 10_000, ""},
		"sentences": {list, remarks(6_000, func(i int) string {
			return fmt.Sprintf("results of number %d are given as is with phosphorus by hand", i)
		}), 2_000, ""},
		"a seldom test": {wide, seldom.String(), 12_000, "result-blank"},
	} {
		start := time.Now()
		x := read(t, c.mapping, grid(c.sheet))
		if took := time.Since(start); took > 15*time.Second {
			t.Errorf("%s: took %v", what, took)
		}
		if n := len(x.Samples); n != c.samples {
			t.Errorf("%s: %d samples, want %d", what, n, c.samples)
		}
		for _, r := range x.Reasons {
			if r.Code != c.reason && r.Code != "more" {
				t.Errorf("%s: %v", what, r)
				break
			}
		}
	}
}

// A remark beside a result may name a test and a unit and nothing else, or say
// what was done to the number; one about the place says nothing.
func TestRemarksBesideAResult(t *testing.T) {
	m := tested(`  P: {analyte: P, unit: ppm, method: Mehlich-3}
  K: {analyte: K, unit: ppm, method: Mehlich-3}
`) + `
    format: workbook
    one sample each: row
    tables:
      - name: samples
        each row: a sample
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: Remark, reads: nothing, why: words}
          - {heading: P ppm, test: P, unit: ppm}
          - {heading: K ppm, test: K, unit: ppm}
`
	for remark, held := range map[string]bool{
		"P: lb/acre": true, "P lb/acre": true, "P lb/acre; K ppm": true, "multiply P by 10": true, "P doubled": true, "result of another sample": true,
		"P: mg/kg": false, "P ppm": false, "50% shade": false, "hay/grass mix": false, "taken 4/12 by hand": false, "another bed of roses": false, "soil from a different field": false, "divided bed": false,
	} {
		x := read(t, m, grid("LAB\nNo. | Remark | P ppm | K ppm\n1 | "+remark+" | 38 | 141\n2 | | 21 | 98"))
		got := false
		for _, r := range x.Reasons {
			got = got || r.Code == "says-otherwise"
		}
		if got != held || len(x.Samples) != 2 {
			t.Errorf("%q: held %v, want %v; %d samples, %v", remark, got, held, len(x.Samples), x.Reasons)
		}
	}
}
