package draft

import (
	"regexp"
	"slices"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

var (
	pageLine  = regexp.MustCompile(`(?i)^(?:page|sheet|p\.) *\d+ *(?:of|/|,|-)? *\d*\.?$`)
	moneyLine = regexp.MustCompile(`(?i)(?:\$ ?\d|\d ?(?:USD|\$)|\binvoice\b|\bamount due\b|\bprice\b|\bfees?\b|\bbalance\b|\bsubtotal\b|\border value\b)`)
	phoneLine = regexp.MustCompile(`(?i)\b(?:telephone|phone|tel\.?|fax|p\.? ?o\.? box|www\.|e-?mail)\b|\b\d{3}-\d{4}\b|@`)
	rangeLine = regexp.MustCompile(`^[A-Za-z]+:? (?:[<>]? ?\d[\d.,]*|\d[\d.,]* ?(?:-|to) ?\d[\d.,]*)(?: |$)`)
	printLine = regexp.MustCompile(`(?i)^(?:printed|form|generated|version|revision|rev\.)\b`)
	anyDigit  = regexp.MustCompile(`[0-9]`)
	footMark  = regexp.MustCompile(`^(?:[*†‡§]+ ?[A-Za-z<>(]|(?i:note|notes|nb|n\.b\.|remarks?|key|legend|explanations?|methods?|disclaimer)\b)`)
)

// furniture says what a text on a report is when it is known to be no
// result, or "". Being unlike a result is not enough.
func (d *drafter) furniture(text string) string {
	switch {
	case pageLine.MatchString(text):
		return "page number"
	case adviceTitle(text):
		return "advice"
	case d.namesResult(text):
		return ""
	case rangeLine.MatchString(text) && columnOf(strings.Fields(text)[0]) == "reference":
		return "a range for comparison"
	case moneyLine.MatchString(text):
		return "prices"
	case phoneLine.MatchString(text):
		return "address"
	case printLine.MatchString(text):
		return "about the form"
	case footMark.MatchString(text):
		return "footnote"
	case addressCertain.MatchString(text):
		return "address"
	case hasAny(text, words().Advice) && len(strings.Fields(text)) >= 4:
		return "advice"
	}
	return ""
}

// adviceTitle reports whether a text begins with a word of advice and a
// colon, as in "Advice: ...": whatever follows advises.
func adviceTitle(text string) bool {
	first, _, _ := strings.Cut(text, " ")
	return strings.HasSuffix(first, ":") && hasStart(first, words().AdviceTitles)
}

// namesResult reports whether a text has the name of a test with a number
// right after it, and does not advise. It is generous: a doubt counts.
func (d *drafter) namesResult(text string) bool {
	if hasAny(text, words().Advice) {
		return false
	}
	ws := strings.Fields(mappings.Normalise(text))
	for j, w := range ws {
		if j == 0 || !hasDigit(w) || !isNumber(strings.Trim(w, ",;()")) {
			continue
		}
		k := j
		for k > 0 && strings.Trim(ws[k-1], ".:=_-<>") == "" {
			k--
		}
		for n := 1; n <= 4 && k-n >= 0; n++ {
			part := strings.TrimRight(strings.Join(ws[k-n:k], " "), ".: ")
			if m, ok := d.understand(part); ok && m.conf >= 0.4 && len(part) > 1 {
				return true
			}
		}
		for n := 1; n <= 2 && j+n < len(ws); n++ {
			if id, _, ok := unitOf(d.v, strings.TrimRight(strings.Join(ws[j+1:min(len(ws), j+1+n)], " "), ".,;")); ok && id != "%" && id != "pH" && id != "index" && id != "ratio" {
				return true
			}
		}
	}
	return false
}

// couldBeResult reports whether a line has a test's name with a number and a
// unit beside it, and does not advise.
func (d *drafter) couldBeResult(ln *textLine) bool {
	if hasAny(ln.text(), words().Advice) {
		return false
	}
	got, _ := d.lineLabels(ln, 0, false)
	for _, g := range got {
		if g.unit != "" || selfUnit(g.m.analyte) {
			return true
		}
	}
	return d.namesResult(ln.text())
}

// noResults reports whether no line of a sheet between two could be a result.
func (d *drafter) noResults(s *sheet, from, to int) bool {
	advice := d.adviceLines(s)
	for i := from; i < to; i++ {
		if !advice[i] && d.couldBeResult(&s.lines[i]) {
			return false
		}
	}
	return true
}

// footBegins is the first line between two that begins the notes at the foot
// of a page, with what they are; -1 when nothing says so.
func (d *drafter) footBegins(s *sheet, from, to int) (int, string) {
	advice := d.adviceLines(s)
	for i := from; i <= to; i++ {
		text := s.lines[i].text()
		switch {
		case advice[i]:
			return i, "advice"
		case s.lines[i].longText():
			return i, "notes under the results"
		}
		if why := d.furniture(text); why != "" && why != "page number" && why != "a range for comparison" {
			return i, why
		}
	}
	return -1, ""
}

// addLine declares the pieces of a line that are known to be furniture, by
// their words, with stars for their numbers.
func (l *layoutDraft) addLine(d *drafter, ln *textLine, left []ingest.Place) bool {
	changed := false
	whole := ln.text()
	for _, r := range ln.runs {
		part := textLine{words: r.words}
		if !hasDigit(r.text) || !holds(&part, left) {
			continue
		}
		if d.explains(r.text) {
			changed = l.addNote(declared{way: "text", text: mappings.Literal(r.text), why: "legend", conf: 0.8}) || changed
			continue
		}
		why := d.furniture(r.text)
		if why == "" && d.furniture(whole) != "" && len(ln.runs) <= 3 && hasDigit(ln.runs[0].text) {
			why = d.furniture(whole)
		}
		if why == "" {
			continue
		}
		if why == "page number" {
			t := anyDigit.ReplaceAllString(mappings.Literal(r.text), "#")
			changed = l.addNote(declared{way: "text", text: t, why: why, conf: 0.9}) || changed
			continue
		}
		// The pattern must begin with words of its own: a star before them
		// could take a result in.
		var ws []string
		letters := 0
		for _, w := range strings.Fields(r.text) {
			if hasDigit(w) || len(ws) >= 8 {
				break
			}
			ws = append(ws, mappings.Literal(w))
			letters += len(strings.Trim(w, "*†‡.:-"))
		}
		if !d.certain(r.text) && !d.certain(whole) {
			continue // it is named in a question, and holds the report until that is answered
		}
		alone := why == "footnote" || why == "a range for comparison" || adviceTitle(r.text)
		if adviceTitle(r.text) {
			ws = ws[:1]
		}
		if len(ws) == 0 || len(ws) < 2 && !alone || letters < 6 || d.understood(strings.Join(ws, " ")) {
			continue
		}
		text := strings.Join(ws, " ") + " *"
		if !alone {
			// All of its words up to the last number: what only begins alike
			// may be something else.
			text = clause(strings.Fields(r.text))
			if last := strings.Fields(r.text); !hasDigit(last[len(last)-1]) {
				text += " *"
			}
		}
		changed = l.addNote(declared{way: "line", text: text, why: why, conf: 0.7}) || changed
	}
	return changed
}

// runningText reports whether what was taken for a row is part of a sentence
// or of an advice: it ends as a sentence's part does, or has many words, and
// names no test beside a number.
func (d *drafter) runningText(label, row string) bool {
	if d.understood(label) || d.namesResult(label) {
		return false
	}
	return strings.HasSuffix(label, ".") || strings.HasSuffix(label, ",") || len(strings.Fields(label)) >= 6 || hasAny(row, words().Advice)
}

// wonder asks about the layout, once.
func (l *layoutDraft) wonder(q string) {
	if !slices.Contains(l.ask, q) {
		l.ask = append(l.ask, q)
	}
}

// An openLine is a piece of a report with numbers that nothing accounts for,
// and the line that would declare it, "" where none is safe to propose.
type openLine struct{ text, declare string }

// leave names what stays unaccounted for, once for each proposal.
func (l *layoutDraft) leave(found []openLine) {
	l.open = nil
	for _, o := range found {
		known := slices.ContainsFunc(l.open, func(p openLine) bool {
			return p.text == o.text || p.declare != "" && p.declare == o.declare
		})
		if !known && len(l.open) < maxOpen {
			l.open = append(l.open, o)
		}
	}
}

// maxOpen is how many pieces are named: who has dealt with these sees the
// others in the report's reasons.
const maxOpen = 16

// openLines are the pieces of a document on which numbers stand that nothing
// accounts for.
func (d *drafter) openLines(l *layoutDraft, doc *ingest.Document, left []mappings.Mark) []openLine {
	var out []openLine
	for i, p := range doc.Pages {
		var places []ingest.Place
		for _, m := range left {
			if m.Place.Page == p.Number && m.Place.Box != nil || m.Place.Page == 0 && (m.Place.Sheet == p.Name || m.Place.Line > 0) {
				places = append(places, m.Place)
			}
		}
		if len(places) == 0 || i > 7 || p.Hidden {
			continue
		}
		s := newSheet(doc, p)
		for j := range s.lines {
			if whole := s.lines[j].text(); l.block != "" && holds(&s.lines[j], places) && strings.Contains(whole, l.block) {
				out = append(out, openLine{"the beginning of a block, " + shorten(whole), "read them in block: begins, or write {any} for them there"})
				continue
			}
			if whole := s.lines[j].text(); !s.grid && hasDigit(whole) && allHeld(&s.lines[j], places) && d.declaration(whole) != "" {
				out = append(out, openLine{shorten(whole), d.declaration(whole)})
				continue
			}
			if s.grid && len(s.lines[j].runs) > 1 && allHeld(&s.lines[j], places) && holds(&s.lines[j], places) && labelCell(s.lines[j].runs, 1) != "" {
				out = append(out, openLine{shorten(s.lines[j].text()), d.rowDeclaration(s.lines[j].runs)})
				continue
			}
			for k, r := range s.lines[j].runs {
				part := textLine{words: r.words}
				if !hasDigit(r.text) {
					continue
				}
				if label := labelCell(s.lines[j].runs, k); label != "" && holds(&part, places) {
					out = append(out, openLine{shorten(label + " " + r.text), ""})
					continue
				}
				if len(out) >= 4*maxOpen || !holds(&part, places) {
					continue
				}
				out = append(out, openLine{shorten(s.context(j, k) + r.text), d.declaration(r.text)})
			}
		}
	}
	return out
}

// context is what tells a person which number is meant by a piece of a line that
// is little more than a number: the words left of it, or those above.
func (s *sheet) context(j, k int) string {
	r := s.lines[j].runs[k]
	if s.grid || len(r.words) > 3 {
		return ""
	}
	if k > 0 {
		var before []string
		for _, w := range s.lines[j].runs[k-1].words {
			if !leader(w.Text) {
				before = append(before, w.Text)
			}
		}
		if text := strings.Join(before, " "); text != "" && !hasDigit(text) && len(before) <= 6 {
			return text + " "
		}
	}
	if j > 0 && r.box.Y0-s.lines[j-1].box.Y1 < 1.5*s.lines[j].size {
		for _, a := range s.lines[j-1].runs {
			if a.box.OverlapX(r.box) > 0 && !hasDigit(a.text) && len(a.words) <= 4 {
				return a.text + " "
			}
		}
	}
	return ""
}

// labelCell is the label in the cell before another, "" when that is none.
func labelCell(cells []run, k int) string {
	if k > 0 && len(cells[k].words) == 1 && strings.HasSuffix(cells[k-1].text, ":") {
		return cells[k-1].text
	}
	return ""
}

// rowDeclaration is the line that would declare a row of a sheet whose
// labels all speak of an advice or of an earlier result, "" for any other.
func (d *drafter) rowDeclaration(cells []run) string {
	var parts []string
	why := "advice"
	for _, c := range cells {
		first, _, _ := strings.Cut(c.text, " ")
		earlier := columnOf(first) == "previous"
		switch {
		case numberUnit.MatchString(c.text) || isNumber(c.text) || isMissing(c.text):
			parts = append(parts, "*")
			continue
		case !strings.HasSuffix(c.text, ":") || !earlier && !hasStart(c.text, words().AdviceTitles) && !hasAny(c.text, words().Advice):
			return ""
		case earlier:
			why = "an earlier result"
		}
		parts = append(parts, yearIn.ReplaceAllString(mappings.Literal(c.text), "####"))
	}
	return "- {line: " + yamlText(strings.Join(parts, " ")) + ", why: " + why + "}"
}

// allHeld reports whether every number of a line is at one of the places.
func allHeld(ln *textLine, places []ingest.Place) bool {
	for i := range ln.words {
		if one := (textLine{words: ln.words[i : i+1]}); hasDigit(ln.words[i].Text) && !holds(&one, places) {
			return false
		}
	}
	return true
}

func shorten(text string) string {
	text = strings.Join(strings.Fields(text), " ")
	if r := []rune(text); len(r) > 90 {
		text = string(r[:90]) + " ..."
	}
	return text
}

// declaration is the line under not results that would declare a piece of a
// report: by the words before its first number, which must be words of its
// own and no name of a test.
func (d *drafter) declaration(text string) string {
	var ws []string
	letters := 0
	for _, w := range strings.Fields(text) {
		if hasDigit(w) || len(ws) >= 6 {
			break
		}
		ws = append(ws, mappings.Literal(w))
		letters += len(strings.Trim(w, "*†‡.:-<>=()"))
	}
	begin := strings.Join(ws, " ")
	first, rest, _ := strings.Cut(text, " ")
	switch {
	case len(ws) == 0 && !hasDigit(rest) && len(strings.Fields(rest)) > 1 && len(rest) > 10 && !d.namesResult(text):
		return "- {line: " + yamlText("* "+mappings.Literal(rest)) + ", why: a count}"
	case columnOf(first) == "previous" && len(strings.Fields(text)) <= 6:
		// An earlier value is known by its own words, digit for digit.
		return "- {text: " + yamlText(anyDigit.ReplaceAllString(mappings.Literal(text), "#")) + ", why: an earlier result}"
	case letters < 4 || d.understood(strings.TrimRight(begin, ".: =-")):
		return ""
	case d.namesResult(text) && d.furniture(text) == "" && !hasStart(text, words().AdviceTitles):
		return ""
	}
	if !d.certain(text) && (d.mentions(text) || d.states(text) != "") {
		return "" // what names a test or a method is not offered to be declared away
	}
	why := d.furniture(text)
	if why == "" || why == "advice" && !d.certain(text) {
		why = "no result"
	}
	return "- {line: " + yamlText(begin+" *") + ", why: " + why + "}"
}
