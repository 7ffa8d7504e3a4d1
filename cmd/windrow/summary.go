package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/normalize/dataset"
	"example.org/windrow/normalize/method"
	"example.org/windrow/normalize/summary"
)

type summaryCmd struct {
	by, analytes []string
	county       string
	office       bool
	group        int
	title        string
	format, out  string
}

func newSummary(e *env) *cobra.Command {
	o := &summaryCmd{}
	c := &cobra.Command{
		Use:   "summary",
		Short: "tell what the archive says of counties, land uses, years and laboratories",
		Long: `Tells, of all results of the office's archive, for each analyte by one method in
one unit: how many samples, how many below and above limits, median, quartiles,
mean and standard deviation with their intervals, and how samples were rated and
by whom. --by groups the samples by county, land use, year, laboratory or depth,
or by several of them. Methods are never pooled.

A value below a limit, such as <0.5, is never taken for 0.5 or half of it: its
place among the others is found by Kaplan and Meier's method, and the mean, where
that has no lower end, by regression on order statistics (Helsel and Cohn 1988).
Where too few values are measured there is no figure, and the reason is told.

Without --for-office only groups of at least five samples and clients are told,
so that nobody can be found, and no lowest and highest values. With it, all are;
such a summary says that it is for the office alone.

--out writes a folder: a page (summary.html), tables (summary.csv, ratings.csv),
summary.json, and each drawing as SVG and PNG, to be put into a report.`,
		Example: "  windrow summary --by county --analyte P\n  windrow summary --by land-use,year --out report\n  windrow summary --by lab --for-office --format csv >labs.csv",
		Args:    args(0, 0, ""),
		RunE:    func(c *cobra.Command, _ []string) error { return o.run(c.Context(), e, c) },
	}
	c.Flags().StringSliceVar(&o.by, "by", nil, "`what` to group by: "+waysInWords()+"; several with commas")
	c.Flags().StringSliceVar(&o.analytes, "analyte", nil, "`ids` of analytes, such as P,pH; all if not given")
	c.Flags().StringVar(&o.county, "county", "", "samples of one `county` only")
	c.Flags().BoolVar(&o.office, "for-office", false, "tell of groups of any size, for the office alone")
	c.Flags().IntVar(&o.group, "min-group", dataset.DefaultGroup, "least `number` of samples and clients in a group")
	c.Flags().StringVar(&o.title, "title", "", "title of the summary")
	c.Flags().StringVar(&o.format, "format", "table", "`what` to print: table, csv, ratings-csv, json or html")
	c.Flags().StringVar(&o.out, "out", "", "`folder` to write everything to")
	c.MarkFlagsMutuallyExclusive("out", "format")
	return c
}

func waysInWords() string {
	var out []string
	for _, b := range summary.Ways {
		out = append(out, string(b))
	}
	return strings.Join(out, ", ")
}

// options are the flags as options, or a usage error.
func (o *summaryCmd) options() (summary.Options, error) {
	opt := summary.Options{County: o.county, Office: o.office, MinGroup: o.group, Title: o.title, Version: version}
	for _, b := range o.by {
		if !slices.Contains(summary.Ways, summary.By(b)) {
			return opt, &usageError{fmt.Sprintf("samples can't be grouped by %q", b), "there are: " + waysInWords()}
		}
		if slices.Contains(opt.By, summary.By(b)) {
			return opt, &usageError{fmt.Sprintf("--by names %s twice", b), "name each once"}
		}
		opt.By = append(opt.By, summary.By(b))
	}
	for _, a := range o.analytes {
		if !slices.ContainsFunc(method.Standard().Analytes, func(x *method.Analyte) bool { return strings.EqualFold(x.ID, a) }) {
			return opt, &usageError{fmt.Sprintf("there is no analyte %q", a), "write ids as tables have them, such as P, pH or OM"}
		}
	}
	opt.Analytes = o.analytes
	if o.group < dataset.DefaultGroup && !o.office {
		return opt, &usageError{fmt.Sprintf("groups of fewer than %d may let a neighbour find somebody", dataset.DefaultGroup), fmt.Sprintf("give --min-group %d or more, or --for-office for a summary that stays in the office", dataset.DefaultGroup)}
	}
	if !slices.Contains([]string{"table", "csv", "ratings-csv", "json", "html"}, o.format) {
		return opt, &usageError{fmt.Sprintf("there is no format %q", o.format), "there are: table, csv, ratings-csv, json, html"}
	}
	return opt, nil
}

func (o *summaryCmd) run(ctx context.Context, e *env, c *cobra.Command) error {
	opt, err := o.options()
	if err != nil {
		return err
	}
	cfg, _, err := e.settings(c.Flags(), true)
	if err != nil {
		return err
	}
	if o.out != "" && amongReports(cfg, o.out) {
		return &usageError{"--out " + o.out + " is in a folder that the office keeps its reports in", "give another folder"}
	}
	a, err := archiveOf(ctx, cfg)
	if err != nil {
		return err
	}
	opt.Name = cfg.Office.Name
	if opt.Title == "" {
		opt.Title = "Soil test results"
		for i, b := range opt.By {
			opt.Title += []string{" by ", " and "}[min(i, 1)] + strings.TrimSuffix(b.Words(), ", inches")
		}
	}
	sum, err := summary.Make(pipeline.EachReport(ctx, a), opt)
	if err != nil {
		return err
	}
	if o.out != "" {
		return writeSummary(e, sum, o.out)
	}
	switch o.format {
	case "csv":
		return sum.CSV(e.stdout)
	case "ratings-csv":
		return sum.RatingsCSV(e.stdout)
	case "json":
		return sum.JSON(e.stdout)
	case "html":
		return sum.HTML(e.stdout)
	}
	printSummary(e.stdout, sum)
	return nil
}

// writeSummary writes a folder with all forms of a summary.
func writeSummary(e *env, sum *summary.Summary, dir string) error {
	drawings := filepath.Join(dir, "drawings")
	if err := os.MkdirAll(drawings, 0o755); err != nil {
		return err
	}
	// What an earlier summary drew may be of groups that this one doesn't tell of.
	earlier, err := filepath.Glob(filepath.Join(drawings, "[0-9][0-9]*-*-*.[sp][vn]g"))
	if err != nil {
		return err
	}
	for _, at := range earlier {
		if err := os.Remove(at); err != nil {
			return err
		}
	}
	made := 0
	for n := range sum.Tests {
		for _, p := range sum.Pictures(n) {
			dots, err := p.PNG(2)
			if err != nil {
				return err
			}
			at := filepath.Join(drawings, p.Name)
			if err := errors.Join(os.WriteFile(at+".svg", p.SVG(), 0o644), os.WriteFile(at+".png", dots, 0o644)); err != nil {
				return err
			}
			made++
		}
	}
	for name, write := range map[string]func(io.Writer) error{"summary.csv": sum.CSV, "ratings.csv": sum.RatingsCSV, "summary.json": sum.JSON, "summary.html": sum.HTML} {
		var b bytes.Buffer
		if err := write(&b); err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(dir, name), b.Bytes(), 0o644); err != nil {
			return err
		}
	}
	putf(e.stdout, "%s: %s of %s, %s\n", filepath.Join(dir, "summary.html"), plural(len(sum.Tests), "test"), plural(sum.Samples, "sample"), plural(made, "drawing"))
	for _, s := range sum.LeftOut() {
		putln(e.stdout, s)
	}
	paragraph(e.stdout, "", sum.Caution())
	return nil
}

// printSummary prints a summary for people.
func printSummary(w io.Writer, sum *summary.Summary) {
	putln(w, sum.Options.Title)
	paragraph(w, "", sum.Caution())
	for _, t := range sum.Tests {
		putln(w)
		putln(w, t.Called())
		g := &grid{head: []string{"", "n", "below", "quartile", "median", "quartile", "mean", "mean by"}, whole: map[int]bool{1: true, 2: true, 3: true, 4: true, 5: true, 6: true}}
		for _, x := range append([]*summary.Group{t.All}, t.Groups...) {
			below := strconv.Itoa(x.Below)
			if x.Above > 0 {
				below += ", " + strconv.Itoa(x.Above) + " above"
			}
			by := x.MeanBy
			if by == "" && x.Bounded {
				by = "Kaplan-Meier: between"
			}
			g.add(x.Label(), strconv.Itoa(x.N), below, summary.Shown(x.Q1), summary.Shown(x.Median), summary.Shown(x.Q3), summary.ShownMean(x), by)
		}
		g.write(w, "  ")
		for _, why := range t.Reasons((*summary.Group).WhyNoMiddle) {
			paragraph(w, "  ", why)
		}
		for _, r := range t.All.Ratings {
			paragraph(w, "  ", ratingWords(&r))
		}
		if t.HiddenGroups > 0 {
			putf(w, "  not told: %s in %s\n", plural(t.HiddenSamples, "sample"), plural(t.HiddenGroups, "group"))
		}
	}
	putln(w)
	for _, s := range sum.LeftOut() {
		putln(w, s)
	}
}

// ratingWords says the shares of classes in a line.
func ratingWords(r *summary.Rating) string {
	var shares []string
	for _, s := range r.Shares {
		shares = append(shares, fmt.Sprintf("%s %d (%.0f %%)", s.Class, s.N, s.Percent))
	}
	by := "by " + r.Whose
	if r.Source != "" {
		by = "on the published scale " + r.Whose + " (" + r.Source + ")"
	}
	return fmt.Sprintf("rated %s, %d: %s", by, r.Rated, strings.Join(shares, ", "))
}
