package web

import (
	"net/http"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"time"

	"example.org/windrow/normalize/archive/index"
)

// perPage is how many reports a list shows at once.
const perPage = 50

// deepest is how many pages one can turn; a search finds what is behind them.
const deepest = 2000

// A listAsked is what a list of reports was asked for, as the form has it.
type listAsked struct {
	Q, Lab, County, Status, From, To string
	Page                             int
}

func asked(r *http.Request) (listAsked, error) {
	q := r.URL.Query()
	a := listAsked{Q: strings.TrimSpace(q.Get("q")), Lab: q.Get("lab"), County: q.Get("county"), Status: q.Get("status"), From: q.Get("from"), To: q.Get("to"), Page: 1}
	if len(a.Q) > 200 {
		return a, badInput("that is too long to look for", "give a few words: a number, a label, a name")
	}
	for _, day := range []string{a.From, a.To} {
		if day == "" {
			continue
		}
		if _, err := time.Parse(time.DateOnly, day); err != nil {
			return a, badInput("that is not a day", "write a day as 2026-03-31")
		}
	}
	if s := q.Get("page"); s != "" {
		n, err := strconv.Atoi(s)
		if err != nil || n < 1 || n > deepest {
			return a, badInput("there is no such page of the list", "look for a number, a name or days instead")
		}
		a.Page = n
	}
	return a, nil
}

// link is the address of another page of the same list.
func (a listAsked) link(page int) string {
	v := url.Values{}
	for k, s := range map[string]string{"q": a.Q, "lab": a.Lab, "county": a.County, "status": a.Status, "from": a.From, "to": a.To} {
		if s != "" {
			v.Set(k, s)
		}
	}
	if page > 1 {
		v.Set("page", strconv.Itoa(page))
	}
	if len(v) == 0 {
		return "/reports"
	}
	return "/reports?" + v.Encode()
}

// Narrowed reports whether the list was asked for less than everything.
func (a listAsked) Narrowed() bool {
	a.Page = 0
	return a != listAsked{}
}

func (d *Desk) reports(r *http.Request) (*answer, error) {
	a, err := asked(r)
	if err != nil {
		return nil, err
	}
	ctx := r.Context()
	s := index.Search{Text: a.Q, County: a.County, Filter: index.Filter{Office: officeOf(ctx), Status: a.Status, Lab: a.Lab, From: a.From, To: a.To, Limit: perPage + 1, Offset: (a.Page - 1) * perPage}}
	list, err := d.off.Index.Search(ctx, s)
	if err != nil {
		return nil, err
	}
	body := struct {
		Asked    listAsked
		List     []index.Report
		Samples  []index.Record // of exactly the number that was asked for
		First    int
		Older    string
		Newer    string
		Labs     []index.LabCount
		Counties []string
		All      int
	}{Asked: a, First: (a.Page-1)*perPage + 1}
	if len(list) > perPage {
		list, body.Older = list[:perPage], a.link(a.Page+1)
	}
	if a.Page > 1 {
		body.Newer = a.link(a.Page - 1)
	}
	if err := d.standingNow(ctx, list); err != nil {
		return nil, err
	}
	body.List = list
	shown(ctx, reportIDs(list)...)
	if a.Q != "" {
		if body.Samples, err = d.off.Index.Find(ctx, a.Q, officeOf(ctx)); err != nil {
			return nil, err
		}
		body.Samples = body.Samples[:min(len(body.Samples), 10)]
		for _, s := range body.Samples {
			shown(ctx, s.Report)
		}
	}
	if body.Labs, err = d.labsNow(ctx); err != nil {
		return nil, err
	}
	if body.Counties, err = d.countiesNow(ctx); err != nil {
		return nil, err
	}
	for _, l := range body.Labs {
		body.All += l.Reports
	}
	return &answer{page: "reports", title: "Reports", nav: "/reports", body: body}, nil
}

var (
	reportID = regexp.MustCompile(`^R[0-9a-f]{16}$`)
	recordID = regexp.MustCompile(`^R[0-9a-f]{16}-[1-9][0-9]{0,6}$`)
)
