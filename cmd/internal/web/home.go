package web

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"golang.org/x/sync/errgroup"

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive/index"
	"example.org/windrow/normalize/register"
)

// daysShown is how many days the first page looks back.
const daysShown = 14

// mostTicks is how many marks a day's row has at most; the number stands beside
// it.
const mostTicks = 60

// A dayRow is what came on one day: a row of marks, and the same in numbers.
type dayRow struct {
	Day                      string // YYYY-MM-DD
	Used, Marked, Held, Also int    // Also came before or could not be worked on
	Ticks                    []tick
	More                     int
}

// A tick is one file in a day's row.
type tick struct {
	X    int
	Kind string // used, marked, held or also
}

// tickStep is how far apart the marks of a row stand.
const tickStep = 9

// Total is how many files came.
func (r dayRow) Total() int { return r.Used + r.Marked + r.Held + r.Also }

// Wide is the width of the row's drawing.
func (r dayRow) Wide() int { return max(1, len(r.Ticks)) * tickStep }

// dayRows makes the rows of the days up to today, the latest first; a day on
// which nothing came has a row, too.
func dayRows(came []index.Came, today time.Time) []dayRow {
	by := map[string]*dayRow{}
	rows := make([]dayRow, daysShown)
	for i := range rows {
		day := today.AddDate(0, 0, -i)
		rows[i] = dayRow{Day: day.Format(time.DateOnly)}
		by[rows[i].Day] = &rows[i]
	}
	for _, c := range came {
		r := by[c.Day]
		if r == nil {
			continue
		}
		kind := "also"
		switch c.Outcome {
		case "ok":
			kind, r.Used = "used", r.Used+c.Files
		case "flagged":
			kind, r.Marked = "marked", r.Marked+c.Files
		case "held":
			kind, r.Held = "held", r.Held+c.Files
		default:
			r.Also += c.Files
		}
		for range c.Files {
			if len(r.Ticks) == mostTicks {
				r.More++
				continue
			}
			r.Ticks = append(r.Ticks, tick{len(r.Ticks) * tickStep, kind})
		}
	}
	return rows
}

// officeCounts is how much there is.
type officeCounts struct{ reports, records, held int }

func (d *Desk) officeCounts(ctx context.Context) (officeCounts, error) {
	return d.counts.get(context.WithoutCancel(ctx), func(ctx context.Context) (officeCounts, error) {
		labs, err := d.off.Index.LabCounts(ctx, officeOf(ctx))
		var c officeCounts
		for _, l := range labs {
			c.reports += l.Reports
			c.records += l.Records
			c.held += l.Held
		}
		return c, err
	})
}

// waitingList is what was sent and has no report.
type waitingList struct {
	Register bool // the office has a register
	Samples  int
	Overdue  int
	List     []register.Wait
}

// mostWaiting is how many samples the first page lists.
const mostWaiting = 12

// keepsRegister reports whether the office that asks is the one whose register
// there is: that of the office which the settings name.
func (d *Desk) keepsRegister(ctx context.Context) bool {
	office := officeOf(ctx)
	return office == "" || office == d.off.Config.Office.Name
}

// lookWaiting has the register compared with the archive.
func (d *Desk) lookWaiting(r *http.Request) {
	if !d.keepsRegister(r.Context()) {
		return
	}
	d.waiting.begin("", func(ctx context.Context) (waitingList, error) {
		reg := d.off.Register(ctx)
		if reg == nil {
			return waitingList{}, nil
		}
		usual, err := d.usualSpans(ctx)
		var c *pipeline.Compared
		if err == nil {
			c, err = pipeline.CompareRegister(ctx, d.off.Archive, d.off.Index, reg, nil, usual)
		}
		if err != nil {
			d.opt.Log(r.Method, r.Pattern, http.StatusInternalServerError, err)
			return waitingList{}, err
		}
		w := waitingList{Register: true, Samples: len(reg.Rows), List: c.Waiting(d.today().Format(time.DateOnly), d.off.Config.OverdueDays)}
		for i := range w.List {
			x := &w.List[i]
			if x.Overdue {
				w.Overdue++
			}
			if x.Days != nil && *x.Days < 0 {
				x.Days = nil // its words say that the day lies ahead
			}
		}
		return w, nil
	})
}

// waitingNow is what is known of the samples that wait when soon ends; the
// first time it is waited for.
func (d *Desk) waitingNow(ctx, soon context.Context) (waitingList, error) {
	if !d.keepsRegister(ctx) {
		return waitingList{}, nil
	}
	if !d.waiting.had("") {
		soon = ctx
	}
	w, known, err := d.waiting.found(soon, "")
	if known {
		return w, nil
	}
	return w, errors.Join(err, ctx.Err())
}

func (d *Desk) home(r *http.Request) (*answer, error) {
	ctx := r.Context()
	today := d.today()
	d.lookWaiting(r)
	d.lookPromises(r)
	soon, cancel := context.WithTimeout(ctx, lookingTime)
	defer cancel()
	var came []index.Came
	var groups []holdGroup
	var latest []index.Report
	var counts officeCounts
	ask, asked := errgroup.WithContext(ctx) // each goes through much where much came
	ask.Go(func() (err error) {
		came, err = d.off.Index.Came(asked, today.AddDate(0, 0, 1-daysShown).Format(time.DateOnly), officeOf(ctx))
		return err
	})
	ask.Go(func() (err error) { groups, err = d.groups(asked); return err })
	ask.Go(func() (err error) {
		latest, err = d.off.Index.Reports(asked, index.Filter{Office: officeOf(ctx), Limit: 8})
		return err
	})
	ask.Go(func() (err error) { counts, err = d.officeCounts(asked); return err })
	if err := ask.Wait(); err != nil {
		return nil, err
	}
	if err := d.standingNow(ctx, latest); err != nil {
		return nil, err
	}
	shown(ctx, reportIDs(latest)...)
	waits, err := d.waitingNow(ctx, soon)
	if err != nil {
		return nil, err
	}
	promised := d.promisedNow(soon)
	for _, x := range promised.List {
		report, _, _ := strings.Cut(x.Record, "-")
		shown(ctx, report)
	}
	more := 0
	if len(waits.List) > mostWaiting {
		more = len(waits.List) - mostWaiting
		waits.List = waits.List[:mostWaiting]
	}
	rows := dayRows(came, today)
	for len(rows) > 0 && rows[len(rows)-1].Total() == 0 {
		rows = rows[:len(rows)-1] // what is long ago and empty tells nothing
	}
	return &answer{page: "home", title: "Today", nav: "/", body: struct {
		Date             string
		Days             []dayRow
		Groups           []holdGroup
		Waits            waitingList
		MoreWaits        int
		Promised         promisedList
		Latest           []index.Report
		Reports, Records int
		Held             int
		Inbox            string
	}{today.Format(time.DateOnly), rows, groups, waits, more, promised, latest, counts.reports, counts.records, counts.held, d.inboxName(ctx)}}, nil
}

// reportIDs are the ids of a list of reports.
func reportIDs(list []index.Report) []string {
	var out []string
	for _, r := range list {
		out = append(out, r.ID)
	}
	return out
}

// standingNow has a list say of what a person set aside that it is, and not that
// it waits.
func (d *Desk) standingNow(ctx context.Context, list []index.Report) error {
	var held []string
	for _, r := range list {
		if r.Status == string(normalize.Held) {
			held = append(held, r.ID)
		}
	}
	aside, err := d.off.Index.SetAside(ctx, held)
	for i := range list {
		if aside[list[i].ID] {
			list[i].Status = index.Aside
		}
	}
	return err
}

// inboxName is the folder in which a person drops reports: the first of those
// of the person's office; "" where none is watched for it.
func (d *Desk) inboxName(ctx context.Context) string {
	office := officeOf(ctx)
	for _, f := range d.off.Config.Folders {
		of := f.Office
		if of == "" {
			of = d.off.Config.Office.Name
		}
		if office == "" || of == office {
			return f.Path
		}
	}
	return ""
}

// A holdGroup is held reports that wait for the same cause: of one laboratory,
// in one layout, with the same first reason. What settles one settles all.
type holdGroup struct {
	Key         string
	Lab, Layout string
	Code        string
	What        string // the first reason in words
	Reports     []heldLine
}

// mostHeld is how many reports of one cause the queue lists.
const mostHeld = 40

// First are the reports of the group that are listed.
func (g holdGroup) First() []heldLine { return g.Reports[:min(len(g.Reports), mostHeld)] }

// Rest is how many others there are.
func (g holdGroup) Rest() int { return len(g.Reports) - len(g.First()) }

// A heldLine is one held report in the queue.
type heldLine struct {
	index.Queued
	Days int // since it came; -1 where that was not noted
	More int // reasons beside the first
}

// Oldest is how many days the one has waited that waits longest, -1 for not
// known.
func (g holdGroup) Oldest() int {
	n := -1
	for _, r := range g.Reports {
		n = max(n, r.Days)
	}
	return n
}

// Waited says how long that is.
func (g holdGroup) Waited() string { return waited(g.Oldest()) }

// Mendable reports whether a mapping may settle it: what a person decides or
// reads off a picture, and what is wrong with a file, no mapping does.
func (g holdGroup) Mendable() bool { return mendable(g.Lab != "", g.Code) }

// mendable reports whether a mapping may settle a reason, of a report of which
// the laboratory is known or not.
func mendable(known bool, code string) bool {
	return !known && code == "lab-unknown" || known && !normalize.Releasable(code) && code != normalize.AsideCode && !strings.HasPrefix(code, "scan") && !strings.HasPrefix(code, "proof") && code != "waits-for-the-rest"
}

// mendable reports whether a mapping may settle why a report waits.
func (h reportHead) mendable() bool {
	return slices.ContainsFunc(h.Holds, func(r *ingest.Reason) bool { return mendable(h.Lab.ID != "", r.Code) })
}

// Waited says how long a report has waited.
func (l heldLine) Waited() string { return waited(l.Days) }

func waited(days int) string {
	switch {
	case days < 0:
		return "not known since when"
	case days == 0:
		return "since today"
	case days == 1:
		return "since yesterday"
	}
	return fmt.Sprintf("for %d days", days)
}

// daysSince is how many days ago a time of the index was, -1 for not known.
func (d *Desk) daysSince(at string) int {
	t, err := time.Parse(time.RFC3339, at)
	if err != nil {
		return -1
	}
	return max(0, int(d.today().UTC().Truncate(24*time.Hour).Sub(t.Truncate(24*time.Hour)).Hours()/24))
}

// groups are the held reports by cause, those first that have waited longest.
// They are shared, and not to be changed.
func (d *Desk) groups(ctx context.Context) ([]holdGroup, error) {
	all, err := d.causes.get(context.WithoutCancel(ctx), d.groupsNow)
	office := officeOf(ctx)
	if err != nil || office == "" {
		return all, err
	}
	var out []holdGroup
	for _, g := range all {
		g.Reports = slices.DeleteFunc(slices.Clone(g.Reports), func(l heldLine) bool { return l.Office != office })
		if len(g.Reports) > 0 {
			out = append(out, g)
		}
	}
	return out, nil
}

func (d *Desk) groupsNow(ctx context.Context) ([]holdGroup, error) {
	queue, err := d.off.Index.Queue(ctx)
	if err != nil {
		return nil, err
	}
	var out []holdGroup
	at := map[string]int{}
	for _, q := range queue {
		l := heldLine{Queued: q, Days: d.daysSince(q.Since)}
		code, what := "", "it is held, and nothing says why"
		if len(q.Reasons) > 0 {
			code, what = q.Reasons[0].Code, q.Reasons[0].What
			l.More = len(q.Reasons) - 1
		}
		key := strings.Join([]string{q.Lab, q.Layout, code}, "\x00")
		i, ok := at[key]
		if !ok || q.Lab == "" { // of unknown laboratories nobody knows that the cause is one
			i = len(out)
			at[key] = i
			out = append(out, holdGroup{Key: key, Lab: q.LabName, Layout: q.Layout, Code: code, What: what})
		}
		out[i].Reports = append(out[i].Reports, l)
	}
	return out, nil
}
