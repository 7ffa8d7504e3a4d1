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
