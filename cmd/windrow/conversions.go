package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"example.org/windrow/normalize/reference"
)

func newConversions(e *env) *cobra.Command {
	format := "md"
	c := &cobra.Command{
		Use:   "conversions",
		Short: "print every conversion with its source, and whether it is used",
		Long: `Prints the reference of conversions: units, forms of elements, atomic weights,
liming materials, the steps that a value may take and what each needs, the
equations between methods, scales, and the bibliography. Each row has its source
in full, what it rests on, the outside checks that hold it, and, where it is
not used, why not. The page is written from the tables that convert.`,
		Example: "  windrow conversions > conversions.md\n  windrow conversions --format html > conversions.html",
		Args:    args(0, 0, ""),
		RunE: func(*cobra.Command, []string) error {
			switch p := reference.New(); format {
			case "md":
				return p.Markdown(e.stdout)
			case "html":
				return p.HTML(e.stdout)
			}
			return &usageError{fmt.Sprintf("there is no format %q", format), "there are: md, html"}
		},
	}
	c.Flags().StringVar(&format, "format", format, "`md` or html")
	return c
}
