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
hand is finished before watch ends.

The address that listen sets answers /metrics and /healthz, on this computer
only. One watch or run at a time works in an office.`,
		Example: "  windrow watch --office /srv/soil-desk\n  curl -s http://127.0.0.1:8470/healthz",
		Args:    args(0, 0, ""),
		RunE: func(c *cobra.Command, _ []string) error {
			return watch(c.Context(), e, c, asJSON)
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "one JSON object a file on stdout")
	config.AddFlags(c.Flags(), "watch.settle", "watch.poll", "workers", "listen", "log.level", "log.format")
	return c
}

func watch(ctx context.Context, e *env, c *cobra.Command, asJSON bool) error {
	cfg, _, err := e.settings(c.Flags(), true)
	if err != nil {
		return err
	}
	off, err := e.open(ctx, cfg)
	if err != nil {
		return err
	}
	defer off.Stages.Close()
	return errors.Join(keepWatching(ctx, e, off, &teller{e: e, json: asJSON}, false), off.Close())
}

// listLetters writes the page of letters anew when there are new ones, at
// most every few seconds.
func listLetters(off *pipeline.Office, changed *atomic.Bool, stop <-chan struct{}) {
	tick := time.NewTicker(5 * time.Second)
	defer tick.Stop()
	for {
		select {
		case <-stop:
			return
		case <-tick.C:
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
