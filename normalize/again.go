package normalize

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize/check"
)

// AgainCode marks a report that gives a sample other results than another
// report of the same day does.
const AgainCode = "sample-number-again"

// mostNamed is how many other reports a finding names.
const mostNamed = 3

// Readable reports whether a report would be used if no other one said
// something else: what is held for a reason of its own says nothing against
// others.
func Readable(rep *Report) bool {
	for _, r := range rep.Reasons {
		if r.Code != AgainCode && statusOf(r.Severity) == Held {
			return false
		}
	}
	return rep.Lab.ID != "" && len(rep.Records) > 0
}

// SetApart reports whether a report is held since another one contradicts it.
func SetApart(rep *Report) bool { return hasReason(rep, AgainCode) }

// SetAgainst holds a report that gives a sample other results than another
// report of the same laboratory and day does: nothing says which of the two
// counts. What was found so before is forgotten, so that the outcome depends on
// the report and the set of the others alone, and not on which of them came
// first or how often this is done. Others that are the report itself, or are
// held for a reason of their own, say nothing; and a report of which a person
// decided that it counts is not held again. It reports whether one of the
// others contradicts the report, which is the same seen from either side.
//
// Common practice, no source: a laboratory that finds a mistake on the day of a
// report sends it again under the same numbers, mostly without a word.
func SetAgainst(rep *Report, others []*Report) bool {
	forget(rep)
	if !Readable(rep) || Ruled(rep) {
		return false
	}
	others = slices.Clone(others)
	slices.SortFunc(others, func(a, b *Report) int { return strings.Compare(a.ID, b.ID) })
	others = slices.CompactFunc(others, func(a, b *Report) bool { return a.ID == b.ID })
	var first *ingest.Reason
	samples := 0
	for _, rec := range rep.Records {
		var named []string
		more, found := 0, ""
		for _, o := range others {
			if o.ID == rep.ID || o.Lab.ID != rep.Lab.ID || !Readable(o) {
				continue
			}
			mine, theirs := contradiction(rep, rec, o)
			if mine == "" {
				continue
			}
			if found == "" {
				found = mine + " here, " + theirs + " there"
			}
			if len(named) == mostNamed {
				more++
				continue
			}
			named = append(named, calledReport(o))
		}
		if len(named) == 0 {
			continue
		}
		by := strings.Join(named, " and ")
		if more > 0 {
			by = strings.Join(named, ", ") + " and others"
		}
		what := fmt.Sprintf("the laboratory number %s stands with other results in %s, of the same day, and nothing says which of them counts", rec.Sample.LabID, by)
		f := Finding{Check: AgainCode, Severity: ingest.Hold, What: what, Expected: "one report of a sample, or a later one that says that it is a correction", Found: found, Source: "common-practice"}
		rec.Checks = append(rec.Checks, f)
		if samples++; first == nil {
			where := rec.Place
			if where.File == "" {
				where.File = title(rep.Source)
			}
			first = &ingest.Reason{Code: AgainCode, Severity: ingest.Hold, Where: where, What: what, Expected: f.Expected, Found: found,
				Next: "ask the laboratory which of the reports counts, and then say so, of this one with windrow ruling " + rep.ID + " --count --by NAME --because WORDS; until then nothing of any of them is used, and letters that were written for one are put aside"}
		}
	}
	if first == nil {
		return false
	}
	if samples > 1 {
		first.What += fmt.Sprintf(" (%d samples of this report are concerned)", samples)
	}
	rep.Reasons = append(rep.Reasons, first)
	settle(rep)
	return true
}

// Said is a text that two records have in common when neither can contradict
// the other, as each result of a test says the same in both, and the depth and
// the client are the same.
func Said(rec *Record) string {
	rs := make([]check.EarlierResult, 0, len(rec.Results))
	for _, r := range rec.Results {
		if (r.Value != "" || r.Class != "") && !r.Restates {
			rs = append(rs, check.EarlierResult{Analyte: r.Analyte, Detail: r.Detail, Method: r.Method, Unit: r.Unit, Value: r.Censored + string(r.Value) + r.Class})
		}
	}
	return check.Said(rs, rec.Sample.Layer(), clientName(rec))
}

// forget takes back what SetAgainst found.
func forget(rep *Report) {
	had := len(rep.Reasons)
	rep.Reasons = slices.DeleteFunc(rep.Reasons, func(r *ingest.Reason) bool { return r.Code == AgainCode })
	if len(rep.Reasons) == had {
		return
	}
	for _, rec := range rep.Records {
		rec.Checks = slices.DeleteFunc(rec.Checks, func(f Finding) bool { return f.Check == AgainCode })
	}
	unsettle(rep)
	settle(rep)
}

// Contradicts reports whether two reports of a laboratory and day say different
// things of a sample.
func Contradicts(rep, other *Report) bool {
	if rep.Lab.ID != other.Lab.ID {
		return false
	}
	for _, rec := range rep.Records {
		if mine, _ := contradiction(rep, rec, other); mine != "" {
			return true
		}
	}
	return false
}

// contradiction finds what a record and one of another report that are about
// the same sample say differently: a result, the depth, or, under the report's
// own number, whose sample it is, since one of two clients would get the
// other's letter. "" is for none.
func contradiction(rep *Report, rec *Record, other *Report) (mine, theirs string) {
	for _, o := range other.Records {
		if !SameSample(rep, rec, other, o) {
			continue
		}
		for _, a := range rec.Results {
			b := only(o, a)
			if b != nil && only(rec, a) == a && apart(a, b) {
				return shown(a), shown(b)
			}
		}
		if a, b := &rec.Sample, &o.Sample; a.DepthIn != "" && b.DepthIn != "" && a.Layer() != b.Layer() {
			return "depth " + a.DepthText, "depth " + b.DepthText
		}
		if a, b := clientName(rec), clientName(o); a != "" && b != "" && !sameClient(a, b) {
			return "client " + a, "client " + b
		}
	}
	return "", ""
}

func clientName(rec *Record) string {
	if rec.Client == nil {
		return ""
	}
	return rec.Client.Name
}

// SameSample reports whether two records of two reports of one laboratory are
// of one sample, reported on one day: they have its number, in capital or small
// letters, and the report's number, the client or the client's label agree as well, since some
// laboratories begin their numbers again with each client; and no depth puts
// them into two layers of one profile.
func SameSample(a *Report, x *Record, b *Report, y *Record) bool {
	s, t := &x.Sample, &y.Sample
	if s.LabID == "" || !strings.EqualFold(s.LabID, t.LabID) || s.Reported != t.Reported || layersApart(s, t) {
		return false
	}
	number := a.Number != "" && a.Number == b.Number
	if s.Reported == "" && (!number || s.Received != t.Received) {
		return false
	}
	if number {
		return true
	}
	if c, d := clientName(x), clientName(y); c != "" && d != "" {
		return sameClient(c, d)
	}
	return s.ClientLabel != "" && s.ClientLabel == t.ClientLabel
}

// layersApart reports whether two samples are of layers that share no soil.
func layersApart(s, t *Sample) bool {
	a, b := s.facts(), t.facts()
	return a.Beside(&b)
}

// FoldedNumber is a text that two laboratory numbers have in common where
// [SameSample] takes them for one: in capital or small letters.
func FoldedNumber(number string) string { return check.Folded(number) }

// only is the result of a record that is of the same test as another one; nil
// where there is none, or more than one.
func only(rec *Record, of *Result) (found *Result) {
	for _, r := range rec.Results {
		if r.Restates || !sameTest(r, of) {
			continue
		}
		if found != nil {
			return nil
		}
		found = r
	}
	return found
}

// customary is the share by which a page and a table of one report may differ
// besides the rounding of their last digits.
const customary = 0.03

// apart reports whether two results of one test say different things. A page
// and a table of one report are rounded differently, and do not. It is the
// same for the two the other way about.
func apart(a, b *Result) bool {
	if a.Class != "" && b.Class != "" {
		return a.Class != b.Class
	}
	v, err1 := strconv.ParseFloat(string(a.Value), 64)
	w, err2 := strconv.ParseFloat(string(b.Value), 64)
	if err1 != nil || err2 != nil {
		return false
	}
	allowed := customary*max(math.Abs(v), math.Abs(w)) + 2*max(half(a, v), half(b, w))
	if a.Censored != b.Censored && math.Abs(v-w) <= half(a, v)+half(b, w) {
		return true // a number, and a limit at the same figure
	}
	switch {
	case a.Censored == b.Censored:
		return math.Abs(v-w) > allowed
	case a.Censored != "" && b.Censored != "":
		// Below one limit and above another.
		return a.Censored == "<" && w > v+allowed || a.Censored == ">" && w < v-allowed
	case a.Censored == "<", b.Censored == ">":
		return w > v+allowed
	}
	return v > w+allowed
}

// half is half a unit of the last printed digit of a result, in the unit of
// its value.
func half(r *Result, value float64) float64 {
	n, err := strconv.ParseFloat(string(r.Printed.Number), 64)
	if err != nil || n == 0 || value == 0 {
		return 0
	}
	_, decimals, _ := strings.Cut(string(r.Printed.Number), ".")
	return math.Abs(value/n) * math.Pow10(-len(decimals)) / 2
}

// shown is a result as printed.
func shown(r *Result) string {
	text := r.Printed.Text
	if r.Printed.Unit != "" && !strings.Contains(text, r.Printed.Unit) {
		text += " " + r.Printed.Unit
	}
	return r.Analyte + " " + text
}

// calledReport names another report: by its number, and by its file, which two
// reports of one number do not share.
func calledReport(o *Report) string {
	if o.Number == "" {
		return "the report in " + title(o.Source)
	}
	return "report " + o.Number + " (" + title(o.Source) + ")"
}
