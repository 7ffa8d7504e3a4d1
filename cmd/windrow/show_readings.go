package main

import (
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

func newShowReadings(e *env) *cobra.Command {
	asJSON := false
	c := &cobra.Command{
		Use:     "readings FILE",
		Short:   "show what a mapping reads from a report, as printed",
		Long:    "Shows every value as printed, with its place and the line of the mapping that\nread it. Nothing is converted.",
		Example: "  windrow show readings report.pdf\n  windrow show readings --mappings ./mine report.csv",
		Args:    args(1, 1, "one file"),
		RunE: func(c *cobra.Command, args []string) error {
			rd, st, _, err := e.readOne(c.Context(), c, args[0])
			if err != nil {
				return err
			}
			defer st.Close()
			if rd.Extract != nil {
				if asJSON {
					err = writeJSON(e.stdout, rd.Extract)
				} else {
					printExtract(e.stdout, rd.Extract)
				}
				if err != nil {
					return err
				}
			}
			return e.tellHeld(rd.Report)
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "as JSON")
	return c
}

func printExtract(w io.Writer, x *mappings.Extract) {
	putf(w, "%s: %s, layout %s of %s\n", x.Source.Name, x.Mapping.Lab, x.Mapping.Layout, x.Mapping.File)
	for i, s := range x.Samples {
		putf(w, "\nsample %d\n", i+1)
		var ids []mappings.FieldID
		for id := range s.Fields {
			ids = append(ids, id)
		}
		slices.Sort(ids)
		f := grid{head: []string{"FIELD", "PRINTED", "UNDERSTOOD AS", "PLACE"}, wide: 100}
		for _, id := range ids {
			v := s.Fields[id]
			f.add(string(id), v.Printed, v.Value, v.Place.Inside())
		}
		if len(ids) > 0 {
			f.write(w, "  ")
		}
		g := grid{head: []string{"ANALYTE", "PRINTED", "UNIT", "METHOD", "RATING", "PLACE", "RULE"}, whole: map[int]bool{1: true}, wide: 120}
		for _, r := range s.Readings {
			name := r.Analyte
			if r.Detail != "" {
				name += " (" + r.Detail + ")"
			}
			rating := r.Rating
			if rating == "" {
				rating = r.Index
			}
			g.add(name, r.Printed, r.PrintedUnit, r.Method, rating, r.Place.Inside(), r.Rule.String())
		}
		g.write(w, "  ")
	}
	printMarks(w, x, false)
}

// printMarks tells what became of the numbers of a document; with all, of
// every single one.
func printMarks(w io.Writer, x *mappings.Extract, all bool) {
	count := map[string]int{}
	for _, m := range x.Marks {
		count[m.As]++
	}
	putf(w, "\nnumbers on the report: %d", len(x.Marks))
	sep := ": "
	for _, as := range []string{"result", "field", "heading", "declared", "unaccounted"} {
		if n := count[as]; n > 0 || as == "unaccounted" {
			word := as
			if as == "declared" {
				word = "declared not results"
			} else if as == "unaccounted" {
				word = "not accounted for"
			} else if n != 1 {
				word += "s"
			}
			putf(w, "%s%d %s", sep, n, word)
			sep = ", "
		}
	}
	putln(w)
	g := grid{head: []string{"NUMBER", "WAS TAKEN AS", "FOR", "PLACE", "RULE"}, whole: map[int]bool{0: true}, wide: 120}
	left := 0
	for _, m := range markLines(x.Marks, all) {
		if left++; left > mostMarkLines && !all {
			continue
		}
		g.add(m.Text, m.As, m.Note, m.Place.Inside(), m.Rule.String())
	}
	if len(g.rows) > 0 {
		putln(w)
		g.write(w, "  ")
	}
	if left > mostMarkLines && !all {
		putf(w, "  and %d more lines; --all lists every number\n", left-mostMarkLines)
	}
}

// mostMarkLines is how many lines of numbers are listed without --all.
const mostMarkLines = 25

// markLines are the numbers to list: all of them, or those not accounted for
// with the numbers of one line together.
func markLines(marks []mappings.Mark, all bool) []mappings.Mark {
	if all {
		return marks
	}
	var out []mappings.Mark
	for _, m := range marks {
		if m.As != "unaccounted" {
			continue
		}
		if n := len(out); n > 0 && sameMarkLine(out[n-1].Place, m.Place) {
			out[n-1].Text += " " + m.Text
			continue
		}
		out = append(out, m)
	}
	return out
}

func sameMarkLine(a, b ingest.Place) bool {
	switch {
	case a.Line > 0 || b.Line > 0:
		return a.Line == b.Line
	case a.Cell != "":
		return a.Sheet == b.Sheet && strings.TrimLeft(a.Cell, letters) == strings.TrimLeft(b.Cell, letters)
	case a.Box != nil && b.Box != nil:
		return a.Page == b.Page && a.Box.OverlapY(*b.Box) > 0.5*a.Box.Height()
	}
	return false
}

const letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
