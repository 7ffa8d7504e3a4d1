package main

import (
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"example.org/windrow/interpret"
	"example.org/windrow/normalize"
)

// An ask is the flags that say what advice is asked for.
type ask struct {
	landUse, on, area, sample    string
	treated, plantAge, numPlants string
}

func (a *ask) flags(f *pflag.FlagSet) {
	f.StringVar(&a.landUse, "land-use", "", "`use` of the land, such as lawn; that of the report if not given")
	f.StringVar(&a.on, "on", "", "`date` of the advice, YYYY-MM-DD; today if not given")
	f.StringVar(&a.area, "area", "", "`square feet` to give amounts for")
	f.StringVar(&a.treated, "treated", "", "`date` on which lime, fertilizer or manure was last spread, YYYY-MM-DD")
	f.StringVar(&a.plantAge, "plant-age", "", "how many `years` ago trees, vines or bushes were planted, 0 for this year")
	f.StringVar(&a.numPlants, "plants", "", "how `many` trees, vines or bushes there are")
	f.StringVar(&a.sample, "sample", "", "only this `sample`, by its number or label")
}

func (a *ask) ask(e *env) (interpret.Ask, error) {
	out := interpret.Ask{LandUse: a.landUse, On: a.on, AreaSqFt: a.area, Treated: a.treated, PlantAge: a.plantAge, Plants: a.numPlants}
	if out.On == "" {
		out.On = e.now().Format("2006-01-02")
	} else if !isDate(out.On) {
		return out, &usageError{fmt.Sprintf("%q is not a date", a.on), "write it as YYYY-MM-DD"}
	}
	if a.treated != "" && !isDate(a.treated) {
		return out, &usageError{fmt.Sprintf("%q is not a date", a.treated), "write it as YYYY-MM-DD"}
	}
	for _, n := range []string{a.plantAge, a.numPlants} {
		if n != "" && strings.Trim(n, "0123456789") != "" {
			return out, &usageError{fmt.Sprintf("%q is not a number of years or plants", n), "write digits: --plant-age 4 --plants 3"}
		}
	}
	if a.area != "" && !isPlainNumber(a.area) {
		return out, &usageError{fmt.Sprintf("%q is not a number of square feet", a.area), "write digits, with a point if need be: --area 1500"}
	}
	return out, nil
}

func newShowAdvice(e *env) *cobra.Command {
	a, asJSON := &ask{}, false
	c := &cobra.Command{
		Use:     "advice FILE",
		Short:   "show what to do about a report",
		Long:    "Shows what interpret makes of each sample of a report: how the values are\nrated, what to add and what not, and what is asked before more can be said.\nWhat it rests on is in the JSON. \"windrow letter\" puts it into words.",
		Example: "  windrow show advice report.pdf\n  windrow show advice --land-use lawn --area 2500 report.pdf",
		Args:    args(1, 1, "one file"),
		RunE: func(c *cobra.Command, args []string) error {
			asked, err := a.ask(e)
			if err != nil {
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
			byRegister := t.registered(c.Context(), e)
			list := []*interpret.Advice{}
			for _, rec := range t.records {
				asked.Register = byRegister[rec.ID]
				list = append(list, t.stages.Advise(t.report, rec, asked))
			}
			if asJSON {
				err = writeJSON(e.stdout, list)
			} else {
				for i, adv := range list {
					if i > 0 {
						putln(e.stdout)
					}
					printAdvice(e.stdout, adv, t.records[i])
				}
			}
			if err != nil {
				return err
			}
			return e.tellHeld(t.report)
		},
	}
	a.flags(c.Flags())
	c.Flags().BoolVar(&asJSON, "json", false, "as JSON, with what each line rests on")
	return c
}

func printAdvice(w io.Writer, a *interpret.Advice, rec *normalize.Record) {
	use := a.LandUse.Name
	if use == "" {
		use = "use of the land not known"
	}
	paragraph(w, "", fmt.Sprintf("sample %s: advice for %s, by %s", sampleName(rec), use, a.Rules.Title))
	g := grid{head: []string{"ANALYTE", "VALUE", "UNIT", "CLASS", "LABORATORY SAYS"}, whole: map[int]bool{0: true, 1: true}}
	for _, r := range a.Ratings {
		value, unit := r.Censored+r.Value, r.Unit
		if r.Value == "" {
			value, unit = r.Printed, r.PrintUnit
		}
		class := r.Class
		if class == "" {
			class = "not rated: " + r.Not
		}
		g.add(r.Analyte, value, unit, class, r.LabWord)
	}
	for _, x := range a.Alarms { // the letter opens with them
		text := strings.TrimSpace(x.Text + " " + x.Do + " " + x.Again)
		if x.Stop {
			text += " No amounts are given until then."
		}
		paragraph(w, "  before all else: ", text)
	}
	if len(g.rows) > 0 {
		g.write(w, "  ")
	}
	for _, part := range []struct {
		when  interpret.When
		title string
	}{{interpret.First, "first"}, {interpret.Season, "this season"}, {interpret.Not, "not"}} {
		for _, l := range a.Lines {
			if l.When == part.when {
				paragraph(w, "  "+part.title+": ", lineText(l))
			}
		}
	}
	if p := a.Plan; p != nil {
		paragraph(w, "  to buy: ", planText(p))
	}
	if l := a.Lead; l != nil {
		text := strings.Join(l.Do, " ")
		if l.Tier != "" {
			text = l.Tier + ". " + text
		}
		paragraph(w, "  lead: ", text)
	}
	for _, q := range a.Questions {
		paragraph(w, "  asked: ", q.Text)
	}
	for _, s := range a.Cautions {
		paragraph(w, "  caution: ", s.Text)
	}
	for _, d := range a.Disclosure {
		paragraph(w, "  note: ", d)
	}
}

func lineText(l interpret.Line) string {
	text := l.What
	for _, am := range []*interpret.Amount{l.Amount, l.Product} {
		if am == nil || len(am.PerArea) == 0 {
			continue
		}
		p := am.PerArea[0]
		for _, x := range am.PerArea {
			if x.Own {
				p = x
			}
		}
		text += fmt.Sprintf(" (%s: %s lb for %s sq ft.)", am.Of, p.Lb, p.SqFt)
	}
	if l.Note != "" {
		text += " " + l.Note
	}
	for _, o := range l.Instead {
		if len(o.PerArea) > 0 {
			text += fmt.Sprintf(" Or in place of all of it %s lb of %s for %s sq ft: %s", o.PerArea[0].Lb, o.Of, o.PerArea[0].SqFt, o.Note)
		}
	}
	return text
}

// planText tells a choice of products with the amounts for the area asked for,
// or for the first of the usual ones.
func planText(p *interpret.Plan) string {
	var parts []string
	for _, it := range p.Products {
		text := fmt.Sprintf("%s lb of %s for %s sq ft", it.PerArea[0].Lb, it.Of, it.PerArea[0].SqFt)
		if it.Bags != "" {
			text += fmt.Sprintf(" (%s of a %s-lb bag)", it.Bags, it.BagLb)
		}
		parts = append(parts, text)
	}
	return strings.TrimSpace(strings.Join(parts, ", and ") + ". " + p.Note)
}

func isDate(s string) bool {
	_, err := time.Parse(time.DateOnly, s)
	return err == nil
}

func isPlainNumber(s string) bool {
	digits, points := 0, 0
	for _, r := range s {
		switch {
		case r >= '0' && r <= '9':
			digits++
		case r == '.':
			points++
		default:
			return false
		}
	}
	return digits > 0 && points <= 1
}
