package draft

import (
	"regexp"
	"slices"
	"strings"

	"example.org/windrow/mappings"
)

// A foundLabel is a test's label with its value beside it.
type foundLabel struct {
	label, value, unit, rating string
	m                          meaning
	line                       int
	leader                     bool
	glued                      bool   // no space stands between the number and its unit
	bare                       bool   // one of its values stands without the unit
	below                      bool   // the value stands under the label
	more                       string // a further number beside the value
}

// limeTest is a test and no advice, though it has a word of it.
var limeTest = regexp.MustCompile(`(?i)\blime (?:test|index|buffer|potential)\b`)

// ofOthers is in a line about what other soils have, such as a footer with the
// averages of a county: its numbers are nobody's results.
var ofOthers = regexp.MustCompile(`(?i)\b(?:averages?|means?|medians?|typical(?:ly)?)\b.*\d`)

// pageLabels finds results that stand beside their labels on lines outside
// tables: "pH CaCl2  6.62", "Phosphorus ..... 34 ppm".
func (d *drafter) pageLabels(s *sheet, taken map[int]bool) []foundLabel {
	var out []foundLabel
	for i := range s.lines {
		l := &s.lines[i]
		if taken[i] || !s.grid && (ofOthers.MatchString(l.text()) || hasAny(limeTest.ReplaceAllString(l.text(), ""), words().Advice)) || s.goesOnText(i) {
			continue
		}
		got, used := d.lineLabels(l, i, s.grid)
		if len(got) > 0 && used*10 >= d.beside(l, got, s.grid)*5 {
			out = append(out, got...)
			continue
		}
		// Beside a label that is not understood a line of dots still leads from
		// another one to its value.
		for _, f := range got {
			if f.leader && hasDigit(f.value) {
				out = append(out, f)
			}
		}
	}
	return out
}

// beside is how many words stand in the pieces of a line that labels and
// values have a part in: what stands far beside them on a page, in another
// column, says nothing about them.
func (d *drafter) beside(l *textLine, got []foundLabel, grid bool) int {
	if grid {
		return len(l.words)
	}
	n := 0
	for _, r := range l.runs {
		if slices.ContainsFunc(got, func(f foundLabel) bool {
			return strings.Contains(r.text, f.label) || strings.Contains(r.text, f.value)
		}) {
			n += len(r.words)
		}
	}
	return n
}

// goesOnText reports whether a line goes on with a sentence of running text
// above it: what looks like a label with its value is part of that.
func (s *sheet) goesOnText(i int) bool {
	if s.grid || i == 0 {
		return false
	}
	l, p := &s.lines[i], &s.lines[i-1]
	if !p.longText() || len(p.runs) > 1 || l.box.Y0-p.box.Y1 > 0.9*l.size {
		return false
	}
	return !strings.ContainsAny(p.text()[len(p.text())-1:], ".:!?")
}

// lineLabels reads one line from left to right; used is how many of its
// words belong to a label or a value.
func (d *drafter) lineLabels(l *textLine, at int, grid bool) (out []foundLabel, used int) {
	ws := l.words
	end := 0
	for i := 0; i < len(ws); {
		if i > 0 && i != end && !grid && ws[i].Box.X0-ws[i-1].Box.X1 < 0.8*ws[i].Size && !(i == 1 && allUpper(ws[0].Text)) {
			i++
			continue // in the middle of a sentence
		}
		f, n := d.labelAt(ws, i, grid)
		if n == 0 {
			i++
			continue
		}
		end = i + n
		f.line = at
		out = append(out, f)
		used += n
		i += n
	}
	return out, used
}

// labelAt reads a label and its value that begin at word i.
func (d *drafter) labelAt(ws []mappings.Piece, i int, grid bool) (foundLabel, int) {
	maxN := 6
	if grid {
		maxN = 1
	}
	for n := min(maxN, len(ws)-i-1); n > 0; n-- {
		text, _, ok := joinWords(ws[i:i+n], grid)
		if !ok {
			continue
		}
		label := strings.TrimSuffix(text, ":")
		if n > 1 && leader(ws[i+n-1].Text) {
			continue // what leads to the value is no part of the label
		}
		if isNumber(label) || strings.Trim(label, ".:") == "" {
			continue
		}
		if grid && (hasAny(label, words().Advice) || hasStart(label, words().AdviceTitles)) {
			continue
		}
		m, ok := d.understand(label)
		if !ok || m.conf < 0.4 || m.unknown > 0 && !strings.HasSuffix(text, ":") {
			continue
		}
		if id, _, isUnit := unitOf(d.v, label); isUnit && id != "pH" {
			continue
		}
		j := i + n
		f := foundLabel{label: text, m: m}
		for j < len(ws) && leader(ws[j].Text) && j+1 < len(ws) && !(isMissing(ws[j].Text) && j+1 == len(ws)) {
			f.leader = true
			j++
		}
		if j >= len(ws) {
			continue
		}
		if n, u, ok := d.withUnit(ws[j].Text); grid && ok && !selfUnit(m.analyte) {
			f.value, f.unit, f.glued = n, u, n+u == ws[j].Text
			if m2, ok := d.understand(label, u); ok {
				f.m = m2
			}
			return f, j + 1 - i
		}
		v := strings.TrimSuffix(strings.TrimSuffix(ws[j].Text, ";"), ",")
		_, tex := words().texture[fold(v)]
		if isMissing(v) && j+1 < len(ws) && !grid && ws[j+1].Box.X0-ws[j].Box.X1 < 0.8*ws[j].Size && !d.unitAt(ws, j+1) {
			continue // "Potash: none needed"
		}
		if !(isNumber(v) && (hasDigit(v)) || isMissing(v) && !strings.Contains(v, ".") || m.analyte == "texture" && tex) {
			continue
		}
		if m.analyte == "texture" && d.labelBegins(ws, j, grid) {
			continue // the heading of a group of labels
		}
		f.value = v
		j++
		if !grid && j < len(ws) && spaceThree.MatchString(v+" "+ws[j].Text) && ws[j].Box.X0-ws[j-1].Box.X1 < 0.7*ws[j].Size {
			f.value += " " + ws[j].Text // a space groups its digits
			j++
		}
		for k := min(4, len(ws)-j); k > 0; k-- {
			u, _, ok := joinWords(ws[j:j+k], grid)
			if !ok && k > 1 {
				continue
			}
			if _, _, ok := unitOf(d.v, strings.TrimSuffix(u, ";")); ok && !selfUnit(m.analyte) {
				f.unit = strings.TrimSuffix(u, ";")
				j += k
				break
			}
		}
		for k := min(3, len(ws)-j); k > 0; k-- {
			r, _, ok := joinWords(ws[j:j+k], grid)
			if ok && d.ratingWord(r) && !d.labelBegins(ws, j, grid) {
				f.rating = r
				j += k
				break
			}
		}
		if j < len(ws) && isNumber(strings.Trim(ws[j].Text, ",;()")) && hasDigit(ws[j].Text) {
			f.more = ws[j].Text
		}
		if f.unit != "" {
			m2, ok := d.understand(label, f.unit)
			if ok {
				f.m = m2
			}
		}
		return f, j - i
	}
	return foundLabel{}, 0
}

// leader reports whether a word is a line of dots or another sign that leads
// from a label to its value.
func leader(w string) bool { return strings.Trim(w, ".:_=-·…") == "" }

// unitAt reports whether a unit stands at word j.
func (d *drafter) unitAt(ws []mappings.Piece, j int) bool {
	for k := min(3, len(ws)-j); k > 0; k-- {
		if u, _, ok := joinWords(ws[j:j+k], false); ok {
			if _, _, ok := unitOf(d.v, u); ok {
				return true
			}
		}
	}
	return false
}

// labelBegins reports whether a label with its value begins at word j: S may
// be a rating, but not when a number follows it.
func (d *drafter) labelBegins(ws []mappings.Piece, j int, grid bool) bool {
	if j >= len(ws) {
		return false
	}
	_, n := d.labelAt(ws, j, grid)
	return n > 0
}

// conf is how sure it is that a label's first number is its result.
func (f *foundLabel) conf() float64 {
	if f.more != "" {
		return min(f.m.conf, 0.4)
	}
	return f.m.conf
}

// ask is the question about a label with several numbers.
func (f *foundLabel) ask() string {
	if f.more == "" {
		return ""
	}
	return "several numbers stand beside " + quoted(f.label) + ", such as " + f.value + " and " + f.more + "; is the first the result, and of which sample?"
}
