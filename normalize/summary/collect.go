package summary

import (
	"cmp"
	"errors"
	"slices"
	"strconv"

	"example.org/windrow/normalize"
	"example.org/windrow/normalize/censored"
)

// A test is what values must have in common to be in one figure.
type test struct {
	analyte, detail, method, methodName, unit string
	lab                                       string // where the method is not stated
	estimated                                 bool
}

// A spot is one value, with the numbers of what it is grouped by.
type spot struct {
	x                   float64
	side                censored.Side
	group, client, lab  int32
	class, scale, index int32 // the laboratory's rating; a published scale and the place on it
}

// A collector gathers the values of an archive. It holds some tens of bytes of
// each.
type collector struct {
	opt                         Options
	copies                      *normalize.Copies
	seen                        map[string]bool
	spots                       map[test][]spot
	groups                      [][]string
	numbers                     map[string]int32
	clients, labs, words, scale Wordlist
	sources                     map[int32]string // of scales
	sum                         Summary
}

// Make works out a summary of the reports that each yields, and yields again
// when it is called again. The same reports, in whatever order, give the same
// summary. What is held, in whole or in part, is left out; a sample that was
// reported twice in the same words counts once. The error is that of each.
func Make(each func(yield func(*normalize.Report) error) error, opt Options) (*Summary, error) {
	if !opt.Office && opt.MinGroup < 2 {
		return nil, errors.New("a summary that may leave the office needs a least size of groups")
	}
	c := &collector{opt: opt, copies: normalize.NewCopies(), seen: map[string]bool{}, spots: map[test][]spot{}, numbers: map[string]int32{}, sources: map[int32]string{}}
	c.sum.Options = opt
	c.clients.Of("")
	c.words.Of("")
	if err := each(func(rep *normalize.Report) error { c.copies.Note(rep); return nil }); err != nil {
		return nil, err
	}
	if c.copies.Any() {
		if err := each(func(rep *normalize.Report) error { c.copies.Gather(rep); return nil }); err != nil {
			return nil, err
		}
	}
	if err := each(func(rep *normalize.Report) error { c.take(rep); return nil }); err != nil {
		return nil, err
	}
	return c.finish()
}

// take gathers the values of a report.
func (c *collector) take(rep *normalize.Report) {
	if c.seen[rep.ID] {
		return
	}
	c.seen[rep.ID] = true
	if !rep.Status.Used() {
		c.sum.HeldReports++
		return
	}
	for _, rec := range rep.Records {
		switch {
		case !c.opt.keeps(rec):
		case !rec.Status.Used():
			c.sum.HeldSamples++
		case c.copies.Copy(rep, rec):
			c.sum.Copies++
		case rec.Sample.DepthTopIn != "" && !slices.Contains(c.opt.By, ByDepth):
			c.sum.Below++
		default:
			c.record(rep, rec)
		}
	}
}

func (c *collector) record(rep *normalize.Report, rec *normalize.Record) {
	var of []string
	key := ""
	for _, b := range c.opt.By {
		w := b.of(rep, rec)
		of = append(of, w)
		key += strconv.Itoa(len(w)) + ":" + w
	}
	group, ok := c.numbers[key]
	if !ok {
		group = int32(len(c.groups))
		c.numbers[key], c.groups = group, append(c.groups, of)
	}
	who := ""
	if rec.Client != nil {
		who = cmp.Or(rec.Client.Name, rec.Client.Email, rec.Client.Phone, rec.Client.Address)
	}
	counted := false
	for _, res := range rec.Results {
		if !c.opt.wants(res.Analyte) || res.Restates {
			continue
		}
		if !res.Status.Used() {
			c.sum.HeldResults++
			continue
		}
		x, err := strconv.ParseFloat(string(res.Value), 64)
		if err != nil || res.Unit == "class" {
			c.sum.NoNumber++ // not measured, not converted, or in words
			continue
		}
		s := spot{x: x, group: group, client: c.clients.Of(who), lab: c.labs.Of(ByLab.of(rep, rec))}
		switch res.Censored {
		case "<":
			s.side = censored.Below
		case ">":
			s.side = censored.Above
		}
		t := test{analyte: res.Analyte, detail: res.Detail, method: res.Method, methodName: res.MethodName, unit: res.Unit, estimated: estimated(res)}
		if t.method == "" {
			t.lab = ByLab.of(rep, rec)
		}
		s.class = c.words.Of(res.Printed.Class)
		if f := res.Forms.Index; f != nil && f.Index != "" {
			s.scale, s.index = c.scale.Of(f.Scale), c.words.Of(f.Index)
			c.sources[s.scale] = f.Source
		}
		c.spots[t] = append(c.spots[t], s)
		c.sum.Results++
		counted = true
	}
	if counted {
		c.sum.Samples++
	}
}

// estimated reports whether a value rests on a step that is not exact.
func estimated(res *normalize.Result) bool {
	return slices.ContainsFunc(res.Steps, func(s normalize.Step) bool { return !s.Exact })
}

// finish works out the summary of what was gathered.
func (c *collector) finish() (*Summary, error) {
	people := normalize.ClientGroups(c.clients.List)
	var tests []test
	for t := range c.spots {
		tests = append(tests, t)
	}
	slices.SortFunc(tests, c.order)
	for _, t := range tests {
		spots := c.spots[t]
		for i := range spots {
			spots[i].client = int32(people[spots[i].client])
		}
		told, err := c.tell(t, spots)
		if err != nil {
			return nil, err
		}
		if told == nil {
			c.sum.HiddenTests++
			continue
		}
		c.sum.Tests = append(c.sum.Tests, told)
	}
	return &c.sum, nil
}

// order puts tests in the order in which they are told: by analyte, and of one
// analyte the one with more values first.
func (c *collector) order(a, b test) int {
	return cmp.Or(cmp.Compare(a.analyte, b.analyte), cmp.Compare(a.detail, b.detail), cmp.Compare(len(c.spots[b]), len(c.spots[a])),
		cmp.Compare(a.method, b.method), cmp.Compare(a.unit, b.unit), cmp.Compare(a.lab, b.lab), cmp.Compare(a.methodName, b.methodName), boolOrder(a.estimated, b.estimated))
}

func boolOrder(a, b bool) int {
	switch {
	case a == b:
		return 0
	case b:
		return -1
	}
	return 1
}

// tell works out what is told of a test; nil where nothing may be.
func (c *collector) tell(t test, spots []spot) (*Test, error) {
	whole := &Pile{}
	parts := map[int32]*Pile{}
	by := map[int32][]spot{}
	for _, s := range spots {
		whole.Add(s.client)
		if parts[s.group] == nil {
			parts[s.group] = &Pile{}
		}
		parts[s.group].Add(s.client)
		by[s.group] = append(by[s.group], s)
	}
	if !c.opt.Office && !whole.Enough(c.opt.MinGroup) {
		return nil, nil
	}
	out := &Test{Analyte: t.analyte, Name: analyteName(t.analyte), Detail: t.detail, Method: t.method, MethodName: t.methodName, Unit: t.unit, Estimated: t.estimated, Lab: t.lab}
	var err error
	ratings := map[int32]*rated{}
	for g, list := range by {
		ratings[g] = ratedOf(list)
	}
	everything := ratedOf(spots)
	if out.All, err = c.group(nil, whole, spots, c.shares(everything, func(rater) bool { return true })); err != nil {
		return nil, err
	}
	if len(c.opt.By) == 0 {
		return out, nil
	}
	order := func(a, b int32) int { return slices.Compare(c.groups[a], c.groups[b]) }
	shown := map[int32]bool{}
	if !c.opt.Office {
		shown = Tellable(parts, c.opt.MinGroup, order)
	}
	var told []int32
	for g, p := range parts {
		if c.opt.Office || shown[g] {
			told = append(told, g)
		} else {
			out.HiddenGroups++
			out.HiddenSamples += p.N
		}
	}
	may := map[rater]map[int32]bool{}
	for r := range everything.piles {
		may[r] = c.tellableRatings(r, ratings, shown)
	}
	slices.SortFunc(told, order)
	for _, g := range told {
		one, err := c.group(c.groups[g], parts[g], by[g], c.shares(ratings[g], func(r rater) bool { return may[r][g] }))
		if err != nil {
			return nil, err
		}
		out.Groups = append(out.Groups, one)
	}
	return out, nil
}

// group works out what is told of one group.
func (c *collector) group(of []string, p *Pile, spots []spot, ratings []Rating) (*Group, error) {
	values := make([]censored.Value, len(spots))
	for i, s := range spots {
		values[i] = censored.Value{X: s.x, Side: s.side}
	}
	d, err := censored.Describe(values)
	if err != nil {
		return nil, err
	}
	if !c.opt.Office {
		d.Low, d.High = censored.None(singles), censored.None(singles)
	}
	return &Group{Of: of, Clients: p.Clients(), Description: d, Ratings: ratings}, nil
}
