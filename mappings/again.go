package mappings

import (
	"fmt"
	"slices"
	"strings"

	"example.org/windrow/ingest"
)

// A told is a label with its value, as a rule found it.
type told struct {
	view  *view
	rule  *FieldRule
	rules []*FieldRule
	skip  func(*atom) bool
	text  string
	at    ingest.Place
}

// whose are the fields that say whose a sample is and which: with another's,
// results go to the wrong person.
var whose = []FieldID{ReportNo, LabSampleID, ClientSampleID, ClientName}

// labelsAgain holds a report in which the label of such a field stands a second
// time in the part of it that one sample has, with another value, and no rule
// accounts for that. Only a label with a colon is known to be one: the words of
// others stand in headings and sentences as well.
func (r *reader) labelsAgain() {
	for _, t := range r.told {
		if again, found := r.otherThan(t); again != nil {
			r.hold("label-differs", t.view.placeOf(again), t.rule.Place, fmt.Sprintf("%q stands here a second time, with another value", t.rule.After.Src),
				"one "+strings.TrimPrefix(fieldWords(t.rule.Fields[0]), "the ")+" for these results: "+t.text+" as in "+t.at.Inside(), found, "look which results belong to which; if the second is something else, declare it under not results, or make the label in the mapping more particular")
		}
	}
}

// otherThan is a second value of a label that has one, with its text; nil for
// none.
func (r *reader) otherThan(t told) ([]*atom, string) {
	for _, l := range t.view.lines {
		for _, h := range find(t.rule.After, l.atoms) {
			if h.atoms[0].mark != nil || t.skip != nil && t.skip(h.atoms[0]) || !r.atRunStart(t.view, l, h, t.rules) || t.view.grid && !t.rule.After.beginsIn(h.atoms[0].text) {
				continue
			}
			as, text := h.atoms, valueInCell(t.rule.After, h.atoms)
			if !t.view.grid || text == "" {
				as = r.valueAfter(t.view, l, h, t.rules)
				text = joined(as)
			}
			if text == "" || r.isMissing(text) || strings.EqualFold(normalise(text), normalise(t.text)) || slices.ContainsFunc(as, func(a *atom) bool { return a.mark != nil }) {
				continue
			}
			return as, text
		}
	}
	return nil, ""
}

// tell keeps a label and its value, to be compared with others of its words.
func (r *reader) tell(v *view, f *FieldRule, rules []*FieldRule, skip func(*atom) bool, text string, atoms []*atom) {
	if f.After != nil && text != "" && len(f.Fields) == 1 && slices.Contains(whose, f.Fields[0]) && strings.HasSuffix(strings.TrimSpace(f.After.Src), ":") {
		r.told = append(r.told, told{v, f, rules, skip, text, v.placeOf(atoms)})
	}
}
