package check

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"
	"unicode"
)

// Earlier is what is known of a record of another report that came before.
type Earlier struct {
	Report, Number string // id of the report, and its number as printed
	Lab            string // id of the laboratory
	LabID, Label   string
	Sampled        string // YYYY-MM-DD, or ""
	Last           string // the last of its dates, YYYY-MM-DD, or ""
	Results        []EarlierResult
}

// EarlierResult is one of its results.
type EarlierResult struct{ Analyte, Detail, Method, Unit, Value string }

// customary is the share by which two forms of one result may differ: a page
// and a table of one report are rounded differently.
const customary = 0.03

// shared counts the results that two records both have a number for, how many
// of those are alike in every digit, and how many differ by more than the
// rounding of a page. A test that stands twice is left out.
func shared(s *Sample, e *Earlier) (both, alike, other int) {
	type key struct{ analyte, detail, method, unit string }
	was, twice := map[key]string{}, map[key]bool{}
	for _, x := range e.Results {
		k := key{x.Analyte, x.Detail, x.Method, x.Unit}
		if _, ok := was[k]; ok {
			twice[k] = true
		}
		was[k] = x.Value
	}
	seen := map[key]bool{}
	for j := range s.Results {
		x := &s.Results[j]
		k := key{x.Analyte, x.Detail, x.Method, x.Unit}
		v := was[k]
		if !x.Has || x.Restates || v == "" || twice[k] || seen[k] {
			continue
		}
		seen[k] = true
		both++
		if v == x.Written {
			alike++
		} else if w, err := strconv.ParseFloat(v, 64); err == nil && math.Abs(w-x.Value) > customary*max(w, x.Value)+2*x.Half {
			other++
		}
	}
	return both, alike, other
}

// Last is the last of a sample's dates, "" when it has none.
func (s *Sample) Last() string {
	ds := s.dates()
	if len(ds) == 0 {
		return ""
	}
	return ds[len(ds)-1].date
}

// A met is a sample with an earlier record, and what the two share.
type met struct {
	i                  int
	s                  *Sample
	e                  *Earlier
	both, alike, other int
}

// eachEarlier calls f for the earlier records of the laboratory until it finds
// something of a sample: once is enough. Earlier is
// what was reported on an earlier day: then it does not matter in which order
// the files of one day are read, or a page and a table of one report.
func eachEarlier(r *Report, f func(m met) bool) {
	if r.Earlier == nil {
		return
	}
	each(r, func(i int, s *Sample) {
		last := s.Last()
		if last == "" {
			return
		}
		for _, e := range r.Earlier(s) {
			if e.Lab == r.Lab && e.Last != "" && e.Last < last {
				both, alike, other := shared(s, &e)
				if f(met{i, s, &e, both, alike, other}) {
					return
				}
			}
		}
	})
}

// sameTime reports whether two dates may be of one sampling.
func sameTime(a, b string) bool { return a == "" || b == "" || a == b }

func called(e *Earlier) string {
	n := e.Number
	if n == "" {
		n = e.Report
	}
	return fmt.Sprintf("report %s, sample %s", n, e.LabID)
}

func numberBefore(r *Report, add func(Found)) {
	eachEarlier(r, func(m met) bool {
		if m.s.LabID == "" || m.e.LabID != m.s.LabID || m.other == 0 {
			return false
		}
		if n, ok := days(m.e.Last, m.s.Last()); ok && n > longest {
			return false // numbers begin again after some time
		}
		add(Found{Sample: m.i, What: fmt.Sprintf("the laboratory number %s already stands in %s, with %d of %d results different", m.s.LabID, called(m.e), m.other, m.both),
			Expected: "a number of its own, or a revision that says so", Found: m.s.LabID})
		return true
	})
}

func resultsBefore(r *Report, add func(Found)) {
	eachEarlier(r, func(m met) bool {
		if m.both < sameAtLeast || m.alike < m.both || m.both < m.s.numbers() || !sameTime(m.e.Sampled, m.s.Sampled) {
			return false
		}
		add(Found{Sample: m.i, What: "every result of this sample already stands in " + called(m.e) + ": the same results may have been sent twice", Expected: "results of their own", Found: m.s.LabID})
		return true
	})
}

func sameAsLastTime(r *Report, add func(Found)) {
	eachEarlier(r, func(m met) bool {
		if m.s.Label == "" || m.e.Label != m.s.Label || m.both < sameAtLeast || m.alike < m.both || sameTime(m.e.Sampled, m.s.Sampled) {
			return false
		}
		add(Found{Sample: m.i, What: fmt.Sprintf("all %d results shared with %s, sampled %s, are the same in every digit", m.both, called(m.e), m.e.Sampled), Expected: "a field sampled again differs in some digit", Found: m.s.Label})
		return true
	})
}

// numbers is how many results have a number.
func (s *Sample) numbers() (n int) {
	for j := range s.Results {
		if x := &s.Results[j]; x.Has && !x.Restates {
			n++
		}
	}
	return n
}

// Earlier is a sample's results as they would be remembered.
func (s *Sample) Earlier() []EarlierResult {
	var out []EarlierResult
	for j := range s.Results {
		if x := &s.Results[j]; x.Has && !x.Restates {
			out = append(out, EarlierResult{x.Analyte, x.Detail, x.Method, x.Unit, x.Written})
		}
	}
	return out
}

// Fingerprint is a text that two sets of results have in common when they are
// the same in every digit, in whatever order they stand; "" for fewer results
// than would tell anything.
func Fingerprint(results []EarlierResult) string {
	if len(results) < sameAtLeast {
		return "" // too few to tell anything
	}
	return digest(results)
}

// Folded is a text that two numbers have in common when they are the same but
// for capital and small letters, in any script, as strings.EqualFold has it.
func Folded(number string) string {
	return strings.Map(func(r rune) rune {
		least := r
		for f := unicode.SimpleFold(r); f != r; f = unicode.SimpleFold(f) {
			least = min(least, f)
		}
		return least
	}, number)
}

// Said is a text that two sets of results have in common when they say the
// same, in whatever order. For it, Value is the words of a result that has no
// number, and begins with the sign of a limit. What else must agree, such as
// the depth, is in about, in an order of the caller's.
func Said(results []EarlierResult, about ...string) string {
	for i, s := range about {
		if s != "" {
			// No analyte has such a name.
			results = append(results[:len(results):len(results)], EarlierResult{Analyte: fmt.Sprintf("\x01%d", i), Value: s})
		}
	}
	return digest(results)
}

func digest(results []EarlierResult) string {
	lines := make([]string, 0, len(results))
	for _, r := range results {
		lines = append(lines, strings.Join([]string{r.Analyte, r.Detail, r.Method, r.Unit, r.Value}, "\x00"))
	}
	sort.Strings(lines)
	h := sha256.Sum256([]byte(strings.Join(lines, "\n")))
	return hex.EncodeToString(h[:16])
}
