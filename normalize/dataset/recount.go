package dataset

import (
	"crypto/sha256"
	"slices"
	"strconv"
	"strings"

	"example.org/windrow/ingest"
)

// A recount counts the samples that the finished rows show alike. It knows
// nothing of the plan, so that a fault in the plan is found before anything
// leaves.
type recount struct {
	groups  map[[16]byte]*group
	waiting map[string]*waiting // samples that are reported more than once
	values  map[string]string   // the sample that alone has a measured value; "" where two have it; nil where nothing is to be told of values
	follow  bool                // samples are kept, for a comparison
	samples map[string]standing
}

// A group is the samples that the tables show alike.
type group struct {
	quasi   // as published
	samples int
	people  crowd
	leads   map[leadKind]map[int]int // samples by class of lead
}

type waiting struct {
	within string
	person int
	rows   []row
	found  []string
}

// A standing is where a sample stands in a finished dataset.
type standing struct {
	group  *group
	person int
}

func newRecount(follow bool) *recount {
	return &recount{groups: map[[16]byte]*group{}, waiting: map[string]*waiting{}, values: map[string]string{}, follow: follow, samples: map[string]standing{}}
}

// tellingColumns are the columns that show how a test was made and printed,
// and do not follow from its number.
var tellingColumns = []int{colAnalyte, colDetail, colMethod, colMethodName, colUnit, colUCUM, colMissing, colVolumeUnit, colPrintedUnit, colBasis, colAreaDepth, colAreaSoil, colAreaSource, colConversion, colSources, colWithheld}

// newPartsRecount counts for a dataset in parts, of whose values nothing is told.
func newPartsRecount() *recount {
	return &recount{groups: map[[16]byte]*group{}, waiting: map[string]*waiting{}}
}

// take counts a sample by its rows, among those within some cohort, "" where
// there are none. One of which further reports may come is counted at the end.
func (n *recount) take(within, sample string, person int, rows []row, found []string, more bool) {
	if !more {
		n.count(within, sample, person, rows, found)
		return
	}
	if n.waiting[sample] == nil {
		n.waiting[sample] = &waiting{within: within, person: person}
	}
	w := n.waiting[sample]
	w.rows, w.found = append(w.rows, rows...), append(w.found, found...)
}

func quasiOfRow(f []string) quasi {
	return quasi{f[colCounty], f[colLandUse], f[colPeriod], f[colDepth], f[colLab]}
}

func (n *recount) count(within, sample string, person int, rows []row, found []string) {
	words := map[string]bool{}
	seen := map[string]int{}
	for _, code := range found {
		words[aFinding+code] = true
	}
	for _, r := range rows {
		var w []string
		for _, c := range tellingColumns {
			w = append(w, r.fields[c])
		}
		k := strings.Join(w, "\x1f")
		seen[r.fields[colReport]+k]++
		words[k+"\x1f"+strconv.Itoa(seen[r.fields[colReport]+k])] = true
		q := quasiOfRow(r.fields)
		words[strings.Join(q[:], "\x1d")] = true // two reports of a sample that are shown in two ways
		if v := r.fields[colValue]; v != "" && n.values != nil {
			k := strings.Join([]string{r.fields[colAnalyte], r.fields[colDetail], r.fields[colMethod], v, r.fields[colCensored]}, "\x1f")
			if by, ok := n.values[k]; !ok {
				n.values[k] = sample
			} else if by != sample {
				n.values[k] = ""
			}
		}
	}
	var all []string
	for w := range words {
		all = append(all, w)
	}
	slices.Sort(all)
	h := sha256.Sum256([]byte(within + "\x00" + strings.Join(all, "\x1e")))
	key := [16]byte(h[:16])
	g := n.groups[key]
	if g == nil {
		g = &group{quasi: quasiOfRow(rows[0].fields)}
		n.groups[key] = g
	}
	g.samples++
	g.people.add(person)
	if n.values != nil {
		for kind, class := range leadsOf(rows) {
			if g.leads == nil {
				g.leads = map[leadKind]map[int]int{}
			}
			if g.leads[kind] == nil {
				g.leads[kind] = map[int]int{}
			}
			g.leads[kind][class]++
		}
	}
	if n.follow {
		n.samples[sample] = standing{g, person}
	}
}

// enough gives an error where a group has too few clients.
func (n *recount) enough(k int) error {
	for sample, w := range n.waiting {
		n.count(w.within, sample, w.person, w.rows, w.found)
	}
	clear(n.waiting)
	for _, g := range n.groups {
		if g.people.size() < k {
			return &ingest.Reason{Code: "dataset-singles-out", Severity: ingest.Fail, What: "the tables that were made would show too few clients alike; nothing was written",
				Expected: "at least " + strconv.Itoa(k) + " clients in every group", Found: strconv.Itoa(g.people.size()) + " in a group",
				Next: "this is a fault in Windrow, not in your reports: tell its makers"}
		}
	}
	return nil
}

// sorted are the groups by what the tables tell of them.
func (n *recount) sorted() []*group {
	var out []*group
	for _, g := range n.groups {
		out = append(out, g)
	}
	slices.SortFunc(out, func(a, b *group) int {
		if c := slices.Compare(a.quasi[:], b.quasi[:]); c != 0 {
			return c
		}
		if c := b.samples - a.samples; c != 0 {
			return c
		}
		return b.people.size() - a.people.size()
	})
	return out
}

// tell puts what was counted into the account.
func (n *recount) tell(d *Disclosure) {
	groups := n.sorted()
	for _, g := range groups {
		d.After.add(g.samples, g.people.size(), d.K)
	}
	alone := map[string]bool{}
	for _, sample := range n.values {
		if sample != "" {
			alone[sample] = true
		}
	}
	d.UniqueValue = len(alone)
	d.Lead = diversityOf(groups)
}
