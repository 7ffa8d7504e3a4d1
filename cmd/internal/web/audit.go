package web

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize/archive/index"
	"example.org/windrow/normalize/audit"
)

// auditTime is how long an audit may take by a page; the command may take
// longer.
const auditTime = 5 * time.Minute

// An auditView is an account of a period.
type auditView struct {
	Since, Until, Lab string
	Labs              []index.LabCount
	Account           *audit.Account // nil before a period was chosen
	Figures           []audit.Figure
	Binding           audit.Binding
	Workbook          string // address of the workbook
	Hash              string // of the account, which is what is signed for
	Decisions         []audit.Decision
	Told              *tale
	By                string // under whose name it is signed; "" where it is asked for
	Reversed          string // why the days that were asked for are none
	Empty, Unended    bool   // nothing arrived in the period; its last day is not over
}

// errReversed is what is wrong with a period whose days are the wrong way round.
var errReversed = badInput("the period ends before it begins", "give the earlier day first")

// period reads which period is asked for; asked says whether one is.
func period(r *http.Request) (scope audit.Scope, asked bool, err error) {
	q := r.URL.Query()
	scope = audit.Scope{Since: q.Get("since"), Until: q.Get("until"), Lab: q.Get("lab")}
	for _, day := range []string{scope.Since, scope.Until} {
		if day == "" {
			continue
		}
		if _, err := time.Parse(time.DateOnly, day); err != nil {
			return scope, false, badInput("that is not a day", "write a day as 2026-03-31")
		}
	}
	if scope.Since != "" && scope.Until != "" && scope.Since > scope.Until {
		return scope, false, errReversed
	}
	return scope, q.Has("since") || q.Has("until") || q.Has("lab"), nil
}

// account makes the account of a period, one at a time: it reads every report.
func (d *Desk) account(r *http.Request, scope audit.Scope) (*audit.Account, audit.Binding, error) {
	if d.opt.Account == nil {
		return nil, audit.Binding{}, notHere("this desk makes no audits")
	}
	if !d.auditing.TryLock() {
		return nil, audit.Binding{}, &pageError{http.StatusServiceUnavailable, &ingest.Reason{Code: "busy", Severity: ingest.Fail, What: "another audit is being made", Next: "wait until it is done, then ask again"}}
	}
	defer d.auditing.Unlock()
	return d.opt.Account(r.Context(), scope)
}

func (d *Desk) audit(r *http.Request) (*answer, error) {
	scope, asked, err := period(r)
	reversed := errors.Is(err, errReversed)
	if err != nil && !reversed {
		return nil, err
	}
	v := &auditView{Since: scope.Since, Until: scope.Until, Lab: scope.Lab}
	if v.Labs, err = d.labsNow(r.Context()); err != nil {
		return nil, err
	}
	if reversed { // the form stays as it was filled in
		v.Reversed = "The period ends before it begins: give the earlier day first."
		return &answer{page: "audit", title: "Audit", nav: "/audit", code: http.StatusUnprocessableEntity, body: v}, nil
	}
	if !asked {
		first := time.Date(d.today().Year(), d.today().Month(), 1, 0, 0, 0, 0, time.UTC)
		v.Since, v.Until = first.AddDate(0, -1, 0).Format(time.DateOnly), first.AddDate(0, 0, -1).Format(time.DateOnly)
		return &answer{page: "audit", title: "Audit", nav: "/audit", body: v}, nil
	}
	if v.Account, v.Binding, err = d.account(r, scope); err != nil {
		return nil, err
	}
	if v.Hash, err = v.Account.Hash(); err != nil {
		return nil, err
	}
	v.Decisions, v.By, v.Told = audit.Decisions(), decides(r.Context()), d.told.take(r.URL.Query().Get("told"))
	v.Figures = v.Account.Figures()
	v.Empty = len(v.Account.Documents) == 0
	today := d.today().Format(time.DateOnly)
	v.Unended = scope.Until >= today || scope.Since > today
	v.Workbook = "/audit/workbook?" + url.Values{"since": {scope.Since}, "until": {scope.Until}, "lab": {scope.Lab}}.Encode()
	return &answer{page: "audit", title: "Audit", nav: "/audit", body: v}, nil
}

// auditWorkbook gives the account of a period as the workbook that windrow
// audit writes.
func (d *Desk) auditWorkbook(r *http.Request) (*answer, error) {
	scope, _, err := period(r)
	if err != nil {
		return nil, err
	}
	acc, binding, err := d.account(r, scope)
	if err != nil {
		return nil, err
	}
	b, err := audit.Workbook(acc, binding)
	if err != nil {
		return nil, err
	}
	return &answer{raw: func(w http.ResponseWriter) {
		w.Header().Set("Content-Type", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet")
		w.Header().Set("Content-Disposition", `attachment; filename="audit.xlsx"`)
		_, _ = w.Write(b) // the one who asked has gone: there is nobody to tell
	}}, nil
}

// auditSign keeps that a person has read the account of a period, as windrow
// audit sign does: the account is made once more, and must still be the one
// that was read.
func (d *Desk) auditSign(r *http.Request) (*answer, error) {
	form := r.PostForm
	scope := audit.Scope{Since: form.Get("since"), Until: form.Get("until"), Lab: form.Get("lab")}
	query := url.Values{"since": {scope.Since}, "until": {scope.Until}, "lab": {scope.Lab}}
	back := func(t *tale) (*answer, error) {
		query.Set("told", d.told.put(t))
		return &answer{to: "/audit?" + query.Encode()}, nil
	}
	by, note := strings.TrimSpace(form.Get("by")), strings.TrimSpace(form.Get("note"))
	if who := decides(r.Context()); who != "" {
		by = who // who has signed in signs under no other name
	}
	decision := audit.Decision(form.Get("decision"))
	switch {
	case by == "" || len(by) > longestWords || len(note) > longestWords:
		return nil, badInput("a sign-off needs the name of the person who read the account, and fewer words than were given", "go back and give the name")
	case !slices.Contains(audit.Decisions(), decision):
		return nil, badInput("nothing was decided", "go back and choose one of the decisions")
	case len(form.Get("account")) != 64:
		return nil, badInput("it is not said which account was read", "open the audit again, and sign on its page")
	}
	acc, _, err := d.account(r, scope)
	if err != nil {
		return nil, err
	}
	hash, err := acc.Hash()
	if err != nil {
		return nil, err
	}
	if hash != form.Get("account") {
		return back(&tale{Title: "Not signed: the account is no longer the one that you read.", Lines: []string{"Something came, or was decided, meanwhile. Below is the account as it is now: read what has changed, and sign that."}, Bad: true})
	}
	s, err := audit.Sign(acc, audit.Signature{Name: by, Decision: decision, Note: note}, d.opt.Version, d.today())
	if err != nil {
		return back(&tale{Title: "Not signed: " + sentence(err.Error()), Lines: []string{"Give a decision and a note that fit the account, and a period that is over."}, Bad: true})
	}
	b, err := s.JSON()
	if err != nil {
		return nil, err
	}
	if err := d.off.Archive.PutSignOff(s.ID, b); err != nil {
		return nil, err
	}
	return back(&tale{Title: fmt.Sprintf("Signed by %s: %s.", s.Name, s.Decision), Lines: []string{fmt.Sprintf("%s with %s, %s. The sign-off is %s, and is never changed.", count(s.Tally.Reports, "report"), count(s.Tally.Values, "value"), count(len(s.Differences), "difference"), s.ID)}})
}
