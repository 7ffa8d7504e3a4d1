package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"example.org/windrow/normalize"
	"example.org/windrow/normalize/check"
)

func newChecks(e *env) *cobra.Command {
	return &cobra.Command{
		Use:   "checks [ID]",
		Short: "list what is checked about a report's numbers, or explain one check",
		Long: `Lists the cross-examination: what the numbers of a report are asked about each
other and about earlier reports, and what a finding does to them. With the id
of a check, as it stands in records and in the column findings, it tells when
that check speaks, why, and what it rests on. No check edits a value.`,
		Example: "  windrow checks\n  windrow checks cec-sum",
		Args:    args(0, 1, "the id of a check"),
		RunE: func(_ *cobra.Command, args []string) error {
			all := check.All()
			if len(args) == 0 {
				about := ""
				for _, c := range all {
					if c.About != about {
						if about != "" {
							putln(e.stdout)
						}
						about = c.About
						putln(e.stdout, about)
					}
					putf(e.stdout, "  %-22s %-5s %s\n", c.Code, c.Severity, c.Title)
				}
				return nil
			}
			var ids []string
			for _, c := range all {
				if c.Code == args[0] {
					src := normalize.Sources()[c.Source]
					putf(e.stdout, "%s: %s\n", c.Code, c.Title)
					putf(e.stdout, "  severity: %s (%s)\n", c.Severity, normalize.SeverityWords(c.Severity))
					paragraph(e.stdout, "  speaks: ", c.When)
					paragraph(e.stdout, "  why: ", c.Why)
					paragraph(e.stdout, "  rests on: ", fmt.Sprintf("%s (%s)", src.Text, src.Provenance))
					return nil
				}
				ids = append(ids, c.Code)
			}
			return &usageError{fmt.Sprintf("there is no check %q", args[0]), "there are: " + strings.Join(ids, ", ")}
		},
	}
}
