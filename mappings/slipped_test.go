package mappings

import (
	"fmt"
	"strings"
	"testing"
)

// A row with an empty place and numbers that fit the next column is in doubt as
// a whole; a test that nobody asked for is not.
func TestSlippedRow(t *testing.T) {
	const mapping = top + `
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
          - {heading: OM, test: Organic matter, unit: "%"}
`
	for row, want := range map[string]int{
		"2|6.0|31|131|3.1": 0,
		"2||31|131|3.1":    0, // not asked for
		"2|6.0|31|131|":    0,
		"2|6.0||131|3.1":   0,
		"2|31|131|3.1|":    3, // a cell left out, and the row filled up at its end
		"2||6.0|31|131":    3, // or at its beginning
	} {
		x := read(t, mapping, grid("LAB\nNo.|pH|P|K|OM\n||ppm|ppm|%\n1|6.3|34|155|3.2\n"+row+"\n3|6.6|45|204|4.1"))
		got := 0
		for _, rd := range x.Samples[1].Readings {
			for _, d := range rd.Doubts {
				if d.Code == "row-slipped" {
					got++
				}
			}
		}
		if got != want {
			t.Errorf("%s: %d numbers in doubt, want %d", row, got, want)
		}
	}
}

// Where samples stand across, the numbers of a row with an empty place are in
// doubt, and those of other rows are not.
func TestSlippedAcross(t *testing.T) {
	const mapping = top + `
    format: workbook
    one sample each: column
    tables:
      - name: results
        each row: a test
        columns:
          - {heading: Test, reads: test}
          - {heading: Unit, reads: unit}
          - {samples: "S-#", reads: result}
`
	for _, m := range []struct {
		mapping string
		want    int
	}{{mapping, 2}, {strings.Replace(mapping, `"S-#", reads: result`, `"S-#", reads: result, blank means: not run`, 1), 0}} {
		x := read(t, m.mapping, grid("LAB\nTest|Unit|S-1|S-2|S-3\nP|ppm||12|14\nK|ppm|140|150|160"))
		got := 0
		for _, s := range x.Samples {
			for _, rd := range s.Readings {
				for _, d := range rd.Doubts {
					if d.Code == "row-slipped" && rd.Analyte == "P" {
						got++
					} else {
						t.Errorf("%s %s: %s", rd.Analyte, rd.Printed, d.Code)
					}
				}
			}
		}
		if got != m.want {
			t.Errorf("%d numbers in doubt, want %d", got, m.want)
		}
	}
}

// An average that has a number like a sample is none.
func TestAverageWithANumber(t *testing.T) {
	const mapping = top + `
    format: workbook
    one sample each: row
    tables:
      - name: samples
        each row: a sample
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: Field, reads: client_sample_id}
          - {heading: pH}
`
	for name, want := range map[string]string{"Average": "! row-looks-like-summary", "Promedio": "! row-looks-like-summary", "Mean Street": ""} {
		x := read(t, mapping, grid("LAB\nNo.|Field|pH\n1|North|6.3\n2|South|6.1\n3|"+name+"|6.2"))
		if got := summary(x); want != "" && !strings.Contains(got, want) || want == "" && x.Held() {
			t.Errorf("%s: %s", name, got)
		}
	}
}

// What stands beside or between the rows of a table and is not theirs: the
// registry number of another element, a title with another unit, a stamp that
// is turned, and the depth of one sample in another unit.
func TestWordsAgainstARow(t *testing.T) {
	const mapping = top + `
    format: workbook
    one sample each: column
    tables:
      - name: results
        each row: a test
        columns:
          - {heading: Test, reads: test}
          - {heading: CAS, reads: nothing, why: registry number, only: ["####-##-#", ""]}
          - {heading: Unit, reads: unit}
          - {samples: "S-#", reads: result}
        field rows:
          - {row: Depth, reads: depth, unit: in}
`
	const page = "LAB\nTest|CAS|Unit|S-1|S-2\nDepth||in|0-6|0-6\nP|7723-14-0|ppm|12|14\nK|7440-09-7|ppm|140|150"
	for _, c := range []struct{ what, old, new, want string }{
		{"as it stands", "LAB", "LAB", ""},
		{"another element's number", "7440-09-7", "7440-23-5", "says-otherwise"},
		{"another unit", "\nK|", "\nIn lb/acre\nK|", "says-otherwise"},
		{"its own unit", "\nK|", "\nIn ppm\nK|", ""},
		{"a depth in another unit", "in|0-6|0-6", "in|0-6|0-6 cm", "unit-differs"},
	} {
		x := read(t, mapping, grid(strings.Replace(page, c.old, c.new, 1)))
		got := ""
		for _, r := range x.Reasons {
			got += r.Code
		}
		if got != c.want {
			t.Errorf("%s: %q, want %q", c.what, got, c.want)
		}
	}
	paged := strings.NewReplacer("workbook", "pdf", `, only: ["####-##-#", ""]`, ", numbers: yes").Replace(mapping)
	doc := drawn("LAB\nTest  CAS  Unit  S-1  S-2\nP     7    ppm   12   14")
	if x := read(t, paged, doc); x.Held() {
		t.Fatal(summary(x))
	}
	p := doc.Pages[0]
	for i, w := range []string{"PRELIMINARY", "RESULTS"} {
		stamp := p.Words[0]
		stamp.Text, stamp.Turn = w, 90
		stamp.Box.X0, stamp.Box.X1, stamp.Box.Y1, stamp.Box.Y0 = 500, 510, 400-100*float64(i), 305-100*float64(i)
		p.Words = append(p.Words, stamp)
	}
	if s := summary(read(t, paged, doc)); !strings.Contains(s, "! not-final") {
		t.Error("a stamp that says the results are not final was not seen:", s)
	}
}

// The registry numbers that the program knows have the check digit that their
// other digits ask for (the rule is CAS's own, from memory).
func TestRegistryNumbers(t *testing.T) {
	for number, element := range casOf {
		digits := strings.ReplaceAll(number, "-", "")
		sum := 0
		for i, c := range digits[:len(digits)-1] {
			sum += int(c-'0') * (len(digits) - 1 - i)
		}
		if want := fmt.Sprint(sum % 10); want != digits[len(digits)-1:] {
			t.Errorf("%s of %s: the check digit should be %s", number, element, want)
		}
	}
}

// A row that is rated and has no number says that the column has slipped,
// whatever an empty place means; one that is not rated says nothing.
func TestSlippedDown(t *testing.T) {
	const mapping = top + `
    format: workbook
    one sample each: sheet
    sample:
      - {reads: lab_sample_id, after: Sample}
    tables:
      - name: results
        each row: a test
        columns:
          - {heading: Test, reads: test}
          - {heading: Result, reads: result, BLANK}
          - {heading: Unit, reads: unit}
          - {heading: Rating, reads: rating}
`
	for rows, want := range map[string]int{
		"pH|6.3||H;P|34|ppm|L;K|155|ppm|L":       0,
		"pH|6.3||H;P||ppm|;K|155|ppm|L":          0, // not asked for
		"pH|||H;P|6.3|ppm|L;K|34|ppm|L":          2,
		"pH|6.3||H;P|34|ppm|L;K||ppm|L":          2,
		"pH|||H;P||ppm|L;K|6.3|ppm|L":            1,
		"pH|6.3||H;P|n/a|ppm|L;K|155|ppm|L":      0, // a word for none is no gap
		"pH|6.3||H;P|34|ppm|call us;K|155|ppm|M": 0,
	} {
		for _, blank := range []string{"", `, blank means: not run`} {
			x := read(t, strings.Replace(mapping, ", BLANK", blank, 1), grid("LAB\nSample|1\nTest|Result|Unit|Rating\n"+strings.ReplaceAll(rows, ";", "\n")))
			got := 0
			for _, rd := range x.Samples[0].Readings {
				for _, d := range rd.Doubts {
					if d.Code == "row-slipped" {
						got++
					}
				}
			}
			if got != want {
				t.Errorf("%s, %q: %d numbers in doubt, want %d", rows, blank, got, want)
			}
		}
	}
}
