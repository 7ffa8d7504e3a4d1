package apart

import (
	"context"
	"errors"
	"fmt"
	"os"
	"runtime"
	"sync"
	"time"

	"example.org/windrow/ingest"
)

// jobsPerChild is how many jobs a child does before it is replaced, so that
// what one file leaves behind doesn't pile up. A PDF is two jobs.
const jobsPerChild = 400

// mostAnswer bounds what a child may say of one file.
const mostAnswer = 512 << 20

// grace is how long a child may take beyond its time to say so itself, which
// it does in better words and without having to be replaced.
const grace = 300 * time.Millisecond

// A Pool is an [ingest.Reader] that has files read by children. It is safe
// for concurrent use; as many files are read at once as it has children.
type Pool struct {
	format  ingest.Format
	program string
	env     []string
	turns   chan struct{} // one for each file that may be read at once
	idle    idle
	closed  chan struct{}
	once    sync.Once
	starts  chan func()
	count   int
	started int // turns that Close has to wait for
}

// NewPool makes a pool of n children, at least one, for files of a format.
// One child is started at once, so that a program that can't start itself
// says so now; the others when they are first needed. A child's environment
// is empty but for env ("NAME=value").
func NewPool(n int, format ingest.Format, env ...string) (*Pool, error) {
	program, err := os.Executable()
	if err != nil {
		return nil, notStarted(err)
	}
	p := &Pool{format: format, program: program, env: env, count: max(1, n), closed: make(chan struct{}), starts: make(chan func())}
	p.turns = make(chan struct{}, p.count)
	// Linux ends a child when the thread that started it ends, so that thread
	// has to last as long as the pool.
	go func() {
		runtime.LockOSThread()
		defer runtime.UnlockOSThread()
		loosen()
		defer tighten()
		for {
			select {
			case f := <-p.starts:
				f()
			case <-p.closed:
				return
			}
		}
	}()
	first, err := p.start()
	if err != nil {
		p.Close()
		return nil, notStarted(err)
	}
	p.started = p.count
	p.idle.put(first)
	for range p.count {
		p.turns <- struct{}{}
	}
	return p, nil
}

// idle are the children that have nothing to do. The last that had is asked
// first: it has what it needs at hand, and another is started only where all
// that run are busy.
type idle struct {
	mu       sync.Mutex
	children []*child
}

func (i *idle) put(c *child) {
	i.mu.Lock()
	defer i.mu.Unlock()
	i.children = append(i.children, c)
}

// take is nil where there is none.
func (i *idle) take() *child {
	i.mu.Lock()
	defer i.mu.Unlock()
	n := len(i.children)
	if n == 0 {
		return nil
	}
	c := i.children[n-1]
	i.children = i.children[:n-1]
	return c
}

// For is a reader of another format that shares the pool's children.
func (p *Pool) For(format ingest.Format) ingest.Reader { return &view{p, format} }

type view struct {
	pool   *Pool
	format ingest.Format
}

// Read implements [ingest.Reader].
func (v *view) Read(ctx context.Context, src *ingest.Source, lim ingest.Limits) (*ingest.Document, error) {
	return v.pool.read(ctx, v.format, src, lim)
}

// Do is a function that has a [Worker] of the children do a job with a file.
// Its reasons are those of the worker and those of [Pool.Read].
func (p *Pool) Do(format ingest.Format) func(ctx context.Context, args []byte, src *ingest.Source, lim ingest.Limits) (*ingest.Document, []byte, error) {
	return func(ctx context.Context, args []byte, src *ingest.Source, lim ingest.Limits) (*ingest.Document, []byte, error) {
		return p.give(ctx, task{format: format, work: true, args: args}, src, lim)
	}
}

// Read implements [ingest.Reader]. Beside the codes of the reader in the
// child, its reasons have parser-crashed, too-slow, too-large and stopped.
func (p *Pool) Read(ctx context.Context, src *ingest.Source, lim ingest.Limits) (*ingest.Document, error) {
	return p.read(ctx, p.format, src, lim)
}

func (p *Pool) read(ctx context.Context, format ingest.Format, src *ingest.Source, lim ingest.Limits) (*ingest.Document, error) {
	d, _, err := p.give(ctx, task{format: format}, src, lim)
	return d, err
}

func (p *Pool) give(ctx context.Context, job task, src *ingest.Source, lim ingest.Limits) (*ingest.Document, []byte, error) {
	lim = lim.OrDefault()
	fail := func(r *ingest.Reason) (*ingest.Document, []byte, error) { return nil, nil, r.In(src.Title()) }
	if err := ctx.Err(); err != nil {
		return fail(lim.Over(err, "the file"))
	}
	if n := int64(len(src.Bytes)); n > lim.Bytes {
		return fail(tooLarge("the file is larger than allowed", fmt.Sprintf("at most %d bytes", lim.Bytes), fmt.Sprintf("%d bytes", n), "bytes"))
	}
	select {
	case <-p.closed:
		return fail(lim.Over(context.Canceled, "the file"))
	default:
	}
	for again := true; ; again = false {
		a, ended, r := p.try(ctx, job, src, lim)
		switch {
		case r == nil && a.Reason != nil:
			return fail(a.Reason)
		case r == nil:
			if a.Document != nil {
				a.Document.Source = src.Ref()
			}
			return a.Document, a.Data, nil
		case ended && again && ctx.Err() == nil:
			continue
		default:
			return fail(r)
		}
	}
}

// try has a child do the job. Beside the reason for which it gave no answer
// stands whether it ended in a way that need not be the file's doing: a system
// short of memory or processes ends children too. A file that does it will do
// it again.
func (p *Pool) try(ctx context.Context, job task, src *ingest.Source, lim ingest.Limits) (a *answer, ended bool, r *ingest.Reason) {
	select {
	case <-p.turns:
	case <-ctx.Done():
		return nil, false, lim.Over(ctx.Err(), "the file")
	case <-p.closed:
		return nil, false, lim.Over(context.Canceled, "the file")
	}
	c := p.idle.take()
	if c == nil {
		var err error
		if c, err = p.start(); err != nil {
			p.turns <- struct{}{}
			return nil, false, notStarted(err)
		}
	}
	// The time of a file counts from when its turn has come.
	ctx, cancel := context.WithTimeout(ctx, time.Duration(lim.Seconds)*time.Second)
	defer cancel()
	a, err := c.ask(ctx, job, src, lim)
	if err != nil {
		r, ended = c.verdict(ctx, err, lim)
		p.replace(c)
		return nil, ended, r
	}
	if c.jobs++; c.jobs >= jobsPerChild {
		p.replace(c)
	} else {
		p.idle.put(c)
		p.turns <- struct{}{}
	}
	return a, false, nil
}

// replace ends a child and starts another while nobody waits for it.
func (p *Pool) replace(c *child) {
	go func() {
		defer func() { p.turns <- struct{}{} }()
		c.end()
		select {
		case <-p.closed:
			return
		default:
		}
		if next, err := p.start(); err == nil { // otherwise the next file tries again, and says why it can't
			p.idle.put(next)
		}
	}()
}

// start starts a child, on the pool's own thread.
func (p *Pool) start() (*child, error) {
	type started struct {
		c   *child
		err error
	}
	done := make(chan started, 1)
	select {
	case p.starts <- func() {
		c, err := launch(p.program, p.env...)
		done <- started{c, err}
	}:
	case <-p.closed:
		return nil, errors.New("the pool is closed")
	}
	s := <-done
	if s.err != nil {
		return nil, s.err
	}
	if err := s.c.greet(); err != nil {
		s.c.end()
		return nil, fmt.Errorf("%w: %s", err, s.c.lastWords())
	}
	return s.c, nil
}

// Close ends the children, once the files being read are done with. Files
// given to the pool afterwards come back as stopped.
func (p *Pool) Close() error {
	p.once.Do(func() {
		close(p.closed)
		late := time.After(closing)
		for range p.started {
			select {
			case <-p.turns:
			case <-late:
				return
			}
			if c := p.idle.take(); c != nil {
				c.end()
			}
		}
	})
	return nil
}

// closing is how long Close waits for a file that is being read; its child
// ends with this process.
const closing = 60 * time.Second
