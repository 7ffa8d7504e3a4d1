package draft

import (
	"regexp"
	"strings"
)

// adviceLines are the lines of a page under a title that advises, as far as
// a title of results. Amounts to apply look like results and are none.
func (d *drafter) adviceLines(s *sheet) map[int]bool {
	out := map[int]bool{}
	on := false
	for i := range s.lines {
		l := &s.lines[i]
		text := l.text()
		title := len(l.runs) <= 2 && len(strings.Fields(text)) <= 8 && !hasDigit(text)
		switch {
		case title && hasStart(text, words().AdviceTitles):
			on = true
		case title && on && len(l.runs) == 1 && !strings.HasSuffix(text, ".") && hasStart(text, words().ResultTitles):
			on = false
		case on && d.resultHead(l):
			on = false
		}
		if on {
			out[i] = true
		}
	}
	return out
}

// resultHead reports whether a line is the heading of a table that says of a
// column that it is the result, or of samples.
func (d *drafter) resultHead(l *textLine) bool {
	for _, r := range l.runs {
		if columnOf(r.text) == "result" || fieldOf(r.text) == "lab_sample_id" && len(l.runs) > 2 {
			return true
		}
	}
	return false
}

// advises reports whether a table is about what to apply: its heading or the
// title over it says so.
func (d *drafter) advises(s *sheet, t *foundTable, advice map[int]bool) bool {
	if advice[t.seed] {
		return true
	}
	for j := t.seed; j >= 0 && j >= t.seed-3; j-- {
		l := &s.lines[j]
		if j < t.seed && (s.bodyLine(l) || l.longText()) {
			return false
		}
		for _, r := range l.runs {
			if len(r.words) <= 8 && hasStart(r.text, []string{"recommend", "suggest", "fertili", "amounts to apply", "crop need", "requirement", "application rate", "apply "}) && !d.resultHead(&s.lines[t.seed]) {
				return true
			}
		}
	}
	return false
}

var checkNumber = regexp.MustCompile(`^([A-Za-z]+)[ -]?[0-9]*$`)

// checkSamples declares rows whose sample number is that of one of the
// laboratory's own check samples.
func (t *foundTable) checkSamples() {
	for _, c := range t.cols {
		if c.role != "lab_sample_id" && c.role != "client_sample_id" {
			continue
		}
		for i, id := range c.cells {
			g := checkNumber.FindStringSubmatch(id)
			if g == nil || t.kind != "sample" {
				continue
			}
			for _, w := range words().CheckSamples {
				if strings.EqualFold(g[1], w) && i < len(t.rows) && strings.HasPrefix(t.rows[i].text(), id) {
					t.addSkip(id, "a check sample of the laboratory", "is "+quoted(id)+" a check sample and no client's?")
				}
			}
		}
	}
}
