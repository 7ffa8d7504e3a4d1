package archive

import (
	"context"

	"golang.org/x/sync/errgroup"
)

// A Distant is a file system each of whose calls waits for an answer from
// elsewhere, so that several of them are better made at once.
type Distant interface {
	// AtOnce is how many calls go well together.
	AtOnce() int
}

// atOnce is how many things are done together where these file systems are
// worked on: one, unless one of them is distant.
func atOnce(systems ...FS) int {
	n := 1
	for _, f := range systems {
		if d, ok := f.(Distant); ok {
			n = max(n, d.AtOnce())
		}
	}
	return n
}

// spread does the work on each of what list visits, so many at once, and is
// done when all of it is: what is written before something else is there
// before anything else is looked at.
func spread[T any](ctx context.Context, atOnce int, list func(visit func(T) error) error, work func(T) error) error {
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(atOnce)
	err := list(func(x T) error {
		if ctx.Err() == nil {
			g.Go(func() error { return work(x) })
		}
		return ctx.Err()
	})
	if first := g.Wait(); first != nil {
		return first // what list gives then is only that it was stopped
	}
	return err
}
