package check

import (
	"slices"

	"example.org/windrow/ingest"
)

// aboutOthers are what checks look at that do not hold the numbers of one
// report against each other: a value against what soils have, and a report
// against earlier ones.
var aboutOthers = []string{"one value", "earlier reports"}

// Across are the codes of the checks by which a report contradicts itself: its
// sums, shares, orders, dates, ratings and doubled numbers, held against the
// others that it prints. What merely deserves a note is not among them.
func Across() []string {
	var out []string
	for _, c := range list() {
		if c.Severity != ingest.Note && !slices.Contains(aboutOthers, c.About) {
			out = append(out, c.Code)
		}
	}
	return out
}
