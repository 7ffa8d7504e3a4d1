package mappings

import (
	"regexp"
	"slices"
	"strings"

	"example.org/windrow/ingest"
)

// corrections are the ways in which a report says that it takes the place of
// an earlier one; common practice, no source. "Results corrected for moisture"
// is no such way, so results alone don't count.
var corrections = []*regexp.Regexp{
	regexp.MustCompile(`(?i)\b(?:corrected|amended|revised|re-?issued|replacement)\s+(?:(?:test|soil|laboratory|lab|analysis|analytical)\s+)*(?:report|certificate|copy|issue)s?\b`),
	regexp.MustCompile(`(?i)\b(?:supersedes|replaces|cancels)\b.{0,40}?\b(?:reports?|certificates?|results?|issues?|analysis|version)\b`),
	regexp.MustCompile(`(?i)\bthis (?:report|certificate|copy|issue|version)\s+(?:supersedes|replaces|cancels|corrects|amends)\b`),
	regexp.MustCompile(`(?i)\b(?:corrects|amends)\b.{0,40}?\b(?:report|certificate)\b`),
	regexp.MustCompile(`(?i)\b(?:report|certificate)\s+(?:is\s+|was\s+|has\s+been\s+)?(?:corrected|amended|re-?issued)\b`),
	regexp.MustCompile(`(?i)\b(?:correction|amendment)\s+(?:to|of)\s+(?:the\s+)?(?:report|certificate)\b`),
	regexp.MustCompile(`(?i)^(?:corrected|amended|re-?issued|replacement)(?:\s+copy)?[.!]?$`),
}

// stems are in the words of every correction: most lines have none of them,
// and looking for these takes a tenth of the time.
var stems = []string{"correct", "amend", "revis", "issued", "replac", "supersed", "cancel"}

// form follows where the sheet was revised and not what is on it.
var form = regexp.MustCompile(`(?i)^\s*(?:form|format|layout|style|template)\b`)

// corrects finds the words of a text that say that a report takes the place of
// an earlier one, "" for none.
func corrects(text string) string {
	lower := strings.ToLower(text)
	if !slices.ContainsFunc(stems, func(s string) bool { return strings.Contains(lower, s) }) {
		return ""
	}
	for _, c := range corrections {
		for _, at := range c.FindAllStringIndex(text, -1) {
			if !form.MatchString(text[at[1]:]) {
				return text[at[0]:at[1]]
			}
		}
	}
	return ""
}

// numberOf finds the number of the earlier report in what is said after its
// name: the first word with a digit that is neither a date nor a place in a
// list.
var (
	numberWord = regexp.MustCompile(`(?i)\b(?:report|certificate|no|number|nr)\b[.:#]*\s+(?:(?:no|number|nr)\b[.:#]*\s+)?([A-Za-z0-9][A-Za-z0-9/_.-]*\d[A-Za-z0-9/_-]*)`)
	dateWord   = regexp.MustCompile(`^(?:\d{4}-\d{1,2}-\d{1,2}|\d{1,2}[/.-]\d{1,2}[/.-]\d{2,4})$`)
)

func numberOf(text string) string {
	for _, m := range numberWord.FindAllStringSubmatch(text, -1) {
		if n := strings.TrimRight(m[1], "."); !dateWord.MatchString(n) {
			return n
		}
	}
	return ""
}

// corrected holds a report that says that it corrects an earlier one: which of
// the two holds, and what is told to whom, is for a person to decide. Words
// that the mapping declares by themselves under not results are printed on
// every report and say nothing. A message that is a report itself is also what
// people write beside one: see [Recalls].
func (r *reader) corrected() {
	for _, v := range r.views {
		for i, l := range v.lines {
			text := joined(l.atoms)
			if r.boilerplate(l) || corrects(text) == "" && !r.recalled(v, i) {
				continue
			}
			if (!v.grid || corrects(text) == "") && i+1 < len(v.lines) && !strings.HasSuffix(text, ".") {
				text += " " + joined(v.lines[i+1].atoms)
			}
			number := numberOf(text)
			if number == "" {
				number = r.ownNumber()
			}
			what := "this report says that it corrects an earlier one"
			next := "look for the earlier report among the letters and compare the two"
			if number != "" {
				what = "this says that it corrects report " + number
				next = "look for " + number + " among the letters and compare the two"
			}
			r.out.Reasons = slices.Insert(r.out.Reasons, 0, &ingest.Reason{Code: "corrects-earlier", Severity: ingest.Hold, Where: v.placeOf(l.atoms[:1]), What: what,
				Expected: "a report that takes the place of no other", Found: shorten(text),
				Next: next + ": the earlier record stands as it is, and nothing of this one is used, until a person has decided (windrow ruling); tell the client of what has changed. If the laboratory prints these words on every report, add them under not results in its mapping"})
			return
		}
	}
}

// recalled reports whether people say on the i-th line of a message, which may
// go on in the next one, that results don't stand.
func (r *reader) recalled(v *view, i int) bool {
	if !r.doc.Source.IsMessage() {
		return false
	}
	text := joined(v.lines[i].atoms)
	if Recalls(text, false) != "" {
		return true
	}
	if i+1 == len(v.lines) || r.boilerplate(v.lines[i+1]) {
		return false
	}
	next := joined(v.lines[i+1].atoms)
	return Recalls(next, false) == "" && Recalls(text+" "+next, false) != ""
}

// boilerplate reports whether the mapping declares the very words of a line, and
// not just the part of the page that it stands in.
func (r *reader) boilerplate(l *line) bool {
	for _, n := range r.l.NotResult {
		if n.Text != nil && len(find(n.Text, l.atoms)) > 0 {
			return true
		}
		if n.Line != nil {
			if _, ok := n.Line.matchWhole(joined(l.atoms)); ok {
				return true
			}
		}
	}
	return false
}

// ownNumber is the number of the report as read, "" when it has none or its
// samples differ: laboratories mostly keep the number of what they correct.
func (r *reader) ownNumber() string {
	number := ""
	for _, s := range r.out.Samples {
		f := s.Fields[ReportNo]
		if f.Value == "" || number != "" && number != f.Value {
			return ""
		}
		number = f.Value
	}
	return number
}
