package difference

import (
	"example.org/windrow/normalize"
)

// pair finds for each old entry the new one that is the same thing. The keys
// are tried one after another, the most telling first, each among what the
// earlier ones have left; entries with one key pair in their order, and an
// empty key matches nothing. Partners are indexes into now, -1 for none.
func pair[T any](old, now []T, keys ...func(T) string) []int {
	partner := make([]int, len(old))
	for i := range partner {
		partner[i] = -1
	}
	taken := make([]bool, len(now))
	for _, key := range keys {
		at := map[string][]int{}
		for j, x := range now {
			if k := key(x); !taken[j] && k != "" {
				at[k] = append(at[k], j)
			}
		}
		for i, x := range old {
			k := key(x)
			if partner[i] >= 0 || k == "" || len(at[k]) == 0 {
				continue
			}
			partner[i] = at[k][0]
			taken[at[k][0]] = true
			at[k] = at[k][1:]
		}
	}
	return partner
}

// pairRecords pairs samples: by their number and label, then by either, then
// by where they stand on the page.
func pairRecords(old, now []*normalize.Record) []int {
	return pair(old, now,
		func(r *normalize.Record) string { return both(r.Sample.LabID, r.Sample.ClientLabel) },
		func(r *normalize.Record) string { return r.Sample.LabID },
		func(r *normalize.Record) string { return r.Sample.ClientLabel },
		func(r *normalize.Record) string {
			if len(r.Results) == 0 {
				return ""
			}
			return r.Results[0].Printed.Place.Inside()
		})
}

// pairResults pairs the results of one sample: those of one analyte, the more
// alike the sooner, and at last those that stand in one place, of which one
// was taken for another analyte.
func pairResults(old, now []*normalize.Result) []int {
	place := func(r *normalize.Result) string { return r.Printed.Place.Inside() }
	return pair(old, now,
		func(r *normalize.Result) string {
			if place(r) == "" {
				return ""
			}
			return r.Analyte + "\x00" + r.Detail + "\x00" + r.Method + "\x00" + place(r)
		},
		func(r *normalize.Result) string { return both(r.Analyte, place(r)) },
		func(r *normalize.Result) string { return r.Analyte + "\x00" + r.Detail + "\x00" + r.Method },
		func(r *normalize.Result) string { return r.Analyte + "\x00" + r.Detail },
		func(r *normalize.Result) string { return r.Analyte },
		place)
}

func both(a, b string) string {
	if a == "" || b == "" {
		return ""
	}
	return a + "\x00" + b
}
