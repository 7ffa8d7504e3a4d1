package register

import (
	"cmp"
	"slices"
	"time"

	"example.org/windrow/normalize"
)

// A Span is how long a laboratory had the samples of Reports reports, from the
// day it received them (or, where the report prints none, they were sent) to
// the day it reported them.
type Span struct {
	Lab            normalize.Lab
	From, Reported string // YYYY-MM-DD
	Reports        int
}

// A Usual is how many days a laboratory usually takes. The median and the 90th
// percentile are by nearest rank: the least number of days within which at
// least that part of the reports came.
type Usual struct {
	Lab     normalize.Lab `json:"lab"`
	Month   int           `json:"month,omitempty"` // of receipt, 1 to 12, of all years; 0 for the whole year
	Reports int           `json:"reports"`
	Median  int           `json:"median_days"`
	P90     int           `json:"p90_days"`
}

// LeastReports is how many reports a usual time rests on at least. Common
// practice, no source: with fewer the 90th percentile is just the slowest.
const LeastReports = 5

// Times are the usual times of laboratories.
type Times struct {
	labs []normalize.Lab
	all  map[string][13]Usual // by id of the laboratory; 0 for the whole year
}

// UsualTimes computes usual times. Spans that end before they begin, or that
// last more than a year, are slips in a date and are left out.
func UsualTimes(spans []Span) *Times {
	t := &Times{all: map[string][13]Usual{}}
	days := map[string]*[13][]int{}
	for _, s := range spans {
		n, ok := daysBetween(s.From, s.Reported)
		if !ok || n < 0 || n > 366 {
			continue
		}
		d := days[s.Lab.ID]
		if d == nil {
			d = &[13][]int{}
			days[s.Lab.ID] = d
			t.labs = append(t.labs, s.Lab)
		}
		at, _ := time.Parse(time.DateOnly, s.From) // daysBetween has read it
		for range s.Reports {
			d[0], d[at.Month()] = append(d[0], n), append(d[at.Month()], n)
		}
	}
	slices.SortFunc(t.labs, func(a, b normalize.Lab) int { return cmp.Compare(a.ID, b.ID) })
	for _, l := range t.labs {
		var u [13]Usual
		for m, list := range days[l.ID] {
			slices.Sort(list)
			u[m] = Usual{Lab: l, Month: m, Reports: len(list), Median: rank(list, 50), P90: rank(list, 90)}
		}
		t.all[l.ID] = u
	}
	return t
}

// rank is the percentile of a sorted list by nearest rank: the value at place
// ⌈percent × n ÷ 100⌉. It is 0 for an empty list.
func rank(sorted []int, percent int) int {
	if len(sorted) == 0 {
		return 0
	}
	return sorted[max(1, (percent*len(sorted)+99)/100)-1]
}

// For is how long the laboratory that a register calls so usually takes for
// what was sent on a day: in that month of the year where LeastReports or more
// are known, else in the whole year. It is nil where less is known than that,
// or where the word fits no laboratory or several.
func (t *Times) For(said, sent string) *Usual {
	var fits []normalize.Lab
	for _, l := range t.labs {
		if SameLab(said, l) {
			fits = append(fits, l)
		}
	}
	if len(fits) != 1 {
		return nil
	}
	u := t.all[fits[0].ID]
	months := []int{0}
	if at, err := time.Parse(time.DateOnly, sent); err == nil {
		months = []int{int(at.Month()), 0}
	}
	for _, m := range months {
		if x := u[m]; x.Reports >= LeastReports {
			return &x
		}
	}
	return nil
}

// List is all that is known: for each laboratory the whole year, then the
// months of which something is known.
func (t *Times) List() []Usual {
	out := []Usual{}
	for _, l := range t.labs {
		for _, u := range t.all[l.ID] {
			if u.Reports > 0 {
				out = append(out, u)
			}
		}
	}
	return out
}

// A Wait is a sample that was sent and of which there is no report.
type Wait struct {
	Row     *Row   `json:"sample"`
	Days    *int   `json:"days"`                     // since it was sent; nil when the register has no date
	Usual   *Usual `json:"usual,omitempty"`          // of its laboratory; nil when not known
	Overdue bool   `json:"overdue"`                  // see Why
	Why     string `json:"why"`                      // one clause
	Perhaps string `json:"perhaps_record,omitempty"` // id of a record that fits this and another line equally well
}

// Waiting lists the rows that no record was taken for, by days waiting, the
// longest first, and those without a date last. A sample is overdue when its
// laboratory usually, in nine of ten reports, takes less time, and whatever it
// usually takes after most days. on is the day of the question, YYYY-MM-DD.
func (r *Register) Waiting(on string, came func(*Row) bool, t *Times, most int) []Wait {
	out := []Wait{}
	for _, x := range r.Rows {
		if came(x) {
			continue
		}
		w := Wait{Row: x, Why: "the register has no date of sending"}
		if n, ok := daysBetween(x.Sent, on); ok {
			w.Days, w.Usual = &n, t.For(x.Lab, x.Sent)
			w.Overdue, w.Why = late(n, w.Usual, most)
		}
		out = append(out, w)
	}
	slices.SortStableFunc(out, func(a, b Wait) int {
		switch {
		case a.Days == nil || b.Days == nil:
			return cmp.Or(cmp.Compare(known(b.Days), known(a.Days)), cmp.Compare(a.Row.ID, b.Row.ID))
		}
		return cmp.Or(cmp.Compare(*b.Days, *a.Days), cmp.Compare(a.Row.ID, b.Row.ID))
	})
	return out
}

func known(n *int) int {
	if n == nil {
		return 0
	}
	return 1
}

func late(n int, u *Usual, most int) (bool, string) {
	switch {
	case n < 0:
		return false, "the date of sending lies ahead"
	case u != nil && n > u.P90:
		return true, "longer than nine of ten reports of this laboratory take"
	case n > most:
		return true, "longer than the office waits for any report"
	case u == nil:
		return false, "its usual time is not known"
	case n > u.Median:
		return false, "longer than half of the reports of this laboratory take"
	}
	return false, "within the usual time"
}

// Could reports whether a row may be taken for a sample of a laboratory, as far
// as label, laboratory and dates tell: where it is false none is, whoever the
// client may be.
func (r *Register) Could(lab normalize.Lab, s *normalize.Sample) bool {
	if r == nil {
		return false
	}
	for _, x := range r.byLabel[fold(s.ClientLabel)] {
		if x.dateFits(s) != differs && (x.lab == "" || SameLab(x.Lab, lab)) {
			return true
		}
	}
	return false
}

// From is the day before which no record can be of a sample of the register:
// the earliest on which one was sent, "" when a row has no date.
func (r *Register) From() string {
	from := ""
	for i, x := range r.Rows {
		if x.Sent == "" {
			return ""
		}
		if i == 0 || x.Sent < from {
			from = x.Sent
		}
	}
	return from
}
