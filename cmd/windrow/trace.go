package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"example.org/windrow/mappings/strict"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/method"
)

func newTrace(e *env) *cobra.Command {
	sample, asJSON, methods := "", false, false
	c := &cobra.Command{
		Use:   "trace FILE|RECORD [ANALYTE]",
		Short: "show where a value comes from, step by step",
		Long: `Shows the lineage of values: what was printed and where, each step with its
factor, its inputs and their origin, and the source in full, the other forms of
the value, and what the checks found. Each step can be recomputed with a pocket
calculator from what is printed, and nothing else. FILE is read anew; RECORD is the id of a report or of a
record in the office's archive, as letters print it at their foot.`,
		Example: `  windrow trace report.pdf P
  windrow trace --sample 300 table.pdf K
  windrow trace --methods report.pdf P
  windrow trace R0123456789abcdef-1
  windrow trace R0123456789abcdef-1 P --json | jq '.[].steps'`,
		Args: args(1, 2, "a file or the id of a record, and an analyte if need be"),
		RunE: func(c *cobra.Command, args []string) error {
			t, err := e.target(c.Context(), c, args[0])
			if err != nil {
				return err
			}
			defer t.stages.Close()
			if err := t.only(sample); err != nil {
				return err
			}
			analyte := ""
			if len(args) == 2 {
				if analyte, err = t.analyte(args[1]); err != nil {
					return err
				}
			}
			n := 0
			lineages := []*normalize.Lineage{}
			for _, rec := range t.records {
				for _, res := range rec.Results {
					if analyte != "" && res.Analyte != analyte {
						continue
					}
					if asJSON {
						lineages = append(lineages, normalize.LineageOf(t.report, rec, res))
						continue
					}
					if n > 0 {
						putln(e.stdout)
					}
					normalize.Trace(e.stdout, t.report, rec, res)
					if methods {
						normalize.TraceMethods(e.stdout, res)
					}
					n++
				}
				if analyte == "" && !asJSON && len(normalize.Derive(rec)) > 0 {
					putln(e.stdout)
					normalize.TraceDerived(e.stdout, rec)
				}
			}
			if asJSON {
				if err := writeJSON(e.stdout, lineages); err != nil {
					return err
				}
			}
			return e.tellHeld(t.report)
		},
	}
	c.Flags().StringVar(&sample, "sample", "", "only this `sample`, by its number or label")
	c.Flags().BoolVar(&asJSON, "json", false, "as JSON, one entry a result")
	c.Flags().BoolVar(&methods, "methods", false, "also which other methods it is not converted to, and why")
	return c
}

// analyte is the id of an analyte that the records have, from what a person
// calls it.
func (t *target) analyte(text string) (string, error) {
	id := text
	if a, ok := method.Standard().Analyte(text); ok {
		id = a.ID
	}
	var have []string
	seen := map[string]bool{}
	for _, rec := range t.records {
		for _, res := range rec.Results {
			if res.Analyte == id {
				return id, nil
			}
			if !seen[res.Analyte] {
				seen[res.Analyte] = true
				have = append(have, res.Analyte)
			}
		}
	}
	hint := "there are no results"
	if len(have) > 0 {
		hint = "there are: " + strings.Join(have, ", ")
		if near := nearAnalyte(text, have); near != "" {
			hint = "did you mean " + near + "? " + hint
		}
	}
	return "", &usageError{fmt.Sprintf("no result for %q in this report", text), hint}
}

// nearAnalyte is the one of some analytes that a mistyped word most likely
// means, with its name, "" when none is near.
func nearAnalyte(text string, have []string) string {
	of := map[string]string{} // by each of its names
	var names []string
	for _, id := range have {
		a, ok := method.Standard().Analyte(id)
		if !ok {
			continue
		}
		for _, n := range append([]string{a.ID, a.Name}, a.Spellings...) {
			of[n] = fmt.Sprintf("%s (%s)", a.ID, a.Name)
			names = append(names, n)
		}
	}
	near := strict.Nearest(text, names, 1)
	if len(near) == 0 {
		return ""
	}
	return of[near[0]]
}
