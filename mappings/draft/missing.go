package draft

import (
	"regexp"
	"slices"
)

// renderMissing writes the words for no value: those that are commonly so,
// those that a note on the report explains, and others with a question.
func (d *drafter) renderMissing(p func(string, ...any), l *layoutDraft) {
	all := map[string]bool{}
	var ask []string
	for t := range l.number.missing {
		all[t] = true
	}
	for _, t := range sortedKeys(l.number.maybe) {
		all[t] = true
		if !d.noted(t) {
			ask = append(ask, "does "+quoted(t)+" among the numbers say that a test was not run? If it is a result in words, take it out")
		}
	}
	if len(all) > 0 {
		p("    missing: %s%s", yamlList(sortedKeys(all)), note(0.8, "", ask))
	}
}

// noted reports whether a note on a report explains a word as no value.
func (d *drafter) noted(word string) bool {
	explained := regexp.MustCompile(`(?i)(?:^|[ ,;.(])` + regexp.QuoteMeta(word) + ` ?(?:=|:|-|means|is)? ?(?:not |no |none|insufficient|below |too little|pending)`)
	return slices.ContainsFunc(d.notes, func(t string) bool { return explained.MatchString(t) })
}
