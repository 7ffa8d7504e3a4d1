package normalize

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"example.org/windrow/normalize/check"
)

// sameClient reports whether two names may be of one client: they are the same
// but for capitals, spaces and punctuation, or one abbreviates the other, as
// "R. Hale" or "Hale, R." does "Rosa Hale". Names that differ in a word that both
// write out are two. It is the same for the two the other way about.
//
// Common practice, no source: a page has room for a whole name, a table for an
// initial. That one name may stand for the other is no proof that it does; but
// that two names are written differently is none of two clients either.
func sameClient(a, b string) bool {
	if bare(a) == bare(b) {
		return true
	}
	x, y := nameWords(turned(a)), nameWords(turned(b))
	return joinedWords(x) == joinedWords(y) || abbreviates(x, y)
}

// A nameWord is a word of a name, folded; short says that a full stop
// behind it, or its length, makes it an abbreviation.
type nameWord struct {
	text  string
	short bool
}

// turned is a name with what stands behind its only comma first.
func turned(name string) string {
	if family, given, ok := strings.Cut(name, ","); ok && !strings.Contains(given, ",") {
		return given + " " + family
	}
	return name
}

func nameWords(name string) []nameWord {
	var out []nameWord
	var word strings.Builder
	end := func(stop bool) {
		if word.Len() > 0 {
			out = append(out, nameWord{check.Folded(word.String()), stop || utf8.RuneCountInString(word.String()) == 1})
			word.Reset()
		}
	}
	for _, r := range name {
		switch {
		case unicode.IsLetter(r) || unicode.IsNumber(r) || unicode.IsMark(r):
			word.WriteRune(r)
		case r == '\'' || r == '’':
		default:
			end(r == '.')
		}
	}
	end(false)
	return out
}

// bare is a name without spaces and punctuation.
func bare(name string) string {
	return check.Folded(strings.Map(func(r rune) rune {
		if !unicode.IsLetter(r) && !unicode.IsNumber(r) && !unicode.IsMark(r) {
			return -1
		}
		return r
	}, name))
}

func joinedWords(ws []nameWord) string {
	var b strings.Builder
	for _, w := range ws {
		b.WriteString(w.text)
	}
	return b.String()
}

// abbreviates reports whether two names agree word by word, where a word may
// stand shortened in one of them, and an initial in the middle be left out. The
// last words are written out in both.
func abbreviates(x, y []nameWord) bool {
	if len(x) > len(y) {
		x, y = y, x
	}
	if len(x) < 2 || x[len(x)-1].text != y[len(y)-1].text || x[len(x)-1].short || !accord(x[0], y[0]) {
		return false
	}
	i := 1
	for _, w := range y[1 : len(y)-1] {
		switch {
		case i < len(x)-1 && accord(x[i], w):
			i++
		case utf8.RuneCountInString(w.text) > 1:
			return false
		}
	}
	return i == len(x)-1
}

func accord(a, b nameWord) bool {
	return a.text == b.text || a.short && strings.HasPrefix(b.text, a.text) || b.short && strings.HasPrefix(a.text, b.text)
}

// ClientGroups numbers the clients behind a list of names, from 0: two names
// that may be of one client, as [SameSample] takes them, have the same number,
// and so have all names that a chain of such pairs joins. So it never counts
// more clients than there are, where each is named in one way; it may count
// fewer. An empty name is a client like any other.
func ClientGroups(names []string) []int {
	parent := make([]int, len(names))
	for i := range parent {
		parent[i] = i
	}
	root := func(i int) int {
		for parent[i] != i {
			parent[i] = parent[parent[i]]
			i = parent[i]
		}
		return i
	}
	join := func(a, b int) { // the smaller number stands for both
		a, b = root(a), root(b)
		parent[max(a, b)] = min(a, b)
	}
	same := map[string]int{}    // the first name with a text in common
	alike := map[string][]int{} // names that one may abbreviate another of
	for i, name := range names {
		ws := nameWords(turned(name))
		for _, k := range []string{"bare " + bare(name), "words " + joinedWords(ws)} {
			if first, ok := same[k]; ok {
				join(first, i)
			} else {
				same[k] = i
			}
		}
		if len(ws) >= 2 {
			r, _ := utf8.DecodeRuneInString(ws[0].text)
			k := string(r) + " " + ws[len(ws)-1].text
			alike[k] = append(alike[k], i)
		}
	}
	for _, is := range alike {
		for n, a := range is {
			for _, b := range is[:n] {
				if root(a) != root(b) && sameClient(names[a], names[b]) {
					join(a, b)
				}
			}
		}
	}
	numbers, out := map[int]int{}, make([]int, len(names))
	for i := range names {
		n, ok := numbers[root(i)]
		if !ok {
			n = len(numbers)
			numbers[root(i)] = n
		}
		out[i] = n
	}
	return out
}
