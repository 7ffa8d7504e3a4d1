package web

import (
	"context"
	"net/http"
	"sync"
	"time"

	"example.org/windrow/cmd/internal/pipeline"
)

// lookingTime is how long a page waits for what is looked up behind it.
const lookingTime = 60 * time.Millisecond

// promises are what letters have said that an office asks of its laboratories.
// Each advice in question is read for them, so that they are looked up behind
// the pages, which show what was found last.
type promises struct {
	mu    sync.Mutex
	by    map[string]*promised
	works sync.WaitGroup
	ctx   context.Context // ends when the desk does
	end   context.CancelFunc
}

type promised struct {
	list  []pipeline.Promise
	has   bool // list was looked up
	stale bool
	made  time.Time
	busy  chan struct{} // closed when it has been looked up; nil while nobody looks
}

func newPromises() *promises {
	ctx, end := context.WithCancel(context.Background())
	return &promises{by: map[string]*promised{}, ctx: ctx, end: end}
}

// of is what is known of an office, and whether that is known yet.
func (p *promises) of(office string, look func(context.Context) ([]pipeline.Promise, error)) ([]pipeline.Promise, bool) {
	p.mu.Lock()
	x := p.by[office]
	if x == nil {
		x = &promised{}
		p.by[office] = x
	}
	if x.has && !x.stale && time.Since(x.made) < stale {
		defer p.mu.Unlock()
		return x.list, true
	}
	if x.busy == nil && p.ctx.Err() == nil {
		x.busy, x.stale = make(chan struct{}), false
		p.works.Add(1)
		go p.look(x, x.busy, look)
	}
	busy := x.busy
	p.mu.Unlock()
	if busy != nil {
		wait := time.NewTimer(lookingTime)
		defer wait.Stop()
		select {
		case <-busy:
		case <-wait.C:
		}
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	return x.list, x.has
}

func (p *promises) look(x *promised, busy chan struct{}, look func(context.Context) ([]pipeline.Promise, error)) {
	defer p.works.Done()
	list, err := look(p.ctx)
	p.mu.Lock()
	if err == nil {
		x.list, x.has, x.made = list, true, time.Now()
	}
	x.busy = nil
	p.mu.Unlock()
	close(busy)
}

// forget has all looked up again when it is asked for.
func (p *promises) forget() {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, x := range p.by {
		x.stale = true
	}
}

// wait ends what is being looked up.
func (p *promises) wait() {
	p.end()
	p.works.Wait()
}

// mostPromised is how many promises the first page lists.
const mostPromised = 12

// promisedList is what the first page shows of the promises.
type promisedList struct {
	Known bool // else they are being looked up
	List  []promiseLine
	More  int
}

// A promiseLine is a promise with how long ago it was made.
type promiseLine struct {
	pipeline.Promise
	Days int // -1 for not known
}

// Name is what the sample is called by.
func (l promiseLine) Name() string {
	for _, s := range []string{l.Label, l.LabSampleID} {
		if s != "" {
			return s
		}
	}
	return l.Record
}

func (d *Desk) promisedNow(r *http.Request) promisedList {
	office := officeOf(r.Context())
	list, known := d.promises.of(office, func(ctx context.Context) ([]pipeline.Promise, error) {
		out, err := pipeline.Promises(ctx, d.off.Archive, d.off.Index, office)
		if err != nil {
			d.opt.Log(r.Method, r.Pattern, http.StatusInternalServerError, err)
		}
		return out, err
	})
	p := promisedList{Known: known, More: max(0, len(list)-mostPromised)}
	for _, x := range list[:min(len(list), mostPromised)] {
		p.List = append(p.List, promiseLine{x, d.daysSince(x.Since + "T00:00:00Z")})
	}
	return p
}
