package draft

import (
	"regexp"
	"slices"
	"strings"

	"example.org/windrow/mappings"
)

// sentenceForm finds "... is 6.1" and "...: 22 ppm" in running text.
var sentenceForm = regexp.MustCompile(`([A-Za-z][A-Za-z0-9 ,()%/+-]{1,60}?)(?: is| was| were| are|:| of| at| measured| came to| tested| tests| reads| stands at| settled at| came out at| fell to| rose to| reached)+ (?:at |about |only |found at |found to be )?([<>]? ?\d[\d,]*(?:\.\d+)?)(?: ([^ ,;]+(?: [^ ,;]+){0,3}))?`)

// limeName is the word lime in the name of a test, where it advises nothing.
var limeName = regexp.MustCompile(`(?i)\blime (test|buffer|index)\b`)

// A foundSentence is running text with a result in it.
type foundSentence struct {
	text, label string
	m           meaning
	unit, value string
	kept        bool // an old mapping reads it
	inText      bool // its unit is part of the text and not apart from the number
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
	for _, part := range regexp.MustCompile(`\x01|[.;] (?:[A-Z])?`).Split(strings.NewReplacer(". ", ". \u0001", "; ", "; \u0001").Replace(text.String()), -1) {
		if hasAny(limeName.ReplaceAllString(part, "$1"), words().Advice) || hasAny(part, words().OtherResults) {
			continue
		}
		for _, f := range d.shares(part) {
			if !seen[f.label] {
				seen[f.label] = true
				out = append(out, f)
			}
		}
		g := sentenceForm.FindStringSubmatchIndex(part)
		if g == nil {
			continue
		}
		subject, value := part[g[2]:g[3]], part[g[4]:g[5]]
		name, m, ok := d.subject(subject)
		if !ok {
			continue
		}
		g[2] += strings.LastIndex(subject, name)
		f := foundSentence{m: m, label: name, value: value}
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
		if after := strings.TrimSpace(part[g[5]:]); rest == "" {
			// What ends the sentence or a part of it is not part of the number.
			switch {
			case strings.Trim(after, " .") == "":
				f.text += "."
			case strings.ContainsAny(after[:1], ",;"):
				f.text += after[:1]
			}
		}
		f.text = strings.Join(strings.Fields(f.text), " ")
		if !seen[f.label] {
			seen[f.label] = true
			out = append(out, f)
		}
	}
	return out
}

// subject is the name of a test at the end of what a sentence speaks of: all
// of it, or what follows the words that nothing explains.
func (d *drafter) subject(text string) (string, meaning, bool) {
	ws := strings.Fields(text)
	if n := len(ws); n > 1 && slices.Contains([]string{"it", "this", "that"}, ws[n-1]) {
		ws = ws[:n-1] // "In the buffer it settled at"
	}
	for i := range ws {
		name := strings.Join(ws[i:], " ")
		if m, ok := d.understand(name); ok && m.conf >= 0.4 && (m.unknown == 0 || i == 0) && strings.Contains(text, name) {
			return name, m, true
		}
	}
	return "", meaning{}, false
}

var shareForm = regexp.MustCompile(`(?i)\b(calcium|magnesium|potassium|sodium|hydrogen|acidity|aluminum|aluminium)((?: [a-z]+){0,3}) (\d+(?:\.\d+)?)( ?%| percent)`)

// shares finds a sentence that lists the shares of the exchange capacity:
// "calcium holds 61%, magnesium 15% and potassium the other 3%".
func (d *drafter) shares(part string) []foundSentence {
	var out []foundSentence
	for _, at := range shareForm.FindAllStringSubmatchIndex(part, -1) {
		g := make([]string, 5)
		for k := range g {
			g[k] = part[at[2*k]:at[2*k+1]]
		}
		label := g[1] + " share"
		m, ok := d.understand(g[1]+" saturation", "%")
		if !ok || !strings.HasPrefix(m.analyte, "base_sat") {
			continue
		}
		unit := strings.TrimSpace(g[4])
		text := mappings.Literal(g[1]+g[2]) + " {result}"
		// The sign stands in the text that is looked for, and so is checked.
		text += mappings.Literal(g[4])
		out = append(out, foundSentence{m: m, label: label, text: text, unit: unit, value: g[3], inText: unit == "%"})
	}
	if len(out) < 2 {
		return nil // one may be anything
	}
	return out
}
