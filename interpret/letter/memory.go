package letter

import (
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/goccy/go-yaml"
)

// Around what stays in English, so that a page can give its language and a
// reader sees it. They are of the block that no script uses, and are taken
// out of everything that a report or a setting says.
const (
	foreignFrom = '\uE000'
	foreignTo   = '\uE001'
)

// A memory holds, for sentences and names in English, the same in another
// language.
type memory struct {
	whole    map[string]string
	patterns []pattern
}

// A pattern is a sentence with places in it: parts is what stands around
// them.
type pattern struct {
	parts  []string
	places []place
	to     string
}

type place struct {
	name string
	as   bool // stays as it is
}

func newMemory(said yaml.MapSlice) *memory {
	m := &memory{whole: map[string]string{}}
	for _, x := range said {
		from, to := fmt.Sprint(x.Key), fmt.Sprint(x.Value)
		if !strings.Contains(from, "{") {
			m.whole[from] = to
			continue
		}
		p := pattern{to: to}
		for rest := from; ; {
			before, after, ok := strings.Cut(rest, "{")
			p.parts = append(p.parts, before)
			if !ok {
				break
			}
			name, after, _ := strings.Cut(after, "}")
			p.places = append(p.places, place{name: strings.TrimPrefix(name, "="), as: strings.HasPrefix(name, "=")})
			rest = after
		}
		m.patterns = append(m.patterns, p)
	}
	// The pattern that says most is tried first.
	slices.SortStableFunc(m.patterns, func(a, b pattern) int { return len(strings.Join(b.parts, "")) - len(strings.Join(a.parts, "")) })
	return m
}

// text translates a text of one or more sentences.
func (m *memory) text(english string, t *tongue) string {
	english = strings.Map(notMark, english)
	if s, ok := m.one(english, t, 0); ok {
		return s
	}
	var out []string
	for _, s := range sentences(english) {
		if to, ok := m.one(s, t, 0); ok {
			out = append(out, to)
		} else {
			out = append(out, string(foreignFrom)+t.say("untranslated", "text", s)+string(foreignTo))
		}
	}
	return strings.Join(out, " ")
}

func notMark(r rune) rune {
	if r == foreignFrom || r == foreignTo {
		return -1
	}
	return r
}

// one translates one sentence or name; deep is how many places it stands in.
func (m *memory) one(english string, t *tongue, deep int) (string, bool) {
	if s, ok := m.whole[english]; ok {
		return s, true
	}
	if !strings.ContainsFunc(english, unicode.IsLetter) {
		return english, true // a number stays a number
	}
	if d, err := time.Parse("January 2, 2006", english); err == nil {
		return t.date(d), true
	}
	if deep > 3 {
		return "", false
	}
	if strings.Contains(english, ", ") && !strings.ContainsAny(english, ".?!:") {
		if s, ok := m.list(english, t, deep); ok {
			return s, true // else a pattern would take all names for one
		}
	}
	for i := range m.patterns {
		if s, ok := m.patterns[i].match(english, m, t, deep); ok {
			return s, true
		}
	}
	return m.list(english, t, deep)
}

// list translates names that are put together with commas, and, or.
func (m *memory) list(english string, t *tongue, deep int) (string, bool) {
	for _, last := range []string{" and ", " or ", ", "} {
		at := strings.LastIndex(english, last)
		if last != ", " {
			at = strings.Index(english, last)
		}
		if at < 0 {
			continue
		}
		var names []string
		for _, n := range append(strings.Split(english[:at], ", "), english[at+len(last):]) {
			s, ok := m.one(n, t, deep+1)
			if !ok {
				return "", false
			}
			names = append(names, s)
		}
		if last == " and " {
			return t.join(names, "and"), true
		}
		return strings.Join(names, ", "), true
	}
	return "", false
}

// match fills the places of a pattern from a sentence, each with the least
// that fits, and puts them into the translation.
func (p *pattern) match(english string, m *memory, t *tongue, deep int) (string, bool) {
	rest, ok := strings.CutPrefix(english, p.parts[0])
	if !ok {
		return "", false
	}
	pairs := make([]string, 0, 2*len(p.places))
	for i, x := range p.places {
		next := p.parts[i+1]
		at := strings.Index(rest, next)
		if i == len(p.places)-1 {
			at = len(rest) - len(next)
			if at < 0 || !strings.HasSuffix(rest, next) {
				return "", false
			}
		}
		if at <= 0 {
			return "", false
		}
		said, key := rest[:at], "{"+x.name+"}"
		if x.as {
			key = "{=" + x.name + "}"
		} else if said, ok = m.one(said, t, deep+1); !ok {
			return "", false
		}
		pairs = append(pairs, key, said)
		rest = rest[at+len(next):]
	}
	return strings.NewReplacer(pairs...).Replace(p.to), true
}

// sentences cuts a text behind the full stops, question and exclamation marks
// that a capital letter follows.
func sentences(s string) []string {
	var out []string
	start := 0
	for i, r := range s {
		if r != ' ' || i == 0 || !strings.ContainsRune(".?!", rune(s[i-1])) || strings.HasSuffix(s[:i], "St.") {
			continue
		}
		if c, _ := utf8.DecodeRuneInString(s[i+1:]); unicode.IsUpper(c) || unicode.IsDigit(c) || c == '“' {
			out = append(out, strings.TrimSpace(s[start:i]))
			start = i + 1
		}
	}
	if last := strings.TrimSpace(s[start:]); last != "" {
		out = append(out, last)
	}
	return out
}

// date is a date as a person writes it.
func (t *tongue) date(d time.Time) string {
	months := strings.Fields(t.say("months"))
	return t.say("date", "month", months[d.Month()-1], "day", d.Format("2"), "year", d.Format("2006"))
}
