package mappings

import (
	"fmt"
	"strings"

	"example.org/windrow/ingest"
)

// Reconcile compares the extracts of several members of one mail or archive.
// Laboratories send the same results twice, as a page to read and as a table.
// A sample that two members hold is kept once, in the member that says more
// about it; if they disagree about any value or field, both are held. Samples
// that only one member holds stay where they are.
func Reconcile(xs []*Extract) {
	type owner struct {
		x *Extract
		s *SampleExtract
	}
	first := map[string]owner{}
	for _, x := range xs {
		if x.Held() {
			continue
		}
		kept := x.Samples[:0:0]
		twice := map[*Extract]int{}
		for _, s := range x.Samples {
			id := s.Fields[LabSampleID].Value
			k := x.Mapping.ID + "\x00" + s.Fields[ReportNo].Value + "\x00" + id
			o, dup := first[k]
			if id == "" || !dup || o.x == x {
				first[k] = owner{x, s}
				kept = append(kept, s)
				continue
			}
			if d := differ(o.s, s); d != "" {
				r := &ingest.Reason{Code: "members-disagree", Severity: ingest.Hold, Where: s.Place, What: fmt.Sprintf("two files that came together differ about sample %s", id),
					Expected: "the same results in " + o.x.Source.Title() + " and in " + x.Source.Title(), Found: d, Next: "ask the laboratory which is right"}
				x.Reasons = append(x.Reasons, r)
				o.x.Reasons = append(o.x.Reasons, r)
				kept = append(kept, s)
				continue
			}
			twice[o.x]++
			fill(o.s, s)
		}
		x.Samples = kept
		for o, n := range twice {
			x.Reasons = append(x.Reasons, &ingest.Reason{Code: "same-results", Severity: ingest.Note, Where: ingest.Place{File: x.Source.Title()},
				What: fmt.Sprintf("%d samples of this file are also in %s, with the same results; they are kept once", n, o.Source.Title())})
		}
	}
}

// readingKey tells the tests of one sample apart.
func readingKey(r *Reading) string {
	return strings.Join([]string{r.Analyte, r.Detail, r.Method, r.Basis}, "\x00")
}

// differ says where two extracts of one sample contradict each other. A
// value or field that one of them leaves out is no contradiction.
func differ(a, b *SampleExtract) string {
	for _, id := range fieldIDs {
		x, y := a.Fields[id].Value, b.Fields[id].Value
		if x != "" && y != "" && x != y {
			return fmt.Sprintf("%s: %s and %s", fieldWords(id), x, y)
		}
	}
	by := map[string]*Reading{}
	for i := range a.Readings {
		by[readingKey(&a.Readings[i])] = &a.Readings[i]
	}
	for i := range b.Readings {
		y := &b.Readings[i]
		x := by[readingKey(y)]
		switch {
		case x == nil || x.Missing != "" && y.Missing != "":
		case x.Number != y.Number || x.Censor != y.Censor || x.Unit != y.Unit || x.Words != y.Words || (x.Missing == "") != (y.Missing == ""):
			return fmt.Sprintf("%s %s: %s %s at %s, and %s %s at %s", y.Analyte, y.Detail, x.Printed, x.PrintedUnit, x.Place.Inside(), y.Printed, y.PrintedUnit, y.Place.Inside())
		}
	}
	return ""
}

// fill adds to a what only b says: a reading, a rating or a field.
func fill(a, b *SampleExtract) {
	by := map[string]*Reading{}
	for i := range a.Readings {
		by[readingKey(&a.Readings[i])] = &a.Readings[i]
	}
	for i := range b.Readings {
		y := &b.Readings[i]
		if x := by[readingKey(y)]; x == nil {
			a.Readings = append(a.Readings, *y)
		} else if x.Rating == "" {
			x.Rating, x.RatingClass = y.Rating, y.RatingClass
		}
	}
	for id, f := range b.Fields {
		if a.Fields[id].Value == "" && f.Value != "" {
			a.Fields[id] = f
		}
	}
}
