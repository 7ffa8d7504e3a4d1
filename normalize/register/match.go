package register

import (
	"fmt"
	"slices"
	"strings"

	"example.org/windrow/normalize"
)

// A Confidence says how sure it is that a row is about a record.
type Confidence string

// The confidences. Exact: label and client are the same and the dates fit.
// Likely: the label is the same, client or date speak for it as well, and
// nothing speaks against it; whoever uses the row says so.
const (
	Exact  Confidence = "exact"
	Likely Confidence = "likely"
	None   Confidence = "none"
)

// A Match is what a register says of one record.
type Match struct {
	Record     string     // id
	Row        *Row       // nil for none
	Confidence Confidence // never Exact or Likely without a row
	Why        string     // a clause without personal data, such as "same label, same client, date fits"
	Among      []*Row     // of a record for which several rows fit equally well: these
}

// mostDays is how long before its receipt a sample may have been sent for the
// two dates to fit: long enough for a slow parcel, and short enough that last
// year's sample of the same bed is another one. Common practice, no source.
const mostDays = 60

// Match finds the row of each record of a report, in their order. It depends
// on nothing but the rows and the report: the order of the rows changes
// nothing. Where several rows fit equally well, or several samples of the
// report the same row, none is taken. A nil register has no row for anything.
func (r *Register) Match(rep *normalize.Report) []Match {
	out := make([]Match, len(rep.Records))
	taken := map[*Row][]int{}
	for i, rec := range rep.Records {
		out[i] = r.one(rep, rec)
		if x := out[i].Row; x != nil {
			taken[x] = append(taken[x], i)
		}
	}
	for x, list := range taken {
		if len(list) == 1 {
			continue
		}
		// One of them may be the sample and the others only like it.
		sure := slices.DeleteFunc(slices.Clone(list), func(i int) bool { return out[i].Confidence != Exact })
		for _, i := range list {
			if len(sure) != 1 || i != sure[0] {
				out[i] = Match{Record: out[i].Record, Confidence: None, Among: []*Row{x},
					Why: fmt.Sprintf("%d samples of the report fit the same line of the register", len(list))}
			}
		}
	}
	return out
}

func (r *Register) one(rep *normalize.Report, rec *normalize.Record) Match {
	m := Match{Record: rec.ID, Confidence: None}
	key := fold(rec.Sample.ClientLabel)
	if key == "" {
		m.Why = "the report prints no label of the client's"
		return m
	}
	if r == nil || len(r.byLabel[key]) == 0 {
		m.Why = "the register has no sample of this label"
		return m
	}
	name := ""
	if rec.Client != nil {
		name = nameKey(rec.Client.Name)
	}
	var best []*Row
	var against string
	for _, x := range r.byLabel[key] {
		c, why := x.fits(rep, &rec.Sample, name)
		switch {
		case c == None:
			// Of several the one that comes first in the alphabet is told, so
			// that the order of the rows says nothing.
			if against == "" || why < against {
				against = why
			}
		case len(best) == 0 || c == Exact && m.Confidence == Likely:
			best, m.Confidence, m.Why = []*Row{x}, c, why
		case c == m.Confidence:
			best = append(best, x)
		}
	}
	switch len(best) {
	case 0:
		m.Why = "the register has the label, but " + against
	case 1:
		m.Row = best[0]
	default:
		m.Confidence, m.Among = None, best
		slices.SortFunc(m.Among, func(a, b *Row) int { return strings.Compare(a.ID, b.ID) })
		m.Why = fmt.Sprintf("%d lines of the register fit equally well", len(best))
	}
	return m
}

// fits says how well a row of the same label fits a sample of a client.
func (x *Row) fits(rep *normalize.Report, s *normalize.Sample, name string) (Confidence, string) {
	why := []string{"same label"}
	who := sameName(x.client, name)
	when := x.dateFits(s)
	labs := unsaid
	if x.lab != "" {
		if labs = differs; SameLab(x.Lab, rep.Lab) {
			labs = agrees
		}
	}
	switch {
	case who == differs:
		return None, "for another client"
	case labs == differs:
		return None, "at another laboratory"
	case when == differs:
		return None, "sent at another time"
	}
	switch who {
	case agrees:
		why = append(why, "same client")
	case resembles:
		why = append(why, "a client of a similar name")
	case unsaid:
		why = append(why, "no client to compare")
	}
	if labs == agrees {
		why = append(why, "same laboratory")
	}
	if when == agrees {
		why = append(why, "date fits")
	} else {
		why = append(why, "no date to compare")
	}
	words := strings.Join(why, ", ")
	switch {
	case who == agrees && when == agrees:
		return Exact, words
	case who == agrees || when == agrees:
		return Likely, words
	}
	return None, "neither the client nor the date is sure"
}

// Contact is the e-mail address of the client, "" for none. A row that is only
// likely gives none: a letter that goes to somebody else can't be called back.
func (m Match) Contact() string {
	if m.Confidence != Exact || m.Row == nil {
		return ""
	}
	return m.Row.Email
}

// A likeness is the outcome of comparing two things that may not be said.
type likeness int

const (
	unsaid likeness = iota
	differs
	resembles
	agrees
)

// dateFits compares the day of sending with those of the report: a sample is
// sent after it was taken, and before the laboratory has it.
func (x *Row) dateFits(s *normalize.Sample) likeness {
	if x.Sent == "" {
		return unsaid
	}
	got := s.Received
	if got == "" {
		got = s.Reported
	}
	if s.Sampled != "" && x.Sent < s.Sampled {
		return differs
	}
	from := got
	if from == "" {
		from = x.Sent // only the day of sampling is known
		if s.Sampled == "" {
			return unsaid
		}
	}
	if x.Sent > from {
		return differs
	}
	since := x.Sent
	if got == "" {
		since = s.Sampled
	}
	if n, ok := daysBetween(since, from); !ok || n > mostDays {
		return differs
	}
	return agrees
}

// titles are words before a name that say nothing about who it is.
var titles = []string{"mr", "mrs", "ms", "miss", "dr", "sr", "sra", "and", "the"}

// nameKey is a name without what writers vary: order, letter case, accents,
// punctuation and titles.
func nameKey(s string) string {
	var out []string
	for _, w := range strings.Fields(fold(s)) {
		if !slices.Contains(titles, w) {
			out = append(out, w)
		}
	}
	slices.Sort(out)
	return strings.Join(out, " ")
}

// sameName compares two names by their keys. Similar are those of which one
// has all words of the other, where an initial stands for a word and one word
// at least is whole in both.
func sameName(a, b string) likeness {
	if a == "" || b == "" {
		return unsaid
	}
	if a == b {
		return agrees
	}
	x, y := strings.Fields(a), strings.Fields(b)
	if len(x) > len(y) {
		x, y = y, x
	}
	whole := 0
	var initials []string
	y = slices.Clone(y)
	for _, w := range x {
		if i := slices.Index(y, w); i >= 0 {
			y = slices.Delete(y, i, i+1)
			if len([]rune(w)) > 1 {
				whole++
			}
			continue
		}
		initials = append(initials, w)
	}
	for _, w := range initials {
		i := slices.IndexFunc(y, func(v string) bool {
			return w != v && (len([]rune(w)) == 1 && strings.HasPrefix(v, w) || len([]rune(v)) == 1 && strings.HasPrefix(w, v))
		})
		if i < 0 {
			return differs
		}
		y = slices.Delete(y, i, i+1)
	}
	if whole == 0 {
		return differs
	}
	return resembles
}

// SameLab reports whether what a register calls a laboratory is this one: its
// id, its name, or the first words of its name.
func SameLab(said string, lab normalize.Lab) bool {
	s := fold(said)
	if s == "" {
		return false
	}
	name := fold(lab.Name)
	return s == fold(lab.ID) || s == name || strings.HasPrefix(name, s+" ")
}
