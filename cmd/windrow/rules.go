package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest"
	"example.org/windrow/interpret"
)

func newRules(e *env) *cobra.Command {
	c := &cobra.Command{
		Use:   "rules",
		Short: "check, explain and compare the tables that advice is given by",
		Long: `Rule sets are the tables that advice is given by. The setting rule_set names the
one that an office advises by, the setting state whose fertilizer laws count.
The folder of the setting rules may hold files of the office's own:

  NAME.yaml            a rule set of its own; it may take parts of others
  overrides.yaml       figures it changes in a rule set, with who, when and why:
                         overrides: windrow-overrides/1
                         of: mehlich-3-home
                         by: P. Larkin, Finch County office
                         on: 2026-02-01
                         changes:
                           - {row: N001, key: rate, was: "2.5", now: "2", why: our trials}
  products.yaml        the fertilizers and limestones that its shops sell
  limits.yaml          the laws on lawns, in place of the built-in ones
  sources.yaml         more publications to cite

Advice that rests on a figure of the office says so.`,
		Args: cobra.ArbitraryArgs,
		RunE: group,
	}
	c.AddCommand(newRulesCheck(e), newRulesExplain(e), newRulesCompare(e), newRulesReference(e))
	return c
}

// rulesOf loads the rule sets in use, or those of a folder beside the
// built-in ones.
func (e *env) rulesOf(c *cobra.Command, args []string) ([]*interpret.RuleSet, []*ingest.Reason, error) {
	if len(args) == 1 {
		if !isDir(args[0]) {
			return nil, nil, &usageError{args[0] + " is not a folder", "name a folder of rule sets"}
		}
		sets, reasons := pipeline.LoadRules(args[0])
		return sets, reasons, nil
	}
	cfg, isOffice, err := e.settings(c.Flags(), false)
	if err != nil {
		return nil, nil, err
	}
	sets, reasons := pipeline.LoadRules(e.want(cfg, isOffice, 1).RuleDir)
	return sets, reasons, nil
}

func newRulesCheck(e *env) *cobra.Command {
	return &cobra.Command{
		Use:   "check [DIR]",
		Short: "check rule sets, with the examples they carry",
		Long: `Checks rule sets: their shape, that every figure names its source, that classes
follow on each other without gap, and that their own examples come out as they
say. Each mistake is told with file, line and column.`,
		Example: "  windrow rules check\n  windrow rules check ./rules",
		Args:    args(0, 1, "a folder"),
		RunE: func(c *cobra.Command, args []string) error {
			sets, reasons, err := e.rulesOf(c, args)
			if err != nil {
				return err
			}
			for _, s := range sets {
				putf(e.stdout, "ok  %s: %s, %s as expected\n", s.ID, s.Title, plural(len(s.Examples), "example"))
			}
			return asError(reasons)
		},
	}
}

func newRulesExplain(e *env) *cobra.Command {
	a, record := &ask{}, ""
	c := &cobra.Command{
		Use:   "explain [ID]",
		Short: "tell what a rule set rates, by which tables, and what they rest on",
		Long: `Tells what rule sets rate, by which tables, and what they rest on. With --record
it tells which rows answer for the samples of one report, and why: the bound
that decided, the working of an amount, the place of the row in its file.`,
		Example: "  windrow rules explain\n  windrow rules explain mehlich-3-home\n  windrow rules explain --record report.pdf --land-use lawn",
		Args:    args(0, 1, "the id of a rule set"),
		RunE: func(c *cobra.Command, args []string) error {
			if record != "" {
				return e.explainFor(c, a, record, args)
			}
			sets, reasons, err := e.rulesOf(c, nil)
			if err == nil {
				err = asError(reasons)
			}
			if err == nil {
				sets, err = setsNamed(sets, args)
			}
			if err != nil {
				return err
			}
			for i, s := range sets {
				if i > 0 {
					putln(e.stdout)
				}
				printRules(e.stdout, s)
			}
			return nil
		},
	}
	a.flags(c.Flags())
	c.Flags().StringVar(&record, "record", "", "`file` or id of a record: tell which rows answer for it")
	return c
}

// explainFor tells which rows answer for a report: those of the rule set that
// advice is given by, or of the one named.
func (e *env) explainFor(c *cobra.Command, a *ask, record string, ids []string) error {
	asked, err := a.ask(e)
	if err != nil {
		return err
	}
	t, err := e.target(c.Context(), c, record)
	if err != nil {
		return err
	}
	defer t.stages.Close()
	rs := t.stages.Rules
	if len(ids) == 1 {
		sets, err := setsNamed(t.stages.RuleSets, ids)
		if err != nil {
			return err
		}
		rs = sets[0]
	}
	if asked.LandUse, err = landUse(a.landUse, rs); err != nil {
		return err
	}
	if err := t.only(a.sample); err != nil {
		return err
	}
	byRegister := t.registered(c.Context(), e)
	for i, rec := range t.records {
		if i > 0 {
			putln(e.stdout)
		}
		asked.Register = byRegister[rec.ID]
		printAnswers(e.stdout, t.stages.AdviseBy(rs, t.report, rec, asked), sampleName(rec))
	}
	return e.tellHeld(t.report)
}

func named(word string, n interpret.Num) string {
	if n == "" {
		return ""
	}
	return word + string(n)
}

func printRules(w io.Writer, s *interpret.RuleSet) {
	paragraph(w, s.ID+": ", s.Title)
	paragraph(w, "  for: ", s.Region)
	until := s.InForce.Until
	if until == "" {
		until = "further notice"
	}
	putf(w, "  in force: from %s until %s\n", s.InForce.From, until)
	if s.About != "" {
		paragraph(w, "  about: ", s.About)
	}
	for _, k := range s.Publications {
		paragraph(w, "  rests on: ", s.Sources[k].Text)
	}
	putln(w, "\n  its figures, by what they rest on")
	for _, p := range interpret.Provenances {
		if n := s.Rows[p]; n > 0 {
			putf(w, "    %4d  %s\n", n, p.Words())
		}
	}
	putln(w, "\n  uses of the land")
	for _, u := range s.LandUses {
		paragraph(w, "    "+u.Name+": ", strings.Join(u.Covers, ", "))
	}
	putln(w, "\n  pH")
	for _, p := range s.PH {
		target := ""
		if p.Target != "" {
			target = ", target " + string(p.Target)
		}
		high := "to " + string(p.High)
		if p.High == "" {
			high = "and more"
		}
		putf(w, "    %s: %s %s%s  [%s, %s]\n", strings.Join(p.For, ", "), p.Low, high, target, p.Source, p.Provenance)
	}
	for _, t := range s.Ratings {
		uses := strings.Join(t.For, ", ")
		if uses == "" {
			uses = "every use"
		}
		if x := t.Index; x != nil { // the classes are not of the value, and can't be held against it
			putf(w, "\n  an index of %s and pH, by %s, for %s\n", t.Analyte, strings.Join(t.Methods, ", "), uses)
			paragraph(w, "    index: ", fmt.Sprintf("%s + %s x %s in %s + %s x pH in water", x.Constant, x.PerValue, t.Analyte, t.Unit, x.PerPH))
		} else {
			putf(w, "\n  %s in %s, by %s, for %s\n", t.Analyte, t.Unit, strings.Join(t.Methods, ", "), uses)
		}
		if len(t.Textures) > 0 {
			paragraph(w, "    soils: ", strings.Join(t.Textures, ", "))
		}
		if t.CECFrom != "" || t.CECBelow != "" {
			paragraph(w, "    soils: ", strings.TrimSpace("exchange capacity "+named("from ", t.CECFrom)+named(" below ", t.CECBelow)))
		}
		for _, c := range t.Classes {
			span := string(c.From) + " and more"
			if c.Below != "" {
				span = string(c.From) + " to below " + string(c.Below)
			}
			source, prov := c.Source, c.Provenance
			if source == "" {
				source, prov = t.Source, t.Provenance
			}
			putf(w, "    %-14s %-24s [%s, %s]\n", c.Class, span, source, prov)
		}
	}
	if len(s.Watch) > 0 {
		putln(w, "\n  what stands out whatever grows")
	}
	for _, x := range s.Watch {
		by := ""
		if len(x.Methods) > 0 {
			by = ", by " + strings.Join(x.Methods, ", ")
		}
		putf(w, "    %-14s %s from %s %s on%s  [%s, %s]\n", x.Hazard, x.Analyte, x.From, x.Unit, by, x.Source, x.Provenance)
	}
}
