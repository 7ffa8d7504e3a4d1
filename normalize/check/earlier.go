package check

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"sort"
	"strings"
)

// Earlier is what is known of a record of another report that came before.
type Earlier struct {
	Report, Number string // id of the report, and its number as printed
	Lab            string // id of the laboratory
	LabID, Label   string
	Sampled        string // YYYY-MM-DD, or ""
	Reported       string
	Results        []EarlierResult
}

// EarlierResult is one of its results.
type EarlierResult struct{ Analyte, Detail, Method, Unit, Value string }

// shared counts the results that two records both have a number for, and how
// many of those are alike in every digit. A test that stands twice is left out.
func shared(s *Sample, e *Earlier) (both, alike int) {
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
		if !x.Has || v == "" || twice[k] || seen[k] {
			continue
		}
		seen[k] = true
		both++
		if v == x.Written {
			alike++
		}
	}
	return both, alike
}

func eachEarlier(r *Report, f func(i int, s *Sample, e *Earlier, both, alike int)) {
	if r.Earlier == nil {
		return
	}
	each(r, func(i int, s *Sample) {
		for _, e := range r.Earlier(s) {
			if e.Lab == r.Lab {
				both, alike := shared(s, &e)
				f(i, s, &e, both, alike)
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
	eachEarlier(r, func(i int, s *Sample, e *Earlier, both, alike int) {
		if s.LabID == "" || e.LabID != s.LabID || both == alike {
			return
		}
		if n, ok := days(e.Sampled, s.Sampled); ok && max(n, -n) > longest {
			return // numbers begin again after some time
		}
		add(Found{Sample: i, What: fmt.Sprintf("the laboratory number %s already stands in %s, with %d of %d results in other digits", s.LabID, called(e), both-alike, both),
			Expected: "a number of its own, or a revision that says so", Found: s.LabID})
	})
}

func resultsBefore(r *Report, add func(Found)) {
	eachEarlier(r, func(i int, s *Sample, e *Earlier, both, alike int) {
		if both < sameAtLeast || alike < both || both < s.numbers() || !sameTime(e.Sampled, s.Sampled) {
			return
		}
		add(Found{Sample: i, What: "every result of this sample already stands in " + called(e) + ": the same results may have been sent twice", Expected: "results of their own", Found: s.LabID})
	})
}

func sameAsLastTime(r *Report, add func(Found)) {
	eachEarlier(r, func(i int, s *Sample, e *Earlier, both, alike int) {
		if s.Label == "" || e.Label != s.Label || both < sameAtLeast || alike < both || sameTime(e.Sampled, s.Sampled) {
			return
		}
		add(Found{Sample: i, What: fmt.Sprintf("all %d results shared with %s, sampled %s, are the same in every digit", both, called(e), e.Sampled), Expected: "a field sampled again differs in some digit", Found: s.Label})
	})
}

// numbers is how many results have a number.
func (s *Sample) numbers() (n int) {
	for j := range s.Results {
		if s.Results[j].Has {
			n++
		}
	}
	return n
}

// Earlier is a sample's results as they would be remembered.
func (s *Sample) Earlier() []EarlierResult {
	var out []EarlierResult
	for j := range s.Results {
		if x := &s.Results[j]; x.Has {
			out = append(out, EarlierResult{x.Analyte, x.Detail, x.Method, x.Unit, x.Written})
		}
	}
	return out
}

// Fingerprint is a text that two sets of results have in common when they are
// the same in every digit, in whatever order they stand.
func Fingerprint(results []EarlierResult) string {
	lines := make([]string, 0, len(results))
	for _, r := range results {
		lines = append(lines, strings.Join([]string{r.Analyte, r.Detail, r.Method, r.Unit, r.Value}, "\x00"))
	}
	sort.Strings(lines)
	h := sha256.Sum256([]byte(strings.Join(lines, "\n")))
	return hex.EncodeToString(h[:16])
}
