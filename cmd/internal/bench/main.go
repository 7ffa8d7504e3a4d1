// Command bench measures Windrow beside what one would otherwise run, on the
// same files and in the same run, and prints one table of ratios.
//
// Enters: a built windrow, and the laboratories' reports under testdata, of
// which it makes larger inputs in a temporary folder, always the same ones.
// Leaves: the table on stdout. Never: it is no part of what is shipped, it
// leaves nothing behind, and it never fills in a figure that it did not
// measure.
//
// Each figure is the best of several runs, ours and theirs in turn, so that
// what else the machine does falls on both. Wall-clock time is what is
// measured unless a row says otherwise.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/signal"
	"path/filepath"
	"runtime"
	"runtime/pprof"
	"strings"

	"example.org/windrow/cmd/internal/pipeline"
)

func main() {
	if code, yes := pipeline.Child(); yes {
		os.Exit(code)
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx); err != nil {
		fmt.Fprintln(os.Stderr, "bench:", err)
		os.Exit(1)
	}
}

// A bench is what every row needs.
type bench struct {
	ctx     context.Context
	dir     string // temporary
	windrow string // the program
	labs    string // folder of the laboratories' reports
	runs    int
	workers int
	sizes   sizes
	table   *table
}

// sizes are how large the inputs are.
type sizes struct {
	letters    int // one-page PDFs
	csvSamples int // fifteen rows each
	sheetRows  int
	reports    int // put into the archive, and into the dataset
}

func run(ctx context.Context) error {
	windrow := flag.String("windrow", "bin/windrow", "the `program` to measure")
	labs := flag.String("labs", "testdata/labs", "`folder` of the laboratories' reports")
	runs := flag.Int("runs", 3, "how often each figure is taken; the best counts")
	only := flag.String("only", "", "measure only the groups whose name holds this `text`")
	built := flag.String("built", "as found", "`version` that was built, for the heading")
	quick := flag.Bool("quick", false, "small inputs, once: to see that it works; its figures say nothing")
	most := flag.Int("growth", 0, "measure instead how time and memory grow, from 1000 `records` to so many")
	kind, size, at := flag.String("grow", "", "what one size of that takes; used by -growth"), flag.Int("size", 0, "how many"), flag.String("at", "", "where")
	cpu := flag.String("cpuprofile", "", "write a profile of this process, so not of rows that run the program, to a `file`")
	flag.Parse()
	if *kind != "" {
		return grow(ctx, *kind, *size, *at)
	}
	program, err := filepath.Abs(*windrow)
	if err != nil {
		return err
	}
	if _, err := os.Stat(program); err != nil {
		return fmt.Errorf("there is no program to measure: %w; build it first", err)
	}
	if *runs < 3 && !*quick {
		return errors.New("fewer than 3 runs say nothing")
	}
	if *cpu != "" {
		f, err := os.Create(*cpu)
		if err != nil {
			return err
		}
		if err := pprof.StartCPUProfile(f); err != nil {
			return err
		}
		defer f.Close()
		defer pprof.StopCPUProfile()
	}
	dir, err := os.MkdirTemp("", "windrow-bench-")
	if err != nil {
		return err
	}
	defer func() { _ = os.RemoveAll(dir) }() // the system clears temporary files as well
	b := &bench{ctx: ctx, dir: dir, windrow: program, labs: *labs, runs: *runs, workers: 2,
		sizes: sizes{letters: 200, csvSamples: 3_334, sheetRows: 5_000, reports: 200},
		table: &table{title: fmt.Sprintf("`make bench` of windrow %s on %s, %d processors, %s; best of %d runs in turn, so that all ratios are of one run.", *built, processor(), runtime.NumCPU(), runtime.Version(), *runs)}}
	if *most > 0 {
		return b.growth(*most)
	}
	if *quick {
		b.runs, b.sizes = 1, sizes{letters: 8, csvSamples: 200, sheetRows: 300, reports: 8}
		b.table.title = "TRIED ONLY, with small inputs: these figures say nothing. " + b.table.title
	}
	for _, g := range groups {
		if !strings.Contains(g.name, *only) {
			continue
		}
		fmt.Fprintln(os.Stderr, "bench:", g.name)
		if err := g.measure(b); err != nil {
			return fmt.Errorf("%s: %w", g.name, err)
		}
		if err := ctx.Err(); err != nil {
			return err
		}
	}
	return b.table.write(os.Stdout)
}

// groups are what is measured, in the order of the table.
var groups = []struct {
	name    string
	measure func(*bench) error
}{
	{"letters", (*bench).letters},
	{"wide table", (*bench).wide},
	{"delimited", (*bench).delimited},
	{"workbook", (*bench).workbook},
	{"pages", (*bench).pages},
	{"binary workbook", (*bench).xls},
	{"mail", (*bench).mails},
	{"scans", (*bench).scans},
	{"stages", (*bench).stages},
	{"archive", (*bench).archive},
	{"replay", (*bench).replay},
	{"audit", (*bench).audit},
	{"dataset", (*bench).dataset},
	{"start-up", (*bench).startUp},
	{"idle", (*bench).idle},
	{"memory", (*bench).memory},
}

// processor is the name of the machine's processor, for the heading.
func processor() string {
	b, err := os.ReadFile("/proc/cpuinfo")
	if err == nil {
		for l := range strings.Lines(string(b)) {
			if k, v, ok := strings.Cut(l, ":"); ok && strings.TrimSpace(k) == "model name" {
				return strings.TrimSpace(v)
			}
		}
	}
	return runtime.GOARCH
}
