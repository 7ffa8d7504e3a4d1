package pipeline

import (
	"context"
	"encoding/json"
	"errors"
	"io/fs"
	"log/slog"
	"strings"
	"time"

	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgxpool"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/cmd/internal/queue"
	"example.org/windrow/ingest"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/archive/index"
	"example.org/windrow/normalize/archive/objects"
)

// An engine is a central engine that was reached: one archive in an object
// store, one index and one queue of jobs in a PostgreSQL database.
type engine struct {
	store   *objects.Store
	archive *archive.Archive
	index   *index.Index
	jobs    queue.Queue
	locks   *pgxpool.Pool // one connection for each lock that is held
}

// CodeEngine is the code of the reason that tells that the central engine
// can't be reached.
const CodeEngine = "engine-unreachable"

// engineAway words that the engine can't be reached. What has words of its own
// that say something else keeps them.
func engineAway(err error) *ingest.Reason {
	found, next := ingest.Cause(err), "see that both run and can be reached from here"
	if r := (*ingest.Reason)(nil); errors.As(err, &r) {
		if r.Code != objects.CodeUnreachable && r.Code != index.CodeFailed {
			return r // it was reached, and something else is amiss
		}
		if found = r.What; r.Found != "" {
			found += ": " + r.Found
		}
	}
	if own := databaseNext(err); own != "" {
		next = own
	}
	return &ingest.Reason{Code: CodeEngine, Severity: ingest.Flag, Where: ingest.Place{File: config.FileName}, What: "the central engine can't be reached, so that files wait where they lie", Expected: "the database and the object store that engine.database and engine.store name",
		Found: strings.Join(strings.Fields(found), " "), Next: "nothing is lost; " + next + "; a watch tries it again by itself, a worker that ended is to be started again"}
}

// databaseNext is what to do about a database that answers and refuses, which
// passes not by itself; "" for all else. The codes are those of PostgreSQL's
// manual, appendix A.
func databaseNext(err error) string {
	var pg *pgconn.PgError
	if !errors.As(err, &pg) {
		return ""
	}
	switch pg.Code {
	case "28000", "28P01":
		return "give the password of the account in PGPASSWORD, or in the file that PGPASSFILE names; see that the database lets it in from here"
	case "3D000":
		return "correct the name of the database in engine.database, or make the database"
	case "42501":
		return "have the account of engine.database own the database's tables, or name the one that does"
	case "53300":
		return "have the database take more connections (max_connections)"
	}
	return ""
}

// openEngine reaches a central engine, or gives the reason why not. files is
// how many files are in hand at once; lost is said by who brings an archive back
// whose index may still be there.
func openEngine(ctx context.Context, cfg config.Engine, files int, lost bool) (e *engine, err error) {
	e = &engine{}
	defer func() {
		if err != nil {
			err = engineAway(errors.Join(err, e.close()))
			e = nil
		}
	}()
	if e.jobs, err = queue.Open(ctx, cfg.Database, 4+files/8); err != nil {
		return e, err
	}
	c, err := pgxpool.ParseConfig(cfg.Database)
	if err != nil {
		return e, err
	}
	// A file takes the lock of work on files and, within, that of its bytes and
	// one of a report.
	c.MaxConns = int32(3*files + 3)
	if e.locks, err = pgxpool.NewWithConfig(ctx, c); err != nil {
		return e, err
	}
	if e.index, err = index.Open(ctx, cfg.Database); err != nil {
		return e, err
	}
	if e.store, err = objects.Open(ctx, cfg.Store); err != nil {
		return e, err
	}
	if !lost {
		if err := e.sameStore(ctx); err != nil {
			return e, err
		}
	}
	if e.archive, err = e.store.Archive(); err != nil {
		return e, err
	}
	// Later there is nothing to catch up with: a job is done only when its
	// report and its arrival are in the index, too.
	if needs, _ := e.index.NeedsRebuild(); needs {
		return e, e.index.Rebuild(ctx, e.archive)
	}
	return e, e.lookBack(ctx)
}

// sameStore refuses a store without an archive while the database has the index
// of one: a bucket, or a prefix in it, that was named wrongly, or one that was
// emptied. A new archive there would be half of what the offices have, and look whole.
func (e *engine) sameStore(ctx context.Context) error {
	if _, err := e.store.ReadFile("format.json"); !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	newest, err := e.index.Newest(ctx)
	if err != nil || newest.IsZero() {
		return err
	}
	return &ingest.Reason{Code: "store-other", Severity: ingest.Fail, Where: ingest.Place{File: e.store.Name()}, What: "there is no archive in this object store, but the database has the index of one",
		Expected: "the store in which the archive is that the database knows", Found: "no format.json; the database knows of files up to " + newest.Format(time.DateOnly),
		Next: "nothing was written; correct engine.store, its prefix too; if the archive was lost, bring it back from a copy with windrow archive import"}
}

func (e *engine) close() error {
	var errs []error
	if e.index != nil {
		errs = append(errs, e.index.Close())
	}
	if e.store != nil {
		errs = append(errs, e.store.Close())
	}
	if e.jobs != nil {
		errs = append(errs, e.jobs.Close())
	}
	if e.locks != nil {
		e.locks.Close()
	}
	return errors.Join(errs...)
}

// What a lock is of; the first part of its key in the database.
const (
	lockBytes   = 0x77696e11
	lockReports = 0x77696e12
	lockWork    = 0x77696e13 // shared by all that work on files
)

// lock keeps what has this hash in one hand among all workers. The database
// lets go of it when the process ends, however it ends.
func (e *engine) lock(ctx context.Context, of int, sha string) (unlock func(), err error) {
	return e.take(ctx, `SELECT pg_advisory_lock($1, hashtext($2))`, `SELECT pg_advisory_unlock($1, hashtext($2))`, of, sha)
}

// take takes a lock by one statement, and gives what lets go of it by another.
func (e *engine) take(ctx context.Context, take, giveBack string, args ...any) (unlock func(), err error) {
	conn, err := e.locks.Acquire(ctx)
	if err != nil {
		return nil, err
	}
	if _, err := conn.Exec(ctx, take, args...); err != nil {
		// It may be held all the same: with the connection it is let go.
		_ = conn.Hijack().Close(context.WithoutCancel(ctx))
		return nil, err
	}
	return func() {
		last, cancel := context.WithTimeout(context.WithoutCancel(ctx), 10*time.Second)
		defer cancel()
		if _, err := conn.Exec(last, giveBack, args...); err != nil {
			_ = conn.Hijack().Close(last)
			return
		}
		conn.Release()
	}, nil
}

// hold keeps what has this hash in one hand: in this process, or where there
// is a central engine, among all workers.
func (o *Office) hold(ctx context.Context, of int, sha string) (unlock func(), err error) {
	if o.engine != nil {
		return o.engine.lock(ctx, of, sha)
	}
	m := &o.bytes[hashGroup(sha)]
	if of == lockReports {
		m = &o.reports[hashGroup(sha)]
	}
	m.Lock()
	return m.Unlock, nil
}

// OpenWorker opens an office folder for a worker of the central engine: its
// settings, mappings, rules and register are those by which is worked, and
// archive, index and jobs are the engine's. Nothing is written into the folder
// but what is in hand, and letters are left to the offices.
func OpenWorker(ctx context.Context, cfg *config.Config, st *Stages) (*Office, error) {
	o := &Office{Stages: st, Config: cfg, Today: time.Now, Tell: func(*ingest.Reason) {}, Log: slog.New(slog.DiscardHandler)}
	var err error
	if o.engine, err = openEngine(ctx, cfg.Engine, cfg.WorkerCount(), false); err != nil {
		return nil, err
	}
	o.Archive, o.Index = o.engine.archive, o.engine.index
	if err = o.engine.whole(); err != nil {
		return nil, errors.Join(err, o.Close())
	}
	return o, nil
}

// Work does the jobs of the central engine until ctx ends, and tells of each
// outcome; those that fail are tried again by some worker.
func (o *Office) Work(ctx context.Context, tell func(Outcome)) error {
	return o.engine.jobs.Work(ctx, queue.Options{Workers: o.Config.WorkerCount(), Longest: o.Config.Engine.Longest, Grace: o.Config.Watch.Grace, Log: o.Log.WithGroup("jobs")},
		func(ctx context.Context, j queue.Job) (json.RawMessage, error) {
			b, err := o.Archive.Original(j.SHA256)
			if err != nil {
				r := *ingest.AsReason(err)
				out := Outcome{Name: j.Name, SHA256: j.SHA256, Status: Failed, Reasons: []*ingest.Reason{&r}}
				tell(out)
				if errors.Is(err, archive.ErrErased) {
					// It was erased after the office had put it. Where the office
					// still has the file, it puts it again, and it is a new arrival.
					return json.Marshal(out)
				}
				return nil, err
			}
			out := o.Process(ctx, Arrival{Source: ingest.NewSource(j.Name, b), Channel: j.Channel, Time: j.Time, Defaults: Defaults{Office: j.Office, County: j.County, LandUse: j.LandUse}})
			tell(out)
			if out.Status == Failed {
				return nil, errors.New(sayAll(out.Reasons))
			}
			return json.Marshal(out)
		})
}

func sayAll(rs []*ingest.Reason) string {
	var out []string
	for _, r := range rs {
		out = append(out, r.Error())
	}
	if len(out) == 0 {
		return "it failed, and no reason was given"
	}
	return strings.Join(out, "\n")
}

// Jobs counts the jobs of the central engine.
func (o *Office) Jobs(ctx context.Context) (queue.Counts, error) {
	return o.engine.jobs.Counts(ctx)
}
