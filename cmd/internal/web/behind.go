package web

import (
	"context"
	"sync"
	"time"
)

// lookingTime is how long a page waits for what is looked up behind it.
const lookingTime = 60 * time.Millisecond

// A behind is what takes longer to look up than a page may: it is looked up
// behind the pages, once however many ask, and they show what was found last.
type behind[T any] struct {
	mu    sync.Mutex
	by    map[string]*sought[T] // by office
	works sync.WaitGroup
	ctx   context.Context // ends when the desk does
	end   context.CancelFunc
}

type sought[T any] struct {
	value T
	err   error // of the last look; the value is that of an earlier one
	has   bool  // value was looked up
	stale bool
	made  time.Time
	busy  chan struct{} // closed when it has been looked up; nil while nobody looks
}

func newBehind[T any]() *behind[T] {
	ctx, end := context.WithCancel(context.Background())
	return &behind[T]{by: map[string]*sought[T]{}, ctx: ctx, end: end}
}

// begin has it looked up, unless what is known still holds or somebody looks.
func (b *behind[T]) begin(office string, look func(context.Context) (T, error)) {
	b.mu.Lock()
	defer b.mu.Unlock()
	x := b.by[office]
	if x == nil {
		x = &sought[T]{}
		b.by[office] = x
	}
	if (x.has && !x.stale && time.Since(x.made) < stale) || x.busy != nil || b.ctx.Err() != nil {
		return
	}
	x.busy, x.stale = make(chan struct{}), false
	b.works.Add(1)
	go b.look(x, x.busy, look)
}

// found is what is known after begin, and whether anything is; it waits for who
// looks until the context ends.
func (b *behind[T]) found(ctx context.Context, office string) (value T, known bool, err error) {
	b.mu.Lock()
	x := b.by[office]
	busy := x.busy
	b.mu.Unlock()
	if busy != nil {
		select {
		case <-busy:
		case <-ctx.Done():
		}
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	return x.value, x.has, x.err
}

// had reports whether something is known, if only of before.
func (b *behind[T]) had(office string) bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	x := b.by[office]
	return x != nil && x.has
}

func (b *behind[T]) look(x *sought[T], busy chan struct{}, look func(context.Context) (T, error)) {
	defer b.works.Done()
	v, err := look(b.ctx)
	b.mu.Lock()
	if x.err = err; err == nil {
		x.value, x.has, x.made = v, true, time.Now()
	}
	x.busy = nil
	b.mu.Unlock()
	close(busy)
}

// forget has all looked up again when it is asked for.
func (b *behind[T]) forget() {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, x := range b.by {
		x.stale = true
	}
}

// wait ends what is being looked up.
func (b *behind[T]) wait() {
	b.end()
	b.works.Wait()
}
