package pipeline

import (
	"context"
	"errors"
	"slices"
	"time"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/ingest"
)

// OpenCentral opens an office of a central engine for what is done to the
// archive itself, such as a ruling: like [OpenDistant], and the engine is
// reached at once, so that Archive and Index are the engine's. Files are still
// worked on by the workers. Close it after use.
//
// While something is half erased, it is opened by [OpenErasing] alone.
func OpenCentral(ctx context.Context, cfg *config.Config, st *Stages) (*Office, error) {
	return openWhole(ctx, cfg, st, false)
}

// OpenImporting is OpenCentral for who brings an archive back from a copy: the
// store may have lost it, while the database has its index still.
func OpenImporting(ctx context.Context, cfg *config.Config, st *Stages) (*Office, error) {
	return openWhole(ctx, cfg, st, true)
}

func openWhole(ctx context.Context, cfg *config.Config, st *Stages, lost bool) (*Office, error) {
	o, err := openReached(ctx, cfg, st, lost)
	if err != nil {
		return nil, err
	}
	if err := o.engine.whole(); err != nil {
		return nil, errors.Join(err, o.Close())
	}
	return o, nil
}

// OpenErasing is OpenCentral for an erasure, or to complete one.
func OpenErasing(ctx context.Context, cfg *config.Config, st *Stages) (*Office, error) {
	return openReached(ctx, cfg, st, false)
}

func openReached(ctx context.Context, cfg *config.Config, st *Stages, lost bool) (*Office, error) {
	o, err := OpenDistant(cfg, st)
	if err != nil {
		return nil, err
	}
	o.distant.lost = lost
	if o.engine, err = o.reach(ctx); err != nil {
		return nil, errors.Join(err, o.Close())
	}
	o.Archive, o.Index = o.engine.archive, o.engine.index
	return o, nil
}

// whole refuses an archive in which something is half erased: it would be taken
// for what is there.
func (e *engine) whole() error {
	open, err := e.archive.OpenErasures()
	if err == nil && len(open) > 0 {
		err = &ingest.Reason{Code: "erasure-open", Severity: ingest.Fail, What: "something is being erased from the central archive, or its erasure was cut short", Next: "wait until it is done, or run windrow archive erase --finish; then start this again"}
	}
	return err
}

// Central reports whether the office's archive is that of a central engine.
func (o *Office) Central() bool { return o.engine != nil || o.distant != nil }

// Own reports whether a report is this office's to decide about, by the name
// of the office that the report bears. Where the archive is in the office's own
// folder, every report is.
func (o *Office) Own(office string) bool {
	return o.distant == nil || slices.Contains(o.names(), office)
}

// Offices are the names under which an office's reports are in an archive that
// it shares; nil where it has one for itself.
func (o *Office) Offices() []string {
	if o.distant == nil {
		return nil
	}
	return o.names()
}

// notOwn refuses to do something to the report of another office. The letters
// on it lie in that office's folder, where they must be put aside or made anew.
func notOwn(id, office string) *ingest.Reason {
	return &ingest.Reason{Code: "office-other", Severity: ingest.Fail, Where: ingest.Place{File: id}, What: "this report is of another office of the central engine, whose letters on it are not here",
		Expected: "a report of this office", Found: "one of " + office, Next: "do it there: at the office that sent the report"}
}

// lockOpen is noted in the index while the archive is changed in one hand, and
// stays there when that hand dies: then index and archive may differ.
const lockOpen = "at-work"

// Sole has the archive in one hand while do runs: no file is worked on
// meanwhile, by whatever worker, and nobody else decides. Over a central engine
// that is a lock in the database, which goes with the connection; do is given a
// context that ends when the lock is lost. What do finds in the index is what the
// archive holds, also where an earlier hand died.
func (o *Office) Sole(ctx context.Context, do func(ctx context.Context) error) error {
	return o.alone(ctx, func(ctx context.Context) error {
		if o.engine == nil {
			return do(ctx)
		}
		if err := o.engine.begin(ctx); err != nil {
			return err
		}
		if err := do(ctx); err != nil {
			return err // the mark stays: who comes next looks first
		}
		return o.engine.index.Unmark(context.WithoutCancel(ctx), lockOpen)
	})
}

// alone is Sole for what changes nothing that is in the index.
func (o *Office) alone(ctx context.Context, do func(ctx context.Context) error) error {
	o.deciding.Lock()
	defer o.deciding.Unlock()
	if o.engine == nil {
		return do(ctx)
	}
	ctx, unlock, err := o.engine.sole(ctx)
	if err != nil {
		return engineAway(err)
	}
	defer unlock()
	return do(ctx)
}

// begin notes that the archive is about to be changed in one hand. Where the
// last such hand died, the index catches up first.
func (e *engine) begin(ctx context.Context) error {
	switch died, err := e.index.Marked(ctx, lockOpen); {
	case err != nil:
		return err
	case died:
		return e.makeGood(ctx)
	}
	return e.index.Mark(ctx, lockOpen)
}

// makeGood completes what a hand that died has left: a document without its
// checksum, and an archive that the index lags behind. Nobody else may be at work.
func (e *engine) makeGood(ctx context.Context) error {
	if _, err := e.archive.VouchLeft(); err != nil {
		return err
	}
	return e.index.CatchUp(ctx, e.archive)
}

// lookBack has the index catch up with the archive where a hand that changed
// it died; nothing where it is at work, or where none did.
func (e *engine) lookBack(ctx context.Context) error {
	if died, err := e.index.Marked(ctx, lockOpen); err != nil || !died {
		return err
	}
	conn, err := e.locks.Acquire(ctx)
	if err != nil {
		return err
	}
	defer func() { _ = conn.Hijack().Close(context.WithoutCancel(ctx)) }() // and the lock with it
	free := false
	if err := conn.QueryRow(ctx, `SELECT pg_try_advisory_lock($1, 0)`, lockWork).Scan(&free); err != nil || !free {
		return err
	}
	if err := e.makeGood(ctx); err != nil {
		return err
	}
	return e.index.Unmark(ctx, lockOpen)
}

// lookEvery is how often it is seen whether the lock is still held.
const lookEvery = 5 * time.Second

// sole takes the lock that nobody shares, once all that have a file in hand
// are done with it.
func (e *engine) sole(ctx context.Context) (held context.Context, unlock func(), err error) {
	pooled, err := e.locks.Acquire(ctx)
	if err != nil {
		return nil, nil, err
	}
	conn := pooled.Hijack() // it may be held for long, and is closed after it
	if _, err := conn.Exec(ctx, `SELECT pg_advisory_lock($1, 0)`, lockWork); err != nil {
		_ = conn.Close(context.WithoutCancel(ctx)) // it may be held all the same: with the connection it is let go
		return nil, nil, err
	}
	held, lose := context.WithCancelCause(ctx)
	stop, done := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(done)
		tick := time.NewTicker(lookEvery)
		defer tick.Stop()
		for {
			select {
			case <-stop:
				return
			case <-tick.C:
				within, cancel := context.WithTimeout(context.WithoutCancel(ctx), lookEvery)
				err := conn.Ping(within)
				cancel()
				if err != nil {
					lose(engineAway(err))
					return
				}
			}
		}
	}()
	return held, func() {
		close(stop)
		<-done
		lose(nil)
		last, cancel := context.WithTimeout(context.WithoutCancel(ctx), 10*time.Second)
		defer cancel()
		_ = conn.Close(last) // the database lets go of the lock with it
	}, nil
}

// share takes the lock of those that work on files, which only one who has the
// archive in one hand keeps from being taken.
func (e *engine) share(ctx context.Context) (unlock func(), err error) {
	return e.take(ctx, `SELECT pg_advisory_lock_shared($1, 0)`, `SELECT pg_advisory_unlock_shared($1, 0)`, lockWork)
}

// FinishCentral completes the erasures of a central archive: it removes what
// the tombstones name, from the archive, this office's letters and drafts, the
// index, and the jobs that are done. It is called within [Office.Sole], and may
// be cut short and called again.
func (o *Office) FinishCentral(ctx context.Context) (Finished, error) {
	return finishErasures(o.Config, o.Archive, nil, func(erased []string) error {
		if err := ctx.Err(); err != nil {
			return context.Cause(ctx)
		}
		if err := o.engine.jobs.Forget(ctx, erased); err != nil {
			return engineAway(err)
		}
		if err := o.Index.Rebuild(ctx, o.Archive); err != nil {
			return err
		}
		return o.Index.Sweep(ctx)
	})
}

// Kept says in words what the object store of a central engine keeps of what is
// deleted in it, "" for nothing.
func (o *Office) Kept(ctx context.Context) string {
	if o.engine == nil {
		return ""
	}
	return o.engine.store.Keeps(ctx)
}
