package letter

import (
	"embed"
	"fmt"
	"slices"
	"strings"
	"sync"

	"github.com/goccy/go-yaml"
)

// A Language is what a letter is written in, as its code of two letters
// (ISO 639-1). "" stands for English.
type Language string

// The languages that there are letters in.
const (
	English Language = "en"
	Spanish Language = "es"
)

// Languages are the languages that there are letters in, the first of which
// is written where none is asked for.
func Languages() []Language { return []Language{English, Spanish} }

// Known reports whether there are letters in the language.
func (l Language) Known() bool { return l == "" || slices.Contains(Languages(), l) }

//go:embed words/*.yaml es.yaml
var wordFiles embed.FS

// A tongue is one language: the letter's own words by their keys, and what
// stands for the sentences that advice says in English.
type tongue struct {
	lang   Language
	own    map[string]string
	memory *memory // nil for English
}

// The files are part of the program, so one that can't be read is a mistake
// in the program, which the tests find.
var tongues = sync.OnceValue(func() map[Language]*tongue {
	out := map[Language]*tongue{}
	for _, l := range Languages() {
		t := &tongue{lang: l, own: map[string]string{}}
		mustRead("words/"+string(l)+".yaml", &t.own)
		if l != English {
			var said yaml.MapSlice
			mustRead(string(l)+".yaml", &said)
			t.memory = newMemory(said)
		}
		out[l] = t
	}
	return out
})

func mustRead(name string, out any) {
	b, err := wordFiles.ReadFile(name)
	if err == nil {
		err = yaml.UnmarshalWithOptions(b, out, yaml.Strict())
	}
	if err != nil {
		panic(fmt.Sprintf("letter: %s: %v", name, err))
	}
}

// tongueOf is a language, or English where there are no words of it.
func tongueOf(l Language) *tongue {
	if t := tongues()[l]; t != nil {
		return t
	}
	return tongues()[English]
}

// say is one of the letter's own phrases with its places filled in: pairs of
// a place's name and what stands there. A key that there is none of comes
// back as it is; a test finds each use of one.
func (t *tongue) say(key string, pairs ...string) string {
	s, ok := t.own[key]
	if !ok {
		return key
	}
	for i := range pairs {
		if i%2 == 0 {
			pairs[i] = "{" + pairs[i] + "}"
		}
	}
	return strings.NewReplacer(pairs...).Replace(s)
}

// has reports whether there is a phrase of that key.
func (t *tongue) has(key string) bool { _, ok := t.own[key]; return ok }

// join puts words into one phrase with commas and a last and, or, as the key
// says.
func (t *tongue) join(n []string, key string) string {
	if len(n) == 0 {
		return ""
	}
	if len(n) == 1 {
		return n[0]
	}
	return strings.Join(n[:len(n)-1], ", ") + " " + t.say(key) + " " + n[len(n)-1]
}

// tr is what advice says, in the language. Sentences that have no translation
// stay in English and are marked as such.
func (t *tongue) tr(english string) string {
	if t.memory == nil || english == "" {
		return english
	}
	return t.memory.text(english, t)
}
