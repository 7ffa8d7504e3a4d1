package normalize

import "slices"

// markRestated says of each result whether it only says again what another one
// of the sample says: results of one test, in one unit of ours, that the report
// prints in two units or as element and as oxide. One of them counts: one that
// has a value, and a number before a limit; of those the one that needed the
// fewest conversions; of those the first in the report. The checks set them
// against each other before any use is made of the one.
func markRestated(rs []*Result) {
	for i, r := range rs {
		for _, o := range rs[:i] {
			if o.Restates || r.Restates || !sameTest(o, r) || o.Printed.UnitID == r.Printed.UnitID && o.Basis == r.Basis {
				continue
			}
			if slices.Compare(effort(r), effort(o)) < 0 {
				o.Restates = true
			} else {
				r.Restates = true
			}
		}
	}
}

// sameTest reports whether two results are of one test and have one unit, so
// that they can be compared.
func sameTest(a, b *Result) bool {
	return a.Analyte == b.Analyte && a.Detail == b.Detail && a.Method == b.Method && a.Unit == b.Unit
}

// effort is what speaks against a result, the gravest first.
func effort(r *Result) []int {
	e := make([]int, 3)
	if r.Value == "" && r.Class == "" {
		e[0] = 1
	}
	if r.Censored != "" {
		e[1] = 1
	}
	for _, s := range r.Steps {
		if s.Factor != "1" {
			e[2]++
		}
	}
	return e
}

// Once is the record with each test of the sample once, for whoever takes one
// number of a test: advice, a letter, an index. What only says again what another
// result says is left out; where it has a doubt that the other has not, it
// stands in the other's place, so that nothing rests on a test of which the
// report says something doubtful. The results are the record's own, and the
// record itself is not changed.
func (rec *Record) Once() *Record {
	if !slices.ContainsFunc(rec.Results, func(r *Result) bool { return r.Restates }) {
		return rec
	}
	one := *rec
	one.Results = nil
	for _, r := range rec.Results {
		if r.Restates {
			continue
		}
		if i := slices.IndexFunc(rec.Results, func(o *Result) bool {
			return o.Restates && sameTest(o, r) && o.Missing == "" && worst(o.Status, r.Status) != r.Status
		}); i >= 0 {
			r = rec.Results[i]
		}
		one.Results = append(one.Results, r)
	}
	return &one
}
