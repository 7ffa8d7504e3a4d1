package main

import (
	"fmt"
	"strconv"
	"time"

	"github.com/spf13/cobra"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/normalize/register"
)

func newWaiting(e *env) *cobra.Command {
	asJSON, clients, on := false, false, ""
	c := &cobra.Command{
		Use:   "waiting",
		Short: "list the samples that were sent out and have no report yet",
		Long: `Lists the samples of the register for which no report has come, those that wait
longest first, with how long their laboratory usually takes for what it receives
in that month of the year: within how many days half of its reports came, and
within how many nine of ten did, from receipt to report, as the archive knows
it. Fewer than ` + strconv.Itoa(register.LeastReports) + ` reports of a month give way to the whole year; with fewer still
the usual time is not known. Days in the mail are not in it.

A sample is overdue when it has waited longer than nine of ten reports took, or
longer than overdue_days in windrow.yaml. A report that has come and is held, as
long as its samples could be read, is no longer waited for.

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
	reg, done, cmp, err := e.compared(c, true)
	if err != nil {
		return err
	}
	defer done()
	cfg, _, err := e.settings(c.Flags(), true)
	if err != nil {
		return err
	}
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
		}{on, len(reg.Rows), overdue, held, lines, cmp.Times.List()})
	} else {
		printWaiting(e, lines, clients)
	}
	if err != nil {
		return err
	}
	e.say("windrow: %d of %s without a report, %d overdue; %d held", len(lines), plural(len(reg.Rows), "sample"), overdue, held)
	if overdue > 0 {
		return errHeld
	}
	return nil
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
