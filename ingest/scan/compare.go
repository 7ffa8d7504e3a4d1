package scan

import (
	"math"
	"slices"
	"strings"
	"unicode"

	"example.org/windrow/ingest"
)

// words makes one list of words of two readings. Those of the first come in
// its order, each with what the second has in the same place; what only the
// second has comes behind, so that no number that either saw is lost.
// A number agrees only where fits, which looks at the picture, says so too.
func words(first, second []token, fits func(token) bool) []ingest.Word {
	var out []ingest.Word
	used := make([]bool, len(second))
	sets := settings(first)
	strips := stripsOf(second)
	for i, t := range first {
		var there []token
		for _, k := range strips.near(t.box) {
			if share(t.box, second[k].box) > 0.3 {
				there = append(there, second[k])
				used[k] = true
			}
		}
		slices.SortStableFunc(there, func(a, b token) int {
			if a.box.X0 < b.box.X0 {
				return -1
			}
			return 1
		})
		var parts []string
		for _, o := range there {
			parts = append(parts, o.text)
		}
		text := strings.Join(parts, " ")
		out = append(out, word(t, sets[i], &ingest.OCR{Confidence: t.confidence, Second: text, Agree: same(t.text, text) && fits(t)}))
	}
	sets = settings(second)
	for k, t := range second {
		if !used[k] {
			out = append(out, word(t, sets[k], &ingest.OCR{Confidence: t.confidence, Second: t.text}))
		}
	}
	return out
}

// word gives a token the box that text of its size has, so that a dash stands
// in the row of its neighbours.
func word(t token, s setting, o *ingest.OCR) ingest.Word {
	b := t.box
	b.Y0, b.Y1 = min(b.Y0, s.base-capHeight*s.size), max(b.Y1, s.base)
	b = ingest.Box{X0: round(b.X0), Y0: round(b.Y0), X1: round(b.X1), Y1: round(b.Y1)}
	return ingest.Word{Text: t.text, Box: b, Base: round(s.base), Size: round(s.size), OCR: o}
}

// share is the part of the smaller of two boxes that they have in common.
func share(a, b ingest.Box) float64 {
	least := min(a.Width()*a.Height(), b.Width()*b.Height())
	if least <= 0 {
		return 0
	}
	return a.OverlapX(b) * a.OverlapY(b) / least
}

// same reports whether two readings have the same characters. Only forms of
// dashes and quotes, which no number differs by, are taken as one.
func same(a, b string) bool { return plain(a) == plain(b) && b != "" }

func plain(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case unicode.Is(unicode.Pd, r), r == '\u2212':
			return '-'
		case r == '\u2018' || r == '\u2019' || r == '`':
			return '\''
		case r == '\u201c' || r == '\u201d':
			return '"'
		}
		return r
	}, s)
}

// strips finds the tokens near a box: those that start in the same rows.
type strips map[int][]int

const strip = 24.0 // points

func stripsOf(tokens []token) strips {
	s := strips{}
	for i, t := range tokens {
		for r := int(math.Floor(t.box.Y0 / strip)); r <= int(math.Floor(t.box.Y1/strip)); r++ {
			s[r] = append(s[r], i)
		}
	}
	return s
}

func (s strips) near(b ingest.Box) []int {
	var out []int
	for r := int(math.Floor(b.Y0 / strip)); r <= int(math.Floor(b.Y1/strip)); r++ {
		for _, i := range s[r] {
			if !slices.Contains(out, i) {
				out = append(out, i)
			}
		}
	}
	return out
}
