package main

import (
	"encoding/json"
	"fmt"
	"strconv"

	"github.com/spf13/cobra"

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest"
	"example.org/windrow/interpret"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
)

// An adviceLine is one version of an advice in the list.
type adviceLine struct {
	archive.Written
	On      string             `json:"on"` // the date for which it was given
	Rules   interpret.RulesRef `json:"rules"`
	Outcome interpret.Outcome  `json:"outcome"`
	Changes int                `json:"changes"` // what is advised otherwise than in the version before
}

// versionsOfAdvice lists the versions of the advice on a record, shows one, or
// compares two.
func (e *env) versionsOfAdvice(c *cobra.Command, args []string, asJSON bool) error {
	a, _, err := e.archive(c)
	if err != nil {
		return err
	}
	vs, err := a.History(archive.Advice, args[0])
	if err != nil {
		return err
	}
	if len(vs) == 0 {
		return &ingest.Reason{Code: "record-unknown", Severity: ingest.Fail, Where: ingest.Place{File: args[0]}, What: "the archive holds no advice on a record of that id", Expected: "the id of a record with the number of its sample, such as R0123456789abcdef-1", Found: args[0],
			Next: "check the id; on a report that is held nothing is advised"}
	}
	read := func(n int) (*interpret.Advice, []byte, error) {
		b, err := a.Version(archive.Advice, args[0], n)
		if err != nil {
			return nil, nil, err
		}
		adv := &interpret.Advice{}
		if err := json.Unmarshal(b, adv); err != nil {
			return nil, nil, fmt.Errorf("version %d of the advice on %s: %w", n, args[0], err)
		}
		return adv, b, nil
	}
	var advs []*interpret.Advice
	for _, s := range args[1:] {
		n, err := versionNumber(vs, s)
		if err != nil {
			return err
		}
		adv, b, err := read(n)
		if err != nil {
			return err
		}
		if len(args) == 2 {
			if asJSON {
				_, err = e.stdout.Write(b)
				return err
			}
			putf(e.stdout, "version %d of %d, given for %s\n", n, vs[len(vs)-1].Version, adv.On)
			printAdvice(e.stdout, adv, &normalize.Record{ID: args[0]})
			return nil
		}
		advs = append(advs, adv)
	}
	if len(advs) == 2 {
		return e.compareAdvice(args, advs[0], advs[1], asJSON)
	}
	var list []adviceLine
	var before *interpret.Advice
	for _, v := range vs {
		adv, _, err := read(v.Version)
		if err != nil {
			return err
		}
		l := adviceLine{Written: v, On: adv.On, Rules: adv.Rules, Outcome: adv.Outcome}
		if before != nil {
			changes, err := pipeline.AdviceChanges(before, adv, "")
			if err != nil {
				return err
			}
			l.Changes = len(changes)
		}
		before = adv
		list = append(list, l)
	}
	if asJSON {
		return writeJSON(e.stdout, list)
	}
	putf(e.stdout, "advice on %s\n", args[0])
	g := grid{head: []string{"VERSION", "DATED", "GIVEN FOR", "RULES", "OUTCOME", "CHANGES"}, whole: map[int]bool{0: true, 1: true, 2: true}}
	for _, l := range list {
		g.add(strconv.Itoa(l.Version), l.Dated.Format("2006-01-02 15:04"), l.On, l.Rules.ID+" "+short(l.Rules.SHA256), string(l.Outcome), dash(l.Changes))
	}
	g.write(e.stdout, "  ")
	return nil
}

func (e *env) compareAdvice(args []string, old, now *interpret.Advice, asJSON bool) error {
	changes, err := pipeline.AdviceChanges(old, now, "")
	if err != nil {
		return err
	}
	if asJSON {
		if changes == nil {
			changes = []pipeline.AdviceChange{}
		}
		return writeJSON(e.stdout, changes)
	}
	putf(e.stdout, "advice on %s, version %s → %s: %s\n", args[0], args[1], args[2], plural(len(changes), "difference"))
	for _, x := range changes {
		what := x.What
		if x.Analyte != "" {
			what += " " + x.Analyte
		}
		paragraph(e.stdout, "  "+what+": ", orNothingThere(x.Old)+" → "+orNothingThere(x.New))
	}
	return nil
}
