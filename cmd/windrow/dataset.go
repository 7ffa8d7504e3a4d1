package main

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/normalize/dataset"
)

type datasetCmd struct {
	out, title, licence string
	group               int
	decidedBy, because  string
	county, previous    string
	provenance, json    bool
}

func newDataset(e *env) *cobra.Command {
	o := &datasetCmd{}
	c := &cobra.Command{
		Use:   "dataset",
		Short: "write what a researcher takes away: a tidy table and its codebook",
		Long: `Writes all results of the office's archive as one table (results.csv), with a
codebook, and once more as one row a sample (wide.csv); results.xlsx and
wide.xlsx are for a spreadsheet. Estimates for other methods are in a table of their own
(estimates.csv), and so is what follows from the results of a sample
(derived.csv), never among the measured values. Each table is there as Parquet,
too. datapackage.json describes all of it to programs, by the Data Package
standard. Where the office has outlines of counties (county_map), counties.geojson
has them with what the table tells of each county. With --provenance,
provenance.json (PROV-JSON) and ro-crate-metadata.json (RO-Crate) tell where the
files come from.

No client is named, and none can be picked out: samples that the tables show
alike by county, land use, date, depth, laboratory and tests are of at least
five clients. Where they would not be, these are told less closely (the quarter
in place of the month, the class in place of the use), then withheld, and at
last a sample is left out. disclosure.html and disclosure.md tell what was done,
what it cost, and what risk is left: read one before you give the dataset out.
Name the dataset that was given out before (--previous) to be told what the two
tell together. Smaller groups need a person's decision, which the report keeps.

Samples have codes in place of numbers, which come from the office's key: with
the same key the same sample has the same code in every dataset. The key is in
the file that dataset_key_file names; where none is named, dataset.key in the
office folder is used, and made the first time. "windrow dataset new-key" makes
a new one.`,
		Example: "  windrow dataset --out datasets/2026\n  windrow dataset --county Alderbrook --title \"Alderbrook, 2026\" --previous datasets/2025",
		Args:    args(0, 0, ""),
		RunE:    func(c *cobra.Command, _ []string) error { return o.run(c.Context(), e, c) },
	}
	c.Flags().StringVar(&o.out, "out", "", "`folder` to write to; one with today's date among the office's datasets if not given")
	o.flags(c)
	c.Flags().StringVar(&o.previous, "previous", "", "`folder` of the dataset that was given out before, to be compared")
	c.Flags().BoolVar(&o.provenance, "provenance", false, "also write where the files come from, as PROV-JSON and as an RO-Crate")
	c.AddCommand(newDatasetKey(e), newDatasetParts(e))
	return c
}

// flags are those of every way to make a dataset.
func (o *datasetCmd) flags(c *cobra.Command) {
	c.Flags().StringVar(&o.title, "title", "", "title of the dataset")
	c.Flags().StringVar(&o.licence, "licence", "", "terms under which it may be used")
	c.Flags().IntVar(&o.group, "min-group", 5, "least `number` of clients behind samples that the tables show alike")
	c.Flags().StringVar(&o.decidedBy, "decided-by", "", "`name` of who decided on groups of fewer than 5")
	c.Flags().StringVar(&o.because, "because", "", "why groups may be of fewer than 5")
	c.Flags().StringVar(&o.county, "county", "", "samples of one `county` only")
	c.Flags().BoolVar(&o.json, "json", false, "print the summary as JSON")
}

func (o *datasetCmd) checkGroup() error {
	if o.group >= 1 {
		return nil
	}
	return &usageError{fmt.Sprintf("--min-group %d is no number of clients", o.group), fmt.Sprintf("give %d or more, or fewer with --decided-by and --because", dataset.DefaultGroup)}
}

func (o *datasetCmd) run(ctx context.Context, e *env, c *cobra.Command) error {
	if err := o.checkGroup(); err != nil {
		return err
	}
	cfg, _, err := e.settings(c.Flags(), true)
	if err != nil {
		return err
	}
	if o.out != "" && amongReports(cfg, o.out) {
		return &usageError{"--out " + o.out + " is in a folder that the office keeps its reports in", "give another folder, or none: then it goes among the office's datasets"}
	}
	a, err := archiveOf(ctx, cfg)
	if err != nil {
		return err
	}
	if o.out == "" {
		o.out = filepath.Join(cfg.Datasets, e.now().Format("2006-01-02"))
	}
	key, err := datasetKey(e, cfg)
	if err != nil {
		return err
	}
	opt := o.options(cfg, key)
	if opt.Outlines, err = pipeline.CountyOutlines(cfg); err != nil {
		return err
	}
	opt.Previous, opt.Provenance, opt.Published = o.previous, o.provenance, e.now().Format(time.DateOnly)
	sum, err := pipeline.MakeDataset(ctx, a, o.out, opt)
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
	if n := sum.Below; n > 0 {
		putf(e.stdout, "left out: %s from below the surface\n", plural(n, "sample"))
	}
	if n := sum.Restated; n > 0 {
		putf(e.stdout, "counted once: %s printed in two units or forms\n", plural(n, "result"))
	}
	for _, line := range sum.Disclosure.Lines() {
		putf(e.stdout, "%s\n", line)
	}
	putf(e.stdout, "before it leaves the office read %s\n", filepath.Join(o.out, "disclosure.html"))
	return nil
}

// datasetKey is the office's key of datasets; it says so where it makes one.
func datasetKey(e *env, cfg *config.Config) ([]byte, error) {
	key, made, err := pipeline.DatasetKey(cfg)
	if err == nil && made != "" {
		e.say("windrow: made %s; keep it and keep it secret: sample codes come from it", made)
	}
	return key, err
}

// amongReports says whether a folder is in one that the office keeps its
// reports in.
func amongReports(cfg *config.Config, dir string) bool {
	kept := []string{cfg.Done, cfg.Held, cfg.Letters, cfg.Archive}
	for _, f := range cfg.Folders {
		kept = append(kept, f.Path)
	}
	return slices.ContainsFunc(kept, func(own string) bool { return own != "" && within(resolved(own), resolved(dir)) })
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

func (o *datasetCmd) options(cfg *config.Config, key []byte) dataset.Options {
	if o.title == "" {
		o.title = "Soil test results"
		if cfg.Office.Name != "" {
			o.title += " of " + cfg.Office.Name
		}
	}
	opt := dataset.Options{Key: key, Title: o.title, Office: cfg.Office.Name, Licence: o.licence, Version: version, MinGroup: o.group}
	if o.decidedBy != "" || o.because != "" {
		opt.Decision = &dataset.Decision{By: o.decidedBy, Why: o.because}
	}
	if o.county != "" {
		opt.Keep = dataset.OfCounty(o.county)
	}
	return opt
}

func newDatasetKey(e *env) *cobra.Command {
	return &cobra.Command{
		Use:   "new-key",
		Short: "take a new key for the codes of samples",
		Long: `Puts a new random key in place of the office's key of datasets. From then on
every sample has another code, so that datasets from before and after can't be
joined by their codes. The old key is kept beside the new one, for the office
alone: with it the samples of an earlier dataset can be found again, such as
when a client takes back a consent. Take a new key when the old one may have
been seen, or when those who get the next dataset must not join it to an
earlier one. The measured values stay what they are, and still join.`,
		Args: args(0, 0, ""),
		RunE: func(c *cobra.Command, _ []string) error {
			cfg, _, err := e.settings(c.Flags(), true)
			if err != nil {
				return err
			}
			k, err := pipeline.NewDatasetKey(cfg)
			if err != nil {
				return err
			}
			putf(e.stdout, "%s has a new key, of mark %s\nthe old one, of mark %s, is kept in %s\n", k.At, k.Mark, k.OldMark, k.Old)
			return nil
		},
	}
}
