package dataset

import (
	"slices"
	"strconv"
	"strings"

	"example.org/windrow/ingest"
)

// DefaultGroup is the least number of clients behind the samples that a
// dataset shows alike, where nobody decided otherwise. Common practice in
// health and official statistics, from memory: cells of fewer than 5 are not
// published.
const DefaultGroup = 5

// A Decision is a person's, that groups may be smaller than DefaultGroup.
type Decision struct {
	By  string `json:"by"`
	Why string `json:"why"`
}

// decided sets the size of groups, and refuses one below DefaultGroup that
// nobody answers for.
func decided(opt *Options) error {
	if opt.MinGroup == 0 {
		opt.MinGroup = DefaultGroup
	}
	d := opt.Decision
	if opt.MinGroup >= DefaultGroup {
		opt.Decision = nil // there was nothing to decide
		return nil
	}
	if opt.MinGroup > 0 && d != nil && strings.TrimSpace(d.By) != "" && strings.TrimSpace(d.Why) != "" {
		return nil
	}
	return &ingest.Reason{Code: "dataset-small-groups", Severity: ingest.Fail, What: "a dataset with groups of fewer than " + strconv.Itoa(DefaultGroup) + " clients may let a neighbour find somebody in it",
		Expected: "groups of at least " + strconv.Itoa(DefaultGroup) + " clients, or a decision: who answers for smaller ones, and why", Found: "groups of " + strconv.Itoa(opt.MinGroup) + ", and no decision",
		Next: "leave the size of groups as it is; or, for a dataset that stays in the office, say who decided and why: both will stand in its disclosure report"}
}

// Disclosure is what was done so that nobody is known again, what it cost, and
// what risk is left.
type Disclosure struct {
	K        int       `json:"k"` // the least number of clients in a group
	Decision *Decision `json:"decision,omitempty"`
	Clients  int       `json:"clients"` // whose samples may go out; names that may be of one count as one
	// ClientsOut are those that some sample in the tables is of.
	ClientsOut int `json:"clients_out"`
	Samples    int `json:"samples"`    // that may go out
	Unnamed    int `json:"unnamed"`    // of those, without a word of whose they are: together they count as one client's
	Suppressed int `json:"suppressed"` // of those, left out whole
	Results    int `json:"results"`    // that may go out
	// ResultsCut are results left out since not every sample of their group has
	// one of the same test; ResultsSuppressed those of suppressed samples.
	ResultsCut        int `json:"results_cut"`
	ResultsSuppressed int `json:"results_suppressed"`
	// Before are the groups of samples alike by all quasi-identifiers as
	// reported, After those that the tables show alike, counted in the tables.
	Before Sizes `json:"before"`
	After  Sizes `json:"after"`
	// Steps counts, for each quasi-identifier, the samples at each level.
	Steps []Step `json:"steps"`
	// Loss is the mean share, in percent, by which the quasi-identifiers of the
	// published samples are generalised.
	Loss string `json:"loss_percent"`
	// LabGuessed counts published samples that would stand in a group of fewer
	// than K clients if somebody could tell the laboratory that is withheld.
	LabGuessed int `json:"lab_guessed"`
	// UniqueValue counts published samples with a measured value that no other
	// sample has.
	UniqueValue int         `json:"unique_value"`
	Lead        Diversity   `json:"lead"`
	Previous    *Comparison `json:"previous,omitempty"` // nil where no earlier dataset was named
}

// A Step counts the samples of one quasi-identifier at one level.
type Step struct {
	What    string `json:"what"`
	Level   string `json:"level"`
	Samples int    `json:"samples"`
}

// Sizes are the sizes of groups, in clients.
type Sizes struct {
	Groups   int `json:"groups"`
	Smallest int `json:"smallest"` // clients of the smallest group; 0 where there is none
	Single   int `json:"single"`   // samples in groups of one client
	Small    int `json:"small"`    // in groups of two clients and more, but fewer than k
	Enough   int `json:"enough"`   // in groups of k clients and more, but fewer than twice k
	Large    int `json:"large"`    // in larger ones
	// SmallBySamples counts the samples in groups of fewer than k samples.
	SmallBySamples int `json:"small_by_samples"`
}

// add counts a group.
func (s *Sizes) add(samples, clients, k int) {
	s.Groups++
	if s.Smallest == 0 || clients < s.Smallest {
		s.Smallest = clients
	}
	if samples < k {
		s.SmallBySamples += samples
	}
	switch {
	case clients == 1 && k > 1:
		s.Single += samples
	case clients < k:
		s.Small += samples
	case clients < 2*k:
		s.Enough += samples
	default:
		s.Large += samples
	}
}

// disclosureOf is as much of the account as is known before a row is written.
func disclosureOf(p *publisher, cells []*cell, opt Options) Disclosure {
	d := Disclosure{K: opt.MinGroup, Decision: opt.Decision, Unnamed: p.census.unnamed()}
	var clients, out crowd
	before := map[cellKey]*group{}
	type guess struct {
		class *class
		lab   string
	}
	guessed := map[guess]*group{}
	counts, loss, published := [numQuasi][]int{}, 0, 0
	for i, h := range heights {
		counts[i] = make([]int, h+1)
	}
	for _, c := range cells {
		if c.samples == 0 {
			continue
		}
		d.Samples += c.samples
		d.Results += c.samples * p.plan.full.list[c.full].tests()
		k := cellKey{c.quasi, c.full, 0}
		if before[k] == nil {
			before[k] = &group{}
		}
		before[k].samples += c.samples
		cl := p.plan.of[c.cellKey]
		before[k].people.join(&c.people)
		clients.join(&c.people)
		if cl != nil {
			out.join(&c.people)
		}
		if cl == nil {
			d.Suppressed += c.samples
			continue
		}
		if cl.levels[qLab] >= labHidden {
			g := guess{cl, c.quasi[qLab]}
			if guessed[g] == nil {
				guessed[g] = &group{}
			}
			guessed[g].samples += c.samples
			guessed[g].people.join(&c.people)
		}
		published += c.samples
		loss += c.samples * cl.levels.loss()
		for i, l := range cl.levels {
			counts[i][l] += c.samples
		}
	}
	d.Clients, d.ClientsOut = clients.size(), out.size()
	for _, g := range guessed {
		if g.people.size() < d.K {
			d.LabGuessed += g.samples
		}
	}
	for _, g := range before {
		d.Before.add(g.samples, g.people.size(), d.K)
	}
	for i, by := range counts {
		for l, n := range by {
			if n > 0 {
				d.Steps = append(d.Steps, Step{quasiNames[i], levelNames[i][l], n})
			}
		}
	}
	d.Loss = "0"
	if published > 0 {
		d.Loss = strconv.Itoa((100*loss + lossUnit*published/2) / (lossUnit * published))
	}
	return d
}

// Lines says in a few lines what a person who gives the dataset out should
// know first.
func (d *Disclosure) Lines() []string {
	stood := count(d.Samples, "sample") + " of " + count(d.Clients, "client") + " stood in " + count(d.Before.Groups, "group") + ", the smallest of " + count(d.Before.Smallest, "client") +
		"; " + count(d.Samples-d.Suppressed, "sample") + " go out in " + count(d.After.Groups, "group")
	if d.After.Groups > 0 {
		stood += ", the smallest of " + count(d.After.Smallest, "client")
	}
	out := []string{"each group of samples alike is of at least " + count(d.K, "client") + ": " + stood}
	if d.Decision != nil {
		out = []string{"less protected than it should be, by decision of " + d.Decision.By + ": groups may be of " + count(d.K, "client"), stood}
	}
	if d.Unnamed > 0 && d.K > 1 {
		out = append(out, count(d.Unnamed, "sample")+" of reports that don't say whose they are count as one client's")
	}
	var cost []string
	if d.Suppressed > 0 {
		cost = append(cost, count(d.Suppressed, "sample")+" left out whole")
	}
	if d.ResultsCut > 0 {
		cost = append(cost, count(d.ResultsCut, "result")+" of rare tests left out")
	}
	if d.Loss != "0" {
		cost = append(cost, d.Loss+" % of what tells where, when and by whom generalised")
	}
	if len(cost) > 0 {
		out = append(out, "the cost: "+strings.Join(cost, ", "))
	}
	if n := len(d.Lead.Alike); n > 0 {
		out = append(out, "lead: in "+count(n, "group")+" all samples have one class of lead")
	}
	if c := d.Previous; c != nil {
		switch {
		case !c.SameKey:
			out = append(out, "the dataset given out before has another key: its codes don't agree with these")
		case c.Alone() > 0:
			out = append(out, "with the dataset given out before: "+count(c.Alone(), "sample")+" can be told apart; see disclosure.md before you give this one out")
		default:
			out = append(out, "with the dataset given out before: nobody is told apart")
		}
	}
	return out
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return strconv.Itoa(n) + " " + what + "s"
}

// withheldThroughout names the quasi-identifiers that are withheld of every
// published sample.
func (d *Disclosure) withheldThroughout() []string {
	var out []string
	for i, h := range heights {
		if n := d.Samples - d.Suppressed; n > 0 && slices.Contains(d.Steps, Step{quasiNames[i], levelNames[i][h], n}) {
			out = append(out, quasiNames[i])
		}
	}
	return out
}
