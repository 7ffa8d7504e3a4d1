package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/cmd/internal/progress"
	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/audit"
)

type auditCmd struct {
	scope       scopeFlags
	reread      bool
	allVersions bool
	workbook    string
	json        bool
}

func newAudit(e *env) *cobra.Command {
	o := &auditCmd{}
	c := &cobra.Command{
		Use:   "audit",
		Short: "recompute every archived value by a second path",
		Long: `Recomputes every value in the archive from its printed number and the steps
stored beside it, by arithmetic of its own with forty digits, and tells each
difference: which record and result, which step, what was expected and found.
It also checks that each step begins where the one before it ended, that every
source key leads to a source, and that the originals have the hashes they are
named by; that each document is coherent in itself; that every report that was
ever signed for is there as it was signed; and that each report which a note of
an arrival names is there. With --reread each printed text is looked up again at
its place in the original. Nothing is changed.

An audit compares the archive with itself. Whether a record is what the original
says is for windrow replay, which reads the originals anew and shows what differs.

A period is that of arrival, in universal time; both its days are in it.

Exit codes: 0 everything agrees; 1 something differs, or the audit failed;
3 nothing differs, but something could not be compared.`,
		Example: `  windrow audit
  windrow audit --period 2026 --workbook audits/2026
  windrow audit --since 2026-03-01 --until 2026-03-31 --lab verrin-analytical --reread
  windrow audit sign --period 2026-03 --name "Ilse Marrow" --decision accepted
  windrow audit list`,
		Args: cobra.ArbitraryArgs,
		RunE: func(c *cobra.Command, a []string) error {
			if len(a) > 0 {
				return group(c, a)
			}
			return o.run(c.Context(), e, c)
		},
	}
	o.scope.add(c)
	c.Flags().BoolVar(&o.reread, "reread", false, "read the originals again and compare every printed text at its place")
	c.Flags().BoolVar(&o.allVersions, "all-versions", false, "recompute the earlier versions of reports, too")
	c.Flags().StringVar(&o.workbook, "workbook", "", "write the account as a workbook and a page into this `folder`")
	c.Flags().BoolVar(&o.json, "json", false, "print the account as JSON")
	c.AddCommand(newAuditSign(e), newAuditList(e))
	return c
}

func (o *auditCmd) run(ctx context.Context, e *env, c *cobra.Command) error {
	scope, err := o.scope.scope()
	if err != nil {
		return err
	}
	a, _, err := e.archive(c)
	if err != nil {
		return err
	}
	r := &auditRun{e: e, archive: a, reread: o.reread}
	scope.AllVersions = o.allVersions
	acc, err := r.account(ctx, c, scope)
	if err != nil {
		return err
	}
	since, err := sinceSigned(a, acc)
	if err != nil {
		return err
	}
	if o.workbook != "" {
		cfg, _, err := e.settings(c.Flags(), true)
		if err != nil {
			return err
		}
		if err := writeWorkbook(e, a, cfg, o.workbook, acc, since); err != nil {
			return err
		}
	}
	if o.json {
		err = writeJSON(e.stdout, struct {
			*audit.Account
			Since []audit.SinceSigned `json:"since_sign_off"`
		}{acc, since})
	} else {
		err = tellAccount(e.stdout, acc, since)
	}
	if err != nil {
		return err
	}
	switch {
	case len(acc.Differences) > 0:
		e.complain(plural(len(acc.Differences), "difference")+" between the archive and what was recomputed", "look at each with windrow trace RECORD; bring damaged files back from a backup, and read the original again where a step is wrong")
		return errTold
	case acc.Reread != nil && len(acc.Reread.Open) > 0:
		return errHeld
	}
	return nil
}

// An auditRun goes over an archive once.
type auditRun struct {
	e       *env
	archive *archive.Archive
	reread  bool

	stages *pipeline.Stages // only to read again
	clerk  *audit.Clerk
	again  *audit.Reread
	intact map[string]error // originals that were read, by hash
	// days are those on which a file arrived, by its hash, and for what lay in
	// a mail or an archive, of which there is no note of its own, by the name
	// of that.
	days, named map[string][]string
	// noted are the first arrivals in the scope that name a report, by its id.
	noted map[string]archive.Arrival
}

// account audits what is in the scope.
func (r *auditRun) account(ctx context.Context, c *cobra.Command, scope audit.Scope) (*audit.Account, error) {
	r.clerk = audit.NewClerk(scope, normalize.Sources())
	r.intact, r.days = map[string]error{}, map[string][]string{}
	r.named, r.noted = map[string][]string{}, map[string]archive.Arrival{}
	if r.reread {
		st, _, err := r.e.stages(c, 1)
		if err != nil {
			return nil, err
		}
		defer st.Close()
		r.stages, r.again = st, &audit.Reread{Open: []string{}}
	}
	if err := r.archive.EachArrival(func(_ string, n archive.Arrival) error {
		day := n.Time.UTC().Format("2006-01-02")
		// In order of time, so that the first arrival counts.
		if len(r.days[n.SHA256]) == 0 {
			r.days[n.SHA256] = []string{day}
			r.named[n.Name] = append(r.named[n.Name], day)
		}
		// Of which laboratory a report that is gone was nobody can say.
		if _, have := r.noted[n.Report]; n.Report != "" && !have && scope.Holds(day, scope.Lab) {
			r.noted[n.Report] = n
		}
		return nil
	}); err != nil {
		return nil, err
	}
	var ids []string
	if err := r.archive.EachID(archive.Reports, func(id string) error { ids = append(ids, id); return nil }); err != nil {
		return nil, err
	}
	bar := progress.New(progress.Options{Out: r.e.stderr, Total: len(ids), Quiet: r.e.global.quiet, Terminal: r.e.terminal, Now: r.e.now})
	for _, id := range ids {
		if err := ctx.Err(); err != nil {
			bar.End()
			return nil, err
		}
		if err := r.report(ctx, scope, id); err != nil {
			bar.End()
			return nil, err
		}
		bar.Step(id)
	}
	bar.End()
	if err := r.signed(); err != nil {
		return nil, err
	}
	acc := r.clerk.Account()
	acc.Reread = r.again
	return acc, nil
}

// signed compares the archive with what was signed, and with the notes of
// arrivals: a report that one of them names has to be there.
func (r *auditRun) signed() error {
	signed, err := signOffs(r.archive)
	if err != nil {
		return err
	}
	found, err := againstSigned(r.archive, signed, r.clerk.Documents())
	if err != nil {
		return err
	}
	r.clerk.Add(found...)
	gone := map[string]bool{}
	for _, d := range found {
		gone[d.Report] = gone[d.Report] || d.Code == audit.CodeGone
	}
	for _, id := range slices.Sorted(maps.Keys(r.noted)) {
		vs, err := r.archive.Versions(archive.Reports, id)
		if err != nil && !errors.Is(err, archive.ErrKey) {
			return err
		}
		if n := r.noted[id]; len(vs) == 0 && !gone[id] {
			r.clerk.Add(audit.Difference{Code: audit.CodeMissing, Report: id, What: fmt.Sprintf("the report that was made of %s, which came on %s, is not in the archive", nameOf(n), n.Time.UTC().Format("2006-01-02")),
				Expected: "its document", Found: "no document under this id"})
		}
	}
	return nil
}

func nameOf(n archive.Arrival) string {
	if n.Member != "" {
		return n.Name + " > " + n.Member
	}
	return n.Name
}

// report audits the versions of one report.
func (r *auditRun) report(ctx context.Context, scope audit.Scope, id string) error {
	versions, err := r.archive.Versions(archive.Reports, id)
	if err != nil || len(versions) == 0 {
		return err
	}
	if !scope.AllVersions {
		versions = versions[len(versions)-1:]
	}
	for _, v := range versions {
		b, err := r.archive.Version(archive.Reports, id, v)
		amiss := func(err error) {
			reason := ingest.AsReason(err)
			r.clerk.Add(audit.Difference{Code: audit.CodeDocument, Report: id, Version: v, What: reason.What, Expected: reason.Expected, Found: reason.Found})
		}
		if err != nil && !errors.Is(err, archive.ErrDamaged) {
			return err
		}
		if err != nil {
			amiss(err) // and what it says is audited all the same
		}
		rep := &normalize.Report{}
		if err := json.Unmarshal(b, rep); err != nil {
			amiss(fmt.Errorf("the document can't be read: %w", err))
			continue
		}
		day, ok := r.day(scope, rep)
		if !ok {
			continue
		}
		h := sha256.Sum256(b)
		r.clerk.Take(rep, audit.Document{Report: id, Version: v, SHA256: hex.EncodeToString(h[:]), Lab: rep.Lab.ID, File: audit.FileOf(rep), Arrived: day})
		if err := r.original(ctx, rep, v); err != nil {
			return err
		}
	}
	return nil
}

// day is when a report arrived, "" when no note says so, and whether it is
// within the scope. Of files with the same name that came on several days one
// within the scope is enough, so that nothing is left out that belongs in it.
func (r *auditRun) day(scope audit.Scope, rep *normalize.Report) (string, bool) {
	days := r.days[rep.Source.SHA256]
	if len(days) == 0 {
		days = r.named[rep.Source.Name]
	}
	if len(days) == 0 {
		return "", scope.Holds("", rep.Lab.ID)
	}
	for _, d := range days {
		if scope.Holds(d, rep.Lab.ID) {
			return d, true
		}
	}
	return days[0], false
}

// original checks the original of a report, and reads it again if that was
// asked for.
func (r *auditRun) original(ctx context.Context, rep *normalize.Report, version int) error {
	hash := rep.Source.SHA256
	err, known := r.intact[hash]
	var b []byte
	if !known || r.reread && err == nil {
		b, err = r.archive.Original(hash)
		if err != nil && !errors.Is(err, archive.ErrDamaged) && !errors.Is(err, archive.ErrNotFound) && !errors.Is(err, archive.ErrKey) {
			return err
		}
		r.intact[hash] = err
	}
	if errors.Is(err, archive.ErrErased) && normalize.Erased(rep) {
		if r.reread {
			r.again.NotReread(rep, "its original was erased at a person's request")
		}
		return nil
	}
	if err != nil {
		reason := ingest.AsReason(err)
		r.clerk.Add(audit.Difference{Code: audit.CodeOriginal, Report: rep.ID, Version: version, Lab: rep.Lab.ID, What: reason.What, Expected: "the original " + hash, Found: reason.Found})
		return nil
	}
	if !r.reread {
		return nil
	}
	// What lay in a mail or an archive is an original of its own.
	src := ingest.NewSource(rep.Source.Name, b)
	src.Member = rep.Source.Member
	rds, err := r.stages.ReadAll(ctx, src, pipeline.Defaults{})
	if err != nil {
		return err
	}
	for _, rd := range rds {
		if rd.Source.Member != rep.Source.Member {
			continue
		}
		if len(rd.Docs) == 0 {
			why := "it can't be read"
			if len(rd.Report.Reasons) > 0 {
				why = rd.Report.Reasons[0].What
			}
			if len(rep.Records) > 0 {
				r.again.NotReread(rep, why)
			}
			return nil
		}
		docs := rd.Docs
		if rd.Match != nil {
			docs = append(docs, rd.Match.Doc)
		}
		found, n := audit.Again(rep, version, docs)
		r.again.Texts += n
		r.clerk.Add(found...)
		return nil
	}
	if len(rep.Records) > 0 {
		r.again.NotReread(rep, "the original no longer gives this part of it")
	}
	return nil
}

// tellAccount writes the account for people.
func tellAccount(w io.Writer, acc *audit.Account, since []audit.SinceSigned) error {
	for _, d := range acc.Differences {
		putln(w, d.String())
	}
	if len(acc.Differences) > 0 {
		putln(w)
	}
	t := acc.Tally
	line := func(k, f string, a ...any) { putf(w, "%-12s %s\n", k, fmt.Sprintf(f, a...)) }
	line("audited", "%s", acc.Scope)
	line("reports", "%d, of which held: %d; %s, %s", t.Reports, acc.Held, plural(t.Records, "sample"), plural(t.Results, "result"))
	line("recomputed", "%s, of which converted: %d; %s, %s, %s, %d derived", plural(t.Values, "value"), t.Converted, plural(t.Steps, "step"), plural(t.Forms, "form"), plural(t.Estimates, "estimate"), t.Derived)
	line("no value", "%d not converted, with the reason; %d without a number on the page", t.Refused, t.NoNumber)
	line("conversions", "%d different; %s looked up", len(acc.Conversions), plural(t.Sources, "source key"))
	steps, findings := acc.Unverified()
	line("unverified", "%s and %s rest on memory, on common practice or on no known source", plural(steps, "step"), plural(findings, "finding"))
	partSteps, partFindings := acc.InPart()
	line("", "%s and %s rest on a source whose entry is from memory in part", plural(partSteps, "step"), plural(partFindings, "finding"))
	if n := len(acc.Outside); n > 0 {
		line("outside", "%s outside the domain of their equation", plural(n, "estimate"))
	}
	if r := acc.Reread; r != nil {
		line("read again", "%s at their places in the originals; %d could not be", plural(r.Texts, "printed text"), r.Without)
		for _, s := range r.Open {
			line("", "%s", s)
		}
	}
	if len(acc.Differences) == 0 {
		line("differences", "none")
	} else {
		line("differences", "%d", len(acc.Differences))
	}
	line("original", "%s", "windrow replay reads the originals anew and shows where a record is not what they say")
	hash, err := acc.Hash()
	if err != nil {
		return err
	}
	line("account", "%s", hash)
	for _, s := range since {
		line("signed", "%s", strings.Join(s.Lines(), "\n             "))
	}
	return nil
}
