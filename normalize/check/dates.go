package check

import (
	"fmt"
	"time"
)

// A dated is one of a sample's dates, in the order of the work.
type dated struct{ date, name string }

func (s *Sample) dates() []dated {
	var out []dated
	for _, d := range []dated{{s.Sampled, "sampled"}, {s.Received, "received"}, {s.Reported, "reported"}} {
		if d.date != "" {
			out = append(out, d)
		}
	}
	return out
}

// days is how many days b is after a, both YYYY-MM-DD.
func days(a, b string) (int, bool) {
	x, err1 := time.Parse(time.DateOnly, a)
	y, err2 := time.Parse(time.DateOnly, b)
	if err1 != nil || err2 != nil {
		return 0, false
	}
	return int(y.Sub(x).Hours() / 24), true
}

func datesOrder(r *Report, add func(Found)) {
	each(r, func(i int, s *Sample) {
		var prev dated
		for _, d := range s.dates() {
			if prev.date != "" && d.date < prev.date {
				add(Found{Sample: i, What: fmt.Sprintf("the sample is said to be %s before it was %s", d.name, prev.name), Expected: "on or after " + prev.date, Found: d.date})
			}
			prev = d
		}
	})
}

func datesFuture(r *Report, add func(Found)) {
	if r.Arrived == "" {
		return
	}
	each(r, func(i int, s *Sample) {
		for _, d := range s.dates() {
			if n, ok := days(r.Arrived, d.date); ok && n > 1 {
				add(Found{Sample: i, What: fmt.Sprintf("the sample is said to be %s after the report arrived", d.name), Expected: "on or before " + r.Arrived, Found: d.date})
			}
		}
	})
}

// longest is how many days may lie between two dates of a sample.
const longest = 400

func datesApart(r *Report, add func(Found)) {
	each(r, func(i int, s *Sample) {
		ds := s.dates()
		for k := 1; k < len(ds); k++ {
			a, b := ds[k-1], ds[k]
			if n, ok := days(a.date, b.date); ok && n > longest {
				add(Found{Sample: i, What: fmt.Sprintf("the sample is said to be %s %d days after it was %s", b.name, n, a.name), Expected: "within a year or so of " + a.date, Found: b.date})
			}
		}
	})
}
