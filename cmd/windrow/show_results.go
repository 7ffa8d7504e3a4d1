package main

import (
	"bufio"
	"context"
	"encoding/csv"
	"strings"
	"sync"

	"github.com/spf13/cobra"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
)

type showResults struct {
	rows normalize.RowOptions
}

func newShowResults(e *env) *cobra.Command {
	o := &showResults{}
	c := &cobra.Command{
		Use:   "results PATH…",
		Short: "print the results of reports as a CSV table",
		Long: `Reads files, and folders with all that is below them, and prints one CSV row
for each result. It needs no office and touches no archive; in an office it
uses that office's mappings.

The results of a held report are left out, and why it is held is told on
stderr; the exit code is then 3. Clients' names are left out unless asked for.`,
		Example: `  windrow show results april/*.pdf >april.csv
  windrow show results --with-held --with-clients inbox`,
		Args: args(1, -1, "files or folders"),
		RunE: func(c *cobra.Command, args []string) error { return o.run(c.Context(), e, c, args) },
	}
	c.Flags().BoolVar(&o.rows.WithClients, "with-clients", false, "fill client_name")
	c.Flags().BoolVar(&o.rows.WithHeld, "with-held", false, "print the results of held reports too, with status held")
	config.AddFlags(c.Flags(), "workers")
	return c
}

func (o *showResults) run(ctx context.Context, e *env, c *cobra.Command, args []string) error {
	paths, left, err := e.gather(args)
	if err != nil {
		return err
	}
	cfg, isOffice, err := e.settings(c.Flags(), false)
	if err != nil {
		return err
	}
	want := e.want(cfg, isOffice, cfg.WorkerCount())
	want.NoAdvice = true
	st, reasons := pipeline.Load(want)
	if err := asError(reasons); err != nil {
		return err
	}
	defer st.Close()
	if len(paths) == 0 {
		e.say("windrow: no file to read in %s", strings.Join(args, ", "))
	}
	held := e.tellAmiss(st) || left

	buf := bufio.NewWriterSize(e.stdout, 1<<16)
	w := csv.NewWriter(buf)
	if err := w.Write(normalize.Columns[:]); err != nil {
		return err
	}
	// One more than are read at once, so that a parser has the next at hand while
	// this process looks at what it read.
	err = inOrder(ctx, len(paths), cfg.WorkerCount()+1, func(i int) ([]*normalize.Report, error) {
		src, err := source(paths[i], st.Limits.Bytes)
		if err != nil {
			return nil, err
		}
		return st.Reports(ctx, src, pipeline.Defaults{})
	}, func(_ int, reps []*normalize.Report, err error) error {
		if err != nil {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			e.reason(ingest.AsReason(err))
			held = true
			return nil
		}
		for _, rep := range reps {
			if e.tellHeld(rep) != nil {
				held = true
			}
			for _, row := range normalize.Rows(rep, o.rows) {
				if err := w.Write(row[:]); err != nil {
					return err
				}
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	w.Flush()
	if err := w.Error(); err != nil {
		return err
	}
	if err := buf.Flush(); err != nil {
		return err
	}
	if held {
		return errHeld
	}
	return nil
}

// title is the name of a source, with the member where there is one.
func title(s ingest.SourceRef) string {
	if s.Member == "" {
		return s.Name
	}
	return s.Name + " > " + s.Member
}

// inOrder does n pieces of work, several at once, and hands on what came of
// each in their order. It stops at the first error of done. No more than a
// few pieces are worked on ahead of the one that is handed on.
func inOrder[T any](ctx context.Context, n, workers int, work func(int) (T, error), done func(int, T, error) error) error {
	type piece struct {
		v   T
		err error
	}
	workers = max(1, workers)
	slots := make([]chan piece, n)
	for i := range slots {
		slots[i] = make(chan piece, 1)
	}
	ctx, cancel := context.WithCancel(ctx)
	ahead := make(chan int, workers*4) // bounds what is finished and not yet handed on
	next := make(chan int)
	go func() {
		defer close(next)
		for i := range n {
			select {
			case ahead <- i:
			case <-ctx.Done():
				return
			}
			select {
			case next <- i:
			case <-ctx.Done():
				return
			}
		}
	}()
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			for i := range next {
				v, err := work(i)
				slots[i] <- piece{v, err}
			}
		})
	}
	defer wg.Wait()
	defer cancel()
	for i := range n {
		select {
		case p := <-slots[i]:
			<-ahead
			if err := done(i, p.v, p.err); err != nil {
				return err
			}
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	return nil
}
