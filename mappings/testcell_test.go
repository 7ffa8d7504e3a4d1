package mappings

import "testing"

// The cell of a test's name may say its unit or method as well, by the form
// that the column gives.
func TestNameWithUnit(t *testing.T) {
	const tests = `  pH: {analyte: pH, method: "1:1 water"}
  P: {analyte: P, unit: [ppm, "%"], method: Mehlich-3}
`
	rows := tested(tests) + `
    format: workbook
    one sample each: sheet
    sample: [{after: "Sample", reads: lab_sample_id}]
    tables:
      - name: results
        each row: a test
        columns:
          - {heading: Test, reads: "{test} [{unit}]"}
          - {heading: Result, reads: result}
`
	const head = "LAB | Sample | 7\nTest | Result\n"
	try(t, rows, []trial{
		{"with a unit, and without", grid(head + "pH | 6.4\nP [ppm] | 38"), "\n7 pH=6.4 pH\n7 P=38 mg/kg\n"},
		{"another unit of the test", grid(head + "P [%] | 0.2"), "\n7 P=0.2 %\n"},
		{"a unit that the test has not", grid(head + "P [lb/acre] | 38"), "\n7 P=38 lb/acre\n! unit-differs\n"},
		{"a test that is not known", grid(head + "Q [ppm] | 38"), "\n! test-unknown\n"},
	})

	list := tested(tests) + `
    format: workbook
    one sample each: row
    tables:
      - name: results
        each row: a reading
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: Test, reads: "{test} ({unit})"}
          - {heading: Result, reads: result}
`
	try(t, list, []trial{
		{"in a long list", grid("LAB\nNo. | Test | Result\n7 | pH | 6.4\n7 | P (ppm) | 38"), "\n7 pH=6.4 pH\n7 P=38 mg/kg\n"},
	})
}

// A title between rows may name the method of those below it: of a test that
// has none of its own, and against that of one that has.
func TestMethodByTitle(t *testing.T) {
	m := tested(`  P: {analyte: P, unit not printed: ppm}
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
        skip rows:
          - {begins: Mehlich-3 extract, method: Mehlich-3, why: a title}
          - {begins: Olsen extract, method: Olsen, why: a title}
          - {begins: Other, why: a title}
`
	read := func(rows string) (methods string) {
		x := read(t, m, grid("LAB | Sample | 7\nTest | Result\n"+rows))
		for _, s := range x.Samples {
			for _, rd := range s.Readings {
				methods += rd.Printed + " " + rd.Method + ","
			}
		}
		for _, r := range x.Reasons {
			methods += "! " + r.Code
		}
		return methods
	}
	for rows, want := range map[string]string{
		"Mehlich-3 extract\nP | 38\nK | 140\nOlsen extract\nP | 12": "38 mehlich-3,140 mehlich-3,12 olsen,",
		"Mehlich-3 extract\nP | 38\nOlsen extract\nK | 140":         "38 mehlich-3,140 mehlich-3,! method-differs",
		"Olsen extract\nOther\nP | 38":                              "38 ,",
		"P | 38\nMehlich-3 extract\nK | 140":                        "38 ,140 mehlich-3,",
	} {
		if got := read(rows); got != want {
			t.Errorf("%q: %q, want %q", rows, got, want)
		}
	}
}
