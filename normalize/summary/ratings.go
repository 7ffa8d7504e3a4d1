package summary

import (
	"cmp"
	"slices"
	"strconv"

	"example.org/windrow/normalize"
)

// A Rating is how the values of a group were rated by one who rates.
type Rating struct {
	// Whose says who rated: the name of a laboratory, by its own words, put into
	// the classes of the codebook; or the id of a published scale that the mapping
	// of a laboratory names, with its Source in the bibliography.
	Whose  string  `json:"whose"`
	Source string  `json:"source,omitempty"`
	Rated  int     `json:"rated"`
	Shares []Share `json:"shares"`
}

// A Share is how many of the rated values are of one class.
type Share struct {
	Class string `json:"class"`
	N     int    `json:"n"`
	// Percent is that of the rated values.
	Percent float64 `json:"percent"`
}

// A rater is a laboratory or a scale.
type rater struct {
	scale bool
	n     int32
}

// A rated is how the values of one group were rated, by who rated.
type rated struct {
	piles   map[rater]*Pile
	classes map[rater]map[int32]int
}

func ratedOf(spots []spot) *rated {
	out := &rated{map[rater]*Pile{}, map[rater]map[int32]int{}}
	count := func(client int32, r rater, class int32) {
		if out.piles[r] == nil {
			out.piles[r], out.classes[r] = &Pile{}, map[int32]int{}
		}
		out.piles[r].Add(client)
		out.classes[r][class]++
	}
	for i := range spots {
		s := &spots[i]
		if s.class != 0 {
			count(s.client, rater{false, s.lab}, s.class)
		}
		if s.scale != 0 {
			count(s.client, rater{true, s.scale}, s.index)
		}
	}
	return out
}

// hiddenGroup stands for all groups that are not told.
const hiddenGroup = -1

// tellableRatings says of which groups it may be told how one who rates rated
// them, beside how he rated all of them together.
func (c *collector) tellableRatings(r rater, by map[int32]*rated, told map[int32]bool) map[int32]bool {
	parts := map[int32]*Pile{}
	for g, x := range by {
		p := x.piles[r]
		if p == nil {
			continue
		}
		if !told[g] {
			g = hiddenGroup
		}
		if parts[g] == nil {
			parts[g] = &Pile{}
		}
		parts[g].Join(p)
	}
	return Tellable(parts, c.opt.MinGroup, cmp.Compare[int32])
}

// shares are how those who rate rated the values of a group, each apart: what
// one laboratory calls high another calls medium. may says whose may be told.
func (c *collector) shares(x *rated, may func(rater) bool) (out []Rating) {
	for r, p := range x.piles {
		if !c.opt.Office && (!p.Enough(c.opt.MinGroup) || !may(r)) {
			continue
		}
		one := Rating{Rated: p.N}
		if r.scale {
			one.Whose, one.Source = c.scale.List[r.n], c.sources[r.n]
		} else {
			one.Whose = c.labs.List[r.n]
		}
		for class, n := range x.classes[r] {
			one.Shares = append(one.Shares, Share{Class: c.words.List[class], N: n, Percent: round(100*float64(n)/float64(p.N), 3)})
		}
		slices.SortFunc(one.Shares, func(a, b Share) int {
			return cmp.Or(cmp.Compare(rank(a.Class), rank(b.Class)), cmp.Compare(a.Class, b.Class))
		})
		out = append(out, one)
	}
	slices.SortFunc(out, func(a, b Rating) int { return cmp.Or(cmp.Compare(a.Source, b.Source), cmp.Compare(a.Whose, b.Whose)) })
	return out
}

// rank is the place of a class from too little to too much: as the table of
// rating classes has it, or by its number where it is an index.
func rank(class string) float64 {
	for _, c := range normalize.RatingClasses() {
		if c.ID == class {
			return float64(c.Rank)
		}
	}
	if n, err := strconv.ParseFloat(class, 64); err == nil {
		return n
	}
	return 1e6
}
