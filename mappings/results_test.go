package mappings

import (
	"strings"
	"testing"
)

const twoUnitTests = `  pH: {analyte: pH, method: "1:1 water"}
  P: {analyte: P, unit: [ppm, lb/acre], method: Mehlich-3}
  K: {analyte: K, unit: [ppm, lb/acre], method: Mehlich-3}
  Organic matter: {analyte: OM, unit: "%"}
`

func twoUnits(layout string) string {
	return strings.Replace(tested(twoUnitTests), "layouts:\n", "units: {lb/acre: {depth: 6 2/3 in, soil: 2000000 lb/acre}}\nlayouts:\n", 1) + layout
}

// A row of a test may have its result twice, in two units side by side: each
// figure is read in the unit of its column, and none takes the place of the
// other.
func TestTwoUnitsInARow(t *testing.T) {
	rows := twoUnits(`
    format: workbook
    one sample each: sheet
    sample: [{after: "Sample", reads: lab_sample_id}]
    tables:
      - name: results
        each row: a test
        columns:
          - {heading: Test, reads: test}
          - {heading: Result, reads: result}
          - {heading: Unit, reads: unit}
          - {heading: lb/acre, reads: result, unit: lb/acre}
          - {heading: Level, reads: rating, optional: yes}
`)
	const head = "LAB | Sample | 7\nTest | Result | Unit | lb/acre | Level\n"
	const acre = " lb/acre of 2000000 lb/acre to 20/3 in"
	try(t, rows, []trial{
		{"both are read", grid(head + "pH | 6.4\nP | 38 | ppm | 76 | H\nK | 140 | ppm | 280 | M"), "\n7 pH=6.4 pH\n7 P=38 mg/kg H\n7 P=76" + acre + "\n7 K=140 mg/kg M\n7 K=280" + acre + "\n"},
		{"one that is blank", grid(head + "P | 38 | ppm | | H\nK | 140 | ppm | 280 | M"), "\n7 P=38 mg/kg H\n7 K=140 mg/kg M\n7 K=280" + acre + "\n! result-blank\n"},
		{"the rating goes with the one that is there", grid(head + "P | | ppm | 76 | H"), "\n7 P=76 lb/acre H of 2000000 lb/acre to 20/3 in\n! result-blank\n"},
		{"one unit for both columns holds", grid(head + "P | 76 | lb/acre | 76 | H"), "\n7 P=76 lb/acre H of 2000000 lb/acre to 20/3 in\n7 P=76" + acre + "\n! read-twice\n"},
		{"a test that is not printed in the unit holds", grid(head + "Organic matter | 3.2 | % | 64"), "\n7 OM=3.2 %\n7 OM=64" + acre + "\n! unit-differs\n"},
		{"another unit over the numbers holds", grid("LAB | Sample | 7\nTest | Result | Unit | kg/ha | Level\nP | 38 | ppm | 85 | H"), "\n! layout-changed\n"},
	})

	list := twoUnits(`
    format: workbook
    one sample each: row
    tables:
      - name: results
        each row: a reading
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: Test, reads: test}
          - {heading: Result, reads: result, unit: ppm}
          - {heading: Per acre, reads: result, unit: lb/acre}
`)
	try(t, list, []trial{
		{"in a long list", grid("LAB\nNo. | Test | Result | Per acre\n | | ppm | lb/acre\n7 | P | 38 | 76\n7 | K | 140 |\n8 | P | | 80"), "\n7 P=38 mg/kg\n7 P=76" + acre + "\n7 K=140 mg/kg\n8 P=80" + acre + "\n! result-blank\n"},
		{"a row with neither", grid("LAB\nNo. | Test | Result | Per acre\n | | ppm | lb/acre\n7 | P | | "), "\n! result-blank\n! result-empty\n"},
	})
}

// A cell that says another unit than its heading, where the test may be printed
// in either, is a contradiction and not a choice.
func TestUnitOfCellAndHeading(t *testing.T) {
	m := twoUnits(`
    format: workbook
    one sample each: row
    tables:
      - name: samples
        each row: a sample
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: P (ppm), test: P, reads: "{result} {unit?}"}
`)
	try(t, m, []trial{
		{"the same unit", grid("LAB\nNo. | P (ppm)\n7 | 38 ppm"), "\n7 P=38 mg/kg\n"},
		{"no unit", grid("LAB\nNo. | P (ppm)\n7 | 38"), "\n7 P=38 mg/kg\n"},
		{"another unit holds", grid("LAB\nNo. | P (ppm)\n7 | 38 lb/acre"), "\n7 P=38 lb/acre of 2000000 lb/acre to 20/3 in\n! read-twice\n"},
	})
}

// In a table whose rows are samples a column may say the unit, the method or
// the sign of a limit of a result that another column gives.
func TestBesideAResult(t *testing.T) {
	m := twoUnits(`
    format: workbook
    one sample each: row
    tables:
      - name: samples
        each row: a sample
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: Meth., reads: method, test: [P, pH], optional: yes}
          - {heading: pH}
          - {heading: Sign, reads: qualifier, test: P, optional: yes}
          - {heading: P}
          - {heading: Unit of P, reads: unit, test: P}
          - {heading: K, unit: ppm}
`)
	const acre = " lb/acre of 2000000 lb/acre to 20/3 in"
	const head = "LAB\nNo. | Meth. | pH | Sign | P | Unit of P | K\n | | | | | | ppm\n"
	try(t, m, []trial{
		{"each is read", grid(head + "7 | | 6.4 | | 38 | ppm | 140\n8 | | 6.1 | < | 2 | lb/acre | 150"), "\n7 pH=6.4 pH\n7 P=38 mg/kg\n7 K=140 mg/kg\n8 pH=6.1 pH\n8 P=<2" + acre + "\n8 K=150 mg/kg\n"},
		{"a unit that is not printed for the test holds", grid(head + "7 | | 6.4 | | 38 | % | 140"), "\n7 pH=6.4 pH\n7 P=38 %\n7 K=140 mg/kg\n! unit-differs\n"},
		{"another method than the mapping's holds", grid(head + "7 | Olsen | 6.4 | | 38 | ppm | 140"), "\n7 pH=6.4 pH\n7 P=38 mg/kg\n7 K=140 mg/kg\n! method-differs\n"},
		{"a sign that is none holds", grid(head + "7 | | 6.4 | about | 38 | ppm | 140"), "\n7 pH=6.4 pH\n7 P=38 mg/kg\n7 K=140 mg/kg\n! qualifier-unknown\n"},
	})
}
