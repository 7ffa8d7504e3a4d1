package mappings

import (
	"fmt"
	"slices"
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
	number := func(x *Extract, s *SampleExtract) string {
		return x.Mapping.ID + "\x00" + s.Fields[ReportNo].Value + "\x00" + s.Fields[LabSampleID].Value
	}
	// Where a number has several layers, samples are told apart by their layer
	// as well.
	layered, seen := map[string]bool{}, map[string]layer{}
	for _, x := range xs {
		for _, s := range x.Samples {
			k, l := number(x, s), layerOf(s)
			if o, has := seen[k]; has && l.beside(o) {
				layered[k] = true
			} else if !has || o.bottom == nil {
				seen[k] = l
			}
		}
	}
	for _, x := range xs {
		if x.Held() {
			continue
		}
		kept := x.Samples[:0:0]
		twice := map[*Extract]int{}
		for _, s := range x.Samples {
			id := s.Fields[LabSampleID].Value
			k := number(x, s)
			if layered[k] && id != "" {
				if s.Fields[Depth].Value == "" && len(xs) > 1 {
					x.Reasons = append(x.Reasons, &ingest.Reason{Code: "members-disagree", Severity: ingest.Hold, Where: s.Place, What: fmt.Sprintf("sample %s has several layers of soil in a file that came with this one, and no depth here", id),
						Expected: "the depth of the layer", Found: "none", Next: "read the depth in this layout too, if it is printed; otherwise ask the laboratory which layer it is"})
					kept = append(kept, s)
					continue
				}
				k += "\x00" + s.Fields[DepthTop].Value + "\x00" + s.Fields[Depth].Value
			}
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
			what := fmt.Sprintf("%d samples of this file are also in %s, with the same results; they are kept once", n, o.Source.Title())
			if n == 1 {
				what = fmt.Sprintf("1 sample of this file is also in %s, with the same results; it is kept once", o.Source.Title())
			}
			x.Reasons = append(x.Reasons, &ingest.Reason{Code: "same-results", Severity: ingest.Note, Where: ingest.Place{File: x.Source.Title()}, What: what})
		}
	}
}

// readingKey tells the tests of one sample apart.
func readingKey(r *Reading) string {
	return strings.Join([]string{r.Analyte, r.Detail, r.Method, r.Basis}, "\x00")
}

// twin is the reading of a that y of b repeats, or nil. A table often leaves
// out the method that the page beside it prints: a result without a method
// repeats the one result of its test that the other file has. more is true
// where there are several and it may repeat any of them.
func twin(a, b *SampleExtract, y *Reading) (x *Reading, more bool) {
	alike := func(r *Reading) bool {
		return r.Analyte == y.Analyte && r.Detail == y.Detail && r.Basis == y.Basis
	}
	// A test may stand in each of the two in several units.
	for i := range a.Readings {
		if r := &a.Readings[i]; readingKey(r) == readingKey(y) && r.Unit == y.Unit {
			return r, false
		}
	}
	var found []*Reading
	for i := range a.Readings {
		r := &a.Readings[i]
		switch {
		case readingKey(r) == readingKey(y):
			if slices.ContainsFunc(b.Readings, func(o Reading) bool { return readingKey(&o) == readingKey(r) && o.Unit == r.Unit }) {
				continue // b has that one as well, and this one beside it
			}
			return r, false
		case alike(r) && (r.Method == "" || y.Method == ""):
			found = append(found, r)
		}
	}
	// What b itself tells apart by its method is another test.
	for i := range b.Readings {
		r := &b.Readings[i]
		if r == y || !alike(r) {
			continue
		}
		found = slices.DeleteFunc(found, func(x *Reading) bool { return readingKey(x) == readingKey(r) })
		if y.Method != "" {
			more = more || len(found) > 0
		}
	}
	if len(found) != 1 || more {
		return nil, len(found) > 0
	}
	return found[0], false
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
	for i := range b.Readings {
		y := &b.Readings[i]
		x, more := twin(a, b, y)
		switch {
		case more:
			return fmt.Sprintf("%s %s stands at %s without its method, and which of the results of %s it repeats can't be told", y.Analyte, y.Printed, y.Place.Inside(), y.Analyte)
		case x == nil || x.Missing != "" && y.Missing != "":
		case x.Number != y.Number || x.Censor != y.Censor || x.Unit != y.Unit || x.Words != y.Words || (x.Missing == "") != (y.Missing == ""):
			return fmt.Sprintf("%s %s: %s %s at %s, and %s %s at %s", y.Analyte, y.Detail, x.Printed, x.PrintedUnit, x.Place.Inside(), y.Printed, y.PrintedUnit, y.Place.Inside())
		}
	}
	return ""
}

// fill adds to a what only b says: a reading, a rating or a field.
func fill(a, b *SampleExtract) {
	for i := range b.Readings {
		y := &b.Readings[i]
		x, _ := twin(a, b, y)
		if x == nil {
			a.Readings = append(a.Readings, *y)
			continue
		}
		if x.Rating == "" {
			x.Rating, x.RatingClass = y.Rating, y.RatingClass
		}
		if x.Method == "" {
			x.Method = y.Method
		}
	}
	for id, f := range b.Fields {
		if a.Fields[id].Value == "" && f.Value != "" {
			a.Fields[id] = f
		}
	}
}
