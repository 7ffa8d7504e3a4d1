package web

import (
	"cmp"
	"context"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"example.org/windrow/normalize/archive/index"
	"example.org/windrow/normalize/censored"
	"example.org/windrow/normalize/dataset"
	"example.org/windrow/normalize/method"
	"example.org/windrow/normalize/summary"
)

// smallest is of how many samples, and of how many clients, a group must be to
// be shown: as in a dataset.
const smallest = dataset.DefaultGroup

// A spot is one value with the numbers of the words that it is grouped by.
type spot struct {
	year, county, use, lab uint16
	class                  uint16
	below, above           bool // a limit: the value itself is below or above
	client                 int32
	value                  float64
}

// known is what is known of the value.
func (x *spot) known() censored.Value {
	v := censored.Value{X: x.value}
	switch {
	case x.below:
		v.Side = censored.Below
	case x.above:
		v.Side = censored.Above
	}
	return v
}

// sortedOf are values in order, where a limit counts as itself: for a drawing,
// beside which it is said.
func sortedOf(values []censored.Value) []float64 {
	xs := make([]float64, 0, len(values))
	for _, v := range values {
		xs = append(xs, v.X)
	}
	slices.Sort(xs)
	return xs
}

// A frame is all values of one test, with which groups of them may be shown.
// Beside what was said of it, nothing of it is changed after it was made.
type frame struct {
	test                              index.Test
	spots                             []spot
	years, counties, uses, labs, rate summary.Wordlist

	mu   sync.Mutex
	said map[choice]*described

	byYear   map[uint16]bool    // all counties and uses of a year
	byCounty map[[2]uint16]bool // all uses of a year and county
	byUse    map[[3]uint16]bool // a year, county and use
}

// hide finds the groups that may be shown: years; of each its counties; of
// each of those the uses of the land. All that a page shows is a sum of such
// groups, so that by taking one sum from another nobody comes to a smaller
// group.
func (f *frame) hide() {
	f.byYear, f.byCounty, f.byUse = map[uint16]bool{}, map[[2]uint16]bool{}, map[[3]uint16]bool{}
	years := map[uint16]*summary.Pile{}
	counties := map[uint16]map[[2]uint16]*summary.Pile{}
	uses := map[[2]uint16]map[[3]uint16]*summary.Pile{}
	for i := range f.spots {
		x := &f.spots[i]
		yc, ycu := [2]uint16{x.year, x.county}, [3]uint16{x.year, x.county, x.use}
		if years[x.year] == nil {
			years[x.year], counties[x.year] = &summary.Pile{}, map[[2]uint16]*summary.Pile{}
		}
		if counties[x.year][yc] == nil {
			counties[x.year][yc], uses[yc] = &summary.Pile{}, map[[3]uint16]*summary.Pile{}
		}
		if uses[yc][ycu] == nil {
			uses[yc][ycu] = &summary.Pile{}
		}
		years[x.year].Add(x.client)
		counties[x.year][yc].Add(x.client)
		uses[yc][ycu].Add(x.client)
	}
	for y, p := range years {
		if !p.Enough(smallest) {
			continue
		}
		f.byYear[y] = true
		for yc := range summary.Tellable(counties[y], smallest, func(a, b [2]uint16) int { return cmp.Compare(f.counties.List[a[1]], f.counties.List[b[1]]) }) {
			f.byCounty[yc] = true
			for ycu := range summary.Tellable(uses[yc], smallest, func(a, b [3]uint16) int { return cmp.Compare(f.uses.List[a[2]], f.uses.List[b[2]]) }) {
				f.byUse[ycu] = true
			}
		}
	}
}

// A choice is what of a frame is asked for; "" is all.
type choice struct{ County, Use, From, To string }

// pick visits the values of a choice that may be shown. hidden says that there
// are others.
func (f *frame) pick(c choice, visit func(*spot)) (hidden bool) {
	county, use := uint16(f.counties.Known(c.County)), uint16(f.uses.Known(c.Use))
	for i := range f.spots {
		x := &f.spots[i]
		year := f.years.List[x.year]
		if c.County != "" && (x.county != county || county == 0) || c.Use != "" && (x.use != use || use == 0) || c.From != "" && year < c.From || c.To != "" && (year > c.To || year == "") {
			continue
		}
		ok := false
		switch {
		case c.Use != "":
			ok = f.byUse[[3]uint16{x.year, x.county, x.use}]
		case c.County != "":
			ok = f.byCounty[[2]uint16{x.year, x.county}]
		default:
			ok = f.byYear[x.year]
		}
		if !ok {
			hidden = true
			continue
		}
		visit(x)
	}
	return hidden
}

// pickByCounty visits the values of a choice of which counties may be told
// apart.
func (f *frame) pickByCounty(c choice, visit func(county string, x *spot)) {
	f.pick(c, func(x *spot) {
		if c.Use != "" || f.byCounty[[2]uint16{x.year, x.county}] {
			visit(f.counties.List[x.county], x)
		}
	})
}

// frameOf reads all values of a test. A sample that was reported twice in the
// same words counts once.
func frameOf(ctx context.Context, ix *index.Index, t index.Test) (*frame, error) {
	f := &frame{test: t}
	var clients summary.Wordlist
	for _, w := range []*summary.Wordlist{&f.years, &f.counties, &f.uses, &f.labs, &f.rate, &clients} {
		w.Of("")
	}
	seen := map[string]bool{}
	err := ix.EachMeasured(ctx, t, func(m *index.Measured) {
		v, err := strconv.ParseFloat(m.Value, 64)
		if err != nil {
			return // a value in words
		}
		if m.Sample != "" && m.Reported != "" {
			key := strings.Join([]string{m.Lab, m.Sample, m.Reported}, "\x00")
			if seen[key] {
				return
			}
			seen[key] = true
		}
		f.spots = append(f.spots, spot{uint16(f.years.Of(m.Year)), uint16(f.counties.Of(m.County)), uint16(f.uses.Of(m.LandUse)), uint16(f.labs.Of(m.LabName)), uint16(f.rate.Of(m.Rating)), m.Censored == "<", m.Censored == ">", clients.Of(m.Client), v})
	})
	if err != nil {
		return nil, err
	}
	f.hide()
	return f, nil
}

// How long a frame is as good as new, and how long the list of tests.
const frameAge = 5 * time.Minute

// frames keeps what counties are described by. It is read in the background:
// a page that needs what is not there yet says so, and asks again.
type frames struct {
	mu    sync.Mutex
	by    map[index.Test]*framed
	tests *framed
	turn  sync.Mutex // one is read at a time
}

// A framed is a frame, or the list of tests, that is there or being read.
type framed struct {
	frame *frame
	tests []index.TestCount
	made  time.Time
	busy  chan struct{} // closed when what is being read is there; nil for nothing
	err   error
}

// mostFrames is how many are kept.
const mostFrames = 12

// patienceForFrame is how long a page waits for one before it says that it is
// being read.
const patienceForFrame = 60 * time.Millisecond

// get gives a frame, or nil while it is being read for the first time. One that
// is older is given all the same, and read anew meanwhile.
func (f *frames) get(ctx context.Context, ix *index.Index, t index.Test) (*frame, error) {
	f.mu.Lock()
	if f.by == nil {
		f.by = map[index.Test]*framed{}
	}
	x := f.by[t]
	if x == nil {
		if len(f.by) >= mostFrames {
			var old index.Test
			for k, o := range f.by {
				if f.by[old] == nil || o.made.Before(f.by[old].made) {
					old = k
				}
			}
			delete(f.by, old)
		}
		x = &framed{}
		f.by[t] = x
	}
	f.begin(x, func(ctx context.Context) (err error) {
		fr, err := frameOf(ctx, ix, t)
		f.mu.Lock()
		defer f.mu.Unlock()
		x.err = err
		if err == nil {
			x.frame, x.made = fr, time.Now()
		}
		return err
	})
	f.mu.Unlock()
	f.wait(ctx, x)
	f.mu.Lock()
	defer f.mu.Unlock()
	if x.frame == nil && x.err != nil {
		err := x.err
		delete(f.by, t)
		return nil, err
	}
	return x.frame, nil
}

// list gives the tests that have values, nil while they are being counted for
// the first time.
func (f *frames) list(ctx context.Context, ix *index.Index) ([]index.TestCount, error) {
	f.mu.Lock()
	if f.tests == nil {
		f.tests = &framed{}
	}
	x := f.tests
	f.begin(x, func(ctx context.Context) error {
		list, err := ix.Tests(ctx)
		f.mu.Lock()
		defer f.mu.Unlock()
		x.err = err
		if err == nil {
			x.tests, x.made = describable(list), time.Now()
		}
		return err
	})
	f.mu.Unlock()
	f.wait(ctx, x)
	f.mu.Lock()
	defer f.mu.Unlock()
	if x.tests == nil && x.err != nil {
		err := x.err
		f.tests = nil
		return nil, err
	}
	return x.tests, nil
}

// begin has something read in the background where it is not there or too old.
// The lock is held.
func (f *frames) begin(x *framed, read func(context.Context) error) {
	if x.busy != nil || !x.made.IsZero() && time.Since(x.made) < frameAge {
		return
	}
	busy := make(chan struct{})
	x.busy = busy
	go func() {
		f.turn.Lock()
		defer f.turn.Unlock()
		ctx, cancel := context.WithTimeout(context.Background(), 5*time.Minute)
		defer cancel()
		_ = read(ctx) // the page tells of it
		f.mu.Lock()
		defer f.mu.Unlock()
		x.busy = nil
		close(busy)
	}()
}

func (f *frames) wait(ctx context.Context, x *framed) {
	f.mu.Lock()
	busy, have := x.busy, x.frame != nil || x.tests != nil
	f.mu.Unlock()
	if busy == nil || have {
		return
	}
	t := time.NewTimer(patienceForFrame)
	defer t.Stop()
	select {
	case <-busy:
	case <-t.C:
	case <-ctx.Done():
	}
}

// describable are the tests whose values are amounts or degrees of something.
func describable(list []index.TestCount) []index.TestCount {
	out := []index.TestCount{}
	for _, t := range list {
		if t.Unit != "" && t.Unit != "class" && t.Analyte != "" {
			out = append(out, t)
		}
	}
	slices.SortFunc(out, func(a, b index.TestCount) int {
		return cmp.Or(cmp.Compare(analyteName(a.Analyte), analyteName(b.Analyte)), cmp.Compare(a.Detail, b.Detail), cmp.Compare(b.Results, a.Results), cmp.Compare(a.Method, b.Method), cmp.Compare(a.Unit, b.Unit))
	})
	return out
}

// methodNamed is a method as the trade calls it.
func methodNamed(id string) string {
	if id == "" {
		return "method not stated"
	}
	for _, m := range method.Standard().Methods {
		if m.ID == id {
			return m.Name
		}
	}
	return id
}
