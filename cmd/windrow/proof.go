package main

import (
	"context"
	"errors"
	"image"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/cmd/internal/proofsheet"
	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
)

type proofCmd struct{ sheet, take, by string }

func newProof(e *env) *cobra.Command {
	o := &proofCmd{}
	c := &cobra.Command{
		Use:   "proof REPORT",
		Short: "compare a scanned report with its picture, word by word",
		Long: `Makes a workbook of a scanned report: the picture of each word beside what was
read. A person corrects what the picture does not show, and --take has the
report read anew from that. The report is then checked and advised on like any
other; each number of it says who compared it, when, and what the program had
read. The picture and every earlier proof stay in the archive.`,
		Example: `  windrow proof R0123456789abcdef
  windrow proof R0123456789abcdef --take R0123456789abcdef.xlsx --by "Ilse Marrow"`,
		Args: args(1, 1, "the id of a report, as the note beside a held file tells it"),
		RunE: func(c *cobra.Command, args []string) error { return o.run(c.Context(), e, c, args[0]) },
	}
	f := c.Flags()
	f.StringVar(&o.sheet, "sheet", "", "the `file` for the workbook (the report's id with .xlsx)")
	f.StringVar(&o.take, "take", "", "the workbook `file` as the person left it")
	f.StringVar(&o.by, "by", "", "the `person` who compared")
	return c
}

func (o *proofCmd) run(ctx context.Context, e *env, c *cobra.Command, id string) error {
	switch {
	case !recordID.MatchString(id):
		return &usageError{id + " is not the id of a report", "the note beside the held file and windrow run name it, such as R0123456789abcdef"}
	case o.take == "" && o.by != "":
		return &usageError{"--by says who compared, and nothing is taken", "give --take FILE as well"}
	case o.take != "" && o.sheet != "":
		return &usageError{"--sheet makes a workbook, and --take takes one", "give one of them"}
	case o.take != "" && strings.TrimSpace(o.by) == "":
		return &usageError{"a proof needs the name of the person who compared", `give --by "First Last"`}
	}
	id, _, _ = strings.Cut(id, "-")
	if o.take != "" {
		return o.taken(ctx, e, c, id)
	}
	return o.make(ctx, e, c, id)
}

// make writes the workbook.
func (o *proofCmd) make(ctx context.Context, e *env, c *cobra.Command, id string) error {
	a, _, err := e.archive(c)
	if err != nil {
		return err
	}
	st, _, err := e.stages(c, 1)
	if err != nil {
		return err
	}
	defer st.Close()
	src, doc, was, err := st.Scanned(ctx, a, id)
	if err != nil {
		return err
	}
	b, err := proofsheet.Write(doc, id, func(p *ingest.Page) (*image.Gray, float64, error) { return st.Straight(ctx, src, p) }, was)
	if err != nil {
		return err
	}
	to := o.sheet
	if to == "" {
		to = id + ".xlsx"
	}
	if _, err := os.Lstat(to); err == nil {
		return &ingest.Reason{Code: "proof-not-written", Severity: ingest.Fail, Where: ingest.Place{File: to}, What: "there is such a file already, and somebody may have filled it in", Expected: "a new file", Found: "one that is there", Next: "take it with --take, remove it, or name another with --sheet"}
	}
	if err := pipeline.Replace(to, b); err != nil {
		return err
	}
	putf(e.stdout, "%s\n", to)
	e.say("windrow: compare each word with its picture there, and then: windrow proof %s --take %s --by \"First Last\"", id, filepath.Base(to))
	return nil
}

// taken archives what the person said, and has the report read anew.
func (o *proofCmd) taken(ctx context.Context, e *env, c *cobra.Command, id string) (err error) {
	b, err := os.ReadFile(o.take)
	if err != nil {
		return &ingest.Reason{Code: "proof-sheet", Severity: ingest.Fail, Where: ingest.Place{File: o.take}, What: "the workbook can't be read", Expected: "the workbook that windrow proof made", Found: ingest.Cause(err), Next: "check the path, and close it in other programs"}
	}
	a, _, err := e.archive(c)
	if err != nil {
		return err
	}
	cfg, _, err := e.settings(c.Flags(), true)
	if err != nil {
		return err
	}
	off, err := e.open(ctx, cfg)
	if err != nil {
		return err
	}
	defer off.Stages.Close()
	defer func() { err = errors.Join(err, off.WriteLetterIndex(), off.Close()) }()
	off.Tell = e.reason
	_, doc, _, err := off.Stages.Scanned(ctx, a, id)
	if err != nil {
		return err
	}
	list, left, reasons := proofsheet.Read(filepath.Base(o.take), b, doc)
	for _, r := range reasons {
		e.reason(r)
	}
	if len(reasons) > 0 {
		return errTold
	}
	p, err := off.Proofread(id, doc, list, o.by, e.now())
	if err != nil {
		return err
	}
	putf(e.stdout, "%s: compared by %s\n", id, p.By)
	if left > 0 {
		e.say("windrow: %s of the report stand no more in the workbook, and are as the program read them", plural(left, "word"))
	}
	held := false
	err = e.anew(ctx, off, []string{id}, func(_ string, y *pipeline.Replayed) {
		if y.ID != id {
			return
		}
		held = y.Status == normalize.Held
		for _, r := range y.Reasons {
			e.reason(r)
		}
	})
	if err != nil {
		return err
	}
	if held {
		e.say("windrow: %s waits all the same, for the reasons above", id)
		return errHeld
	}
	return nil
}
