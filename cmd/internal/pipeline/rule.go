package pipeline

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
)

// rulings looks up in an archive what was decided about a report.
func rulings(a *archive.Archive) func(string) (*normalize.Ruling, error) {
	return func(id string) (*normalize.Ruling, error) {
		b, _, err := a.Latest(archive.Rulings, id)
		if errors.Is(err, archive.ErrNotFound) {
			return nil, nil
		}
		if err != nil {
			return nil, err
		}
		r, err := normalize.ParseRuling(b)
		if err == nil && r.Report != id {
			err = errors.New("it is about report " + r.Report)
		}
		return r, err
	}
}

// How a reason tells of the command that settles it. Which report it is about
// is known here only.
const (
	forRuling = "(windrow ruling)"
	forProof  = "(windrow proof)"
)

// rule has what a person decided about a report take effect. A ruling that
// can't be read holds: it may say that the report is not to be used.
func (d *Defaults) rule(rep *normalize.Report) {
	if d.Ruling == nil {
		return
	}
	for i, x := range rep.Reasons {
		next := strings.NewReplacer(forRuling, "(windrow ruling "+rep.ID+" --count --by NAME --because WORDS)", forProof, "(windrow proof "+rep.ID+")").Replace(x.Next)
		if next != x.Next {
			c := *x // the one of the extract stays as it is
			c.Next = next
			rep.Reasons[i] = &c
		}
	}
	r, err := d.Ruling(rep.ID)
	if err != nil {
		rep.Reasons = append(rep.Reasons, &ingest.Reason{Code: "ruling-damaged", Severity: ingest.Hold, Where: ingest.Place{File: rep.Source.Title()}, What: "what a person decided about this report can't be read", Expected: "a ruling as it was written", Found: ingest.AsReason(err).What,
			Next: "run windrow archive verify, and bring " + archive.Rulings + "/" + rep.ID + " back from a backup"})
		rep.Status = normalize.Held
		return
	}
	r.Apply(rep)
}

// Rule keeps in the archive what a person decided about a report. It gives the
// reports for which that changes something, the one itself first: they are to
// be read anew. Nothing is decided that the decision can't settle; then the
// error says why.
//
// Over a central engine the report must be one of this office, and so are those
// that are given: of another office's reports it is told that they wait for it.
func (o *Office) Rule(ctx context.Context, id string, decision normalize.Decision, by, because string, on time.Time) (concerned []string, err error) {
	m := &o.ruling
	m.Lock()
	defer m.Unlock()
	err = o.alone(ctx, func(ctx context.Context) error {
		concerned, err = o.ruleAlone(ctx, id, decision, by, because, on)
		return err
	})
	return concerned, err
}

func (o *Office) ruleAlone(ctx context.Context, id string, decision normalize.Decision, by, because string, on time.Time) (concerned []string, err error) {
	rep, err := o.latest(id)
	if err != nil {
		return nil, err
	}
	refuse := func(what, expected, found, next string) ([]string, error) {
		return nil, &ingest.Reason{Code: "ruling-refused", Severity: ingest.Fail, Where: ingest.Place{File: id}, What: what, Expected: expected, Found: found, Next: next}
	}
	if rep == nil {
		return refuse("the archive holds no report of that id", "the id of a report, as letters print it at their foot", id, "check the id, and that this is the right office")
	}
	if !o.Own(rep.Office) {
		return nil, notOwn(id, rep.Office)
	}
	before, err := rulings(o.Archive)(id)
	if err != nil {
		return nil, err
	}
	if before != nil && before.Decision == decision && (decision != normalize.Count || normalize.Ruled(rep)) {
		return refuse("that was decided already", "a decision that changes something", fmt.Sprintf("%s, by %s on %s: %s", before.Decision, before.By, before.On.Format(time.DateOnly), before.Because), "nothing; windrow ruling --withdraw takes a decision back")
	}
	others, err := sameDay(ctx, o.Index, o.Archive, rep)
	if err != nil {
		return nil, err
	}
	r := &normalize.Ruling{Schema: normalize.RulingSchema, Report: id, Decision: decision, By: strings.TrimSpace(by), On: on.UTC().Truncate(time.Second), Because: strings.TrimSpace(because)}
	switch decision {
	case normalize.Withdrawn:
		if before == nil {
			return refuse("nothing was decided about this report", "a decision to take back", "none", "check the id")
		}
	case normalize.Count:
		holds := normalize.Holding(rep)
		if len(holds) == 0 {
			return refuse("nothing holds this report", "a report that waits for a person", string(rep.Status), "nothing: it is used already")
		}
		for _, h := range holds {
			if !normalize.Releasable(h.Code) {
				return refuse("what holds this report is no matter of a decision", "a report that says that it corrects another one, or that another one of its day contradicts", "held ["+h.Code+"] "+h.What, "settle that first: "+h.Next)
			}
			if !slices.Contains(r.Settles, h.Code) {
				r.Settles = append(r.Settles, h.Code)
			}
		}
		for _, x := range others {
			if normalize.Ruled(x) && normalize.Contradicts(rep, x) {
				return refuse("of another report of the same samples and the same day it was decided that it counts", "one that counts", x.ID+", "+x.Source.Title(), "if this one counts after all, take that decision back first: windrow ruling "+x.ID+" --withdraw")
			}
		}
		r.Basis = normalize.BasisOf(rep)
	}
	b, err := r.JSON()
	if err != nil {
		return nil, err
	}
	if _, err := normalize.ParseRuling(b); err != nil {
		return refuse("this is no whole decision", "who decided, and why", err.Error(), "give --by and --because")
	}
	if _, _, err := o.Archive.Put(archive.Rulings, id, b); err != nil {
		return nil, err
	}
	concerned = []string{id}
	for _, x := range others {
		if !o.Own(x.Office) {
			o.Tell(&ingest.Reason{Code: "office-other", Severity: ingest.Note, Where: ingest.Place{File: x.ID}, What: "a report of another office is concerned, and is as it was until that office reads it anew", Found: "one of " + x.Office,
				Next: "there: windrow replay --apply " + x.ID})
			continue
		}
		concerned = append(concerned, x.ID)
	}
	return concerned, nil
}
