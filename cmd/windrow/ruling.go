package main

import (
	"context"
	"errors"
	"strings"

	"github.com/spf13/cobra"

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/normalize"
)

type rulingCmd struct {
	count, aside, withdraw bool
	by, because            string
}

func newRuling(e *env) *cobra.Command {
	o := &rulingCmd{}
	c := &cobra.Command{
		Use:     "ruling REPORT",
		Aliases: []string{"rule"}, // its name in the notes of earlier versions
		Short:   "decide whether a report counts that waits for a person",
		Long: `Keeps in the archive what a person decided about a report, and reads it and the
others of its day anew: letters are written, or put aside, accordingly.

A report can be decided to count that is held since it says that it corrects an
earlier one (corrects-earlier), or since another one of its day contradicts it
(sample-number-again). Any report can be set aside. Numbers that could not be
read or accounted for are no matter of a decision, and a report that is read
otherwise later is held again. No reading is changed; a decision stands for
good, with who made it, when and why, and a later one beside it can withdraw it.

After a correction of another day counts, set the report aside that it takes the
place of.`,
		Example: `  windrow ruling R0123456789abcdef --count --by "Ilse Marrow" --because "the laboratory confirmed it by telephone"
  windrow ruling R89abcdef01234567 --set-aside --by "Ilse Marrow" --because "replaced by R0123456789abcdef"`,
		Args: args(1, 1, "the id of a report, as letters print it at their foot"),
		RunE: func(c *cobra.Command, args []string) error { return o.run(c.Context(), e, c, args[0]) },
	}
	f := c.Flags()
	f.BoolVar(&o.count, "count", false, "the report counts")
	f.BoolVar(&o.aside, "set-aside", false, "the report is not used")
	f.BoolVar(&o.withdraw, "withdraw", false, "the decision before counts no more")
	f.StringVar(&o.by, "by", "", "the `person` who decides")
	f.StringVar(&o.because, "because", "", "why, in `words`")
	return c
}

func (o *rulingCmd) decision(id string) (string, normalize.Decision, error) {
	var d []normalize.Decision
	for _, x := range []struct {
		is bool
		d  normalize.Decision
	}{{o.count, normalize.Count}, {o.aside, normalize.Aside}, {o.withdraw, normalize.Withdrawn}} {
		if x.is {
			d = append(d, x.d)
		}
	}
	switch {
	case !recordID.MatchString(id):
		return "", "", &usageError{id + " is not the id of a report", "the note beside the held file and windrow run name it, and letters print it at their foot, such as R0123456789abcdef-1"}
	case len(d) != 1:
		return "", "", &usageError{"a ruling is one decision", "give one of --count, --set-aside and --withdraw"}
	case strings.TrimSpace(o.by) == "":
		return "", "", &usageError{"a ruling needs the name of the person who decides", `give --by "First Last"`}
	case strings.TrimSpace(o.because) == "":
		return "", "", &usageError{"a ruling needs its reason", `give --because "what the laboratory said"`}
	}
	id, _, _ = strings.Cut(id, "-")
	return id, d[0], nil
}

func (o *rulingCmd) run(ctx context.Context, e *env, c *cobra.Command, id string) (err error) {
	id, decision, err := o.decision(id)
	if err != nil {
		return err
	}
	if _, _, err := e.archive(c); err != nil {
		return err
	}
	cfg, _, err := e.settings(c.Flags(), true)
	if err != nil {
		return err
	}
	off, err := e.open(ctx, cfg)
	if err != nil {
		return err
	}
	defer off.Stages.Close()
	defer func() { err = errors.Join(err, off.WriteLetterIndex(), off.Close()) }()
	off.Tell = e.reason
	ids, err := off.Rule(ctx, id, decision, o.by, o.because, e.now())
	if err != nil {
		return err
	}
	putf(e.stdout, "%s: %s, decided by %s\n", id, decision, strings.TrimSpace(o.by))
	held := false
	// The report comes first: what the others are depends on it.
	err = e.anew(ctx, off, ids, func(x string, y *pipeline.Replayed) {
		held = held || y.ID == id && y.Status == normalize.Held
		for _, reason := range y.Reasons {
			if y.ID == id && x == id && decision == normalize.Count {
				e.reason(reason)
			}
		}
	})
	if err != nil {
		return err
	}
	switch {
	case decision != normalize.Count:
		e.say("windrow: what reports of later days say of this one is as before, until windrow replay --apply")
	case held:
		e.say("windrow: %s waits all the same: it is read otherwise today than when it was archived, or another part of its mail waits; see windrow replay %s and windrow versions %s, then decide again", id, id, id)
		return errHeld
	default:
		e.say("windrow: if %s takes the place of a report of another day, that one counts, too, until it is set aside", id)
	}
	return nil
}
