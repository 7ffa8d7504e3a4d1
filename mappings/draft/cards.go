package draft

import (
	"strings"

	"example.org/windrow/mappings"
)

// labelsAbove finds results that stand under their labels, as on cards: a
// line of labels side by side, and under each its value, often with a rating
// under that. One label over a number may be the heading of anything, so a
// line must have two such, or another of its lines have had them.
func (d *drafter) labelsAbove(s *sheet, taken map[int]bool) []foundLabel {
	if s.grid {
		return nil
	}
	var out []foundLabel
	advice := d.adviceLines(s)
	for i := 0; i+1 < len(s.lines); i++ {
		if taken[i] || taken[i+1] || advice[i] {
			continue
		}
		found, labels := d.cardLine(s, i)
		if len(found) >= 2 && len(found)*2 > labels {
			out = append(out, found...)
		}
	}
	return out
}

// cardLine is the labels of a line whose values stand under them; labels is
// how many pieces the line has.
func (d *drafter) cardLine(s *sheet, i int) (found []foundLabel, labels int) {
	l := &s.lines[i]
	for k := range l.runs {
		r := &l.runs[k]
		m, ok := d.understand(r.text)
		if !ok || m.conf < 0.5 || m.unknown > 0 || len(r.words) > 6 {
			continue
		}
		if _, named := d.v.Resolve(mappings.AnalyteWord, mappings.Normalise(r.text)); !named && d.unitID(r.text) != "" {
			continue
		}
		v := pieceUnder(s, i, r)
		if v == nil {
			continue
		}
		f := foundLabel{label: r.text, m: m, line: i, below: true}
		if !d.cardValue(&f, v) {
			continue
		}
		if w := pieceUnder(s, i+1, v); f.rating == "" && w != nil && d.ratingWord(w.text) {
			f.rating = w.text
		}
		found = append(found, f)
	}
	return found, len(l.runs)
}

// cardValue takes a piece apart that stands under a label: a number, with a
// unit and a rating behind it or not.
func (d *drafter) cardValue(f *foundLabel, v *run) bool {
	ws := strings.Fields(v.text)
	switch {
	case len(ws) == 0 || !isNumber(ws[0]) && !isMissing(v.text):
		return false
	case isMissing(v.text) && !isNumber(v.text):
		f.value = v.text
		return true
	}
	f.value = ws[0]
	rest := ws[1:]
	for k := min(4, len(rest)); k > 0; k-- {
		if u := strings.Join(rest[:k], " "); d.unitID(u) != "" && !selfUnit(f.m.analyte) {
			f.unit, rest = u, rest[k:]
			break
		}
	}
	if len(rest) > 0 {
		if f.rating = strings.Join(rest, " "); !d.ratingWord(f.rating) {
			return false
		}
	}
	if m, ok := d.understand(f.label, f.unit); ok && f.unit != "" {
		f.m = m
	}
	return true
}

// pieceUnder is the piece of the next line that stands under another, or nil
// when none or several do.
func pieceUnder(s *sheet, i int, r *run) *run {
	if i+1 >= len(s.lines) {
		return nil
	}
	n := &s.lines[i+1]
	if n.box.Y0-r.box.Y1 > 1.6*max(n.size, 1) {
		return nil
	}
	var under *run
	for k := range n.runs {
		if n.runs[k].box.OverlapX(r.box) > 0 {
			if under != nil {
				return nil
			}
			under = &n.runs[k]
		}
	}
	return under
}
