package main

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/audit"
)

type signCmd struct {
	scope      scopeFlags
	name, note string
	decision   string
	reread     bool
	account    string
}

func newAuditSign(e *env) *cobra.Command {
	o := &signCmd{}
	c := &cobra.Command{
		Use:   "sign",
		Short: "keep in the archive that a person has read the account of a period",
		Long: `Audits the period once more and keeps in the archive who has read the account,
when, with what decision, and what it said: the hash of the account, the counts,
every difference, and which reports it was about. A sign-off is written once and
never changed; every later audit compares the archive with it. The period has to
be over and to hold a report. An account with differences can't be accepted
without remarks, and each decision but "accepted" needs a note that says why.`,
		Example: `  windrow audit sign --period 2026-03 --name "Ilse Marrow" --decision accepted
  windrow audit sign --name "Ilse Marrow" --decision "accepted with remarks" --note "lead by Verrin looked at by hand" --account 5d41…`,
		Args: args(0, 0, ""),
		RunE: func(c *cobra.Command, _ []string) error { return o.run(c.Context(), e, c) },
	}
	o.scope.add(c)
	c.Flags().StringVar(&o.name, "name", "", "the `person` who has read the account")
	c.Flags().StringVar(&o.decision, "decision", "", "the `decision`: accepted, \"accepted with remarks\", or \"not accepted\"")
	c.Flags().StringVar(&o.note, "note", "", "what there is to say about it")
	c.Flags().BoolVar(&o.reread, "reread", false, "read the originals again, too")
	c.Flags().StringVar(&o.account, "account", "", "sign only if the account still has this `hash`, as the workbook shows it, or begins with it")
	return c
}

func (o *signCmd) run(ctx context.Context, e *env, c *cobra.Command) error {
	scope, err := o.scope.scope()
	if err != nil {
		return err
	}
	if strings.TrimSpace(o.name) == "" {
		return &usageError{"a sign-off needs the name of the person who read the account", `give --name "First Last"`}
	}
	decision := audit.Decision(strings.ReplaceAll(strings.ToLower(strings.TrimSpace(o.decision)), "-", " "))
	if !slices.Contains(audit.Decisions(), decision) {
		return &usageError{fmt.Sprintf("a sign-off needs a decision, and %q is none", o.decision), `give --decision accepted, "accepted with remarks", or "not accepted"`}
	}
	if o.account != "" && len(o.account) < 8 {
		return &usageError{"the hash of the account is too short to tell accounts apart", "give at least its first 8 digits"}
	}
	have, cfg, err := e.archive(c)
	if err != nil {
		return err
	}
	r := &auditRun{e: e, archive: have, reread: o.reread}
	acc, err := r.account(ctx, c, scope)
	if err != nil {
		return err
	}
	hash, err := acc.Hash()
	if err != nil {
		return err
	}
	if !strings.HasPrefix(hash, strings.ToLower(o.account)) {
		e.complain("the account is no longer the one that was read: its hash is "+hash, "make the workbook anew, read what has changed, and sign that")
		return errTold
	}
	s, err := audit.Sign(acc, audit.Signature{Name: o.name, Decision: decision, Note: o.note}, version, e.now())
	if err != nil {
		e.complain(err.Error(), `read the account with windrow audit; then give a decision and a note that fit it, and a period that is over`)
		return errTold
	}
	b, err := s.JSON()
	if err != nil {
		return err
	}
	a, err := writable(have, cfg) // which makes the folder, where an archive has none for sign-offs yet
	if err != nil {
		return err
	}
	if err := a.PutSignOff(s.ID, b); err != nil {
		return err
	}
	putf(e.stdout, "%s: %s, signed by %s: %s\n", s.ID, s.Scope, s.Name, s.Decision)
	putf(e.stdout, "%s, %s, %s; account %s\n", plural(s.Tally.Reports, "report"), plural(s.Tally.Values, "value"), plural(len(s.Differences), "difference"), s.Account)
	return nil
}

func newAuditList(e *env) *cobra.Command {
	asJSON := false
	c := &cobra.Command{
		Use:     "list",
		Short:   "list the sign-offs in the archive",
		Example: "  windrow audit list\n  windrow audit list --json | jq '.[].name'",
		Args:    args(0, 0, ""),
		RunE: func(c *cobra.Command, _ []string) error {
			a, _, err := e.archive(c)
			if err != nil {
				return err
			}
			list, err := signOffs(a)
			if err != nil {
				return err
			}
			if asJSON {
				if list == nil {
					list = []*audit.SignOff{}
				}
				return writeJSON(e.stdout, list)
			}
			if len(list) == 0 {
				e.say("windrow: no account has been signed yet")
				return nil
			}
			for _, s := range list {
				putf(e.stdout, "%s  %s UTC  %s\n", s.ID, s.Time.Format("2006-01-02 15:04"), s.Name)
				putf(e.stdout, "    %s: %s, %s, %s\n", s.Scope, plural(s.Tally.Reports, "report"), plural(s.Tally.Values, "value"), plural(len(s.Differences), "difference"))
				if s.Decision != "" {
					putf(e.stdout, "    %s\n", s.Decision)
				}
				if s.Note != "" {
					putf(e.stdout, "    %s\n", s.Note)
				}
			}
			return nil
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "as JSON")
	return c
}

// signOffs are those in an archive, in order of time. One that is damaged is
// an error: nobody may take it for a sign-off.
func signOffs(a *archive.Archive) ([]*audit.SignOff, error) {
	return soundSignOffs(a, damagedSignOff)
}

// soundSignOffs are the sign-offs that are what was signed, in order of time.
// Each other one is given to damaged, whose error ends it.
func soundSignOffs(a *archive.Archive, damaged func(id string, err error) error) ([]*audit.SignOff, error) {
	var list []*audit.SignOff
	err := a.EachID(archive.SignOffs, func(id string) error {
		b, _, err := a.Latest(archive.SignOffs, id)
		if errors.Is(err, archive.ErrNotFound) {
			return nil // it is being written
		}
		if err != nil && !errors.Is(err, archive.ErrDamaged) {
			return err
		}
		var s *audit.SignOff
		if err == nil {
			s, err = audit.ParseSignOff(b)
		}
		if err == nil && s.ID != id {
			err = errors.New("it says that it is " + s.ID)
		}
		if err != nil {
			return damaged(id, err)
		}
		list = append(list, s)
		return nil
	})
	slices.SortFunc(list, func(x, y *audit.SignOff) int {
		if c := x.Time.Compare(y.Time); c != 0 {
			return c
		}
		return strings.Compare(x.ID, y.ID)
	})
	return list, err
}

func damagedSignOff(id string, err error) error {
	return &ingest.Reason{Code: "sign-off-damaged", Severity: ingest.Fail, Where: ingest.Place{File: archive.SignOffs + "/" + id}, What: "a sign-off in the archive is not what was signed", Expected: "a sign-off whose id fits its content", Found: err.Error(),
		Next: "run windrow archive verify, and bring the file back from a backup"}
}

// sinceSigned says what has changed since each sign-off of the same scope.
func sinceSigned(a *archive.Archive, acc *audit.Account) ([]audit.SinceSigned, error) {
	list, err := signOffs(a)
	out := []audit.SinceSigned{}
	for _, s := range list {
		if s.Scope != acc.Scope {
			continue
		}
		since, serr := s.Since(acc)
		if serr != nil {
			return nil, serr
		}
		out = append(out, since)
	}
	return out, err
}
