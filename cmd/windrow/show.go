package main

import "github.com/spf13/cobra"

func newShow(e *env) *cobra.Command {
	c := &cobra.Command{
		Use:   "show",
		Short: "show what each stage makes of a file",
		Long: `Shows what one stage makes of a file: what is on its pages (document), what a
mapping reads from them (readings), the values on the common schema (record),
and what to do about them (advice); or the plain table of results of many
files (results). None of them needs an office or touches an archive.`,
		Args: cobra.ArbitraryArgs,
		RunE: group,
	}
	c.AddCommand(newShowDocument(e), newShowReadings(e), newShowRecord(e), newShowAdvice(e), newShowResults(e))
	return c
}
