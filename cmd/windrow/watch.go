package main

import (
	"context"
	"errors"
	"log/slog"
	"sync/atomic"
	"time"

	"github.com/spf13/cobra"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest"
)

func newWatch(e *env) *cobra.Command {
	asJSON := false
	c := &cobra.Command{
		Use:   "watch",
		Short: "work on reports as they are dropped into the watched folders",
		Long: `Watches the folders of the office until it is stopped. A file is taken when it
has not changed for a while (watch.settle); it is then archived, read, and filed
in done under a dated name, or in held beside a note that says why. The file in
hand is finished before watch ends, unless it takes longer than watch.grace: then
it stays where it lies, and nothing of it is lost.

The address that listen sets answers /metrics, /healthz (does the work go on?),
/readyz (would a file be taken now?) and /livez, on this computer only; the
address that listen_metrics sets answers the same to others. One watch or run at
a time works in an office.

With log.format json everything on stderr is a JSON object a line, and nothing is
told on stdout unless --json is given. Lines about a file bear the first twelve
digits of its SHA-256 as "source", from its arrival to its filing; names of files
and of people stand in lines of level debug alone.`,
		Example: "  windrow watch --office /srv/soil-desk\n  curl -s http://127.0.0.1:8470/healthz\n  windrow watch --log-format json 2>&1 | jq 'select(.source == \"3f9a0c5be1d2\")'",
		Args:    args(0, 0, ""),
		RunE: func(c *cobra.Command, _ []string) error {
			return watch(c.Context(), e, c, asJSON, false)
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "one JSON object a file on stdout")
	config.AddFlags(c.Flags(), "watch.settle", "watch.poll", "watch.grace", "workers", "listen", "listen_metrics", "log.level", "log.format")
	return c
}

// watch works on what is dropped into the folders until ctx ends, and with
// pages serves the workbench beside.
func watch(ctx context.Context, e *env, c *cobra.Command, asJSON, pages bool) error {
	cfg, _, err := e.settings(c.Flags(), true)
	if err != nil {
		return err
	}
	open := e.openSending
	if pages { // which look into the archive all the time
		open = e.open
	}
	off, err := open(ctx, cfg)
	if err != nil {
		return err
	}
	defer off.Stages.Close()
	t := &teller{e: e, json: asJSON}
	off.Log = logger(e, cfg)
	if cfg.Log.Format == "json" {
		t.log = off.Log
	}
	return errors.Join(keepWatching(ctx, e, off, t, pages), off.Close())
}

// listLetters writes the page of letters anew when there are new ones, at
// most every few seconds.
func listLetters(off *pipeline.Office, changed *atomic.Bool, stop <-chan struct{}) {
	every := 5 * time.Second
	if off.Config.Engine.Used() {
		every = time.Minute // to list them there takes many calls
	}
	tick := time.NewTicker(every)
	defer tick.Stop()
	for {
		select {
		case <-stop:
			return
		case <-tick.C:
			if err := off.WithdrawLetters(context.Background()); err != nil {
				off.Tell(ingest.AsReason(err))
			}
			if changed.Swap(false) {
				if err := off.WriteLetterIndex(); err != nil {
					off.Tell(ingest.AsReason(err))
				}
			}
		}
	}
}

func folderNames(cfg *config.Config) string {
	s := ""
	for i, f := range cfg.Folders {
		if i > 0 {
			s += ", "
		}
		s += f.Path
	}
	return s
}

func logger(e *env, cfg *config.Config) *slog.Logger {
	var level slog.Level
	_ = level.UnmarshalText([]byte(cfg.Log.Level)) // the settings let only words through that it knows
	if e.global.quiet {
		level = slog.LevelError
	}
	opt := &slog.HandlerOptions{Level: level}
	if cfg.Log.Format == "json" {
		return slog.New(slog.NewJSONHandler(e.stderr, opt))
	}
	return slog.New(slog.NewTextHandler(e.stderr, opt))
}
