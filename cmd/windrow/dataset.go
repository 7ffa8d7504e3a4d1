package main

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/dataset"
)

type datasetCmd struct {
	out, title, licence string
	group               int
	json                bool
}

func newDataset(e *env) *cobra.Command {
	o := &datasetCmd{}
	c := &cobra.Command{
		Use:   "dataset",
		Short: "write what a researcher takes away: a tidy table and its codebook",
		Long: `Writes all results of the office's archive as one table (results.csv), with a
codebook. Estimates for other methods are in a table of their own
(estimates.csv), and so is what follows from the results of a sample
(derived.csv), never among the measured values. datapackage.json describes all
of it to programs, by the Data Package standard. No client is named in it,
samples have codes in place of numbers, and held reports are left out. The
codes come from the office's key: with the same key the same sample has the same
code in every dataset. The key is in the file that dataset_key_file names; where
none is named, dataset.key in the office folder is used, and made the first time.`,
		Example: "  windrow dataset --out datasets/2026\n  windrow dataset --out /tmp/county --title \"Alderbrook, 2026\" --min-group 10",
		Args:    args(0, 0, ""),
		RunE:    func(c *cobra.Command, _ []string) error { return o.run(c.Context(), e, c) },
	}
	c.Flags().StringVar(&o.out, "out", "", "`folder` to write to; one with today's date among the office's datasets if not given")
	c.Flags().StringVar(&o.title, "title", "", "title of the dataset")
	c.Flags().StringVar(&o.licence, "licence", "", "terms under which it may be used")
	c.Flags().IntVar(&o.group, "min-group", 5, "leave out a county where fewer samples than this share county, land use and month")
	c.Flags().BoolVar(&o.json, "json", false, "print the summary as JSON")
	return c
}

func (o *datasetCmd) run(ctx context.Context, e *env, c *cobra.Command) error {
	if o.group < 0 {
		return &usageError{fmt.Sprintf("--min-group %d is no number of samples", o.group), "give 0 or more; 0 and 1 suppress nothing"}
	}
	cfg, _, err := e.settings(c.Flags(), true)
	if err != nil {
		return err
	}
	kept := []string{cfg.Done, cfg.Held, cfg.Letters, cfg.Archive}
	for _, f := range cfg.Folders {
		kept = append(kept, f.Path)
	}
	for _, own := range kept {
		if o.out != "" && own != "" && within(resolved(own), resolved(o.out)) {
			return &usageError{"--out " + o.out + " is in a folder that the office keeps its reports in", "give another folder, or none: then it goes among the office's datasets"}
		}
	}
	a, err := archiveOf(ctx, cfg)
	if err != nil {
		return err
	}
	if o.out == "" {
		o.out = filepath.Join(cfg.Datasets, e.now().Format("2006-01-02"))
	}
	if o.title == "" {
		o.title = "Soil test results"
		if cfg.Office.Name != "" {
			o.title += " of " + cfg.Office.Name
		}
	}
	key, made, err := datasetKey(cfg)
	if err != nil {
		return err
	}
	if made != "" {
		e.say("windrow: made %s; keep it and keep it secret: sample codes come from it", made)
	}
	sum, err := writeDataset(ctx, a, cfg, key, o)
	if err != nil {
		return err
	}
	if o.json {
		return writeJSON(e.stdout, sum)
	}
	putf(e.stdout, "%s: %s of %s from %s\n", filepath.Join(o.out, "results.csv"), plural(sum.Rows, "result"), plural(sum.Samples, "sample"), plural(sum.Reports, "report"))
	if n := sum.HeldReports; n > 0 {
		putf(e.stdout, "left out: %s held\n", plural(n, "report"))
	}
	if n := sum.Copies; n > 0 {
		putf(e.stdout, "counted once: %s reported again in the same words\n", plural(n, "sample"))
	}
	if n := sum.Restated; n > 0 {
		putf(e.stdout, "counted once: %s printed in two units or forms\n", plural(n, "result"))
	}
	if n := sum.SuppressedCounty; n > 0 {
		putf(e.stdout, "county not told: %s in groups of fewer than %d\n", plural(n, "sample"), o.group)
	}
	return nil
}

// resolved is the place of a folder without links, as far as it is there.
func resolved(dir string) string {
	abs, err := filepath.Abs(dir)
	if err != nil {
		return filepath.Clean(dir)
	}
	if at, err := filepath.EvalSymlinks(abs); err == nil {
		return at
	}
	if up := filepath.Dir(abs); up != abs {
		return filepath.Join(resolved(up), filepath.Base(abs))
	}
	return abs
}

// writeDataset writes the dataset of an archive.
func writeDataset(ctx context.Context, a *archive.Archive, cfg *config.Config, key []byte, o *datasetCmd) (dataset.Summary, error) {
	return dataset.Write(o.out, func(yield func(*normalize.Report) error) error {
		return a.Each(archive.Reports, func(id string, _ int, b []byte) error {
			if err := ctx.Err(); err != nil {
				return err
			}
			var rep normalize.Report
			if err := json.Unmarshal(b, &rep); err != nil {
				return fmt.Errorf("report %s in the archive: %w", id, err)
			}
			return yield(&rep)
		})
	}, dataset.Options{Key: key, Title: o.title, Office: cfg.Office.Name, Licence: o.licence, Version: version, MinGroup: o.group})
}

// keyName is the file of the key where the settings name none.
const keyName = "dataset.key"

// datasetKey reads the office's key, or makes one where the settings name
// none and there is none; made is then its path.
func datasetKey(cfg *config.Config) (key []byte, made string, err error) {
	at := cfg.DatasetKeyFile
	named := at != ""
	if !named {
		at = filepath.Join(cfg.Dir, keyName)
	}
	b, err := os.ReadFile(at)
	if errors.Is(err, os.ErrNotExist) && !named {
		secret := make([]byte, 32)
		if _, err := rand.Read(secret); err != nil {
			return nil, "", err
		}
		b = []byte(hex.EncodeToString(secret) + "\n")
		f, err := os.OpenFile(at, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
		if err == nil {
			_, err = f.Write(b)
			err = errors.Join(err, f.Sync(), f.Close())
		}
		if err != nil {
			return nil, "", notThere(at, err)
		}
		made = at
	} else if err != nil {
		return nil, "", notThere(at, err)
	}
	key = []byte(strings.TrimSpace(string(b)))
	if len(key) < dataset.MinKey {
		return nil, "", &ingest.Reason{Code: "key-too-short", Severity: ingest.Fail, Where: ingest.Place{File: filepath.Base(at)}, What: "the key for datasets is too short to hide anything", Expected: fmt.Sprintf("at least %d characters", dataset.MinKey), Found: plural(len(key), "character"),
			Next: "put a longer random text into the file; datasets made with the old key have other codes"}
	}
	return key, made, nil
}
