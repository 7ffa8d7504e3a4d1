package main

import (
	"context"
	"errors"
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/cmd/internal/progress"
	"example.org/windrow/ingest"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/archive/index"
)

type replayCmd struct {
	filter      pipeline.ReplayFilter
	apply, json bool
	out         string
}

func newReplay(e *env) *cobra.Command {
	o := &replayCmd{}
	c := &cobra.Command{
		Use:   "replay [REPORT…]",
		Short: "read archived originals anew, and show what would change",
		Long: `Reads the originals in the office's archive anew, with today's mappings, tables
and rules, and shows what would change: by laboratory and analyte how many
results, by how much, what is new or gone, what would be held, and what would be
advised otherwise; with examples and with what made the difference. REPORT is
the id of a report; without one all are read.

Nothing is changed, and the office may be at work meanwhile. With --apply the
new versions are written beside the old ones, which stay: "windrow versions"
lists and compares them. Advice and letters are made anew for the samples that
changed; a replaced letter is marked and moved into the folder replaced. Where
only the bytes of a mapping, the tables' or the software's version are others
and every value is as it was, no version is written. A replay that was cut short
is finished by giving it again.

Exit code 3: something is held as read today. 1: an original is missing or
could not be read; all others were.`,
		Example: `  windrow replay                                what a changed mapping would change
  windrow replay --lab quarry-ag --since 2026-01-01 --out changes.csv
  windrow replay --apply R0123456789abcdef`,
		Args: args(0, -1, ""),
		RunE: func(c *cobra.Command, args []string) error {
			o.filter.IDs = args
			return o.run(c.Context(), e, c)
		},
	}
	f := c.Flags()
	f.StringVar(&o.filter.Lab, "lab", "", "only reports of this laboratory, by its `id`")
	f.StringVar(&o.filter.Since, "since", "", "only reports of this `date` and later, YYYY-MM-DD")
	f.StringVar(&o.filter.Until, "until", "", "only reports of this `date` and earlier")
	f.BoolVar(&o.apply, "apply", false, "write new versions beside the old ones")
	f.BoolVar(&o.json, "json", false, "one JSON object for each report that differs, then one that sums up")
	f.StringVar(&o.out, "out", "", "CSV `file` to write every difference to")
	config.AddFlags(f, "workers")
	return c
}

func (o *replayCmd) check() error {
	for _, d := range []string{o.filter.Since, o.filter.Until} {
		if d != "" && !isDate(d) {
			return &usageError{fmt.Sprintf("%q is not a date", d), "write it as YYYY-MM-DD"}
		}
	}
	if o.filter.Since != "" && o.filter.Until != "" && o.filter.Since > o.filter.Until {
		return &usageError{"--since is after --until", "give the earlier date to --since"}
	}
	for _, id := range o.filter.IDs {
		if !recordID.MatchString(id) {
			return &usageError{fmt.Sprintf("%q is not the id of a report", id), "letters print it at their foot, such as R0123456789abcdef-1"}
		}
	}
	return nil
}

func (o *replayCmd) run(ctx context.Context, e *env, c *cobra.Command) (err error) {
	if err := o.check(); err != nil {
		return err
	}
	a, _, err := e.archive(c)
	if err != nil {
		return err
	}
	cfg, _, err := e.settings(c.Flags(), true)
	if err != nil {
		return err
	}
	st, off, err := o.open(ctx, e, cfg)
	if err != nil {
		return err
	}
	defer st.Close()
	if off != nil {
		defer func() { err = errors.Join(err, off.Close()) }()
		if off.Central() {
			// No worker has a file in hand meanwhile.
			o.filter.Offices = off.Offices()
			return off.Sole(ctx, func(ctx context.Context) error { return o.replay(ctx, e, cfg, st, off, off.Archive) })
		}
	}
	return o.replay(ctx, e, cfg, st, off, a)
}

// replay plans and does it; off is nil where nothing is to be written.
func (o *replayCmd) replay(ctx context.Context, e *env, cfg *config.Config, st *pipeline.Stages, off *pipeline.Office, a *archive.Archive) (err error) {
	r, err := pipeline.PlanReplay(ctx, cfg, st, a, o.filter)
	if err != nil {
		return err
	}
	r.Office, r.Today, r.Tell = off, e.now().Format("2006-01-02"), e.reason
	if off != nil {
		r.Index, r.Register = off.Index, off.Register(ctx)
	} else if r.Index, err = indexBeside(ctx, cfg.Index); err != nil {
		e.reason(ingest.AsReason(err))
	} else if r.Index != nil {
		defer func() { err = errors.Join(err, r.Index.Close()) }()
	}
	if off == nil {
		r.Register = e.register(ctx, st, cfg)
	}
	t, err := newReplayTeller(e, o)
	if err != nil {
		return err
	}
	t.erased = r.Erased
	t.bar = progress.New(progress.Options{Out: e.stderr, Total: r.Len(), Quiet: e.global.quiet, Terminal: e.terminal, Rate: true})
	workers := cfg.WorkerCount()
	if off != nil {
		workers *= inHand // some wait for the disk; how many are read at once is for the stages to say
	}
	err = inOrder(ctx, r.Len(), workers, func(i int) ([]*pipeline.Replayed, error) {
		return r.Do(ctx, i)
	}, func(_ int, list []*pipeline.Replayed, err error) error {
		if err != nil {
			return err
		}
		return t.reports(list)
	})
	t.bar.End()
	if off != nil {
		err = errors.Join(err, off.WriteLetterIndex())
	}
	if f := o.filter; off != nil && !off.Central() && err == nil && len(f.IDs) == 0 && f.Lab+f.Since+f.Until == "" {
		// What today's mappings change is written, and what they leave as it was
		// need not be told of at each run.
		err = off.LookedAt(ctx)
	}
	if err = errors.Join(err, t.close(err == nil)); err != nil {
		if errors.Is(err, context.Canceled) {
			e.say("windrow: stopped after %s of %s", plural(t.tally.Reports, "report"), plural(r.Len(), "file"))
		}
		return err
	}
	return t.end(st)
}

// open loads the stages, and opens the office for work when versions are to
// be written.
func (o *replayCmd) open(ctx context.Context, e *env, cfg *config.Config) (*pipeline.Stages, *pipeline.Office, error) {
	if o.apply {
		off, err := e.open(ctx, cfg)
		if err != nil {
			return nil, nil, err
		}
		off.Tell = e.reason
		return off.Stages, off, nil
	}
	st, reasons := pipeline.Load(e.want(cfg, true, cfg.WorkerCount()))
	if err := asError(reasons); err != nil {
		return nil, nil, err
	}
	e.tellAmiss(st)
	return st, nil, nil
}

// indexBeside opens the index of an office in which another process may be at
// work; nil when there is none, since a look makes nothing.
func indexBeside(ctx context.Context, path string) (*index.Index, error) {
	if _, err := os.Stat(path); err != nil && !index.IsServer(path) {
		return nil, nil
	}
	return index.Open(ctx, path)
}

// end tells the sum and gives the error that the command ends with.
func (t *replayTeller) end(st *pipeline.Stages) error {
	t.tally.End()
	if t.o.json {
		if err := t.line(struct {
			Summary *pipeline.ReplayTally `json:"summary"`
		}{&t.tally}); err != nil {
			return err
		}
	} else {
		printReplay(t.e.stdout, &t.tally, t.o.apply)
		if t.moved > 0 {
			putf(t.e.stdout, "%s that waited for a person moved to the handled ones\n", plural(t.moved, "file"))
		}
		if t.erased > 0 {
			putf(t.e.stdout, "%s not to be read, since the file was erased at a person's request\n", plural(t.erased, "report"))
		}
	}
	switch {
	case t.tally.Outcomes[pipeline.ReplayNotRead] > 0:
		return errTold
	case t.tally.Held > 0 || len(st.Amiss) > 0:
		return errHeld
	}
	return nil
}

// history opens the archive and lists the versions of a report, of which there
// is at least one.
func (e *env) history(c *cobra.Command, id string) (*archive.Archive, []archive.Written, error) {
	a, _, err := e.archive(c)
	if err != nil {
		return nil, nil, err
	}
	vs, err := a.History(archive.Reports, id)
	if err == nil && len(vs) == 0 {
		err = unknownReport(id)
	}
	return a, vs, err
}
