package main

import (
	"context"
	"errors"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/spf13/cobra"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/cmd/internal/metrics"
	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/cmd/internal/progress"
	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/archive/objects"
)

func newWork(e *env) *cobra.Command {
	asJSON := false
	c := &cobra.Command{
		Use:   "work",
		Short: "work for several offices, on files that they put into the central engine",
		Long: `Takes files from the central engine that engine.database and engine.store name,
works on them, and keeps what it makes there, until it is stopped. Offices put
files in with "windrow watch"; their windrow.yaml names the same engine. Any
number of workers may run, on any number of computers: each file is in one
hand at a time, and one whose worker died is taken by another when
engine.longest is over.

The mappings, the rule set, the state and the register that count are those of
the worker's own folder. Letters are written by the office that sent the file.`,
		Example: "  PGPASSFILE=/etc/windrow/pgpass windrow work --office /srv/worker",
		Args:    args(0, 0, ""),
		RunE: func(c *cobra.Command, _ []string) error {
			return work(c.Context(), e, c, asJSON)
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "one JSON object a file on stdout")
	config.AddFlags(c.Flags(), "workers", "watch.grace", "listen_metrics", "engine.database", "engine.store", "engine.longest", "log.level", "log.format")
	return c
}

func work(ctx context.Context, e *env, c *cobra.Command, asJSON bool) error {
	cfg, _, err := e.settings(c.Flags(), true)
	if err != nil {
		return err
	}
	if !cfg.Engine.Used() {
		return &ingest.Reason{Code: "no-engine", Severity: ingest.Fail, Where: ingest.Place{File: config.FileName}, What: "a worker needs a central engine to work for, and none is set", Expected: "engine.database and engine.store", Found: "neither",
			Next: "write them into " + config.FileName + "; an office on one computer needs no worker: \"windrow watch\" does all"}
	}
	st, err := e.loadStages(cfg)
	if err != nil {
		return err
	}
	defer st.Close()
	off, err := pipeline.OpenWorker(ctx, cfg, st)
	if err != nil {
		return err
	}
	off.Today = e.now
	off.Log = logger(e, cfg)
	t := &teller{e: e, json: asJSON, bar: progress.New(progress.Options{Quiet: true})}
	off.Tell = t.aside
	if cfg.Log.Format == "json" {
		t.log = off.Log
	}
	open, err := serveWorker(ctx, off)
	if err != nil {
		return errors.Join(err, off.Close())
	}
	e.say("windrow: working for the central engine with %s at once; stop with Ctrl-C", plural(cfg.WorkerCount(), "file"))
	err = off.Work(ctx, t.outcome)
	e.say("windrow: stopped")
	last, cancel := context.WithTimeout(context.WithoutCancel(ctx), 2*time.Second)
	defer cancel()
	return errors.Join(err, t.err, open.Close(last), off.Close())
}

// serveWorker answers /metrics, /healthz, /readyz and /livez at the address
// that listen_metrics sets, and nothing where it sets none.
func serveWorker(ctx context.Context, off *pipeline.Office) (*metrics.Server, error) {
	at := off.Config.ListenMetrics
	if at == "" {
		return nil, nil
	}
	reg := prometheus.NewRegistry()
	reg.MustRegister(collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	if err := off.Count(reg, version, commit, jobsOf{off}); err != nil {
		return nil, err
	}
	well := func() metrics.Health {
		within, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
		defer cancel()
		if _, err := off.Jobs(within); err != nil {
			return metrics.Health{Reasons: []string{"the database of the central engine does not answer"}}
		}
		return metrics.Health{Healthy: true}
	}
	ready := func() metrics.Health {
		if ctx.Err() != nil {
			return metrics.Health{Reasons: []string{"the program is stopping"}}
		}
		return well()
	}
	srv, err := metrics.StartOpen(at, metrics.Open(reg, well, ready))
	if err != nil {
		return nil, notServed("listen_metrics", at, err)
	}
	return srv, nil
}

// jobsOf is the queue of the central engine as its metrics show it: how many
// jobs wait, for any worker.
type jobsOf struct{ off *pipeline.Office }

// Oldest implements pipeline.Queue. How long a file waits its office tells.
func (jobsOf) Oldest() time.Duration { return 0 }

// Waiting implements pipeline.Queue.
func (j jobsOf) Waiting() int {
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	n, err := j.off.Jobs(ctx)
	if err != nil {
		return 0 // /healthz says that it can't be asked
	}
	return n.Waiting
}

// loadStages loads the stages of an office.
func (e *env) loadStages(cfg *config.Config) (*pipeline.Stages, error) {
	if err := asError(cfg.CheckLandUses(normalize.LandUses())); err != nil {
		return nil, err
	}
	e.hint(cfg)
	st, reasons := pipeline.Load(e.want(cfg, true, cfg.WorkerCount()))
	if err := asError(reasons); err != nil {
		return nil, err
	}
	e.tellAmiss(st)
	return st, nil
}

// openSending opens an office for work that it may have done by a central
// engine, with its stages.
func (e *env) openSending(ctx context.Context, cfg *config.Config) (*pipeline.Office, error) {
	if !cfg.Engine.Used() {
		return e.open(ctx, cfg)
	}
	st, err := e.loadStages(cfg)
	if err != nil {
		return nil, err
	}
	off, err := pipeline.OpenDistant(cfg, st)
	if err != nil {
		return nil, errors.Join(err, st.Close())
	}
	off.Today = e.now
	return off, nil
}

// archiveOf opens the archive of an office, which must be there: in its
// folder, or in the central engine.
func archiveOf(ctx context.Context, cfg *config.Config) (*archive.Archive, error) {
	if !cfg.Engine.Used() {
		return archive.OpenExisting(cfg.Archive)
	}
	s, err := objects.Open(ctx, cfg.Engine.Store)
	if err != nil {
		return nil, err
	}
	a, err := archive.OpenExistingOn(s, ".") // the store is open until the command ends
	if r := (*ingest.Reason)(nil); errors.As(err, &r) && r.Code == "archive-gone" {
		return nil, &ingest.Reason{Code: r.Code, Severity: ingest.Fail, Where: ingest.Place{File: s.Name()}, What: "there is no archive in this object store", Expected: r.Expected,
			Next: "correct engine.store, its prefix too; in a new engine the first windrow work, or the first file, makes the archive; if it was lost, bring it back with windrow archive import"}
	}
	return a, err
}

// writable is an archive opened so that it can be written to: a folder is
// opened again, which makes what it lacks.
func writable(a *archive.Archive, cfg *config.Config) (*archive.Archive, error) {
	if cfg.Engine.Used() {
		return a, nil
	}
	return archive.Open(a.Dir())
}
