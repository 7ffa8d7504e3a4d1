package web

import (
	"regexp"
	"strconv"
	"strings"
	"unicode"
)

// turnTemplate puts another language into the text of a template: what stands
// between its tags, and the attributes that a person is told. A text is looked
// up by itself, with {1}, {2}, … for what the template puts into it; a tag, a
// condition or a loop ends it. missing lists the texts that there is nothing
// for, which stay as they are.
func turnTemplate(src string, look func(key string) (string, bool)) (out string, missing []string) {
	t := &turner{look: look}
	var b strings.Builder
	for rest := src; rest != ""; {
		at := tagStart(rest)
		b.WriteString(t.text(rest[:at]))
		if rest = rest[at:]; rest == "" {
			break
		}
		n := tagEnd(rest)
		tag := rest[:n]
		b.WriteString(t.tag(tag))
		rest = rest[n:]
		if name := tagName.FindString(tag); name == "<code" || name == "<kbd" {
			end := strings.Index(rest, "</"+name[1:])
			if end < 0 {
				end = len(rest)
			}
			b.WriteString(rest[:end]) // what one types stays
			rest = rest[end:]
		}
	}
	return b.String(), t.missing
}

var (
	tagName  = regexp.MustCompile(`^<[a-z0-9]+`)
	toldAttr = regexp.MustCompile(` (aria-label|alt|title|placeholder|data-name)="`)
	control  = regexp.MustCompile(`^\{\{-?\s*(if|else|end|range|with|define|block|template|break|continue|/\*|\$[a-zA-Z]*\s*:?=)`)
)

type turner struct {
	look    func(string) (string, bool)
	missing []string
}

// tagStart is where the first tag of a text begins that is not in an action.
func tagStart(s string) int {
	for i := 0; i < len(s); i++ {
		switch {
		case strings.HasPrefix(s[i:], "{{"):
			i += actionEnd(s[i:]) - 1
		case s[i] == '<' && i+1 < len(s) && (s[i+1] == '/' || s[i+1] == '!' || unicode.IsLetter(rune(s[i+1]))):
			return i
		}
	}
	return len(s)
}

// tagEnd is how long the tag is that a text begins with.
func tagEnd(s string) int {
	quote := byte(0)
	for i := 1; i < len(s); i++ {
		switch {
		case strings.HasPrefix(s[i:], "{{"):
			i += actionEnd(s[i:]) - 1
		case quote != 0:
			if s[i] == quote {
				quote = 0
			}
		case s[i] == '"' || s[i] == '\'':
			quote = s[i]
		case s[i] == '>':
			return i + 1
		}
	}
	return len(s)
}

// actionEnd is how long the action is that a text begins with.
func actionEnd(s string) int {
	if n := strings.Index(s, "}}"); n >= 0 {
		return n + 2
	}
	return len(s)
}

// tag turns the attributes of a tag that a person is told.
func (t *turner) tag(s string) string {
	var b strings.Builder
	for {
		m := toldAttr.FindStringIndex(s)
		if m == nil {
			b.WriteString(s)
			return b.String()
		}
		b.WriteString(s[:m[1]])
		s = s[m[1]:]
		end := 0
		for end < len(s) && s[end] != '"' {
			if strings.HasPrefix(s[end:], "{{") {
				end += actionEnd(s[end:])
			} else {
				end++
			}
		}
		b.WriteString(t.text(s[:end]))
		s = s[end:]
	}
}

// text turns what stands between tags: each part of it between conditions.
func (t *turner) text(s string) string {
	var b, unit strings.Builder
	var actions []string
	flush := func() {
		b.WriteString(t.unit(unit.String(), actions))
		unit.Reset()
		actions = nil
	}
	for s != "" {
		n := strings.Index(s, "{{")
		if n < 0 {
			unit.WriteString(s)
			break
		}
		unit.WriteString(s[:n])
		s = s[n:]
		n = actionEnd(s)
		if control.MatchString(s) {
			flush()
			b.WriteString(s[:n])
		} else {
			actions = append(actions, s[:n])
			unit.WriteString("{" + strconv.Itoa(len(actions)) + "}")
		}
		s = s[n:]
	}
	flush()
	return b.String()
}

// unit turns one text.
func (t *turner) unit(s string, actions []string) string {
	fill := make([]string, 0, 2*len(actions))
	for i, a := range actions {
		fill = append(fill, "{"+strconv.Itoa(i+1)+"}", a)
	}
	to := s
	if key := strings.Join(strings.Fields(s), " "); strings.ContainsFunc(entity.ReplaceAllString(key, ""), unicode.IsLetter) {
		if said, ok := t.look(key); ok {
			before := s[:len(s)-len(strings.TrimLeft(s, " \n\t"))]
			after := s[len(strings.TrimRight(s, " \n\t")):]
			to = before + said + after
		} else {
			t.missing = append(t.missing, key)
		}
	}
	return strings.NewReplacer(fill...).Replace(to)
}

var entity = regexp.MustCompile(`&[a-z]+;`)
