package mappings

import (
	"strings"
	"testing"
)

const twiceTests = `  P: {analyte: P, unit: ppm, method: Mehlich-3}
  P area: {analyte: P, unit: lb/acre, method: Mehlich-3}
  P2O5: {analyte: P, basis: P2O5, unit: ppm, method: Mehlich-3}
  Phosphorus: {analyte: P, unit: mg/kg, method: Mehlich-3}
  P total: {analyte: P, detail: total, unit: ppm, method: Mehlich-3}
`

const twiceColumns = `
    format: workbook
    one sample each: row
    tables:
      - name: samples
        each row: a sample
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: P, unit: ppm}
          - {heading: P lb, test: P area, unit: lb/acre, optional: yes}
          - {heading: P2O5, unit: ppm, optional: yes}
          - {heading: Phosphorus, unit: mg/kg, optional: yes}
          - {heading: P total, unit: ppm, optional: yes}
          - {heading: Rate, test: P, reads: "{rating}", optional: yes}
`

// What a report says twice of a sample in two units or as two forms is kept
// twice; in the same unit under another name it is one too many, and another
// detail makes it another test.
func TestOneTestInTwoUnits(t *testing.T) {
	m := strings.Replace(tested(twiceTests), "layouts:\n", "units: {lb/acre: {depth: 6 2/3 in, soil: 2000000 lb/acre}}\nlayouts:\n", 1) + twiceColumns
	try(t, m, []trial{
		{"two units", grid("LAB\nNo. | P | P lb\n | ppm | lb/acre\n1 | 12 | 24"), "\n1 P=12 mg/kg\n1 P=24 lb/acre of 2000000 lb/acre to 20/3 in\n"},
		{"two units that don't agree", grid("LAB\nNo. | P | P lb\n | ppm | lb/acre\n1 | 12 | 31"), "\n1 P=12 mg/kg\n1 P=31 lb/acre of 2000000 lb/acre to 20/3 in\n"},
		{"two forms", grid("LAB\nNo. | P | P2O5\n | ppm | ppm\n1 | 12 | 27.5"), "\n1 P=12 mg/kg\n1 P=27.5 mg/kg\n"},
		{"a rating is of the test and not of one unit", grid("LAB\nNo. | P | P lb | Rate\n | ppm | lb/acre |\n1 | 12 | 24 | M"), "\n1 P=12 mg/kg M\n1 P=24 lb/acre of 2000000 lb/acre to 20/3 in\n"},
		{"one unit under two names", grid("LAB\nNo. | P | Phosphorus\n | ppm | mg/kg\n1 | 12 | 12"), "\n1 P=12 mg/kg\n1 P=12 mg/kg\n! read-twice\n"},
		{"another test", grid("LAB\nNo. | P | P total\n | ppm | ppm\n1 | 12 | 620"), "\n1 P=12 mg/kg\n1 P=620 mg/kg\n"},
	})
}
