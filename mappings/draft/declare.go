package draft

import (
	"regexp"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// declare proposes what to say about numbers that the layout neither reads
// nor declares: letterhead above the first field, notes under the results,
// single lines elsewhere. Anything that could be a result is asked about.
func (l *layoutDraft) declare(d *drafter, doc *ingest.Document, left []mappings.Mark) bool {
	changed := false
	for _, p := range doc.Pages {
		var boxes []ingest.Place
		for _, m := range left {
			if m.Place.Page == p.Number && m.Place.Box != nil || m.Place.Page == 0 && (m.Place.Sheet == p.Name || m.Place.Line > 0) {
				boxes = append(boxes, m.Place)
			}
		}
		if len(boxes) == 0 || p.Hidden {
			continue
		}
		s := newSheet(doc, p)
		firstField, lastResult := l.extent(d, s)
		for i := range s.lines {
			ln := &s.lines[i]
			if !holds(ln, boxes) {
				continue
			}
			switch {
			case firstField > 0 && i < firstField && l.anchor(s, firstField) != "":
				changed = l.addNote(declared{way: "above", text: mappings.Literal(l.anchor(s, firstField)), why: "letterhead", conf: 0.8}) || changed
			case lastResult >= 0 && i > lastResult && !s.grid:
				text := opening(s, lastResult+1, i)
				if text == "" {
					changed = l.addLine(d, ln) || changed
					continue
				}
				ask := ""
				if d.couldBeResult(ln) {
					ask = "these lines hold numbers beside names of tests; is none of them a result?"
				}
				changed = l.addNote(declared{way: "from", text: mappings.Literal(text), why: "notes under the results", conf: 0.7, ask: ask}) || changed
			default:
				changed = l.addLine(d, ln) || changed
			}
		}
	}
	return changed
}

// declareFeet declares running text under the results, which a table without
// a known end would take for rows.
func (l *layoutDraft) declareFeet(d *drafter, doc *ingest.Document) bool {
	changed := false
	for i, p := range doc.Pages {
		if i > 7 || p.Hidden {
			continue
		}
		s := newSheet(doc, p)
		if s.grid {
			continue
		}
		_, last := l.extent(d, s)
		for j := last + 1; last >= 0 && j < len(s.lines); j++ {
			if !s.lines[j].longText() || d.couldBeResult(&s.lines[j]) {
				continue
			}
			if text := opening(s, j, j); text != "" {
				changed = l.addNote(declared{way: "from", text: mappings.Literal(text), why: "notes under the results", conf: 0.7}) || changed
			}
			break
		}
	}
	return changed
}

var digits = regexp.MustCompile(`[0-9]`)

func (l *layoutDraft) addNote(n declared) bool {
	for i, o := range l.notes {
		if o.way == n.way && o.text == n.text {
			if l.notes[i].ask == "" && n.ask != "" {
				l.notes[i].ask = n.ask
			}
			return false
		}
	}
	l.notes = append(l.notes, n)
	return true
}

// addLine declares one line by its words, with stars for its numbers.
func (l *layoutDraft) addLine(d *drafter, ln *textLine) bool {
	changed := false
	for i, r := range ln.runs {
		if !hasDigit(r.text) {
			continue
		}
		var ws []string
		star := false
		all := strings.Fields(r.text)
		for k, w := range all {
			if hasDigit(w) {
				if !star {
					ws = append(ws, "*")
				}
				star = true
				continue
			}
			star = false
			ws = append(ws, mappings.Literal(w))
			if len(ws) >= 8 && k+1 < len(all) {
				ws = append(ws, "*")
				break
			}
		}
		text := strings.Join(ws, " ")
		if strings.Trim(text, "*- %") == "" {
			// A bare number may be a result: it stays unaccounted for, unless a
			// label that names no test stands before it.
			if i > 0 && strings.HasSuffix(ln.runs[i-1].text, ":") && !hasDigit(ln.runs[i-1].text) && !d.understood(ln.runs[i-1].text) {
				t := mappings.Literal(ln.runs[i-1].text) + " " + digits.ReplaceAllString(mappings.Literal(r.text), "#")
				changed = l.addNote(declared{way: "text", text: t, why: "not a result", conf: 0.6, ask: "is " + quoted(ln.runs[i-1].text) + " rightly no result?"}) || changed
			}
			continue
		}
		n := declared{way: "line", text: text, why: "not understood", conf: 0.4, ask: "is this line rightly no result?"}
		if hasAny(r.text, []string{"page", "sheet"}) && len(ws) <= 6 {
			n.why, n.conf, n.ask = "page number", 0.9, ""
		}
		changed = l.addNote(n) || changed
	}
	return changed
}

// extent is the first line of a page with a field of the report, and the
// last line that holds a result; -1 where there is none.
func (l *layoutDraft) extent(d *drafter, s *sheet) (firstField, lastResult int) {
	firstField, lastResult = -1, -1
	taken := map[int]bool{}
	tables, _ := d.quiet().pageTables(s, taken)
	advice := map[int]bool{}
	if !s.grid {
		advice = d.adviceLines(s)
	}
	for i := range s.lines {
		if taken[i] && len(tables) > 0 && !advice[i] {
			lastResult = i
		}
	}
	for i := range s.lines {
		for _, f := range append(append([]foundField(nil), l.report...), l.sample...) {
			if firstField < 0 && startsWith(&s.lines[i], f.label) {
				firstField = i
			}
		}
		for _, f := range l.labels {
			if strings.Contains(s.lines[i].text(), f.label) {
				lastResult = max(lastResult, i)
			}
		}
		for _, f := range l.sentences {
			if strings.Contains(s.lines[i].text(), f.label) {
				lastResult = max(lastResult, i)
			}
		}
	}
	return firstField, lastResult
}

// quiet is a drafter whose findings do not count.
func (d *drafter) quiet() *drafter {
	q := newDrafter(Options{Vocabulary: d.v})
	q.year = d.year
	return q
}

func startsWith(ln *textLine, label string) bool {
	return strings.HasPrefix(ln.text(), label)
}

// anchor is the label of a field with which a line begins.
func (l *layoutDraft) anchor(s *sheet, i int) string {
	for _, f := range append(append([]foundField(nil), l.report...), l.sample...) {
		if startsWith(&s.lines[i], f.label) && !f.optional {
			return f.label
		}
	}
	return ""
}

// opening are the first words of a line between two, without digits, that
// no earlier line of the page has.
func opening(s *sheet, from, to int) string {
	for i := from; i <= to; i++ {
		var ws []string
		for _, w := range s.lines[i].runs[0].words {
			if hasDigit(w.Text) || len(ws) >= 6 {
				break
			}
			ws = append(ws, w.Text)
		}
		text := strings.Join(ws, " ")
		if len(text) < 4 || strings.HasPrefix(text, "-") {
			continue
		}
		seen := false
		for j := 0; j < from; j++ {
			seen = seen || strings.Contains(strings.ToLower(s.lines[j].text()), strings.ToLower(text))
		}
		if !seen {
			return text
		}
	}
	return ""
}

func holds(ln *textLine, places []ingest.Place) bool {
	for _, w := range ln.words {
		for _, p := range places {
			switch {
			case p.Box != nil && w.Place.Box != nil && *p.Box == *w.Place.Box:
				return true
			case p.Box == nil && p.Cell != "" && p.Cell == w.Place.Cell && p.Sheet == w.Place.Sheet:
				return true
			case p.Line > 0 && p.Line == w.Place.Line && p.Col == w.Place.Col:
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
	return false
}

// mend answers reasons that a reading gave: rows that are no tests, and
// summaries.
func (l *layoutDraft) mend(d *drafter, x *mappings.Extract) bool {
	changed := false
	for _, r := range x.Reasons {
		var t *foundTable
		for i, o := range l.tables {
			if strings.Contains(r.What, "table \""+tableName(i)+"\"") {
				t = o
			}
		}
		if t == nil {
			continue
		}
		n := len(t.skips)
		switch r.Code {
		case "row-looks-like-summary":
			first := r.Found
			for _, w := range strings.Fields(r.Found) {
				if hasDigit(w) || isMissing(w) {
					first, _, _ = strings.Cut(r.Found, " "+w)
					break
				}
			}
			t.addSkip(first, "a summary of other rows and no sample", "")
		case "row-without-label":
			f := strings.Fields(r.Found)
			if len(f) > 0 && !hasDigit(f[0]) {
				begin := f[0]
				for _, w := range f[1:] {
					if hasDigit(w) {
						break
					}
					begin += " " + w
				}
				_, ref := words().refRow[fold(f[0])]
				ask := ""
				if !ref {
					ask = "is the row that begins " + quoted(begin) + " rightly left out?"
				}
				t.addSkip(begin, "no sample", ask)
			}
		case "read-twice":
			first, _, _ := strings.Cut(r.Found, " ")
			if _, ref := words().refRow[fold(first)]; ref || mappings.SummaryWord(first) != "" {
				t.addSkip(first, "for comparison, not a result", "")
			}
		case "test-unknown":
			label := r.Found
			for _, w := range strings.Fields(r.Found) {
				if isNumber(w) {
					label, _, _ = strings.Cut(r.Found, " "+w)
					break
				}
			}
			t.addSkip(label, "not understood", "what does the row "+quoted(label)+" measure? Add it under tests and take this line out")
		}
		changed = changed || len(t.skips) != n
	}
	return changed
}
