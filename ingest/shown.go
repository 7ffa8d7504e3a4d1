package ingest

import (
	"fmt"
	"strings"
	"unicode"
)

// Shown is a text from outside, such as the name of a file, as it can be shown
// on a terminal: in one line, with what would move the cursor, change colours
// or turn the writing round spelled out, as \x1b. A name can so never pass for
// a line of ours.
func Shown(s string) string { return shown(s, false) }

// shown lets line breaks stand where breaks is set.
func shown(s string, breaks bool) string {
	hides := func(r rune) bool {
		return (unicode.IsControl(r) && (r != '\n' || !breaks)) || unicode.Is(unicode.Cf, r) && r != '\u00ad' || r == '\u2028' || r == '\u2029'
	}
	if strings.IndexFunc(s, hides) < 0 {
		return s
	}
	var b strings.Builder
	for _, r := range s {
		switch {
		case !hides(r):
			b.WriteRune(r)
		case r < 0x100:
			fmt.Fprintf(&b, `\x%02x`, r)
		default:
			fmt.Fprintf(&b, `\u%04x`, r)
		}
	}
	return b.String()
}
