package htmltable

import (
	"strings"
	"unicode"
)

// A flow gathers text that runs on, and hands it over a line at a time.
type flow struct {
	line  func(string) // takes a line that isn't empty
	b     strings.Builder
	space bool // a space is due before the next text
	seam  bool // the next text stands apart from the last by its looks
}

// text adds text as a browser would run it on. Runs of spaces become one,
// unless the element keeps them; a no-break space is a space to whoever reads
// the line.
func (f *flow) text(s string, pre bool) {
	for _, r := range s {
		switch {
		case pre && (r == '\n' || r == '\r'):
			f.end()
			continue
		case r == '\u00ad', r == '\u200b', r == '\u200c', r == '\u200d', r == '\u2060', r == '\ufeff':
			continue // shown as nothing
		case r == '\u00a0' || unicode.IsSpace(r):
			if pre {
				f.b.WriteByte(' ')
			} else {
				f.space = f.space || f.b.Len() > 0
			}
			f.seam = false
			continue
		}
		if f.seam && joins(f.b.String(), r) {
			f.space = true
		}
		if f.space && f.b.Len() > 0 {
			f.b.WriteByte(' ')
		}
		f.space, f.seam = false, false
		f.b.WriteRune(r)
	}
}

// joins reports whether a character would go on with the number at the end of
// a text.
func joins(s string, next rune) bool {
	numeral := func(r rune) bool { return r >= '0' && r <= '9' || r == '.' || r == ',' || r == '-' || r == '\u2212' }
	return s != "" && numeral(rune(s[len(s)-1])) && numeral(next)
}

// end ends the line.
func (f *flow) end() {
	s := strings.TrimRight(f.b.String(), " ")
	f.b.Reset()
	f.space, f.seam = false, false
	if strings.TrimSpace(s) != "" {
		f.line(s)
	}
}
