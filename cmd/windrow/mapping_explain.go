package main

import (
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

func newMappingExplain(e *env) *cobra.Command {
	all, page := false, ""
	c := &cobra.Command{
		Use:   "explain REPORT",
		Short: "say why a mapping did or did not match a report",
		Long: `Tells which layout recognises a report and how far it reads it, why the report
is held if it is, and which numbers are not accounted for. If no layout
recognises it, it tells for each what is missing.

With --page it writes a page for your browser: the report as it looks, with
every number marked as what it was taken for.`,
		Example: "  windrow mapping explain report.pdf\n  windrow mapping explain report.pdf --page seen.html\n  windrow mapping explain --all report.pdf",
		Args:    args(1, 1, "one report"),
		RunE: func(c *cobra.Command, args []string) error {
			rd, st, _, err := e.readOne(c.Context(), c, args[0])
			if err != nil {
				return err
			}
			defer st.Close()
			if len(rd.Docs) == 0 {
				return e.tellHeld(rd.Report)
			}
			explainTries(e, st.Mappings().Try(rd.Docs), all)
			held := e.tellHeld(rd.Report)
			if rd.Extract != nil {
				printMarks(e.stdout, rd.Extract, all)
			}
			if page != "" {
				b, err := marksPage(c.Context(), st, rd)
				if err != nil {
					return err
				}
				if err := os.WriteFile(page, b, 0o644); err != nil {
					return &ingest.Reason{Code: "file-not-written", Severity: ingest.Fail, Where: ingest.Place{File: page}, What: "the page can't be written there", Expected: "a folder that may be written to", Found: err.Error(), Next: "choose another name"}
				}
				e.say("windrow: open %s in a browser", page)
			}
			return held
		},
	}
	c.Flags().BoolVar(&all, "all", false, "list every layout and every number")
	c.Flags().StringVar(&page, "page", "", "`file` for a page that shows the report with its marks")
	return c
}

// explainTries tells how near the layouts came. Once one recognises the
// report, those of other laboratories say nothing new.
func explainTries(e *env, tries []*mappings.Try, all bool) {
	known := false
	for _, t := range tries {
		if t.Extract != nil {
			known = true
			explainTry(e, t)
		}
	}
	for _, t := range tries {
		if t.Extract == nil && (all || !known) {
			explainTry(e, t)
		}
	}
}

func explainTry(e *env, t *mappings.Try) {
	name := fmt.Sprintf("%s, layout %q", t.Mapping.File, t.Layout.Name)
	if t.Extract == nil {
		putf(e.stdout, "no   %s\n", name)
		for _, m := range t.Missing {
			paragraph(e.stdout, "       the report does not have ", fmt.Sprintf("%q", m))
		}
		for _, m := range t.Against {
			paragraph(e.stdout, "       the report has what must not be there: ", fmt.Sprintf("%q", m))
		}
		return
	}
	holds := 0
	for _, r := range t.Extract.Reasons {
		if r.Severity == ingest.Hold || r.Severity == ingest.Fail {
			holds++
		}
	}
	verdict := "and reads it without a reason to hold it"
	if holds > 0 {
		verdict = fmt.Sprintf("but has %s to hold it", plural(holds, "reason"))
	}
	n := 0
	for _, s := range t.Extract.Samples {
		n += len(s.Readings)
	}
	putf(e.stdout, "yes  %s recognises it, %s: %s, %s\n", name, verdict, plural(len(t.Extract.Samples), "sample"), plural(n, "reading"))
}
