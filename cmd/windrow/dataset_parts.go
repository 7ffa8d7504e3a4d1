package main

import (
	"context"

	"github.com/spf13/cobra"

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/normalize/dataset"
)

type datasetPartsCmd struct {
	datasetCmd
	csv bool
}

func newDatasetParts(e *env) *cobra.Command {
	o := &datasetPartsCmd{}
	c := &cobra.Command{
		Use:   "parts TO",
		Short: "keep a dataset by state, county and year up to date, for programs that read it in place",
		Long: `Keeps a dataset in parts up to date: Parquet files in folders by state, county
and year (state=CX/county=Finch/year=2026, the convention of Hive, which DuckDB,
Spark and Trino read in place). TO is a folder, or an object store of the S3
protocol (s3://BUCKET?region=REGION&prefix=soil/); its credentials are taken from
the environment. The first run makes it. Each later one reads the archive and
writes what is new; it can be stopped at any moment, and the edition before or
the new one is there whole. _windrow/manifest-EDITION.json with the greatest
number names the files that hold.

Nobody can be picked out, by one edition or by what two tell together. What
comes, goes or changes between them is, among samples told alike, of at least
five clients. So new samples wait until enough are alike; where a report was
erased, ruled on or read anew for fewer, others of its group are withdrawn with
it, and what was withdrawn does not come back. What a person asked to be erased
is in no file after the next run. Run it seldom, such as each month, so that
more come together and less is withheld; it must run soon after an erasure.

To begin anew, take a new key ("windrow dataset new-key") and an empty place.`,
		Example: "  windrow dataset parts shared/soil\n  windrow dataset parts 's3://soil?region=eu-central-1&prefix=calder/' --csv",
		Args:    args(1, 1, "a folder, or the address of an object store"),
		RunE:    func(c *cobra.Command, a []string) error { return o.run(c.Context(), e, c, a[0]) },
	}
	o.flags(c)
	c.Flags().BoolVar(&o.csv, "csv", false, "write comma-separated values beside Parquet")
	return c
}

func (o *datasetPartsCmd) run(ctx context.Context, e *env, c *cobra.Command, to string) error {
	if err := o.checkGroup(); err != nil {
		return err
	}
	cfg, _, err := e.settings(c.Flags(), true)
	if err != nil {
		return err
	}
	if pipeline.InStore(to) {
		if to == cfg.Engine.Store {
			return &usageError{to + " is where the office keeps its archive", "give another bucket, or another prefix"}
		}
	} else if amongReports(cfg, to) {
		return &usageError{to + " is in a folder that the office keeps its reports in", "give another folder"}
	}
	a, err := archiveOf(ctx, cfg)
	if err != nil {
		return err
	}
	key, err := datasetKey(e, cfg)
	if err != nil {
		return err
	}
	told, err := pipeline.AppendDataset(ctx, a, to, dataset.PartsOptions{Options: o.options(cfg, key), State: cfg.State, County: o.county, CSV: o.csv})
	if err != nil {
		return err
	}
	if o.json {
		return writeJSON(e.stdout, told)
	}
	putf(e.stdout, "edition %d: %s in %s\n", told.Edition, plural(told.Samples, "sample"), plural(told.Parts, "part"))
	for _, n := range []struct {
		n    int
		what string
	}{{told.Added, "new"}, {told.Replaced, "with new rows"}, {told.Withdrawn, "withdrawn for good"}, {told.Waiting, "waiting until enough are alike"}} {
		if n.n > 0 {
			putf(e.stdout, "%s %s\n", plural(n.n, "sample"), n.what)
		}
	}
	if told.Companions > 0 {
		putf(e.stdout, "of those withdrawn nothing changed in %s: they went so that nobody sees whose the others were\n", plural(told.Companions, "sample"))
	}
	return nil
}
