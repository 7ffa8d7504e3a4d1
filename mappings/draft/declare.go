package draft

import (
	"slices"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// declare proposes what to say about numbers that the layout neither reads
// nor declares, as far as they are known to be furniture: letterhead above
// the first field, notes under the results, page numbers, prices, footnotes.
// A number that is merely not understood is never declared: it stays
// unaccounted for, holds the report, and is named in a question.
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
		firstField, firstResult, lastResult := l.extent(d, s)
		plain := !s.grid && l.oneEach != "block" // under a block may stand another
		for i := range s.lines {
			ln := &s.lines[i]
			if !holds(ln, boxes) {
				continue
			}
			if d.oldReadsAny(doc, s, i, i+1) {
				continue
			}
			if firstField > 0 && i < firstField && (firstResult < 0 || firstField <= firstResult) && l.anchor(s, firstField) != "" && d.noResults(s, 0, firstField) && l.doubtful(d, s, 0, firstField) == "" && !d.oldReadsAny(doc, s, 0, firstField) {
				changed = l.addNote(declared{way: "above", text: mappings.Literal(l.anchor(s, firstField)), why: "letterhead", conf: 0.8}) || changed
				continue
			}
			if (plain || l.noBlockBelow(s, i)) && lastResult >= 0 && i > lastResult && d.noResults(s, lastResult+1, len(s.lines)) {
				if at, why := d.footBegins(s, lastResult+1, i); at >= 0 && !d.oldReadsAny(doc, s, at, len(s.lines)) {
					if text := opening(s, at, at); text != "" && l.doubtful(d, s, at, len(s.lines)) == "" && (plain || !l.beforeBlock(text)) {
						changed = l.addNote(declared{way: "from", text: mappings.Literal(text), why: why, conf: 0.7}) || changed
						continue
					}
				}
			}
			changed = l.addLine(d, ln, boxes) || changed
		}
	}
	return changed
}

// noBlockBelow reports whether no block of a sample begins under a line.
func (l *layoutDraft) noBlockBelow(s *sheet, i int) bool {
	if s.grid || l.oneEach != "block" {
		return false
	}
	for j := i; j < len(s.lines); j++ {
		if strings.Contains(s.lines[j].text(), l.block) {
			return false
		}
	}
	return true
}

// beforeBlock reports whether a text stands somewhere above the beginning of
// a sample's block: then it is no text of the page's foot.
func (l *layoutDraft) beforeBlock(text string) bool {
	for _, doc := range l.docs {
		for _, p := range doc.Pages {
			s := newSheet(doc, p)
			for i := range s.lines {
				if strings.Contains(s.lines[i].text(), text) && !l.noBlockBelow(s, i) {
					return true
				}
			}
		}
	}
	return false
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
		_, _, last := l.extent(d, s)
		for j := last + 1; last >= 0 && j < len(s.lines) && !d.oldReadsAny(doc, s, j, len(s.lines)); j++ {
			if !s.lines[j].longText() || d.couldBeResult(&s.lines[j]) {
				continue
			}
			if text := opening(s, j, j); text != "" && (l.oneEach != "block" || !l.beforeBlock(text)) {
				changed = l.addNote(declared{way: "from", text: mappings.Literal(text), why: "notes under the results", conf: 0.7, ask: l.askWide(d, s, j, len(s.lines))}) || changed
			}
			break
		}
	}
	return changed
}

// askWide is the question about a declaration of all lines of a page between
// two, "" when each of them with a number is certainly furniture.
func (l *layoutDraft) askWide(d *drafter, s *sheet, from, to int) string {
	text := l.doubtful(d, s, from, to)
	if text == "" {
		return ""
	}
	return "does no line here hold a result, a method or a unit, such as " + quoted(shorten(text)) + "? A number that this declares away is not missed"
}

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

// extent is the first line of a page with a field of the report, the first
// line of its tables, and the last line that holds a result; -1 where there
// is none.
func (l *layoutDraft) extent(d *drafter, s *sheet) (firstField, firstResult, lastResult int) {
	firstField, firstResult, lastResult = -1, -1, -1
	taken := map[int]bool{}
	tables, _ := d.quiet().pageTables(s, taken)
	advice := map[int]bool{}
	if !s.grid {
		advice = d.adviceLines(s)
	}
	for i := range s.lines {
		if taken[i] && len(tables) > 0 && !advice[i] {
			if lastResult = i; firstResult < 0 {
				firstResult = i
			}
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
	return firstField, firstResult, lastResult
}

// quiet is a drafter whose findings do not count.
func (d *drafter) quiet() *drafter {
	q := newDrafter(Options{Vocabulary: d.v})
	q.year, q.legend, q.keys, q.methodKeys = d.year, d.legend, d.keys, d.methodKeys
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

// clause is the pattern of a text as far as the words behind its last number,
// with a star for each number.
func clause(ws []string) string {
	var out []string
	last := 0
	for _, w := range ws {
		if hasDigit(w) {
			out = append(out, "*")
			last = len(out) + 1
			continue
		}
		out = append(out, mappings.Literal(w))
	}
	return strings.Join(out[:min(last, len(out))], " ")
}

// mend answers reasons that a reading gave: rows that are no tests, and
// summaries.
func (l *layoutDraft) mend(d *drafter, doc *ingest.Document, x *mappings.Extract) bool {
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
		n, asked := len(t.skips), len(l.ask)
		switch r.Code {
		case "row-looks-like-summary":
			first := r.Found
			for _, w := range strings.Fields(r.Found) {
				if hasDigit(w) || isMissing(w) {
					first, _, _ = strings.Cut(r.Found, " "+w)
					break
				}
			}
			t.addSkip(first, "a summary of other rows and no sample", askSkip(first))
		case "cell-not-allowed":
			changed = t.mendNumbers(r.Found) || changed
		case "row-without-label":
			f := strings.Fields(r.Found)
			if hasAny(r.Found, words().OtherResults) && len(f) > 4 {
				changed = l.addNote(declared{way: "text", text: clause(f), why: "about other results", conf: 0.6, ask: "does this text speak of other results than the sample's own?"}) || changed
				continue
			}
			if len(f) > 0 && !hasDigit(f[0]) {
				begin := f[0]
				for _, w := range f[1:] {
					if hasDigit(w) {
						break
					}
					begin += " " + w
				}
				if _, ref := words().refRow[fold(f[0])]; ref || mappings.SummaryWord(begin) != "" {
					t.addSkip(begin, "no sample", askSkip(begin))
				} else {
					l.wonder("is the row that begins " + quoted(begin) + " a sample? It has no number of one, and holds the report until a skip row names it")
				}
			}
		case "read-twice":
			first, _, _ := strings.Cut(r.Found, " ")
			if _, ref := words().refRow[fold(first)]; ref || mappings.SummaryWord(first) != "" {
				t.addSkip(first, "for comparison, not a result", askSkip(first))
			}
		case "test-unknown":
			label := r.Found
			for _, w := range strings.Fields(r.Found) {
				if isNumber(w) {
					label, _, _ = strings.Cut(r.Found, " "+w)
					break
				}
			}
			switch {
			case label != "" && d.runningText(label, r.Found) && l.declareFeet(d, doc):
				changed = true
				// What was left out as a row may be part of that text.
				t.skips = slices.DeleteFunc(t.skips, func(s skipRow) bool { return s.why == "running text" })
				n = len(t.skips)
			case label != "" && d.runningText(label, r.Found):
				t.addSkip(label, "running text", "is the row "+quoted(label)+" rightly no result?")
			case label != "":
				l.wonder("what does the row " + quoted(label) + " measure? It holds the report until it stands under tests or under skip rows")
			}
		}
		changed = changed || len(t.skips) != n || len(l.ask) != asked
	}
	return changed
}
