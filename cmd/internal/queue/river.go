package queue

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver/riverpgxv5"
	"github.com/riverqueue/river/rivermigrate"
	"github.com/riverqueue/river/rivertype"
)

// migrateLock keeps two processes from migrating at once; its number is drawn
// from nothing but must not change.
const migrateLock = 0x77696e03

// Open opens the queue in a PostgreSQL database, and makes its tables there.
// conns bounds its connections.
func Open(ctx context.Context, database string, conns int) (Queue, error) {
	c, err := pgxpool.ParseConfig(database)
	if err != nil {
		return nil, err
	}
	c.MaxConns = int32(max(conns, 4))
	pool, err := pgxpool.NewWithConfig(ctx, c)
	if err != nil {
		return nil, err
	}
	q := &riverQueue{pool: pool}
	if err := q.migrate(ctx); err != nil {
		pool.Close()
		return nil, err
	}
	if q.client, err = river.NewClient(riverpgxv5.New(pool), &river.Config{Logger: slog.New(slog.DiscardHandler)}); err != nil {
		pool.Close()
		return nil, err
	}
	return q, nil
}

type riverQueue struct {
	pool   *pgxpool.Pool
	client *river.Client[pgx.Tx] // puts and asks
}

func (q *riverQueue) migrate(ctx context.Context) (err error) {
	conn, err := q.pool.Acquire(ctx)
	if err != nil {
		return err
	}
	defer conn.Release()
	if _, err := conn.Exec(ctx, `SELECT pg_advisory_lock($1)`, migrateLock); err != nil {
		return err
	}
	defer func() {
		_, uerr := conn.Exec(context.WithoutCancel(ctx), `SELECT pg_advisory_unlock($1)`, migrateLock)
		err = errors.Join(err, uerr)
	}()
	m, err := rivermigrate.New(riverpgxv5.New(q.pool), nil)
	if err != nil {
		return err
	}
	_, err = m.Migrate(ctx, rivermigrate.DirectionUp, nil)
	return err
}

// riverArgs are a job as River keeps it.
type riverArgs struct {
	Key string `json:"key" river:"unique"`
	Job Job    `json:"job"`
}

// Kind implements river.JobArgs.
func (riverArgs) Kind() string { return "report" }

// unfinished are the states in which a job is not put again.
var unfinished = []rivertype.JobState{rivertype.JobStateAvailable, rivertype.JobStatePending, rivertype.JobStateRunning, rivertype.JobStateScheduled, rivertype.JobStateRetryable}

// Put implements Queue.
func (q *riverQueue) Put(ctx context.Context, j Job) (int64, error) {
	r, err := q.client.Insert(ctx, riverArgs{Key: j.Key(), Job: j}, &river.InsertOpts{MaxAttempts: tries, UniqueOpts: river.UniqueOpts{ByArgs: true, ByState: unfinished}})
	if err != nil {
		return 0, err
	}
	return r.Job.ID, nil
}

// State implements Queue.
func (q *riverQueue) State(ctx context.Context, id int64) (State, error) {
	row, err := q.client.JobGet(ctx, id)
	if errors.Is(err, river.ErrNotFound) {
		return State{GaveUp: true, Failed: "the job is not in the database any more"}, nil
	}
	if err != nil {
		return State{}, err
	}
	s := State{Tries: row.Attempt}
	if n := len(row.Errors); n > 0 {
		s.Failed = row.Errors[n-1].Error
	}
	switch row.State {
	case rivertype.JobStateCompleted:
		s.Done, s.Result = true, row.Output()
	case rivertype.JobStateDiscarded, rivertype.JobStateCancelled:
		s.GaveUp = true
	case rivertype.JobStateAvailable, rivertype.JobStatePending, rivertype.JobStateRetryable, rivertype.JobStateRunning, rivertype.JobStateScheduled:
	}
	return s, nil
}

// Counts implements Queue.
func (q *riverQueue) Counts(ctx context.Context) (c Counts, err error) {
	rows, err := q.pool.Query(ctx, `SELECT state::text, count(*) FROM river_job WHERE state <> 'completed' GROUP BY state`)
	if err != nil {
		return c, err
	}
	defer rows.Close()
	for rows.Next() {
		var state string
		var n int
		if err := rows.Scan(&state, &n); err != nil {
			return c, err
		}
		switch rivertype.JobState(state) {
		case rivertype.JobStateRunning:
			c.Running += n
		case rivertype.JobStateDiscarded, rivertype.JobStateCancelled:
			c.GaveUp += n
		case rivertype.JobStateAvailable, rivertype.JobStatePending, rivertype.JobStateRetryable, rivertype.JobStateScheduled, rivertype.JobStateCompleted:
			c.Waiting += n
		}
	}
	return c, rows.Err()
}

// Forget implements Queue.
func (q *riverQueue) Forget(ctx context.Context, sha256hex []string) error {
	_, err := q.pool.Exec(ctx, `DELETE FROM river_job WHERE state IN ('completed', 'cancelled', 'discarded') AND args -> 'job' ->> 'sha256' = ANY ($1)`, sha256hex)
	if err == nil {
		_, err = q.pool.Exec(ctx, `VACUUM river_job`) // else it still lies in the table's file
	}
	return err
}

// Close implements Queue.
func (q *riverQueue) Close() error {
	q.pool.Close()
	return nil
}

type worker struct {
	river.WorkerDefaults[riverArgs]
	do func(ctx context.Context, j Job) (json.RawMessage, error)
}

// Work implements river.Worker.
func (w *worker) Work(ctx context.Context, j *river.Job[riverArgs]) error {
	out, err := w.do(ctx, j.Args.Job)
	if err != nil {
		return err
	}
	return river.RecordOutput(ctx, out)
}

type retries struct{}

// NextRetry implements river.ClientRetryPolicy.
func (retries) NextRetry(j *rivertype.JobRow) time.Time {
	return time.Now().Add(wait(len(j.Errors)))
}

// Work implements Queue.
func (q *riverQueue) Work(ctx context.Context, opt Options, do func(ctx context.Context, j Job) (json.RawMessage, error)) error {
	ws := river.NewWorkers()
	river.AddWorker(ws, &worker{do: do})
	log := opt.Log
	if log == nil {
		log = slog.New(slog.DiscardHandler)
	}
	// With River's own pause of 100 ms between two fetches a worker would get
	// no more than ten handfuls of jobs a second. A job whose worker died is
	// rescued by its time: River's default of an hour is for other work.
	c, err := river.NewClient(riverpgxv5.New(q.pool), &river.Config{
		Queues: map[string]river.QueueConfig{river.QueueDefault: {MaxWorkers: opt.Workers}}, Workers: ws, Logger: log, RetryPolicy: retries{},
		FetchCooldown: 10 * time.Millisecond, FetchPollInterval: 500 * time.Millisecond,
		JobTimeout: opt.Longest, RescueStuckJobsAfter: opt.Longest + time.Second, SoftStopTimeout: opt.Grace,
		CompletedJobRetentionPeriod: 24 * time.Hour, DiscardedJobRetentionPeriod: 30 * 24 * time.Hour,
	})
	if err != nil {
		return err
	}
	// Its end is by Stop, which waits for what is in hand.
	if err := c.Start(context.WithoutCancel(ctx)); err != nil {
		return err
	}
	<-ctx.Done()
	last, cancel := context.WithTimeout(context.WithoutCancel(ctx), opt.Grace+10*time.Second)
	defer cancel()
	if err := c.Stop(last); err != nil {
		return fmt.Errorf("the jobs in hand were not finished in time: %w", err)
	}
	return nil
}
