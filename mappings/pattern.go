package mappings

import (
	"fmt"
	"regexp"
	"strings"
	"unicode"

	"example.org/windrow/ingest"
)

// A Pattern is a text to look for on a page. Words are literal; spaces match
// any white space; three things are special:
//
//   - any text, or none
//     #        one digit
//     {name}   any text that is then called name; {name?} may be absent
//
// A backslash takes the meaning from the next character.
type Pattern struct {
	Src   string
	Names []string // placeholders, in order; "" for a star
	Place ingest.Place
	re    *regexp.Regexp // unanchored, over normalised text
	whole *regexp.Regexp // anchored at both ends
}

// newPattern compiles src.
func newPattern(src string, at ingest.Place) (*Pattern, error) {
	p := &Pattern{Src: src, Place: at}
	var b strings.Builder
	rs := []rune(normalise(src))
	for i := 0; i < len(rs); i++ {
		switch r := rs[i]; {
		case r == '\\' && i+1 < len(rs):
			i++
			b.WriteString(regexp.QuoteMeta(string(rs[i])))
		case r == '*':
			b.WriteString(`(.*?)`)
			p.Names = append(p.Names, "")
		case r == '#':
			b.WriteString(`\d`)
		case r == '{':
			end := i
			for end < len(rs) && rs[end] != '}' {
				end++
			}
			if end == len(rs) {
				return nil, fmt.Errorf("the brace at character %d is not closed", i+1)
			}
			name := strings.TrimSpace(string(rs[i+1 : end]))
			opt := strings.HasSuffix(name, "?")
			name = strings.TrimSuffix(name, "?")
			if name == "" {
				return nil, fmt.Errorf("the braces at character %d hold no name", i+1)
			}
			for _, n := range p.Names {
				if n == name && n != "" {
					return nil, fmt.Errorf("{%s} stands there twice", name)
				}
			}
			p.Names = append(p.Names, name)
			value := `.+?`
			if name == "result" {
				// A number is taken whole before anything shorter is tried, so
				// that no sign after it can cut its decimals.
				value = `[<>]? ?-?\d[\d.,']*|.+?`
			}
			if name == "unit" {
				// A unit begins with a letter, a percent sign or the like, so
				// that a footnote mark is none.
				value = `[\pL%#/(].*?`
			}
			if opt {
				// An absent value takes the space before it along.
				s := strings.TrimSuffix(b.String(), " ")
				sp := ""
				if s != b.String() {
					sp = " "
				}
				b.Reset()
				b.WriteString(s + `(?:` + sp + `(` + value + `))?`)
			} else {
				b.WriteString(`(` + value + `)`)
			}
			i = end
		case unicode.IsSpace(r):
			b.WriteString(" ")
		default:
			b.WriteString(regexp.QuoteMeta(string(r)))
		}
	}
	if strings.TrimSpace(b.String()) == "" {
		return nil, fmt.Errorf("the text is empty")
	}
	var err error
	// A sign at the end must end its word too: otherwise "pH is {result}."
	// would find 6 in "pH is 6.4.".
	end := ""
	if last := rs[len(rs)-1]; last != '}' && last != '*' && !unicode.IsLetter(last) && !unicode.IsDigit(last) {
		end = `[.,;:!?)]*(?: |$)`
	}
	if p.re, err = regexp.Compile(b.String() + end); err != nil {
		return nil, err
	}
	if p.whole, err = regexp.Compile(`^` + b.String() + `$`); err != nil {
		return nil, err
	}
	return p, nil
}

// String is the pattern as written.
func (p *Pattern) String() string {
	if p == nil {
		return ""
	}
	return p.Src
}

// matchWhole matches all of text and gives the placeholders' texts by name.
// The space before a unit may be missing behind a digit, as in 72%; behind a
// letter it may not, or ND would be an N with a unit.
func (p *Pattern) matchWhole(text string) (map[string]string, bool) {
	text = normalise(text)
	out, ok := p.values(text)
	if out["unit"] != "" || !contains(p.Names, "unit") {
		return out, ok
	}
	rs := []rune(text)
	for i := 1; i < len(rs); i++ {
		if unicode.IsDigit(rs[i-1]) && (unicode.IsLetter(rs[i]) || rs[i] == '%') {
			if apart, fits := p.values(string(rs[:i]) + " " + string(rs[i:])); fits && apart["unit"] != "" {
				return apart, true
			}
		}
	}
	return out, ok
}

func (p *Pattern) values(text string) (map[string]string, bool) {
	m := p.whole.FindStringSubmatch(text)
	if m == nil {
		return nil, false
	}
	out := map[string]string{}
	for i, n := range p.Names {
		if n != "" {
			out[n] = m[i+1]
		}
	}
	return out, true
}

// reads reports whether the pattern has placeholders.
func (p *Pattern) reads() bool {
	for _, n := range p.Names {
		if n != "" && n != "any" {
			return true
		}
	}
	return false
}

// bare reports whether the pattern is one placeholder and nothing else: then
// it matches any text, and the text is the placeholder's.
func (p *Pattern) bare() bool {
	return len(p.Names) == 1 && p.Src == "{"+p.Names[0]+"}"
}

// in reports whether the pattern stands anywhere in text.
func (p *Pattern) in(text string) bool { return p.re.MatchString(text) }

// beginsIn reports whether text begins with the pattern.
func (p *Pattern) beginsIn(text string) bool {
	loc := p.re.FindStringIndex(normalise(text))
	return loc != nil && loc[0] == 0
}

// normalise makes texts comparable: runs of white space become one space,
// and typographic variants of one sign become the plain one. It changes no
// letter's case and no digit.
func normalise(s string) string {
	if isPlain(s) {
		return s
	}
	var b strings.Builder
	space := false
	for _, r := range s {
		switch r {
		case '\u2010', '\u2011', '\u2012', '\u2013', '\u2014', '\u2212':
			r = '-'
		case '\u2018', '\u2019', '\u02bc':
			r = '\''
		case '\u201c', '\u201d':
			r = '"'
		case '\u00b5':
			r = '\u03bc'
		case '\u00ad', '\u200b', '\ufeff':
			continue
		}
		if unicode.IsSpace(r) {
			space = b.Len() > 0
			continue
		}
		if space {
			b.WriteByte(' ')
			space = false
		}
		b.WriteRune(r)
	}
	return b.String()
}

// isPlain reports whether normalise would change nothing, as with nearly
// every cell and word: printable ASCII without two spaces side by side or a
// space at an end.
func isPlain(s string) bool {
	last := byte(' ')
	for i := 0; i < len(s); i++ {
		c := s[i]
		if c < ' ' || c > '~' || c == ' ' && last == ' ' {
			return false
		}
		last = c
	}
	return last != ' ' || s == ""
}

// squeeze is normalise without any space, for comparing texts whose words
// may have been wrapped over lines.
func squeeze(s string) string { return strings.ReplaceAll(normalise(s), " ", "") }

// hasDigit reports whether a text holds a digit, which makes it a number
// that must be accounted for.
func hasDigit(s string) bool {
	for _, r := range s {
		if r >= '0' && r <= '9' || r > '~' && unicode.IsDigit(r) {
			return true
		}
	}
	return false
}
