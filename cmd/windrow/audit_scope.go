package main

import (
	"fmt"
	"regexp"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"example.org/windrow/normalize/audit"
)

// scopeFlags say what an audit is about.
type scopeFlags struct{ since, until, period, lab string }

func (f *scopeFlags) add(c *cobra.Command) {
	c.Flags().StringVar(&f.since, "since", "", "only what arrived on this `day` or later, YYYY-MM-DD")
	c.Flags().StringVar(&f.until, "until", "", "only what arrived on this `day` or earlier, YYYY-MM-DD")
	c.Flags().StringVar(&f.period, "period", "", "only what arrived in this `period`: 2026, 2026-03, or 2026-03-01..2026-04-15; in place of --since and --until")
	c.Flags().StringVar(&f.lab, "lab", "", "only reports of the laboratory with this `id`")
}

var yearOrMonth = regexp.MustCompile(`^\d{4}(-\d{2})?$`)

// scope reads the flags; a mistake in them is told as wrong use.
func (f *scopeFlags) scope() (audit.Scope, error) {
	s := audit.Scope{Since: f.since, Until: f.until, Lab: f.lab}
	wrong := func(flag, text string) error {
		return &usageError{fmt.Sprintf("--%s: %q is no day or period", flag, text), "give a day as 2026-03-01, and a period as 2026, 2026-03 or 2026-03-01..2026-04-15"}
	}
	if f.period != "" {
		if f.since != "" || f.until != "" {
			return s, &usageError{"--period says since when and until when already", "leave out --since and --until, or --period"}
		}
		switch from, to, isRange := strings.Cut(f.period, ".."); {
		case isRange:
			s.Since, s.Until = from, to
		case yearOrMonth.MatchString(f.period):
			first, err := time.Parse("2006-01-02", (f.period + "-01-01")[:10])
			if err != nil {
				return s, wrong("period", f.period)
			}
			next := first.AddDate(1, 0, 0)
			if len(f.period) > 4 {
				next = first.AddDate(0, 1, 0)
			}
			s.Since, s.Until = first.Format("2006-01-02"), next.AddDate(0, 0, -1).Format("2006-01-02")
		default:
			s.Since, s.Until = f.period, f.period // one day
		}
	}
	for _, d := range []struct{ flag, day string }{{"since", s.Since}, {"until", s.Until}} {
		if d.day == "" {
			continue
		}
		if _, err := time.Parse("2006-01-02", d.day); err != nil {
			if f.period != "" {
				return s, wrong("period", f.period)
			}
			return s, wrong(d.flag, d.day)
		}
	}
	if s.Since != "" && s.Until != "" && s.Since > s.Until {
		return s, &usageError{fmt.Sprintf("the period ends on %s, before it begins on %s", s.Until, s.Since), "give the earlier day first"}
	}
	return s, nil
}
