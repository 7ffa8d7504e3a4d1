package draft

import (
	"regexp"
	"slices"
	"strings"

	"example.org/windrow/mappings"
)

// maxRelied is how many texts a layout is proposed to rely on: the notes of a
// report, and no whole page of prose.
const maxRelied = 10

var (
	unitStated  = regexp.MustCompile(`(?i)\b(?:expressed|reported|given|stated|shown|calculated) (?:as|in|on)\b|\b(?:air|oven)[- ]?dr(?:y|ied)\b|\bdry (?:soil|basis|weight|matter)\b|\bas received\b|\bby volume\b|\bdm ?3\b|\bfurrow slice\b|\bacre[- ]inch\b`)
	depthStated = regexp.MustCompile(`(?i)\b(?:slice|depth|depths|layer|sampled|cores?|topsoil|plough|plow)\b[^.;]{0,40}?\d+(?: \d/\d)? ?(?:in\b|in\.|inch|inches|cm\b)|\d+(?: \d/\d)?[ -]?(?:in|inch|inches|cm)\b[^.;]{0,20}\b(?:slice|depth|layer|deep)\b`)
)

// states says what a text on a report tells of all results: by which method
// they were measured, in which unit or basis they are given, or of which
// depth. It is "" for a text that tells nothing of the kind.
func (d *drafter) states(text string) string {
	switch {
	case d.namesMethod(text):
		return "method"
	case allIn.MatchString(text) || unitStated.MatchString(text) || soilMass.MatchString(text) || perInch.MatchString(text) || cmVolume.MatchString(text):
		return "unit"
	case depthStated.MatchString(text):
		return "depth"
	}
	return ""
}

// namesMethod reports whether a text has the words of a method among others.
func (d *drafter) namesMethod(text string) bool {
	ws := strings.Fields(mappings.Normalise(text))
	for i := range ws {
		for j := min(len(ws), i+6); j > i; j-- {
			span := strings.Trim(strings.Join(ws[i:j], " "), ".,;:()[]")
			if len(span) < 3 || isNumber(span) || unitInSpan(d, span) {
				continue
			}
			for _, s := range []string{span, turnedWords(ws[i:j])} {
				if _, known := d.v.Resolve(mappings.MethodWord, s); known && s != "" {
					return true
				}
			}
		}
	}
	return false
}

// unitInSpan reports whether a word that could name a method is only a unit
// or the name of a test.
func unitInSpan(d *drafter, span string) bool {
	if _, _, unit := unitOf(d.v, span); unit {
		return true
	}
	_, analyte := d.v.Resolve(mappings.AnalyteWord, span)
	return analyte
}

// A statedText is a piece of a report that states a method, unit or depth.
type statedText struct{ text, line, sheet string }

// relyOn proposes the texts on which a layout relies: the lines beside the
// results that say by which method, in which unit or basis or of which depth
// they are, and that stand alike on every report. When the laboratory changes
// one of them, what the mapping says of methods and units is no longer true,
// and the report must be held. A line of that kind that differs from report
// to report is asked about.
func (l *layoutDraft) relyOn(d *drafter) {
	var texts [][]string
	for _, doc := range l.stated {
		var own []string
		for _, st := range doc {
			if !l.reads(st.line) && (st.sheet == "" || !slices.Contains(l.sheetsOff, st.sheet)) && !slices.Contains(own, st.text) {
				own = append(own, st.text)
			}
		}
		texts = append(texts, own)
	}
	asked := 0
	for k, own := range texts {
		for _, text := range own {
			switch {
			case slices.ContainsFunc(l.relies, func(t string) bool { return strings.Contains(t, text) }) || len(l.relies) >= maxRelied:
			case slices.ContainsFunc(texts, func(o []string) bool { return !slices.Contains(o, text) }):
				if asked++; asked <= 3 {
					l.wonder("the text " + quoted(shorten(text)) + " names a method, unit or depth and does not stand on every report; what does it say of the results? If it holds for all of them, write its unchanging words under relies on")
				}
			case k == 0:
				l.relies = append(l.relies, text)
				if hasDigit(text) {
					// Its numbers are no results, digit for digit.
					l.addNote(declared{way: "text", text: mappings.Literal(text), why: "how the results were measured or are given", conf: 0.9})
				}
			}
		}
	}
}

// statements are the pieces of a sheet outside its tables that state a
// method, unit or depth.
func (d *drafter) statements(s *sheet, taken map[int]bool) []statedText {
	var out []statedText
	advice := map[int]bool{}
	if !s.grid {
		advice = d.adviceLines(s)
	}
	for j := range s.lines {
		ln := &s.lines[j]
		if taken[j] || len(ln.runs) > 6 || s.grid && len(out) > 4*maxRelied {
			continue
		}
		for _, r := range ln.runs {
			if n := len(strings.Fields(r.text)); n < 2 && !s.grid || n > 60 {
				continue
			}
			what := d.states(r.text)
			if what == "" || advice[j] && what != "method" || fieldOf(r.text) != "" || len(strings.Fields(r.text)) <= 3 && d.understood(r.text) || d.fieldPair(&r) {
				continue
			}
			out = append(out, statedText{r.text, ln.text(), ""})
		}
	}
	return out
}

// reads reports whether a line has a label, a sentence or a field that the
// layout reads: what else stands on it changes with the sample.
func (l *layoutDraft) reads(text string) bool {
	for _, f := range l.labels {
		if strings.Contains(text, f.label) && hasDigit(text) {
			return true
		}
	}
	for _, f := range l.sentences {
		first, _, _ := strings.Cut(f.text, " {result}")
		if strings.Contains(text, first) {
			return true
		}
	}
	for _, f := range append(slices.Clone(l.report), l.sample...) {
		if f.value != "" && strings.HasPrefix(text, f.label) {
			return true
		}
	}
	return false
}

var (
	moneyCertain   = regexp.MustCompile(`(?i)\$ ?\d|\d ?USD\b|\binvoice\b|\bamount due\b|\bsubtotal\b`)
	addressCertain = regexp.MustCompile(`(?i:\b(?:telephone|phone|tel\.?|fax)\b[ .:]*[+(]?\d|\bcall [^.;0-9]{0,20}[+(]?\d{3}\b|\bp\.? ?o\.? box\b|\bwww\.|[^ ]@[^ ]+\.[a-z])|\b[A-Z]{2},? \d{5}(?:-\d{4})?\b`)
	formCertain    = regexp.MustCompile(`(?i)^(?:printed|form|generated)\b`)
)

// certain reports whether a text with numbers is furniture beyond doubt.
// Whatever is not may be a result that no word list knows, and is declared
// only with a question. A word of advice alone proves nothing: "lime" stands
// in "lime buffer" too.
func (d *drafter) certain(text string) bool {
	switch {
	case !hasDigit(text), pageLine.MatchString(text), adviceTitle(text):
		return true
	case d.namesResult(text) || d.mentions(text):
		return false
	case rangeLine.MatchString(text) && columnOf(strings.Fields(text)[0]) == "reference":
		return true
	}
	return moneyCertain.MatchString(text) || addressCertain.MatchString(text) || formCertain.MatchString(text)
}

// mentions reports whether a text has the name of a test anywhere.
func (d *drafter) mentions(text string) bool {
	ws := strings.Fields(mappings.Normalise(text))
	for i := range ws {
		for j := min(len(ws), i+4); j > i; j-- {
			span := strings.Trim(strings.Join(ws[i:j], " "), ".,;:()[]")
			if len(span) < 2 || isNumber(span) {
				continue
			}
			if m, ok := d.understand(span); ok && m.conf >= 0.5 && m.unknown == 0 {
				return true
			}
		}
	}
	return false
}

// doubtful is the first line with a number between two lines of a page that
// is not certainly furniture, "" when all are. Lines under a title that
// advises, and those on whose words the layout relies, are known.
func (l *layoutDraft) doubtful(d *drafter, s *sheet, from, to int) string {
	advice := map[int]bool{}
	if !s.grid {
		advice = d.adviceLines(s)
	}
	for i := from; i < to; i++ {
		text := s.lines[i].text()
		if advice[i] || slices.ContainsFunc(l.relies, func(t string) bool { return strings.Contains(t, text) || strings.Contains(text, t) }) {
			continue
		}
		for _, r := range s.lines[i].runs {
			if !d.certain(r.text) && !d.certain(text) {
				return r.text
			}
		}
	}
	return ""
}
