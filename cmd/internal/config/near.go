package config

import (
	"slices"
	"strings"

	"example.org/windrow/mappings/strict"
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
		if d := strict.Distance(flat(name), flat(k)); d < dist || d == dist && best == "" {
			best, dist = k, d
		}
	}
	return best
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
