package mappings

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"example.org/windrow/ingest"
)

// Words that a laboratory writes beside a number, or at the foot of the page
// behind the mark that hangs on it, when it does not stand by the number; common
// practice, no source.
var (
	doubts       = regexp.MustCompile(`(?i)\b(?:dilut(?:ed|ion)|suspect|questionable|doubtful|invalid|void|out(?:side)?(?: of)?(?: the)? (?:range|calibration)|off[- ]scale|not detected|below (?:the )?detection|interferences?|[x×] ?10+|10+ ?[x×])(?:\b|$)`)
	doubtsOfMark = regexp.MustCompile(`(?i)\b(?:estimat\w*|approx\w*|unconfirmed|preliminary|provisional|reject\w*|fail\w*|contaminat\w*|exceed\w*|(?:above|below|beyond|outside|under|over) (?:the )?(?:\w+ )?(?:calibration|detection|quanti\w+|range|limits?|standards?)|multipl\w*)\b`)
)

// doubtful holds the report for a remark beside a result that takes back what is
// printed.
func (r *reader) doubtful(m remark) {
	text := m.text
	if es := gloss(text); es != "" {
		text = es
	}
	if corrected := strings.Contains(strings.ToLower(text), "corrected for"); corrected || !doubts.MatchString(text) {
		return
	}
	for _, s := range sayingsOf(m.text, true) {
		if code, _, _ := r.otherwise(s); code != "" {
			return // told already
		}
	}
	r.hold("says-otherwise", m.at, r.l.Place, "words beside a result say that it is not what is printed, and the mapping does not know of them", "a result without such words", shorten(m.text),
		"look at the page, and ask the laboratory what the words mean; if they change nothing, whoever looks after the mapping adds them to the column's only:")
}

// markNotes puts in doubt the results with a mark whose note on this report says
// so: the mapping lets the mark hang on a number for what its note used to say.
func (r *reader) markNotes() {
	for _, m := range r.l.Style.Marks {
		var of []*Reading
		for _, s := range r.out.Samples {
			for i := range s.Readings {
				if strings.Contains(s.Readings[i].Mark, m) {
					of = append(of, &s.Readings[i])
				}
			}
		}
		if len(of) == 0 {
			continue
		}
		for _, v := range r.views {
			for _, l := range v.lines {
				for _, as := range noteOf(v, l, m) {
					text := joined(as)
					if es := gloss(text); es != "" {
						text = es
					}
					if !doubts.MatchString(text) && !doubtsOfMark.MatchString(text) || r.knownNote(v, as) {
						continue
					}
					for _, rd := range of {
						rd.Doubts = append(rd.Doubts, &ingest.Reason{Code: "result-in-doubt", Severity: ingest.Flag, Where: v.placeOf(as), Rule: r.l.Place, What: fmt.Sprintf("the note of the mark %s puts %s in doubt", m, rd.Printed), Expected: "a mark with the meaning that the mapping knows", Found: shorten(joined(as)),
							Next: "read the note, and ask the laboratory if it is not clear; where it stands on every report, name it under relies on"})
					}
				}
			}
		}
	}
}

// noteOf are the texts of a line that begin with a mark.
func noteOf(v *view, l *line, mark string) [][]*atom {
	var out [][]*atom
	for _, run := range v.runs(l) {
		if text := joined(run); strings.HasPrefix(text, mark) && len(text) > len(mark)+2 && !strings.HasPrefix(text[len(mark):], mark) {
			out = append(out, run)
		}
	}
	return out
}

// knownNote reports whether the mapping names the words of a note.
func (r *reader) knownNote(v *view, as []*atom) bool {
	if v.grid && len(as) == 1 {
		return r.unknownIn(as[0]) == ""
	}
	return r.reliedOn(as) || !slices.ContainsFunc(as, func(a *atom) bool { return a.mark == nil || r.partOf(a.mark) != nil })
}
