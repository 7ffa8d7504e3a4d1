package dataset

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"example.org/windrow/normalize"
)

// Suppressed stands in place of what the disclosure control withholds of a
// sample.
const Suppressed = "suppressed"

// The quasi-identifiers: what the tables tell of a sample that somebody who
// knows its owner may know as well.
const (
	qCounty = iota
	qUse
	qPeriod
	qDepth
	qLab // the laboratory, together with everything that gives it away
	numQuasi
)

// A quasi is what is known of a sample by its quasi-identifiers.
type quasi [numQuasi]string

// The levels of the laboratory. A laboratory, the layout of its report, its
// mapping, its methods, its units in print and the set of its tests identify
// each other, so that they are one quasi-identifier: a panel.
const (
	labExact   = iota // named; every sample of the group has the same panel
	labCommon         // named; results that not every sample of the group has are cut
	labNoPrint        // the same, and the columns of what stood in print are withheld
	labHidden         // and the laboratory is not named
)

// Levels say how far each quasi-identifier is generalised, from 0, for as
// reported, to its height, for withheld.
type levels [numQuasi]uint8

// heights are the highest levels: county; land use over its class; month over
// quarter and year; depth; the laboratory's.
var heights = levels{1, 2, 3, 1, labHidden}

// names of the quasi-identifiers, and of each one's levels.
var quasiNames = [numQuasi]string{"county", "land use", "date", "depth", "laboratory and methods"}

var levelNames = [numQuasi][]string{
	{"as reported", "withheld"},
	{"as reported", "class of uses", "withheld"},
	{"month", "quarter", "year", "withheld"},
	{"as reported", "withheld"},
	{"named, with all tests", "named, tests cut to those in common", "named, print withheld", "withheld, with print"},
}

// at is what a level of generalisation leaves of a quasi-identifier. What is
// not known stays so until it is withheld like the rest.
func at(which int, v string, level uint8) string {
	switch {
	case level == 0 || which == qLab && level < labHidden:
		return v
	case level == heights[which]:
		return Suppressed
	case v == "":
		return v
	case which == qUse:
		return useClass(v)
	case level == 1:
		return quarter(v)
	}
	return v[:4]
}

func (q quasi) at(l levels) quasi {
	for i := range q {
		q[i] = at(i, q[i], l[i])
	}
	return q
}

// quarter is the quarter of a month YYYY-MM, such as 2026-Q2.
func quarter(month string) string {
	n := int(month[5]-'0')*10 + int(month[6]-'0')
	return month[:4] + "-Q" + strconv.Itoa((n+2)/3)
}

// lossUnit is the loss of a sample of which everything is withheld: each
// quasi-identifier counts alike, and each of its levels as its share of its
// height, which is one less Sweeney's precision of the sample (2002, section 4).
const lossUnit = 60

// loss is the share of lossUnit that levels lose.
func (l levels) loss() int {
	n := 0
	for i, v := range l {
		n += lossUnit / numQuasi * int(v) / int(heights[i])
	}
	return n
}

// withheldPrint says whether the columns of what stood in print are withheld.
// They go with the depth, which the ratio of value and printed number tells.
func (l levels) withheldPrint() bool { return l[qLab] >= labNoPrint }

// sound says whether the levels may stand together.
func (l levels) sound() bool { return l[qDepth] == 0 || l.withheldPrint() }

// ladder is every combination of levels that may stand together, by its loss;
// of two with one loss, the one that leaves more of the county comes first,
// then of the land use, and so on.
var ladder = func() []levels {
	all := []levels{{}}
	for i, h := range heights {
		var next []levels
		for _, l := range all {
			for v := range h + 1 {
				l[i] = v
				next = append(next, l)
			}
		}
		all = next
	}
	all = slices.DeleteFunc(all, func(l levels) bool { return !l.sound() })
	slices.SortFunc(all, func(a, b levels) int { return cmp.Or(cmp.Compare(a.loss(), b.loss()), slices.Compare(a[:], b[:])) })
	return all
}()

// quasiOf are the quasi-identifiers of a record as reported.
func quasiOf(rep *normalize.Report, rec *normalize.Record) quasi {
	s := &rec.Sample
	return quasi{text(s.County), text(s.LandUse), month(s.Sampled), number(s.DepthIn), text(rep.Lab.ID)}
}

// useClasses are the classes of land uses, each with its uses. Common
// practice, no source.
var useClasses = map[string][]string{
	"food garden (class)":         {"vegetable garden", "raised bed", "community garden", "tomatoes", "pumpkins", "greenhouse"},
	"fruit (class)":               {"orchard", "tree fruit", "small fruit", "blueberry", "strawberry", "grapes"},
	"lawn and ornamental (class)": {"lawn", "new lawn", "turf", "flower bed", "native bed", "shrubs", "evergreens", "trees", "roses"},
	"forage (class)":              {"pasture", "hay", "alfalfa", "clover"},
	"field crop (class)": {"field corn", "corn silage", "sweet corn", "soybean", "wheat", "small grains", "sorghum", "potatoes", "cover crop", "sunflower",
		"canola", "cotton", "tobacco", "peanuts", "christmas trees", "wildlife plot"},
	otherUse: {"compost", "play area"},
}

const otherUse = "other (class)"

var classOfUse = func() map[string]string {
	m := map[string]string{}
	for class, uses := range useClasses {
		for _, u := range uses {
			m[u] = class
		}
	}
	return m
}()

// useClass is the class of a land use; one that is in no class is among the
// other ones.
func useClass(use string) string {
	if c := classOfUse[use]; c != "" {
		return c
	}
	return otherUse
}

// UseClasses are the names of the classes of land uses that a dataset may
// have in place of a use, in order.
func UseClasses() []string {
	var out []string
	for c := range useClasses {
		out = append(out, c)
	}
	slices.SortFunc(out, strings.Compare)
	return out
}
