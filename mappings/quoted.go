package mappings

import (
	"slices"
	"strings"
)

// quoted accounts for the numbers in texts that the mapping relies on or
// recognises the laboratory by, such as
// the footnote that names the soil an amount stands for: whoever quoted a number
// has read it, and a report with another one is held for that text. Only what
// stands in the quote to the letter counts; what a sign for any text or digit
// stands for, and what goes on behind the quote, is still to be accounted for.
func (r *reader) quoted() {
	for _, p := range slices.Concat(r.l.ReliesOn, r.l.Recognise, r.l.mapping.Recognise) {
		if !hasDigit(p.Src) || !p.literal() {
			continue
		}
		for _, v := range r.views {
			for _, h := range find(p, v.atoms) {
				text := joined(h.atoms)
				if at := p.re.FindStringIndex(text); at != nil && !hasDigit(text[:at[0]]) && !hasDigit(text[at[1]:]) {
					use(free(h.atoms), Mark{As: "declared", Note: "relied on", Rule: p.Place})
				}
			}
		}
	}
}

// literal reports whether a pattern is a plain text, which stands for itself.
func (p *Pattern) literal() bool {
	if len(p.Names) > 0 {
		return false
	}
	plain := strings.NewReplacer(`\\`, "", `\#`, "").Replace(p.Src)
	return !strings.Contains(plain, "#")
}
