package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"example.org/windrow/cmd/internal/access"
	"example.org/windrow/ingest"
)

func newAccess(e *env) *cobra.Command {
	c := &cobra.Command{Use: "access", Short: "who saw and changed what on the office's pages", Args: cobra.ArbitraryArgs, RunE: group,
		Long: `Reads the log of who saw and changed what: the file that sign_in.log names in
windrow.yaml, access.jsonl if not given. windrow serve keeps it where people sign
in. It holds accounts, addresses and the ids of reports and samples, and nothing
that a report says.`}
	c.AddCommand(newAccessVerify(e), newAccessList(e))
	return c
}

// accessLog is the path of an office's log.
func (e *env) accessLog(c *cobra.Command) (string, error) {
	cfg, _, err := e.settings(c.Flags(), true)
	if err != nil {
		return "", err
	}
	return cfg.SignIn.Log, nil
}

func newAccessVerify(e *env) *cobra.Command {
	asJSON, reach := false, ""
	c := &cobra.Command{
		Use:   "verify",
		Short: "find out whether a line of the log was changed or taken out",
		Long: `Reads the log from its beginning. Each line holds the SHA-256 of the one before,
so that one that was changed, put in, moved or taken out is noticed; and a file
beside the log, .head, says how far it must reach, so that lines missing at its
end are, too.

Whoever can write to the office's folder could write all of it anew. Against
that, keep the last line's number and hash elsewhere, which is printed, and give
them later: --reaches NUMBER:HASH.`,
		Example: "  windrow access verify\n  windrow access verify --reaches 4711:5feceb66ffc86f38d952786c6d696c79c2dbc239dd4e91b46729d73a27fb57e9",
		Args:    args(0, 0, ""),
		RunE: func(c *cobra.Command, _ []string) error {
			path, err := e.accessLog(c)
			if err != nil {
				return err
			}
			mark, err := parseReach(reach)
			if err != nil {
				return err
			}
			x, faults, err := access.Verify(path, mark.visit)
			if err != nil {
				return err
			}
			if r := mark.missing(path, x); r != nil {
				faults = append(faults, r)
			}
			if asJSON {
				if faults == nil {
					faults = []*ingest.Reason{}
				}
				if err := writeJSON(e.stdout, struct {
					access.Extent
					Faults []*ingest.Reason `json:"faults"`
				}{x, faults}); err != nil {
					return err
				}
			} else {
				for _, r := range faults {
					e.fault(r)
				}
				putf(e.stdout, "%d:%s\n", x.Lines, x.Last)
			}
			if len(faults) > 0 {
				e.say("windrow: %s in the log of who saw and changed what", plural(len(faults), "fault"))
				return errTold
			}
			if x.Lines == 0 {
				e.say("windrow: no line yet")
				return nil
			}
			e.say("windrow: %s, from %s to %s, each chained to the one before", plural(int(x.Lines), "line"), x.First, x.Until)
			return nil
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "as JSON")
	c.Flags().StringVar(&reach, "reaches", "", "a `number and hash` that verify printed before, parted by a colon")
	return c
}

// A reach is a line that was kept elsewhere.
type reach struct {
	n          int64
	hash       string
	seen, same bool
}

func parseReach(s string) (*reach, error) {
	m := &reach{}
	if s == "" {
		return m, nil
	}
	if _, err := fmt.Sscanf(s, "%d:%s", &m.n, &m.hash); err != nil || m.n < 1 || len(m.hash) != 64 {
		return nil, &usageError{"--reaches takes a number, a colon and a hash of 64 characters", "copy what windrow access verify printed"}
	}
	return m, nil
}

// visit looks at each line: the one after it holds its hash.
func (m *reach) visit(e access.Entry) error {
	if e.N == m.n+1 && m.n > 0 {
		m.seen, m.same = true, e.Prev == m.hash
	}
	return nil
}

// missing says that the line is no longer what it was, nil where it is.
func (m *reach) missing(path string, x access.Extent) *ingest.Reason {
	if m.n == 0 || m.seen && m.same || x.Lines == m.n && x.Last == m.hash {
		return nil
	}
	return &ingest.Reason{Code: "access-log-changed", Severity: ingest.Fail, Where: ingest.Place{File: filepath.Base(path), Line: int(m.n)}, What: "the log does not hold the line whose hash was kept elsewhere", Expected: m.hash, Next: "the log was written anew, or this is another one: find out who can write to this file"}
}

// An accessAsked is which lines are asked for; "" lets everything through.
type accessAsked struct{ record, user, since, until string }

func (o accessAsked) meant(x access.Entry) bool {
	day, _, _ := strings.Cut(x.At, "T")
	report, _, sample := strings.Cut(o.record, "-")
	switch {
	case o.user != "" && x.Who != o.user, o.since != "" && day < o.since, o.until != "" && day > o.until:
		return false
	case o.record == "":
		return true
	case sample && len(x.Records) > 0:
		return slices.Contains(x.Records, o.record)
	}
	return slices.Contains(x.Reports, report)
}

func printAccess(e *env, lines []access.Entry) {
	g := grid{head: []string{"LINE", "AT", "WHO", "FROM", "DID", "WHAT", "OF"}, whole: map[int]bool{0: true, 1: true, 2: true, 4: true}, wide: 150}
	for _, x := range lines {
		of := strings.Join(x.Records, ", ")
		if of == "" {
			of = strings.Join(x.Reports, ", ")
		}
		did := string(x.Did)
		if x.Status > 0 {
			did = fmt.Sprintf("%s, %d", did, x.Status)
		}
		g.add(fmt.Sprint(x.N), strings.Replace(x.At[:min(len(x.At), 19)], "T", " ", 1), x.Who, x.From, did, x.What, of)
	}
	if len(lines) > 0 {
		g.write(e.stdout, "")
	}
}

func newAccessList(e *env) *cobra.Command {
	o, asJSON := accessAsked{}, false
	c := &cobra.Command{
		Use:   "list",
		Short: "list who saw and changed what",
		Long: `Lists the lines of the log, the oldest first. --record takes the id of a report,
or of a sample, of which the lines about its whole report are listed, too.`,
		Example: "  windrow access list --record R0123456789abcdef\n  windrow access list --user ilse --since 2026-03-01",
		Args:    args(0, 0, ""),
		RunE: func(c *cobra.Command, _ []string) error {
			path, err := e.accessLog(c)
			if err != nil {
				return err
			}
			for _, day := range []string{o.since, o.until} {
				if _, err := time.Parse(time.DateOnly, day); day != "" && err != nil {
					return &usageError{fmt.Sprintf("%q is not a day", day), "write a day as 2026-03-31"}
				}
			}
			if o.record != "" && !recordID.MatchString(o.record) {
				return &usageError{fmt.Sprintf("%q is not the id of a report or a sample", o.record), "copy the id from the foot of the letter, all of it"}
			}
			lines := []access.Entry{}
			_, faults, err := access.Verify(path, func(x access.Entry) error {
				if o.meant(x) {
					lines = append(lines, x)
				}
				return nil
			})
			if err != nil {
				return err
			}
			if asJSON {
				err = writeJSON(e.stdout, lines)
			} else {
				printAccess(e, lines)
			}
			if len(faults) > 0 {
				e.say("windrow: the log was changed; see windrow access verify")
				return errors.Join(err, errTold)
			}
			e.say("windrow: %s", plural(len(lines), "line"))
			return err
		},
	}
	f := c.Flags()
	f.StringVar(&o.record, "record", "", "the `id` of a report or a sample")
	f.StringVar(&o.user, "user", "", "the `account`")
	f.StringVar(&o.since, "since", "", "first `day`, YYYY-MM-DD, universal time")
	f.StringVar(&o.until, "until", "", "last `day`, YYYY-MM-DD, universal time")
	f.BoolVar(&asJSON, "json", false, "as JSON")
	return c
}
