package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
	"example.org/windrow/mappings/draft"
	"example.org/windrow/normalize"
)

// A mappingDraft is the flags of "mapping draft".
type mappingDraft struct {
	from, out, lab, id string
}

func newMappingDraft(e *env) *cobra.Command {
	o := &mappingDraft{}
	c := &cobra.Command{
		Use:   "draft REPORT…",
		Short: "propose a mapping for a laboratory from its reports",
		Long: `Proposes a mapping for a laboratory that has none, from one or more of its
reports. Every line says how sure it is; what the reports leave open stands
there as a QUESTION for you, and is never guessed. Read it against the
laboratory's guide before you use it.

A file inside a mail or a .zip is named as the messages name it: the outer file,
a >, and the name inside. Put quotes around the whole, since a bare > would have
your shell write over a file.

With --from it proposes a further layout for a mapping whose laboratory has
changed its reports, in force from the date of the new ones. It reads the new
reports by the old layout first, changes only what that reading relied on and
did not find, and tells each change: what was relied on, what was found and
where, and what is proposed. All other lines stay as they are.`,
		Example: "  windrow mapping draft april.pdf may.pdf -o mappings/quarry-ag.yaml\n  windrow mapping draft --from mappings/quarry-ag.yaml september.pdf -o new.yaml\n  windrow mapping draft 'april.eml > results.csv' -o mappings/quarry-ag.yaml",
		Args:    args(1, -1, "one report or more"),
		RunE: func(c *cobra.Command, args []string) error {
			return o.run(c.Context(), e, c, args)
		},
	}
	c.Flags().StringVar(&o.from, "from", "", "mapping `file` to which a revised layout is added")
	c.Flags().StringVarP(&o.out, "output", "o", "", "`file` to write to; it must not be there yet")
	c.Flags().StringVar(&o.lab, "lab", "", "the laboratory's `name`, if the reports don't say it plainly")
	c.Flags().StringVar(&o.id, "id", "", "short `name` for the mapping")
	return c
}

func (o *mappingDraft) run(ctx context.Context, e *env, c *cobra.Command, args []string) error {
	var paths []string
	members := map[int]string{} // of a path: the one file meant in it
	for _, a := range args {
		outer, member := splitMember(a)
		if member != "" {
			members[len(paths)] = member
			paths = append(paths, outer)
			continue
		}
		more, _, err := e.gather([]string{a})
		if err != nil {
			return err
		}
		for _, p := range more {
			if !slices.Contains(paths, p) {
				paths = append(paths, p)
			}
		}
	}
	st, _, err := e.stages(c, 1)
	if err != nil {
		return err
	}
	defer st.Close()
	var docs [][]*ingest.Document
	told := false
	for i, p := range paths {
		src, err := source(p, st.Limits.Bytes)
		if err != nil {
			return err
		}
		ds, reasons := st.Documents(ctx, src, members[i], draft.Dialects)
		for _, r := range reasons {
			e.reason(r)
			told = true
		}
		docs = append(docs, ds...)
	}
	if len(docs) == 0 {
		if !told {
			return &ingest.Reason{Code: "draft-empty", Severity: ingest.Fail, Where: ingest.Place{File: strings.Join(paths, ", ")}, What: "there is nothing in these files to draft a mapping from", Expected: "a report: a PDF, a workbook, a text file, a web page, or a mail with one of them", Found: "nothing that can be read as one", Next: "save the report itself and name that file"}
		}
		return errTold
	}
	vocab := normalize.Vocabulary()
	opt := draft.Options{Vocabulary: vocab, Lab: o.lab, ID: o.id}
	var d *draft.Draft
	var reasons []*ingest.Reason
	if o.from == "" {
		d, reasons = draft.Propose(docs, opt)
	} else {
		text, err := os.ReadFile(o.from)
		if err != nil {
			return notThere(o.from, err)
		}
		old, mistakes := mappings.Decode(filepath.Base(o.from), text, vocab)
		if old == nil {
			return asError(mistakes)
		}
		d, reasons = draft.Revise(old, text, docs, opt)
	}
	for _, r := range reasons {
		e.reason(r)
	}
	if d == nil {
		return errTold
	}
	if err := o.write(e, d.Text); err != nil {
		return err
	}
	if o.out != "" {
		showChanges(e, d.Changes)
	}
	e.say("windrow: %s read from %s; %s not accounted for; %s for you, marked QUESTION", plural(d.Readings, "result"), plural(len(docs), "report"), plural(d.Left, "number"), plural(len(d.Questions), "question"))
	if o.out != "" {
		e.say("windrow: answer them in %s, then: windrow mapping check %s", o.out, o.out)
	}
	return nil
}

// showChanges tells what a revised layout has otherwise than the old one. In
// the draft the same stands over the new layout.
func showChanges(e *env, changes []draft.Change) {
	for _, c := range changes {
		paragraph(e.stdout, "", c.What)
		if c.Relied != "" {
			paragraph(e.stdout, "    relied on  ", c.Relied)
		}
		found := c.Found
		if found == "" {
			found = "nothing like it"
		}
		if !c.Place.IsZero() {
			found += "   (" + c.Place.String() + ")"
		}
		paragraph(e.stdout, "    found      ", found)
		if c.Proposed == "" {
			paragraph(e.stdout, "    proposed   ", "nothing: you are asked, under QUESTION")
		} else {
			paragraph(e.stdout, "    proposed   ", c.Proposed)
		}
	}
	if len(changes) > 0 {
		putf(e.stdout, "\n")
	}
}

// write puts the draft on stdout or into a new file.
func (o *mappingDraft) write(e *env, text string) error {
	if o.out == "" {
		_, err := fmt.Fprint(e.stdout, text)
		return err
	}
	f, err := os.OpenFile(o.out, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return &ingest.Reason{Code: "file-not-written", Severity: ingest.Fail, Where: ingest.Place{File: o.out}, What: "the draft can't be written there", Expected: "the name of a new file", Found: err.Error(), Next: "choose another name; a mapping is never written over"}
	}
	if _, err := f.WriteString(text); err != nil {
		return err
	}
	return f.Close()
}
