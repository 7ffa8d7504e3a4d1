package letter

import (
	"testing"

	"github.com/goccy/go-yaml"
)

// A sentence of one's own is said, with its parts; what advice says is known
// as well; and what nobody translated comes back as it was.
func TestPhrases(t *testing.T) {
	p := NewPhrases(yaml.MapSlice{{Key: "waits", Value: "espera"}, {Key: "{=name}: {state}", Value: "{=name}: {state}"}, {Key: "It waits.", Value: "Espera."}, {Key: "For 2 days.", Value: "Dos días."}, {Key: "for {n} days", Value: "desde hace {n} días"}}, Spanish)
	for _, x := range []struct {
		english, want string
		ok            bool
	}{
		{"for 12 days", "desde hace 12 días", true},
		{"a waits b.pdf: waits", "a waits b.pdf: espera", true},
		{"a.pdf: nobody knows", "a.pdf: nobody knows", false},
		{"vegetable garden", "huerto de verduras", true},
		{"a sentence that nobody said before", "a sentence that nobody said before", false},
		{"12.5", "12.5", true},
		{"for 2 days. Vegetable garden", "for 2 days. Vegetable garden", false},
		{"It waits. For 2 days.", "Espera. Dos días.", true},
	} {
		if got, ok := p.Say(x.english); got != x.want || ok != x.ok {
			t.Errorf("%q: got %q %t, want %q %t", x.english, got, ok, x.want, x.ok)
		}
	}
	for from, to := range map[string]string{"for 12 days": "desde hace 12 días", "vegetable garden": "vegetable garden", "Clay": "Clay"} {
		if got := p.Own(from); got != to {
			t.Errorf("%q by its own: %q, want %q", from, got, to)
		}
	}
}
