package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/normalize/register"
)

func newWaiting(e *env) *cobra.Command {
	asJSON, clients, on := false, false, ""
	c := &cobra.Command{
		Use:   "waiting",
		Short: "list the samples that have no report yet, and what letters said we ask laboratories",
		Long: `Lists the samples of the register for which no report has come, those that wait
longest first, with how long their laboratory usually takes for what it receives
in that month of the year: within how many days half of its reports came, and
within how many nine of ten did, from receipt to report, as the archive knows
it. Fewer than ` + strconv.Itoa(register.LeastReports) + ` reports of a month give way to the whole year; with fewer still
the usual time is not known. Days in the mail are not in it.

A sample is overdue when it has waited longer than nine of ten reports took, or
longer than overdue_days in windrow.yaml. A report that has come and is held, as
long as its samples could be read, is no longer waited for.

Below stands what letters have told clients that this office asks a laboratory,
because numbers of its report do not agree or are not clear: since when, about
what, and on which record; windrow show advice tells what the checks found. It
is listed until a later report on the sample comes, also without a register.

Exit code 3 means that something is overdue.`,
		Example: "  windrow waiting\n  windrow waiting --with-clients\n  windrow waiting --json | jq '.waiting[] | select(.overdue)'",
		Args:    args(0, 0, ""),
		RunE: func(c *cobra.Command, _ []string) error {
			if on == "" {
				on = e.now().Format(time.DateOnly)
			} else if !isDate(on) {
				return &usageError{fmt.Sprintf("%q is not a date", on), "write it as YYYY-MM-DD"}
			}
			return waiting(c, e, on, asJSON, clients)
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "as JSON, with the usual times of all laboratories by month")
	c.Flags().BoolVar(&clients, "with-clients", false, "with the names of clients")
	c.Flags().StringVar(&on, "on", "", "`date` of the question, YYYY-MM-DD; today if not given")
	config.AddFlags(c.Flags(), "overdue_days")
	registerFlag(c.Flags())
	return c
}

// A waitLine is one sample as waiting shows it.
type waitLine struct {
	register.Wait
	ClientName string `json:"client_name,omitempty"` // with --with-clients
}

func waiting(c *cobra.Command, e *env, on string, asJSON, clients bool) error {
	cfg, _, err := e.settings(c.Flags(), true)
	if err != nil {
		return err
	}
	promises, err := e.promised(c.Context(), cfg)
	if err != nil {
		return err
	}
	reg, done, cmp, err := e.compared(c, true)
	if err != nil {
		if !asJSON {
			printPromises(e, promises, on)
		}
		return err
	}
	defer done()
	lines, overdue, held := []waitLine{}, 0, 0
	for _, w := range cmp.Waiting(on, cfg.OverdueDays) {
		l := waitLine{Wait: w}
		if clients {
			l.ClientName = w.Row.Client
		}
		if w.Overdue {
			overdue++
		}
		lines = append(lines, l)
	}
	for _, list := range cmp.Taken {
		if len(list) > 0 && best(list).Status == "held" {
			held++
		}
	}
	if asJSON {
		err = writeJSON(e.stdout, struct {
			On      string           `json:"on"`
			Samples int              `json:"samples"` // of the register
			Overdue int              `json:"overdue"`
			Held    int              `json:"held"` // whose report has come and waits for a person
			Waiting []waitLine       `json:"waiting"`
			Usual   []register.Usual `json:"usual"`
			// Asked is what letters said that the office asks laboratories.
			Asked []pipeline.Promise `json:"asked_of_laboratories"`
		}{on, len(reg.Rows), overdue, held, lines, cmp.Times.List(), promises})
	} else {
		printWaiting(e, lines, clients)
		if len(lines) > 0 && len(promises) > 0 {
			putln(e.stdout, "")
		}
		printPromises(e, promises, on)
	}
	if err != nil {
		return err
	}
	asked := ""
	if n := len(promises); n > 0 {
		asked = fmt.Sprintf("; %d to ask a laboratory about", n)
	}
	e.say("windrow: %d of %s without a report, %d overdue; %d held%s", len(lines), plural(len(reg.Rows), "sample"), overdue, held, asked)
	if overdue > 0 {
		return errHeld
	}
	return nil
}

// promised is what letters of this office have said that it asks laboratories.
func (e *env) promised(ctx context.Context, cfg *config.Config) ([]pipeline.Promise, error) {
	if _, err := os.Stat(cfg.Archive); errors.Is(err, os.ErrNotExist) && !cfg.Engine.Used() {
		return []pipeline.Promise{}, nil // nothing has come yet
	}
	a, err := archiveOf(ctx, cfg)
	if err != nil {
		return nil, err
	}
	ix, err := indexBeside(ctx, cfg.Index)
	if err != nil || ix == nil {
		return []pipeline.Promise{}, err // whoever compares the register tells that there is none
	}
	office := ""
	if cfg.Engine.Used() {
		office = cfg.Office.Name // the archive is that of other offices too
	}
	out, err := new(pipeline.Promises).List(ctx, a, ix, office)
	return out, errors.Join(err, ix.Close())
}

func printPromises(e *env, promises []pipeline.Promise, on string) {
	g := grid{head: []string{"DAYS", "ASK THE LABORATORY", "ABOUT", "LABEL", "NUMBER", "RECORD"}, whole: map[int]bool{0: true, 5: true}, wide: 120}
	for _, p := range promises {
		days := ""
		if a, err := time.Parse(time.DateOnly, p.Since); err == nil {
			if b, err := time.Parse(time.DateOnly, on); err == nil {
				days = fmt.Sprintf("%4d", int(b.Sub(a).Hours()/24))
			}
		}
		g.add(days, p.Lab, strings.Join(p.About, ", "), p.Label, p.LabSampleID, p.Record)
	}
	if len(promises) > 0 {
		g.write(e.stdout, "")
	}
}

func printWaiting(e *env, lines []waitLine, clients bool) {
	head := []string{"DAYS", "", "LABEL", "SENT", "LABORATORY", "HALF", "9 OF 10", "REPORTS", "WHY", "AT"}
	if clients {
		head = append(head, "CLIENT")
	}
	g := grid{head: head, whole: map[int]bool{0: true, 1: true, 3: true, 5: true, 6: true, 7: true, 9: true}, wide: 120}
	for _, l := range lines {
		days, late, half, most, n := "", "", "", "", "not known"
		if l.Days != nil {
			days = fmt.Sprintf("%4d", *l.Days)
		}
		if l.Overdue {
			late = "overdue"
		}
		if u := l.Usual; u != nil {
			half, most, n = strconv.Itoa(u.Median), strconv.Itoa(u.P90), strconv.Itoa(u.Reports)
			if u.Month > 0 {
				n += " in " + time.Month(u.Month).String()[:3]
			}
		}
		why := l.Why
		if l.Perhaps != "" {
			why = "perhaps " + l.Perhaps + ", which fits another line or sample as well"
		}
		cells := []string{days, late, l.Row.Label, l.Row.Sent, l.Row.Lab, half, most, n, why, l.Row.Place.Inside()}
		if clients {
			cells = append(cells, l.ClientName)
		}
		g.add(cells...)
	}
	if len(lines) > 0 {
		g.write(e.stdout, "")
	}
}
