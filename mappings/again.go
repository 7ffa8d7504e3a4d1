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
	field Field
	at    ingest.Place
}

// whose are the fields that say whose a sample is and which, and when and how
// deep it was taken: with another's, results go to the wrong person, or are
// told of another soil.
var whose = []FieldID{ReportNo, LabSampleID, ClientSampleID, ClientName, DateSampled, DateReceived, DateReported, Depth, DepthTop}

// labelsAgain holds a report in which the label of such a field stands a second
// time in the part of it that one sample has, with another value, and no rule
// accounts for that: what the mapping declares as a part of the page, nobody
// has read.
func (r *reader) labelsAgain() {
	for _, t := range r.told {
		if again, found := r.otherThan(t); again != nil {
			r.hold("label-differs", t.view.placeOf(again), t.rule.Place, fmt.Sprintf("%q stands here a second time, with another value", t.rule.label().Src),
				"one "+strings.TrimPrefix(fieldWords(t.rule.Fields[0]), "the ")+" for these results: "+t.text+" as in "+t.at.Inside(), found, "look which results belong to which; if the second is something else, declare it under not results, or make the label in the mapping more particular")
		}
	}
}

// label is the text beside or above the value of a rule, nil for none.
func (f *FieldRule) label() *Pattern {
	if f.After != nil {
		return f.After
	}
	return f.Below
}

// wordings are a label as the mapping has it and, where its words can hardly be
// anything else, without its colon.
func (f *FieldRule) wordings() []*Pattern {
	p := f.label()
	out := []*Pattern{p}
	bare := strings.TrimSuffix(strings.TrimSpace(p.Src), ":")
	if bare != p.Src && (len(strings.Fields(bare)) > 1 || !isName(f.Fields[0])) {
		if q, err := newPattern(bare, p.Place); err == nil {
			out = append(out, q)
		}
	}
	return out
}

// isName reports whether a field is words or a number as it comes, so that its
// value can't be told from anything else.
func isName(f FieldID) bool {
	switch f {
	case DateSampled, DateReceived, DateReported, Depth, DepthTop:
		return false
	}
	return true
}

// otherThan is a second value of a label that has one, with its text; nil for
// none.
func (r *reader) otherThan(t told) ([]*atom, string) {
	unread := func(a *atom) bool { return a.mark == nil || r.partOf(a.mark) != nil }
	for _, p := range t.rule.wordings() {
		for _, l := range t.view.lines {
			for _, h := range find(p, l.atoms) {
				if !unread(h.atoms[0]) || t.skip != nil && t.skip(h.atoms[0]) || !r.atRunStart(t.view, l, h, t.rules) || t.view.grid && !p.beginsIn(h.atoms[0].text) {
					continue
				}
				for _, as := range r.valuesOf(t, p, l, h) {
					text := joined(as.atoms)
					if as.text != "" {
						text = as.text
					}
					if text == "" || r.isMissing(text) || slices.ContainsFunc(as.atoms, func(a *atom) bool { return !unread(a) }) || r.same(t, text, as.atoms) {
						continue
					}
					return as.atoms, text
				}
			}
		}
	}
	return nil, ""
}

// A found is what may be the value of a label; text is set where it is a part of a cell.
type found struct {
	atoms []*atom
	text  string
}

// valuesOf is what may be the value of a label that stands a second time.
func (r *reader) valuesOf(t told, p *Pattern, l *line, h hit) []found {
	if text := valueInCell(p, h.atoms); t.view.grid && text != "" {
		return []found{{h.atoms, text}}
	}
	colon := strings.HasSuffix(h.atoms[len(h.atoms)-1].text, ":")
	alone := true // nothing follows in the same piece of the line
	if end := h.first + len(h.atoms); end < len(h.all) && !t.view.grid {
		a, b := h.all[end-1], h.all[end]
		alone = b.line != a.line || b.box.X0-a.box.X1 >= 1.0*max(a.size, b.size)
	}
	name := isName(t.rule.Fields[0])
	var out []found
	// Only a label with a colon, of several words, or by itself is known to be
	// one: the words of others stand in headings and sentences as well.
	if right := r.valueAfter(t.view, l, h, t.rules); len(right) > 0 && (!name || colon || alone && t.rule.After != nil || len(strings.Fields(p.Src)) > 1 && t.rule.After != nil) {
		out = append(out, found{right, ""})
	}
	if t.rule.Below != nil && alone && !t.view.grid {
		out = append(out, found{t.view.valueBelow(h), ""})
	}
	return out
}

// same reports whether a second value says the same as the first, or is no
// value of its kind.
func (r *reader) same(t told, text string, as []*atom) bool {
	switch id := t.rule.Fields[0]; id {
	case DateSampled, DateReceived, DateReported:
		value := r.date(text, as)
		return value == "" || value == t.field.Value
	case Depth, DepthTop:
		if !hasDigit(text) || strings.EqualFold(normalise(text), normalise(t.text)) {
			return true
		}
		_, to, _, err := parseDepth(text, t.rule.Unit)
		return err != nil || t.field.depth == nil || to.Cmp(t.field.depth) == 0
	default:
		return strings.EqualFold(normalise(text), normalise(t.text))
	}
}

// tell keeps a label and its value, to be compared with others of its words.
func (r *reader) tell(v *view, f *FieldRule, rules []*FieldRule, skip func(*atom) bool, text string, atoms []*atom, dst map[FieldID]Field) {
	if f.label() != nil && text != "" && len(f.Fields) == 1 && slices.Contains(whose, f.Fields[0]) {
		r.told = append(r.told, told{v, f, rules, skip, text, dst[f.Fields[0]], v.placeOf(atoms)})
	}
}
