package letter

import (
	"strings"

	"github.com/goccy/go-yaml"
)

// Phrases say in another language what a program says in English: what they
// were given, and besides all that advice says. They are safe for concurrent
// use.
type Phrases struct {
	own *memory
	t   *tongue
}

// NewPhrases makes phrases in a language from sentences and names in English
// with the same in that language. {name} stands for a part that is looked up
// itself, for a number or for a date, {=name} for a part that stays as it is.
func NewPhrases(said yaml.MapSlice, l Language) *Phrases {
	return &Phrases{own: newMemory(said), t: tongueOf(l)}
}

// Own is a text by what the phrases were given alone, and what was given where
// that does not say it.
func (p *Phrases) Own(english string) string {
	if s, ok := p.own.one(english, p.t, 0); ok {
		return s
	}
	return english
}

// Say is a name, or one or more sentences, in the language; false where some of
// it can't be said, and then it is what was given.
func (p *Phrases) Say(english string) (string, bool) {
	if s, ok := p.one(english); ok {
		return s, true
	}
	var out []string
	for _, x := range sentences(english) {
		s, ok := p.one(x)
		if !ok {
			return english, false
		}
		out = append(out, s)
	}
	return strings.Join(out, " "), len(out) > 0
}

// one is one sentence or name.
func (p *Phrases) one(english string) (string, bool) {
	if s, ok := p.own.one(english, p.t, 0); ok {
		return s, true
	}
	if p.t.memory == nil {
		return english, true
	}
	if s, ok := p.t.memory.one(english, p.t, 0); ok {
		return s, true
	}
	return english, false
}
