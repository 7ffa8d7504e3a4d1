package config

import (
	"slices"
	"strings"
)

// near is the known name that a mistyped one most likely meant, or "". Case
// and the choice of _ or - do not count.
func near(name string, known []string) string {
	flat := func(s string) string { return strings.ReplaceAll(strings.ToLower(s), "-", "_") }
	for _, k := range known {
		if len(name) > 4 && strings.HasPrefix(flat(k), flat(name)) && len(k) > len(name)+1 {
			return k
		}
	}
	best, dist := "", 1+len(name)/4
	for _, k := range known {
		if d := distance(flat(name), flat(k)); d < dist || d == dist && best == "" {
			best, dist = k, d
		}
	}
	return best
}

// distance is the number of letters to add, drop, change or swap with their
// neighbour to make b of a (optimal string alignment).
func distance(a, b string) int {
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

// meant suggests what to write in place of an unknown setting of a block.
// block is "" at the top level.
func meant(block, name string) string {
	if b, n, dotted := strings.Cut(name, "."); dotted && block == "" {
		if _, ok := field(name); ok {
			return "write " + b + ": on one line, and below it, two spaces further in, " + n + ":"
		}
	}
	var here, leaf []string
	for _, f := range Spec() {
		switch b, n, nested := strings.Cut(f.Key, "."); {
		case nested && block == b:
			here = append(here, n)
		case nested && block == "":
			if !slices.Contains(here, b) {
				here = append(here, b)
			}
			leaf = append(leaf, f.Key)
		case !nested && block == "":
			here = append(here, f.Key)
		default:
			leaf = append(leaf, f.Key)
		}
	}
	if block == "folders" {
		here = folderKeys
	}
	if n := near(name, here); n != "" {
		return "did you mean " + n + "?"
	}
	// A known setting that stands in the wrong block.
	for _, k := range leaf {
		if b, n, nested := strings.Cut(k, "."); nested && strings.EqualFold(n, name) {
			return "did you mean " + n + " under " + b + "?"
		} else if !nested && strings.EqualFold(k, name) {
			return "did you mean " + k + " at the beginning of a line, outside " + block + "?"
		}
	}
	return "the settings that may stand here are " + strings.Join(here, ", ")
}
