package main

import (
	"bytes"
	"errors"
	"fmt"
	"net/mail"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest"
	"example.org/windrow/interpret/letter"
)

// letterShape is what a letter is written as.
type letterShape struct {
	pdf, reply   bool
	to, language string
}

// suffix is that of the file's name.
func (s letterShape) suffix() string {
	switch {
	case s.reply:
		return ".eml"
	case s.pdf:
		return ".pdf"
	}
	return ".html"
}

// check is a mistake in what was asked for, or nil.
func (s letterShape) check() error {
	if !letter.Language(s.language).Known() {
		return &usageError{fmt.Sprintf("--language: there are no letters in %q", s.language), "the languages are: " + spoken()}
	}
	if s.pdf && s.reply {
		return &usageError{"--pdf and --reply are two shapes of a letter", "give one of them; a reply has the PDF with it"}
	}
	if s.to == "" {
		return nil
	}
	if !s.reply {
		return &usageError{"--to is for --reply", "add --reply for a mail with the letter"}
	}
	if _, err := mail.ParseAddress(s.to); err != nil {
		return &usageError{fmt.Sprintf("--to: %q is not an e-mail address", s.to), "write an address such as name@example.org"}
	}
	return nil
}

// write writes the letter in its shape; contact is where a reply goes when
// nothing else says it.
func (s letterShape) write(l *letter.Letter, contact string) ([]byte, error) {
	if s.language != "" {
		l.Language = letter.Language(s.language)
	}
	var b bytes.Buffer
	var err error
	switch {
	case s.reply:
		to := s.to
		if c := l.Record.Client; to == "" && c != nil {
			to = c.Email
		}
		if to == "" {
			to = contact
		}
		err = l.Reply(&b, to)
	case s.pdf:
		err = l.PDF(&b)
	default:
		err = l.HTML(&b)
	}
	return b.Bytes(), err
}

func newLetter(e *env) *cobra.Command {
	a, out := &ask{}, ""
	shape := letterShape{}
	c := &cobra.Command{
		Use:   "letter FILE|RECORD",
		Short: "write the letter for a sample",
		Long: `Writes the letter for a sample as a page that prints on paper, as a PDF, or as
the draft of a mail with the PDF with it. The page is the accessible form: its
headings and tables are such to a program that reads aloud, and a PDF's are not. FILE is read anew; RECORD is the id of
a record in the office's archive. A report with several samples needs --sample,
or -o with a folder for a letter each. What advice says and no translation
knows stays in English, marked as such.`,
		Example: `  windrow letter report.pdf -o letter.html
  windrow letter --sample 300 --land-use lawn table.pdf >300.html
  windrow letter --pdf table.pdf -o letters/
  windrow letter --language es report.pdf -o carta.pdf
  windrow letter --reply --to hester@example.org report.pdf -o reply.eml`,
		Args: args(1, 1, "one file or the id of a record"),
		RunE: func(c *cobra.Command, args []string) error {
			asked, err := a.ask(e)
			if err != nil {
				return err
			}
			shape.pdf = shape.pdf || !shape.reply && strings.EqualFold(filepath.Ext(out), ".pdf")
			shape.reply = shape.reply || !shape.pdf && strings.EqualFold(filepath.Ext(out), ".eml")
			if err := shape.check(); err != nil {
				return err
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
			var contacts map[string]string
			if shape.reply {
				contacts = t.contacts(c.Context(), e)
			}
			for _, rec := range t.records {
				asked.Register = byRegister[rec.ID]
				b, err := shape.write(pipeline.LetterOf(t.stages.Advise(t.report, rec, asked), rec, t.report, t.cfg), contacts[rec.ID])
				if err != nil {
					return err
				}
				at := out
				switch {
				case out == "" || out == "-":
					if _, err := e.stdout.Write(b); err != nil {
						return err
					}
					continue
				case folder:
					name := filepath.Base(pipeline.LetterPath(t.report, rec))
					at = filepath.Join(out, strings.TrimSuffix(name, ".html")+shape.suffix())
				}
				if err := os.MkdirAll(filepath.Dir(at), 0o750); err != nil {
					return notWritten(at, err)
				}
				if err := pipeline.Replace(at, b); err != nil {
					return notWritten(at, err)
				}
				e.say("windrow: wrote %s", at)
			}
			return e.tellHeld(t.report)
		},
	}
	f := c.Flags()
	a.flags(f)
	f.StringVarP(&out, "output", "o", "", "`file`, or folder ending in /, to write to; stdout if not given")
	f.BoolVar(&shape.pdf, "pdf", false, "write a PDF; so does -o with a name that ends in .pdf")
	f.BoolVar(&shape.reply, "reply", false, "write a draft for the mail program, with the PDF with it")
	f.StringVar(&shape.to, "to", "", "`address` that the reply goes to; that of the report or the register if not given")
	f.StringVar(&shape.language, "language", "", "`code` of the language: "+spoken()+"; that of the register or the settings if not given")
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
