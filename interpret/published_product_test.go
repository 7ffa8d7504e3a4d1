package interpret

import (
	"encoding/csv"
	"os"
	"strings"
	"testing"
)

// Row U084 of the published table of units, and C015 of the published checks:
// the rate of a product from the rate of pure calcium carbonate.
func TestPublishedProductRates(t *testing.T) {
	ran := 0
	for _, name := range []string{"conversions-units.csv", "conversions-checks.csv"} {
		f, err := os.Open("../testdata/published/" + name)
		if err != nil {
			t.Fatal(err)
		}
		rd := csv.NewReader(f)
		rd.FieldsPerRecord = -1
		recs, err := rd.ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		f.Close()
		col := map[string]int{}
		for i, h := range recs[0] {
			col[h] = i
		}
		for _, r := range recs[1:] {
			switch r[0] {
			case "U084":
				for _, c := range []string{"check1", "check2"} {
					x, e, ok := strings.Cut(strings.TrimPrefix(r[col[c+"_in"]], "x="), "; E=")
					if !ok {
						t.Fatalf("%s: %q", r[0], r[col[c+"_in"]])
					}
					within(t, ProductRate(num(t, x), num(t, e)), r[col[c+"_out"]], "0.000001")
					ran++
				}
			case "C015": // 5 lb per 100 ft2 at CCE 70
				within(t, ProductRate(num(t, "5"), num(t, "70")), r[col["expected"]], r[col["tolerance"]])
				ran++
			}
		}
	}
	if ran != 3 {
		t.Errorf("%d values", ran)
	}
}
