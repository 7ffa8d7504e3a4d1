package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest"
	"example.org/windrow/interpret/letter"
)

func newLetter(e *env) *cobra.Command {
	a, out, language := &ask{}, "", ""
	c := &cobra.Command{
		Use:   "letter FILE|RECORD",
		Short: "write the letter for a sample",
		Long: `Writes the letter for a sample as a page that prints on paper. FILE is read
anew; RECORD is the id of a record in the office's archive. A report with
several samples needs --sample, or -o with a folder for a letter each.
What advice says and no translation knows stays in English, marked as such.`,
		Example: `  windrow letter report.pdf -o letter.html
  windrow letter --sample 300 --land-use lawn table.pdf >300.html
  windrow letter table.pdf -o letters/
  windrow letter --language es report.pdf -o carta.html`,
		Args: args(1, 1, "one file or the id of a record"),
		RunE: func(c *cobra.Command, args []string) error {
			asked, err := a.ask(e)
			if err != nil {
				return err
			}
			if !letter.Language(language).Known() {
				return &usageError{fmt.Sprintf("--language: there are no letters in %q", language), "the languages are: " + spoken()}
			}
			t, err := e.target(c.Context(), c, args[0])
			if err != nil {
				return err
			}
			defer t.stages.Close()
			if asked.LandUse, err = landUse(a.landUse, t.stages.Rules); err != nil {
				return err
			}
			if err := t.only(a.sample); err != nil {
				return err
			}
			folder := strings.HasSuffix(out, "/") || strings.HasSuffix(out, string(filepath.Separator)) || isDir(out)
			if len(t.records) > 1 && !folder {
				return &usageError{fmt.Sprintf("the report has %d samples", len(t.records)), "name one with --sample, or give -o a folder for a letter each"}
			}
			if same(out, args[0]) {
				return &usageError{"the letter would replace the report itself", "give -o another name"}
			}
			byRegister := t.registered(c.Context(), e)
			for _, rec := range t.records {
				asked.Register = byRegister[rec.ID]
				var b bytes.Buffer
				l := pipeline.LetterOf(t.stages.Advise(t.report, rec, asked), rec, t.report, t.cfg)
				if language != "" {
					l.Language = letter.Language(language)
				}
				if err := l.HTML(&b); err != nil {
					return err
				}
				at := out
				switch {
				case out == "" || out == "-":
					if _, err := e.stdout.Write(b.Bytes()); err != nil {
						return err
					}
					continue
				case folder:
					at = filepath.Join(out, filepath.Base(pipeline.LetterPath(t.report, rec)))
				}
				if err := os.MkdirAll(filepath.Dir(at), 0o750); err != nil {
					return notWritten(at, err)
				}
				if err := pipeline.Replace(at, b.Bytes()); err != nil {
					return notWritten(at, err)
				}
				e.say("windrow: wrote %s", at)
			}
			return e.tellHeld(t.report)
		},
	}
	a.flags(c.Flags())
	c.Flags().StringVar(&language, "language", "", "`code` of the language: "+spoken()+"; that of the settings if not given")
	c.Flags().StringVarP(&out, "output", "o", "", "`file`, or folder ending in /, to write to; stdout if not given")
	return c
}

// spoken are the languages of letters, for a message.
func spoken() string {
	var out []string
	for _, l := range letter.Languages() {
		out = append(out, string(l))
	}
	return strings.Join(out, ", ")
}

// notWritten is why a letter could not be written where the user wants it.
func notWritten(at string, err error) error {
	found := ingest.Cause(err)
	if r := (*ingest.Reason)(nil); errors.As(err, &r) {
		found = r.Found
	}
	return &ingest.Reason{Code: "letter-not-written", Severity: ingest.Fail, Where: ingest.Place{File: at}, What: "the letter can't be written there", Expected: "a folder that can be written to", Found: found,
		Next: "give -o another folder or name"}
}

// same reports whether two paths are one file.
func same(a, b string) bool {
	if a == "" {
		return false
	}
	x, err1 := os.Stat(a)
	y, err2 := os.Stat(b)
	return err1 == nil && err2 == nil && os.SameFile(x, y)
}
