package access

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"example.org/windrow/ingest"
)

// Bounds of a password in characters. The lower one is that of NIST SP
// 800-63B-4, section 3.1.1.2, for a password that nothing else stands beside;
// the upper one only keeps a form from being a burden (the same section asks
// that at least 64 be taken).
const (
	leastPassword = 15
	mostPassword  = 256
)

// leastUnlike is how many different characters a password must have, and
// leastRest how many must remain of it without what everybody tries first:
// common practice, no source.
const (
	leastUnlike = 6
	leastRest   = 8
)

// tried are beginnings of what is tried first, besides the person's own names.
var tried = []string{"password", "passwort", "contrasena", "contraseña", "welcome", "letmein", "iloveyou", "windrow", "soil", "secret", "admin",
	"correcthorsebatterystaple", "qwertyuiop", "qwertzuiop", "azertyuiop", "asdfghjkl", "zxcvbnm", "1q2w3e4r5t6z", "1q2w3e4r5t6y", "abcdefghijklmnopqrstuvwxyz", "1234567890"}

// Weak says why a password may not be used, nil for one that may. words are
// names of the person and the office: what remains without them counts. Only
// length and what is tried first are looked at, since rules about kinds of
// characters make passwords worse (the same source).
func Weak(password string, words ...string) *ingest.Reason {
	no := func(what, expected, found string) *ingest.Reason {
		return &ingest.Reason{Code: "password-weak", Severity: ingest.Fail, What: what, Expected: expected, Found: found, Next: "take four or five words that have nothing to do with each other, and not from a song or a book"}
	}
	n := utf8.RuneCountInString(password)
	switch {
	case !utf8.ValidString(password):
		return no("the password is not text", fmt.Sprintf("%d characters or more", leastPassword), "")
	case n < leastPassword:
		return no("the password is too short", fmt.Sprintf("%d characters or more", leastPassword), fmt.Sprintf("%d", n))
	case n > mostPassword:
		return no("the password is too long", fmt.Sprintf("%d characters at most", mostPassword), fmt.Sprintf("%d", n))
	}
	unlike := map[rune]bool{}
	for _, r := range strings.ToLower(password) {
		if unicode.IsControl(r) {
			return no("the password holds a character that can't be typed on every keyboard", "letters, digits, spaces and signs", "")
		}
		unlike[r] = true
	}
	if len(unlike) < leastUnlike {
		return no("the password is too even", fmt.Sprintf("%d different characters or more", leastUnlike), fmt.Sprintf("%d", len(unlike)))
	}
	if rest := min(utf8.RuneCountInString(unlikely(letters(password), words)), utf8.RuneCountInString(unlikely(forLetters.Replace(letters(password)), words))); rest < leastRest {
		return no("little of the password remains without what everybody tries first: names of the person and the office, well-known words, rows of keys, repetitions",
			fmt.Sprintf("%d characters or more besides", leastRest), fmt.Sprintf("%d", rest))
	}
	return nil
}

// forLetters puts letters where digits are written for them.
var forLetters = strings.NewReplacer("0", "o", "1", "i", "3", "e", "4", "a", "5", "s", "7", "t")

// unlikely is what is left of the letters of a password without what is tried
// first.
func unlikely(s string, words []string) string {
	var list []string
	for _, w := range words {
		for _, f := range strings.FieldsFunc(w, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }) {
			list = append(list, letters(f))
		}
	}
	for _, w := range append(list, tried...) {
		if len(w) >= 4 {
			s = strings.ReplaceAll(s, w, "\x00")
		}
	}
	// A row: four or more characters each of which follows the one before, up,
	// down or on the spot, or on the keyboard.
	rs := []rune(s)
	var out []rune
	for i := 0; i < len(rs); {
		j := i + 1
		for step := rune(0); j < len(rs); j++ {
			d := rs[j] - rs[j-1]
			if d < -1 || d > 1 || j > i+1 && d != step {
				break
			}
			step = d
		}
		if j-i >= 4 {
			out = append(out, 0)
		} else {
			j = i + 1
			out = append(out, rs[i])
		}
		i = j
	}
	// A piece that was there before adds nothing.
	s = string(out)
	var kept strings.Builder
	for s != "" {
		n := 0
		for m := min(len(s), 24); m >= 4; m-- {
			if strings.Contains(kept.String(), s[:m]) {
				n = m
				break
			}
		}
		if n > 0 {
			s = s[n:]
			continue
		}
		_, w := utf8.DecodeRuneInString(s)
		kept.WriteString(s[:w])
		s = s[w:]
	}
	return strings.ReplaceAll(kept.String(), "\x00", "")
}

// letters is a text in small letters, without spaces and signs.
func letters(s string) string {
	return strings.Map(func(r rune) rune {
		switch r = unicode.ToLower(r); {
		case r == '@':
			return 'a'
		case r == '$':
			return 's'
		case unicode.IsLetter(r), unicode.IsDigit(r):
			return r
		}
		return -1
	}, s)
}
