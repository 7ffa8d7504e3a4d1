package dataset

import (
	"math"
	"math/big"
	"slices"
	"strconv"
	"strings"
)

// A leadKind tells determinations of lead apart: a screen by an extract is
// no total.
type leadKind struct{ detail, method string }

// leadLines are the figures, in mg/kg, between the classes by which the
// diversity of lead is counted: screening levels of the United States'
// Environmental Protection Agency for soil where people live (100 and 200 of
// January 2024; 400 and 1200 of 40 CFR 745.65, 2001), from memory. Here they
// only tell groups apart, and judge no soil.
var leadLines = []int64{100, 200, 400, 1200}

// leadClass is the class of a value of lead, from 0.
func leadClass(value, censored string) (class int, ok bool) {
	v, ok := new(big.Rat).SetString(value)
	if !ok {
		return 0, false
	}
	for _, line := range leadLines {
		c := v.Cmp(big.NewRat(line, 1))
		if c < 0 || c == 0 && censored == "<" {
			return class, true
		}
		class++
	}
	return class, true
}

// leadClassName is a class in words.
func leadClassName(class int) string {
	of := func(i int) string { return strconv.FormatInt(leadLines[i], 10) }
	switch class {
	case 0:
		return "below " + of(0) + " mg/kg"
	case len(leadLines):
		return of(class-1) + " mg/kg and more"
	}
	return of(class-1) + " to " + of(class) + " mg/kg"
}

// leadsOf are the classes of lead of a sample, of each kind of determination;
// where it has two of one kind, the higher one.
func leadsOf(rows []row) map[leadKind]int {
	var out map[leadKind]int
	for _, r := range rows {
		f := r.fields
		if f[colAnalyte] != "Pb" || f[colUnit] != "mg/kg" {
			continue
		}
		class, ok := leadClass(f[colValue], f[colCensored])
		if !ok {
			continue
		}
		if out == nil {
			out = map[leadKind]int{}
		}
		k := leadKind{f[colDetail], f[colMethod]}
		out[k] = max(out[k], class)
	}
	return out
}

// Diversity tells how many classes of lead stand side by side in the groups: a
// reader who knows that somebody is in a group of one class knows the class of
// his lead, though not which sample is his.
type Diversity struct {
	Groups   int      `json:"groups"`   // with a value of lead, each kind of determination by itself
	Samples  int      `json:"samples"`  // in them, with a value
	Distinct int      `json:"distinct"` // the least number of classes in a group: l of distinct l-diversity
	Entropy  string   `json:"entropy"`  // the least l of entropy l-diversity, to two decimals
	Alike    []Alike  `json:"alike"`    // the groups of one class
	Lines    []string `json:"lines"`    // the classes
}

// Alike is a group whose samples have one class of lead.
type Alike struct {
	Group   string `json:"group"`
	Samples int    `json:"samples"`
	Class   string `json:"class"`
}

func diversityOf(groups []*group) Diversity {
	var d Diversity
	least := math.Inf(1)
	for c := range len(leadLines) + 1 {
		d.Lines = append(d.Lines, leadClassName(c))
	}
	for _, g := range groups {
		var kinds []leadKind
		for k := range g.leads {
			kinds = append(kinds, k)
		}
		slices.SortFunc(kinds, func(a, b leadKind) int {
			return slices.Compare([]string{a.detail, a.method}, []string{b.detail, b.method})
		})
		for _, k := range kinds {
			n, only := 0, 0
			var counts []int
			for class := range len(leadLines) + 1 {
				if c := g.leads[k][class]; c > 0 {
					n, only, counts = n+c, class, append(counts, c)
				}
			}
			d.Groups++
			d.Samples += n
			if d.Distinct == 0 || len(counts) < d.Distinct {
				d.Distinct = len(counts)
			}
			h := 0.0
			for _, c := range counts {
				p := float64(c) / float64(n)
				h -= p * math.Log(p)
			}
			least = min(least, math.Exp(h))
			if len(counts) == 1 {
				d.Alike = append(d.Alike, Alike{g.words(), n, leadClassName(only)})
			}
		}
	}
	if d.Groups > 0 {
		d.Entropy = strconv.FormatFloat(least, 'f', 2, 64)
	}
	return d
}

// words are the quasi-identifiers of a group as the tables show them.
func (g *group) words() string {
	var out []string
	for i, v := range g.quasi {
		switch v {
		case Suppressed:
		case "":
			out = append(out, quasiNames[i]+" not known")
		default:
			out = append(out, quasiNames[i]+" "+v)
		}
	}
	if len(out) == 0 {
		return "everything withheld"
	}
	return strings.ReplaceAll(strings.Join(out, ", "), quasiNames[qLab], "laboratory")
}
