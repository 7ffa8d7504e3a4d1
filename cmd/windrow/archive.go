package main

import (
	"context"
	"errors"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/cmd/internal/metrics"
	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest"
	"example.org/windrow/ingest/scan"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/archive/index"
	"example.org/windrow/normalize/audit"
)

func newArchive(e *env) *cobra.Command {
	c := &cobra.Command{
		Use:   "archive",
		Short: "verify and copy the archive, erase from it, and make its index anew",
		Args:  cobra.ArbitraryArgs,
		RunE:  group,
	}
	c.AddCommand(newArchiveVerify(e), newArchiveRebuild(e), newArchiveExport(e), newArchiveImport(e), newArchiveErase(e))
	return c
}

func newArchiveVerify(e *env) *cobra.Command {
	asJSON := false
	c := &cobra.Command{
		Use:   "verify",
		Short: "read the whole archive and check every byte",
		Long: `Reads everything in the archive: that each original has the hash it is named by,
that each document agrees with its checksum and its schema and names an original
that is there, that every report that was signed for in an audit is there as it
was signed, and that nothing is missing or lies about. It changes nothing in the
archive and may run while reports are being worked on. When it was and what it
found is noted in the office's folder, for the metrics of windrow watch.`,
		Example: "  windrow archive verify\n  windrow archive verify --json | jq .problems",
		Args:    args(0, 0, ""),
		RunE: func(c *cobra.Command, _ []string) error {
			a, cfg, err := e.archive(c)
			if err != nil {
				return err
			}
			problems, count, err := a.Verify(c.Context(), validDocument)
			if err == nil {
				var more []archive.Problem
				more, err = signedProblems(a)
				problems = append(problems, more...)
			}
			e.noteJob(cfg, pipeline.Verified, err, len(problems))
			if asJSON {
				if problems == nil {
					problems = []archive.Problem{}
				}
				err = errors.Join(err, writeJSON(e.stdout, struct {
					Problems []archive.Problem `json:"problems"`
					Count    archive.Count     `json:"count"`
				}{problems, count}))
			} else {
				for _, p := range problems {
					putln(e.stdout, p.String())
				}
				signed := ""
				if n := count.Documents[archive.SignOffs]; n > 0 {
					signed = ", " + plural(n, "sign-off")
				}
				if n := count.Documents[archive.Rulings]; n > 0 {
					signed += ", " + plural(n, "ruling")
				}
				if n := count.Documents[archive.Proofs]; n > 0 {
					signed += ", " + plural(n, "proof")
				}
				putf(e.stdout, "%s, %s, %s of advice, %s%s; %d bytes read\n", plural(count.Originals, "original"), plural(count.Documents[archive.Reports], "report document"),
					plural(count.Documents[archive.Advice], "document"), plural(count.Arrivals, "arrival"), signed, count.Bytes)
				if len(problems) == 0 && err == nil {
					putln(e.stdout, "all is well")
				}
			}
			if err == nil && len(problems) > 0 {
				e.complain(plural(len(problems), "problem")+" in the archive", "bring the files named above back from a backup")
				return errTold
			}
			return err
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "as JSON")
	return c
}

// validDocument checks a document of the archive against its schema.
func validDocument(kind string, b []byte) error {
	switch kind {
	case archive.Reports:
		return normalize.Validate(b)
	case archive.Rulings:
		_, err := normalize.ParseRuling(b)
		return err
	case archive.Proofs:
		_, err := scan.ParseProof(b)
		return err
	case archive.Tombstones:
		_, err := archive.ParseTombstone(b)
		return err
	case archive.SignOffs:
		_, err := audit.ParseSignOff(b)
		return err
	}
	return nil
}

// noteJob notes how a job went. That it can't be noted is told, and is no
// failure of the job.
func (e *env) noteJob(cfg *config.Config, name string, err error, problems int) {
	if errors.Is(err, context.Canceled) {
		return // stopped by who began it
	}
	if err := pipeline.NoteJob(cfg, name, metrics.Job{At: e.now(), Failed: err != nil, Problems: problems}); err != nil {
		e.reason(ingest.AsReason(err))
	}
}

// archive opens the archive of the office, which must be there.
func (e *env) archive(c *cobra.Command) (*archive.Archive, *config.Config, error) {
	cfg, _, err := e.settings(c.Flags(), true)
	if err != nil {
		return nil, nil, err
	}
	if _, err := os.Stat(cfg.Archive); errors.Is(err, os.ErrNotExist) && !cfg.Engine.Used() {
		return nil, nil, &ingest.Reason{Code: "no-archive", Severity: ingest.Fail, Where: ingest.Place{File: filepath.Base(cfg.Archive)}, What: "this office has no archive yet", Expected: "an archive, which the first report makes", Found: "no such folder",
			Next: "run windrow run first; if there were reports, see whether the drive is connected"}
	}
	a, err := archiveOf(c.Context(), cfg)
	return a, cfg, err
}

func newArchiveRebuild(e *env) *cobra.Command {
	return &cobra.Command{
		Use:   "rebuild",
		Short: "make the index anew from the archive",
		Long: `Empties the index and fills it from the archive. Nothing is lost by it: whatever
is in the index is in the archive too.`,
		Args: args(0, 0, ""),
		RunE: func(c *cobra.Command, _ []string) error {
			a, cfg, err := e.archive(c)
			if err != nil {
				return err
			}
			return rebuild(c.Context(), e, a, cfg.Index)
		},
	}
}

func rebuild(ctx context.Context, e *env, a *archive.Archive, at string) error {
	ix, err := index.Open(ctx, at)
	if err != nil {
		return err
	}
	err = ix.Rebuild(ctx, a)
	n, cerr := ix.Counts(ctx)
	if err = errors.Join(err, cerr, ix.Close()); err != nil {
		return err
	}
	putf(e.stdout, "%s, %s, %s, %s\n", plural(n.Sources, "file"), plural(n.Reports, "report"), plural(n.Records, "sample"), plural(n.Results, "result"))
	return nil
}
