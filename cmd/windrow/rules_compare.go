package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"example.org/windrow/interpret"
)

// setsNamed are the rule sets of the ids, all of them where there are none.
func setsNamed(sets []*interpret.RuleSet, ids []string) ([]*interpret.RuleSet, error) {
	if len(ids) == 0 {
		return sets, nil
	}
	var out []*interpret.RuleSet
	for _, id := range ids {
		i := slices.IndexFunc(sets, func(s *interpret.RuleSet) bool { return s.ID == id })
		if i < 0 {
			return nil, noRuleSet(sets, id)
		}
		out = append(out, sets[i])
	}
	return out, nil
}

func noRuleSet(sets []*interpret.RuleSet, id string) error {
	var ids []string
	for _, s := range sets {
		ids = append(ids, s.ID)
	}
	return &usageError{fmt.Sprintf("there is no rule set %q", id), "there are: " + strings.Join(ids, ", ")}
}

func newRulesCompare(e *env) *cobra.Command {
	a, asJSON := &ask{}, false
	var with []string
	c := &cobra.Command{
		Use:   "compare FILE|RECORD",
		Short: "set what several rule sets say about a report side by side",
		Long: `Sets side by side what rule sets say about each sample of a report, a file or
one in the archive: how they rate each value and by which bound, what they
advise on lime and nutrients, the rows that it rests on, and why they differ.
Without --with all rule sets are asked.`,
		Example: "  windrow rules compare report.pdf --with mehlich-3-home,delaware-mehlich-3\n  windrow rules compare R0123456789abcdef-1 --land-use lawn",
		Args:    args(1, 1, "one file or record"),
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
			if asked.LandUse, err = landUse(a.landUse, nil); err != nil {
				asked.LandUse = a.landUse // a use that only some rule set knows
				if !slices.ContainsFunc(t.stages.RuleSets, func(s *interpret.RuleSet) bool { return s.Use(a.landUse) != nil }) {
					return err
				}
			}
			if err := t.only(a.sample); err != nil {
				return err
			}
			sets, err := setsNamed(t.stages.RuleSets, with)
			if err != nil {
				return err
			}
			byRegister := t.registered(c.Context(), e)
			list := [][]interpret.Comparison{}
			for i, rec := range t.records {
				asked.Register = byRegister[rec.ID]
				var advices []*interpret.Advice
				for _, s := range sets {
					advices = append(advices, t.stages.AdviseBy(s, t.report, rec, asked))
				}
				cmp := interpret.Compare(advices)
				list = append(list, cmp)
				if !asJSON {
					if i > 0 {
						putln(e.stdout)
					}
					paragraph(e.stdout, "", "sample "+sampleName(rec)+", on "+asked.On)
					for _, adv := range advices {
						use := adv.LandUse.Name
						if adv.LandUse.ID == "" {
							use = "has no tables for this use of the land"
						}
						paragraph(e.stdout, "  "+adv.Rules.ID+": ", adv.Rules.Title+"; "+use)
					}
					printComparisons(e.stdout, cmp)
				}
			}
			if asJSON {
				if err := writeJSON(e.stdout, list); err != nil {
					return err
				}
			}
			return e.tellHeld(t.report)
		},
	}
	a.flags(c.Flags())
	c.Flags().StringSliceVar(&with, "with", nil, "`ids` of the rule sets, with commas between; all if not given")
	c.Flags().BoolVar(&asJSON, "json", false, "as JSON, with what each saying rests on")
	return c
}

func printComparisons(w io.Writer, list []interpret.Comparison) {
	for _, c := range list {
		mark := ""
		if c.Differs {
			mark = "  (they differ)"
		}
		putf(w, "\n  %s%s\n", c.Item, mark)
		for _, s := range c.Says {
			text := s.Says
			if s.Why != "" {
				text += ": " + s.Why
			}
			paragraph(w, "    "+s.Rules+": ", text+basisRows(s.Basis))
		}
		for _, y := range c.Why {
			paragraph(w, "    why: ", y)
		}
	}
}

// basisRows are the rows that something rests on, in brackets.
func basisRows(bs []interpret.Basis) string {
	var rows []string
	for _, b := range bs {
		rows = append(rows, b.Row+" "+b.Source+", "+string(b.Provenance))
	}
	if len(rows) == 0 {
		return ""
	}
	return " [" + strings.Join(rows, "; ") + "]"
}

// printAnswers tells which rows of a rule set answer for a record, and why.
func printAnswers(w io.Writer, a *interpret.Advice, sample string) {
	use := a.LandUse.Name
	if a.LandUse.ID == "" {
		use = fmt.Sprintf("no table: it does not know the use %q", a.LandUse.Said)
	}
	paragraph(w, "", "sample "+sample+", by "+a.Rules.ID+", for "+use)
	said := func(what, why string, bs []interpret.Basis) {
		paragraph(w, "  ", what)
		if why != "" {
			paragraph(w, "    why: ", why)
		}
		for _, b := range bs {
			putf(w, "    row %s: %s, %s, at %s\n", b.Row, b.Source, b.Provenance.Words(), b.At)
		}
	}
	for _, r := range a.Ratings {
		what := r.Analyte + " " + r.Censored + r.Printed + " " + r.PrintUnit + ": " + r.Class
		why := r.Decided
		if r.Class == "" {
			what, why = strings.TrimSuffix(what, ": ")+": not rated", r.Not
		}
		if r.ToNext != "" {
			why += "; " + r.ToNext + " " + r.Unit + " from " + r.NextClass
		}
		if r.Differs != "" {
			why += "; " + r.Differs
		}
		said(what, why, r.Basis)
	}
	for _, l := range a.Lines {
		said(l.ID+": "+l.What, l.Working, l.Basis)
	}
	if p := a.Plan; p != nil {
		var names []string
		for _, it := range p.Products {
			names = append(names, it.Of)
		}
		said("what to buy: "+strings.Join(names, " and "), p.Working, p.Basis)
	}
	if a.Lead != nil {
		said("lead: "+a.Lead.Kind+" "+a.Lead.Tier, a.Lead.Working, a.Lead.Basis)
	}
	for _, c := range a.Cautions {
		said("caution "+c.ID, "", c.Basis)
	}
	for _, q := range a.Questions {
		paragraph(w, "  asked ("+q.Code+", holds back "+q.Blocks+"): ", q.Text)
	}
	for _, o := range a.Rules.Overridden {
		paragraph(w, "  overridden: ", fmt.Sprintf("row %s, %s: %s in place of %s, by %s on %s: %s", o.Row, o.Key, o.Now, o.Was, o.By, o.On, o.Why))
	}
}

func newRulesReference(e *env) *cobra.Command {
	return &cobra.Command{
		Use:   "reference",
		Short: "write the page about all rule sets: their figures and what they rest on",
		Long: `Writes a page in Markdown about the rule sets in use: what each is for, its
publications, every row with its source and what it rests on, how many rows
rest on what, and which rows of the built-in sets no test exercises. The laws
and the list of products follow.`,
		Example: "  windrow rules reference > rules.md",
		Args:    args(0, 0, "no argument"),
		RunE: func(c *cobra.Command, _ []string) error {
			sets, reasons, err := e.rulesOf(c, nil)
			if err == nil {
				err = asError(reasons)
			}
			if err != nil {
				return err
			}
			_, err = e.stdout.Write(interpret.Reference(sets))
			return err
		},
	}
}
