package strict

import (
	"fmt"
	"sort"
	"strings"
)

// DidYouMean is advice that names the nearest of the known words.
func DidYouMean(word string, known []string) string {
	if near := Nearest(word, known, 1); len(near) > 0 {
		return fmt.Sprintf("did you mean %q?", near[0])
	}
	return "use one of the expected words"
}

// Nearest lists up to n of the known words that lie within a third of the
// word's length in edits, nearest first, and among equals in the order of the
// alphabet. A word that shares no letter with the one written is never
// offered.
func Nearest(word string, known []string, n int) []string {
	type hit struct {
		w string
		d int
	}
	lw := strings.ToLower(word)
	length := len([]rune(lw))
	var hits []hit
	for _, k := range known {
		lk := strings.ToLower(k)
		longest := max(length, len([]rune(lk)))
		if d := Distance(lw, lk); d <= max(1, longest/3) && d < longest && d < max(length, 1) {
			hits = append(hits, hit{k, d})
		}
	}
	sort.SliceStable(hits, func(i, j int) bool {
		if hits[i].d != hits[j].d {
			return hits[i].d < hits[j].d
		}
		return hits[i].w < hits[j].w
	})
	var out []string
	for _, h := range hits[:min(n, len(hits))] {
		out = append(out, h.w)
	}
	return out
}

// Distance counts the letters to insert, remove, change or swap with their
// neighbour to make b from a (Damerau's distance in its restricted form, also
// called optimal string alignment).
func Distance(a, b string) int {
	x, y := []rune(a), []rune(b)
	rows := [3][]int{make([]int, len(y)+1), make([]int, len(y)+1), make([]int, len(y)+1)}
	for j := range rows[1] {
		rows[1][j] = j
	}
	for i := 1; i <= len(x); i++ {
		cur, prev, prev2 := rows[2], rows[1], rows[0]
		cur[0] = i
		for j := 1; j <= len(y); j++ {
			cost := 1
			if x[i-1] == y[j-1] {
				cost = 0
			}
			cur[j] = min(prev[j]+1, cur[j-1]+1, prev[j-1]+cost)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				cur[j] = min(cur[j], prev2[j-2]+1)
			}
		}
		rows[0], rows[1], rows[2] = prev, cur, prev2
	}
	return rows[1][len(y)]
}
