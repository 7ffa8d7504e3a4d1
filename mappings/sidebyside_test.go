package mappings

import (
	"strings"
	"testing"
)

// Tests in parts beside each other, each with its own results and ratings.
func TestPartsBesideEachOther(t *testing.T) {
	m := top + `
    format: FORMAT
    one sample each: EACH
    sample: [{after: "Sample", reads: lab_sample_id}]
    tables:
      - name: results
        each row: a test
        columns:
          - {heading: Test, reads: test}
          - {heading: Result, reads: "{result} {unit?}"}
          - {heading: Rating, reads: rating}
          - {heading: Test, reads: test}
          - {heading: Result, reads: "{result} {unit?}"}
          - {heading: Rating, reads: rating}
`
	const all = "\n7 pH=6.4 pH\n7 OM=3.1 % M\n7 P=12 mg/kg L\n7 K=140 mg/kg H\n"
	page := strings.NewReplacer("FORMAT", "pdf", "EACH", "page").Replace(m)
	book := strings.NewReplacer("FORMAT", "workbook", "EACH", "sheet").Replace(m)
	try(t, page, []trial{
		{"two parts", drawn("LAB   Sample 7\n\nTest              Result   Rating     Test    Result    Rating\npH                6.4                 P       12 ppm    L\nOrganic matter    3.1 %    M          K       140 ppm   H"), all},
		{"a label that is wrapped in one", drawn("LAB   Sample 7\n\nTest       Result   Rating     Test    Result    Rating\npH         6.4                 P       12 ppm    L\nOrganic                        K       140 ppm   H\nmatter     3.1 %    M"), all},
		{"one that is longer than the other", drawn("LAB   Sample 7\n\nTest       Result   Rating     Test    Result    Rating\npH         6.4                 P       12 ppm    L\n                               K       140 ppm   H"), "\n7 pH=6.4 pH\n7 P=12 mg/kg L\n7 K=140 mg/kg H\n"},
		{"a test in both", drawn("LAB   Sample 7\n\nTest       Result   Rating     Test    Result    Rating\nP          12 ppm   L          P       13 ppm    L"), "\n7 P=12 mg/kg L\n7 P=13 mg/kg L\n! read-twice\n"},
		{"a test that nobody knows", drawn("LAB   Sample 7\n\nTest       Result   Rating     Test    Result    Rating\npH         6.4                 Tin     12 ppm    L"), "\n7 pH=6.4 pH\n! test-unknown\n"},
	})
	try(t, book, []trial{
		{"two parts of a sheet", grid("LAB | Sample | 7\nTest | Result | Rating | Test | Result | Rating\npH | 6.4 | | P | 12 ppm | L\nOrganic matter | 3.1 % | M | K | 140 ppm | H"), all},
		{"with a column between", grid("LAB | Sample | 7\nTest | Result | Rating | | Test | Result | Rating\npH | 6.4 | | | P | 12 ppm | L\nOrganic matter | 3.1 % | M | | K | 140 ppm | H"), all},
	})
}
