package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/method"
)

func newShowDocument(e *env) *cobra.Command {
	asJSON := false
	c := &cobra.Command{
		Use:     "document FILE",
		Short:   "show what is on the pages or sheets of a file",
		Long:    "Shows the text of a file as ingest reads it, line by line or cell by cell, with\nplaces. With --json every word or cell is printed with its exact place; a text\nfile comes once for each way of cutting it that a mapping declares.",
		Example: "  windrow show document report.pdf\n  windrow show document --json report.pdf | jq '.[0].pages[0].words[:5]'",
		Args:    args(1, 1, "one file"),
		RunE: func(c *cobra.Command, args []string) error {
			return showDocument(c.Context(), e, c, args[0], asJSON)
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "as JSON")
	return c
}

func showDocument(ctx context.Context, e *env, c *cobra.Command, path string, asJSON bool) error {
	rd, st, _, err := e.readOne(ctx, c, path)
	if err != nil {
		return err
	}
	defer st.Close()
	if len(rd.Docs) == 0 {
		return e.tellHeld(rd.Report)
	}
	if asJSON {
		return writeJSON(e.stdout, rd.Docs)
	}
	d := rd.Docs[0]
	if rd.Match != nil {
		d = rd.Match.Doc
	}
	putf(e.stdout, "%s: %s, %s\n", d.Source.Name, d.Format, plural(len(d.Pages), "page"))
	if d.Dialect != nil {
		putf(e.stdout, "cut as %s with %q\n", d.Dialect.Encoding, d.Dialect.Delimiter)
	}
	for _, p := range d.Pages {
		printPage(e.stdout, p)
	}
	for _, n := range d.Notes {
		e.reason(n.In(d.Source.Name))
	}
	return nil
}

func printPage(w io.Writer, p *ingest.Page) {
	name := fmt.Sprintf("page %d", p.Number)
	if p.Name != "" {
		name = "sheet " + p.Name
	}
	if p.Hidden {
		name += ", hidden"
	}
	if p.Width > 0 {
		name += fmt.Sprintf(", %.0f by %.0f points", p.Width, p.Height)
	}
	putf(w, "\n%s\n", name)
	for _, l := range linesOf(p.Words) {
		putf(w, "%6.0f  %s\n", l.base, l.text)
	}
	for i := range p.Cells {
		c := &p.Cells[i]
		at := ingest.CellName(c.Row, c.Col)
		if c.Line > 0 {
			at = p.PlaceOfCell(c).Inside()
		}
		text := strings.ReplaceAll(c.Text, "\n", " ⏎ ")
		if c.Raw != "" {
			text += "   (stored: " + c.Raw + ")"
		}
		if c.Hidden {
			text += "   (hidden)"
		}
		putf(w, "%8s  %s\n", at, text)
	}
}

// A line of words that stand on one base, for a person to look at. Wide gaps
// are shown wide; exact places are in the JSON.
type line struct {
	base float64
	text string
}

func linesOf(words []ingest.Word) []line {
	words = slices.Clone(words)
	slices.SortStableFunc(words, func(a, b ingest.Word) int {
		if a.Turn != b.Turn {
			return a.Turn - b.Turn
		}
		if d := a.Base - b.Base; d < -1.5 || d > 1.5 {
			return int(d*4 + sign(d))
		}
		if a.Box.X0 < b.Box.X0 {
			return -1
		}
		return 1
	})
	var out []line
	var last ingest.Word
	for i, word := range words {
		text := word.Text
		if word.Ghost != "" {
			text = "[" + word.Ghost + ": " + text + "]"
		}
		d := word.Base - last.Base
		if i == 0 || word.Turn != last.Turn || d < -1.5 || d > 1.5 {
			out = append(out, line{word.Base, text})
		} else {
			gap := " "
			if word.Box.X0-last.Box.X1 > word.Size {
				gap = "   "
			}
			out[len(out)-1].text += gap + text
		}
		last = word
	}
	return out
}

func sign(d float64) float64 {
	if d < 0 {
		return -1
	}
	return 1
}

func newShowRecord(e *env) *cobra.Command {
	asJSON, version := false, 0
	c := &cobra.Command{
		Use:   "record FILE|RECORD",
		Short: "show the values of a report on the common schema",
		Long: `Shows what normalize makes of a report: for each sample the values with unit,
method and what the checks found. FILE is read anew; RECORD is the id of a
report or of a record, and shows what the office's archive holds, the latest
version unless --version names another. With --json the very bytes that the
archive keeps, or would keep, are printed.`,
		Example: "  windrow show record report.pdf\n  windrow show record --json report.pdf | jq .records[0].results[0]\n  windrow show record R0123456789abcdef --version 1",
		Args:    args(1, 1, "one file or the id of a record"),
		RunE: func(c *cobra.Command, args []string) error {
			if _, err := os.Stat(args[0]); err != nil && recordID.MatchString(args[0]) {
				return e.showArchived(c, args[0], version, asJSON)
			}
			if c.Flags().Changed("version") {
				return &usageError{"a file has no versions", "name a record by its id, as letters print it at their foot"}
			}
			rd, st, _, err := e.readOne(c.Context(), c, args[0])
			if err != nil {
				return err
			}
			defer st.Close()
			if asJSON {
				b, err := rd.Report.JSON()
				if err == nil {
					_, err = e.stdout.Write(b)
				}
				if err != nil {
					return err
				}
			} else {
				printReport(e.stdout, rd.Report)
			}
			return e.tellHeld(rd.Report)
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "as JSON, as the archive keeps it")
	c.Flags().IntVar(&version, "version", 0, "`number` of the version in the archive; the latest if not given")
	return c
}

func printReport(w io.Writer, rep *normalize.Report) {
	head := title(rep.Source)
	if rep.Lab.Name != "" {
		head += ": " + rep.Lab.Name
	}
	if rep.Number != "" {
		head += ", report " + rep.Number
	}
	putf(w, "%s\n%s, %s, %s\n", head, rep.ID, rep.Status, plural(len(rep.Records), "sample"))
	for _, rec := range rep.Records {
		putln(w)
		printRecord(w, rec)
	}
}

// printRecord writes one sample as a table.
func printRecord(w io.Writer, rec *normalize.Record) {
	s := rec.Sample
	who := "sample " + sampleName(rec)
	if s.ClientLabel != "" && s.ClientLabel != sampleName(rec) {
		who += ", “" + s.ClientLabel + "”"
	}
	var facts []string
	for _, f := range []struct{ k, v string }{{"", s.LandUse}, {"", s.County}, {"sampled ", s.Sampled}, {"received ", s.Received}, {"reported ", s.Reported}} {
		if f.v != "" {
			facts = append(facts, f.k+f.v)
		}
	}
	switch {
	case s.DepthTopIn != "":
		facts = append(facts, string(s.DepthTopIn)+" to "+string(s.DepthIn)+" in deep")
	case s.DepthIn != "":
		facts = append(facts, "to "+string(s.DepthIn)+" in")
	}
	paragraph(w, "", who+": "+strings.Join(facts, ", "))
	g := grid{head: []string{"ANALYTE", "VALUE", "UNIT", "LB/ACRE", "PRINTED", "METHOD", "RATING", "STATUS"}, whole: map[int]bool{1: true, 2: true, 3: true, 7: true}, wide: 100}
	for _, r := range rec.Results {
		name := r.Analyte
		if r.Detail != "" {
			name += " (" + r.Detail + ")"
		}
		if r.Restates {
			name += ", again"
		}
		value := r.Censored + string(r.Value)
		switch {
		case r.Missing != "":
			value = "none"
		case r.Class != "":
			value = r.Class
		case r.Value == "" && r.Volumetric != nil:
			value = "by volume"
		case r.Value == "":
			value = "not converted"
		}
		lb := ""
		if r.Forms.LbAc != nil {
			lb = r.Censored + string(r.Forms.LbAc.Value)
		}
		printed := r.Printed.Text
		if r.Printed.Unit != "" {
			printed += " " + r.Printed.Unit
		}
		if form := r.Form(); form != "" {
			printed += " of " + form
		}
		rating := r.Printed.Rating
		if rating == "" {
			rating = r.Printed.Index
		}
		unit := r.Unit
		if r.Missing != "" || value == "by volume" {
			unit = ""
		}
		g.add(name, value, unit, lb, printed, r.MethodName, rating, string(r.Status))
	}
	g.write(w, "  ")
	printDerived(w, rec)
	for _, r := range rec.Results {
		for _, f := range r.Findings {
			paragraph(w, "  "+r.Analyte+": ", f.What+" ["+f.Check+"]")
		}
	}
	for _, f := range rec.Checks {
		paragraph(w, "  ", f.What+" ["+f.Check+"]")
	}
}

// printDerived writes what follows from the results of a sample, apart from
// what was measured.
func printDerived(w io.Writer, rec *normalize.Record) {
	derived := normalize.Derive(rec)
	if len(derived) == 0 {
		return
	}
	paragraph(w, "  ", "worked out from these results, not measured:")
	g := grid{head: []string{"QUANTITY", "VALUE", "UNIT", "BY", "ROW", "STATUS"}, whole: map[int]bool{1: true, 2: true, 4: true, 5: true}, wide: 100}
	for _, d := range derived {
		by := d.Method
		if m, ok := method.Standard().Method(d.Method); ok {
			by = m.Name
		}
		st := string(d.Status)
		if d.InDomain != "inside" {
			st += ", limits not known"
		}
		g.add(d.Quantity+", "+d.Name, string(d.Value), d.Unit, by, d.Row, st)
	}
	g.write(w, "  ")
}
