package letter

import "github.com/goccy/go-yaml"

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

// Say is a sentence or name in the language; false where it can't be said, and
// then it is what was given.
func (p *Phrases) Say(english string) (string, bool) {
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
