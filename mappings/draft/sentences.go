package draft

import (
	"regexp"
	"strings"

	"example.org/windrow/mappings"
)

// sentenceForm finds "... is 6.1" and "...: 22 ppm" in running text.
var sentenceForm = regexp.MustCompile(`([A-Z][A-Za-z0-9 ,()%/+-]{1,60}?)(?: is| was| were| are|:| of| at| measured| came to| tested| tests| reads| stands at)+ (?:at |about |only |found at |found to be )?([<>]? ?\d[\d,]*(?:\.\d+)?)(?: ([^ ,;]+(?: [^ ,;]+){0,3}))?`)

// A foundSentence is running text with a result in it.
type foundSentence struct {
	text, label string
	m           meaning
	unit, value string
}

// pageSentences finds results told in sentences on lines that nothing else
// has taken.
func (d *drafter) pageSentences(s *sheet, taken map[int]bool) []foundSentence {
	if s.grid {
		return nil
	}
	var text strings.Builder
	right := 0.0
	for i := range s.lines {
		right = max(right, s.lines[i].box.X1)
	}
	for i := range s.lines {
		if taken[i] {
			text.WriteString(" \u0001 ")
			continue
		}
		text.WriteString(s.lines[i].text() + " ")
		if s.lines[i].box.X1 < 0.7*right {
			text.WriteString("\u0001 ") // a short line ends its text
		}
	}
	var out []foundSentence
	seen := map[string]bool{}
	for _, part := range regexp.MustCompile(`\x01|[.;] (?:[A-Z])?`).Split(strings.ReplaceAll(text.String(), ". ", ". \u0001"), -1) {
		if hasAny(part, words().Advice) {
			continue
		}
		g := sentenceForm.FindStringSubmatchIndex(part)
		if g == nil {
			continue
		}
		subject, value := part[g[2]:g[3]], part[g[4]:g[5]]
		m, ok := d.understand(strings.TrimSpace(subject))
		if !ok || m.conf < 0.4 {
			continue
		}
		f := foundSentence{m: m, label: strings.TrimSpace(subject), value: value}
		rest := ""
		if g[6] >= 0 {
			ws := strings.Fields(part[g[6]:g[7]])
			for k := len(ws); k > 0; k-- {
				u := strings.TrimRight(strings.Join(ws[:k], " "), ".()")
				if _, _, ok := unitOf(d.v, u); ok {
					f.unit, rest = u, " "+u
					break
				}
			}
		}
		if f.unit == "" && !selfUnit(m.analyte) {
			continue
		}
		f.text = mappings.Literal(mappings.Normalise(part[g[2]:g[4]])) + " {result}" + mappings.Literal(rest)
		if rest == "" && strings.Trim(part[g[5]:], " .") == "" {
			f.text += "." // the end of the sentence is not part of the number
		}
		f.text = strings.Join(strings.Fields(f.text), " ")
		if !seen[f.label] {
			seen[f.label] = true
			out = append(out, f)
		}
	}
	return out
}
