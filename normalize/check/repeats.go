package check

import (
	"fmt"
	"regexp"
	"sort"
	"strings"
)

// pairs calls f for each two results of a sample that could be one test: the
// same analyte, both with a number in one unit, and no two methods named.
func pairs(r *Report, f func(i, j, k int, a, b *Result)) {
	each(r, func(i int, s *Sample) {
		for j := range s.Results {
			b := &s.Results[j]
			if !b.Has || b.Unit == "index" {
				continue
			}
			for k := range j {
				a := &s.Results[k]
				if a.Has && a.Analyte == b.Analyte && a.Unit == b.Unit && (a.Method == b.Method || a.Method == "" || b.Method == "") {
					f(i, k, j, a, b)
				}
			}
		}
	})
}

// sameTest reports whether two results of pairs are said to be one test.
func sameTest(a, b *Result) bool { return a.Method == b.Method && a.Detail == b.Detail }

// fraction is a word of a detail that names a part of the element or of the
// soil, and not only the unit or the form in which a test is given; common
// practice, no source.
var fraction = regexp.MustCompile(`(?i)\b(total|pseudo-?total|extractable|exchangeable|available|soluble|water|reserve|organic|inorganic|sorbed|residual|topsoil|subsoil|surface|subsurface|upper|lower)\b`)

var figures = regexp.MustCompile(`[0-9]+(?:[.,:/][0-9]+)*`)

// twoTests reports whether the details of two results say that they are of two
// tests: by a fraction that one of them names alone, or by different figures (a
// depth, a dilution). Any other words, such as "per acre" or "oxide", can as well
// be said of one test that is given twice, and then a disagreement is an error.
func twoTests(a, b *Result) bool {
	of := func(re *regexp.Regexp, x *Result) string {
		return strings.ToLower(strings.Join(re.FindAllString(x.Detail, -1), " "))
	}
	if fa, fb := of(figures, a), of(figures, b); fa != "" && fb != "" && fa != fb {
		return true
	}
	return of(fraction, a) != of(fraction, b)
}

// other is what to do about two results that need not be one test after all.
func other(a, b *Result) string {
	if sameTest(a, b) {
		return ""
	}
	return "; if they are two tests, the mapping says so with a method for each"
}

func apart(a, b *Result) bool {
	lo, hi := max(a.Low(), b.Low()), min(a.High(), b.High())
	return lo > hi*1.005 // customary factors are rounded to half a percent
}

func unitsDisagree(r *Report, add func(Found)) {
	pairs(r, func(i, j, k int, a, b *Result) {
		if a.Basis == b.Basis && a.PrintedUnit != b.PrintedUnit && !twoTests(a, b) && apart(a, b) {
			add(Found{i, []int{j, k}, fmt.Sprintf("%s is printed as %s %s and as %s %s, and the two don't agree%s", a.Name, a.Printed, a.PrintedUnit, b.Printed, b.PrintedUnit, other(a, b)), a.Printed + " " + a.PrintedUnit + ", which is " + span(a.Low(), a.High()) + " " + a.Unit,
				b.Printed + " " + b.PrintedUnit + ", which is " + span(b.Low(), b.High()) + " " + b.Unit})
		}
	})
}

func basesDisagree(r *Report, add func(Found)) {
	pairs(r, func(i, j, k int, a, b *Result) {
		if a.Basis != b.Basis && !twoTests(a, b) && apart(a, b) {
			add(Found{i, []int{j, k}, fmt.Sprintf("%s is printed as %s of %s and as %s of %s, and the two don't agree%s", a.Name, strings.TrimSpace(a.Printed+" "+a.PrintedUnit), a.Basis, strings.TrimSpace(b.Printed+" "+b.PrintedUnit), b.Basis, other(a, b)),
				a.Printed + " " + a.PrintedUnit + ", which is " + span(a.Low(), a.High()) + " " + a.Unit, b.Printed + " " + b.PrintedUnit + ", which is " + span(b.Low(), b.High()) + " " + b.Unit})
		}
	})
}

func readTwice(r *Report, add func(Found)) {
	pairs(r, func(i, j, k int, a, b *Result) {
		if sameTest(a, b) && a.Basis == b.Basis && a.PrintedUnit == b.PrintedUnit && a.Printed != b.Printed {
			add(Found{i, []int{j, k}, fmt.Sprintf("%s stands twice for this sample, with different numbers", a.Name), a.Printed, b.Printed})
		}
	})
}

func numberTwice(r *Report, add func(Found)) {
	seen := map[string][]int{}
	each(r, func(i int, s *Sample) {
		if s.LabID == "" {
			return
		}
		for _, first := range seen[s.LabID] {
			if !s.Beside(&r.Samples[first]) {
				add(Found{Sample: i, What: fmt.Sprintf("the laboratory number %s stands on two samples of this report, the %s and the %s", s.LabID, nth(first+1), nth(i+1)), Found: s.LabID})
				return
			}
		}
		seen[s.LabID] = append(seen[s.LabID], i)
	})
}

func nth(n int) string {
	suffix := "th"
	if n/10%10 != 1 {
		switch n % 10 {
		case 1:
			suffix = "st"
		case 2:
			suffix = "nd"
		case 3:
			suffix = "rd"
		}
	}
	return fmt.Sprint(n) + suffix
}

// sameAtLeast is how many numbers must agree before two samples are thought
// to be one: six of three digits agree by chance about never.
const sameAtLeast = 6

func identicalSamples(r *Report, add func(Found)) {
	seen := map[string]int{}
	each(r, func(i int, s *Sample) {
		var b strings.Builder
		n := 0
		for j := range s.Results {
			x := &s.Results[j]
			for _, part := range []string{x.Analyte, x.Detail, x.Method, x.Printed} {
				b.WriteString(part)
				b.WriteByte(0)
			}
			if x.Has {
				n++
			}
		}
		if n < sameAtLeast {
			return
		}
		if first, twice := seen[b.String()]; twice {
			add(Found{Sample: i, What: fmt.Sprintf("every result is the same as that of the %s sample, %s", nth(first+1), r.Samples[first].LabID), Found: s.LabID})
			return
		}
		seen[b.String()] = i
	})
}

func ratingOrder(r *Report, add func(Found)) {
	type entry struct{ i, j int }
	groups := map[string][]entry{}
	var order []string
	each(r, func(i int, s *Sample) {
		for j := range s.Results {
			x := &s.Results[j]
			if x.Has && x.Rank > 0 && x.Censored == "" && s.LandUse != "" {
				key := strings.Join([]string{s.LandUse, x.Analyte, x.Detail, x.Method, x.Unit}, "\x00")
				if groups[key] == nil {
					order = append(order, key)
				}
				groups[key] = append(groups[key], entry{i, j})
			}
		}
	})
	at := func(e entry) *Result { return &r.Samples[e.i].Results[e.j] }
	for _, key := range order {
		g := groups[key]
		sort.SliceStable(g, func(a, b int) bool { return at(g[a]).Value < at(g[b]).Value })
		top := -1 // entry of the highest rank among those already passed
		for n := range g {
			x := at(g[n])
			if top >= 0 {
				t := at(g[top])
				if t.Rank > x.Rank && t.High() < x.Low() {
					add(Found{g[n].i, []int{g[n].j}, fmt.Sprintf("%s %s is rated “%s”, but the lower %s of sample %s is rated “%s”", x.Name, x.Printed, x.Rating, t.Printed, r.Samples[g[top].i].LabID, t.Rating),
						"no lower than " + t.Rating, x.Rating})
				}
			}
			if top < 0 || x.Rank > at(g[top]).Rank {
				top = n
			}
		}
	}
}
