package web

import (
	"context"
	"net/http"
	"net/netip"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"sync"

	"example.org/windrow/cmd/internal/access"
	"example.org/windrow/ingest"
)

// routes are the pages of a desk. Every one is behind the gate: there is no
// other way to register one.
type routes struct {
	mux  *http.ServeMux
	gate func(pattern string, next http.Handler) http.Handler
	list []string
}

// Handle registers a page.
func (r *routes) Handle(pattern string, h http.Handler) {
	r.list = append(r.list, pattern)
	r.mux.Handle(pattern, r.gate(pattern, h))
}

// HandleFunc registers a page.
func (r *routes) HandleFunc(pattern string, h func(http.ResponseWriter, *http.Request)) {
	r.Handle(pattern, http.HandlerFunc(h))
}

// ServeHTTP implements http.Handler.
func (r *routes) ServeHTTP(w http.ResponseWriter, q *http.Request) { r.mux.ServeHTTP(w, q) }

// A visit is one request of somebody, where people sign in.
type visit struct {
	person access.Person // the zero one of nobody, on a page for anybody
	from   netip.Addr

	mu      sync.Mutex
	reports []string // of which something is shown
	records []string
}

type visitKey struct{}

// visitOf is the visit that a request belongs to; nil where nobody signs in.
func visitOf(ctx context.Context) *visit {
	v, _ := ctx.Value(visitKey{}).(*visit)
	return v
}

// officeOf is the office whose records a request may be shown; "" is all.
func officeOf(ctx context.Context) string {
	if v := visitOf(ctx); v != nil && v.person.Role == access.Office {
		return v.person.Office
	}
	return ""
}

// mostNamed is how many ids a line of the log names.
const mostNamed = 200

// shown notes that a page shows something of reports, for the log.
func shown(ctx context.Context, reports ...string) {
	v := visitOf(ctx)
	if v == nil {
		return
	}
	v.mu.Lock()
	defer v.mu.Unlock()
	for _, id := range reports {
		if id != "" && len(v.reports) < mostNamed && !slices.Contains(v.reports, id) {
			v.reports = append(v.reports, id)
		}
	}
}

// entry is a line of the log about a visit.
func (v *visit) entry(did access.Did, what string) access.Entry {
	v.mu.Lock()
	defer v.mu.Unlock()
	e := access.Entry{Who: v.person.Account, Role: v.person.Role, Office: v.person.Office, Did: did, What: what, Reports: slices.Clone(v.reports), Records: slices.Clone(v.records)}
	if v.from.IsValid() {
		e.From = v.from.String()
	}
	return e
}

// gate asks who comes before a page is made, and has it kept who saw it.
func (d *Desk) gate(pattern string, next http.Handler) http.Handler {
	x, listed := rights[pattern]
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		door := d.opt.Door
		if door == nil {
			next.ServeHTTP(w, r)
			return
		}
		v := &visit{}
		v.from, _ = door.From(r)
		r = r.WithContext(context.WithValue(r.Context(), visitKey{}, v))
		if x.here {
			if !v.from.IsLoopback() {
				http.Error(w, "this answers to this computer only", http.StatusForbidden)
				return
			}
			next.ServeHTTP(w, r)
			return
		}
		p, known, fault := door.Who(r, x.itself)
		v.person = p
		switch {
		case x.open:
			next.ServeHTTP(w, r)
		case fault != nil:
			d.opt.Log(r.Method, r.Pattern, http.StatusServiceUnavailable, fault)
			d.fail(w, r, noList())
		case !known:
			d.askToSignIn(w, r)
		case !listed || !x.may(p):
			d.turnAway(w, r)
		default:
			d.let(w, r, v, x, next)
		}
	})
}

// noList is what a person is told when the list of users can't be read. Why
// stands in the log of the program.
func noList() error {
	return &pageError{http.StatusServiceUnavailable, &ingest.Reason{Code: "users-unreadable", Severity: ingest.Fail, What: "the list of users can't be read, so that nobody can be let in", Next: "tell the one who looks after this computer; the log of the program says what is wrong with it"}}
}

// askToSignIn leads to the page for signing in, and from there back.
func (d *Desk) askToSignIn(w http.ResponseWriter, r *http.Request) {
	dest := r.Header.Get("Sec-Fetch-Dest")
	if (r.Method != http.MethodGet && r.Method != http.MethodHead) || dest != "" && dest != "document" || rights[r.Pattern].itself {
		d.fail(w, r, &pageError{http.StatusUnauthorized, &ingest.Reason{Code: "not-signed-in", Severity: ingest.Fail, What: "you are not signed in, or no longer", Next: "nothing was changed; go back, copy what you typed, sign in, and send it again"}})
		return
	}
	to := "/sign-in"
	if at := r.URL.RequestURI(); at != "/" {
		to += "?" + url.Values{"to": {at}}.Encode()
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}

// turnAway says that a page is not for one's role. A researcher who comes to
// the door is led to what is theirs.
func (d *Desk) turnAway(w http.ResponseWriter, r *http.Request) {
	v := visitOf(r.Context())
	if first := d.firstPage(v.person); r.Pattern == "GET /{$}" && first != "" && first != "/" {
		http.Redirect(w, r, first, http.StatusSeeOther)
		return
	}
	d.keep(v.entry(access.Refused, r.Pattern), false)
	d.opt.Log(r.Method, r.Pattern, http.StatusForbidden, refused("not for this role", ""))
	d.show(w, r, &answer{page: "notyours", title: "Not for your role", code: http.StatusForbidden, body: v.person})
}

// keep puts a line into the log that nothing depends on.
func (d *Desk) keep(e access.Entry, sure bool) {
	if err := d.opt.Access.Add(e, sure); err != nil {
		d.opt.Log("", e.What, http.StatusServiceUnavailable, err)
	}
}

// notKept is why a page is not shown, or nothing is changed, when the log of
// who saw and changed what can't be written.
func (d *Desk) notKept(r *http.Request, err error) error {
	d.opt.Log(r.Method, r.Pattern, http.StatusServiceUnavailable, err)
	return &pageError{http.StatusServiceUnavailable, &ingest.Reason{Code: "access-log", Severity: ingest.Fail, What: "it can't be written down who sees or changes this, and therefore it is not shown, and nothing was changed",
		Next: "tell the one who looks after this computer, most likely its disk is full; the log of the program says more"}}
}

// let answers a page that is for the person's role.
func (d *Desk) let(w http.ResponseWriter, r *http.Request, v *visit, x right, next http.Handler) {
	if ok, err := d.theirs(r, v, x); err != nil {
		d.fail(w, r, err)
		return
	} else if !ok {
		// Whether another office has such a report is not theirs to know, either.
		d.keep(v.entry(access.Refused, r.Pattern), false)
		d.fail(w, r, notHere("the archive holds no report of that id"))
		return
	}
	if !x.names {
		next.ServeHTTP(w, r)
		return
	}
	visit := d.opt.Door.SessionKey(r) + " " + r.URL.Path
	if x.opens != "" {
		d.repeats.forget(d.opt.Door.SessionKey(r) + " " + strings.ReplaceAll(strings.TrimPrefix(x.opens, "POST "), "{id}", r.PathValue("id")))
	}
	if r.Method == http.MethodGet || r.Method == http.MethodHead {
		k := &keeper{ResponseWriter: w, before: func() error {
			e := v.entry(access.Saw, r.Pattern)
			if x.again && d.repeats.same(d.opt.Door.SessionKey(r)+" "+r.Pattern, strings.Join(e.Reports, " ")) {
				return nil
			}
			return d.opt.Access.Add(e, false)
		}, instead: func(err error) {
			w.Header().Set("Content-Security-Policy", policy) // a letter has another
			d.fail(w, r, d.notKept(r, err))
		}}
		next.ServeHTTP(k, r)
		return
	}
	if x.again && d.repeats.known(visit) {
		next.ServeHTTP(w, r)
		return
	}
	if err := d.opt.Access.Add(v.entry(access.Asked, r.Pattern), true); err != nil {
		d.fail(w, r, d.notKept(r, err))
		return
	}
	if x.again { // that it was begun is what there is to say of what is done with every key
		d.repeats.same(visit, "")
		next.ServeHTTP(w, r)
		return
	}
	k := &keeper{ResponseWriter: w}
	next.ServeHTTP(k, r)
	e := v.entry(access.Changed, r.Pattern)
	e.Status = k.code
	d.keep(e, true)
}

var idsWithin = regexp.MustCompile(`R[0-9a-f]{16}(-[1-9][0-9]{0,6})?`)

// theirs reports whether what a request is about belongs to the person's
// office, and notes it for the log.
func (d *Desk) theirs(r *http.Request, v *visit, x right) (bool, error) {
	id := r.PathValue("id")
	switch {
	case x.of == "":
		return true, nil
	case x.of == "letter":
		// A letter's file is named by its record, behind other words.
		if id = idsWithin.FindString(r.URL.Path); id == "" {
			return v.person.Role == access.Steward, nil
		}
	case !reportID.MatchString(id) && !recordID.MatchString(id):
		return true, nil // no such thing can be in the archive; the page says so
	}
	v.name(id)
	if v.person.Role == access.Steward {
		return true, nil
	}
	report, _, _ := strings.Cut(id, "-")
	office, known, err := d.off.Index.OfficeOf(r.Context(), report)
	return known && v.person.Sees(office), err
}

// name notes an id, of a report or of a record, for the log.
func (v *visit) name(id string) {
	report, _, one := strings.Cut(id, "-")
	v.mu.Lock()
	defer v.mu.Unlock()
	v.reports = append(v.reports, report)
	if one {
		v.records = append(v.records, id)
	}
}

// A keeper has something done before the first byte of a good answer, and
// something else sent instead where that fails.
type keeper struct {
	http.ResponseWriter
	before  func() error // nil for nothing
	instead func(error)

	code int  // of the answer, 0 before there is one
	gone bool // another answer was sent
}

// WriteHeader implements http.ResponseWriter.
func (k *keeper) WriteHeader(code int) {
	if k.code != 0 {
		return
	}
	k.code = code
	if k.before != nil && code < http.StatusBadRequest {
		if err := k.before(); err != nil {
			k.code, k.gone = http.StatusServiceUnavailable, true
			for _, h := range []string{"Content-Type", "Content-Disposition", "Content-Length", "Location", "Last-Modified", "Accept-Ranges"} {
				k.Header().Del(h)
			}
			k.instead(err)
			return
		}
	}
	k.ResponseWriter.WriteHeader(code)
}

// Write implements io.Writer.
func (k *keeper) Write(b []byte) (int, error) {
	if k.code == 0 {
		k.WriteHeader(http.StatusOK)
	}
	if k.gone {
		return len(b), nil // nobody is shown it
	}
	return k.ResponseWriter.Write(b)
}

// FlushError lets what is sent bit by bit out, after the same.
func (k *keeper) FlushError() error {
	if k.code == 0 {
		k.WriteHeader(http.StatusOK)
	}
	if k.gone {
		return nil
	}
	return http.NewResponseController(k.ResponseWriter).Flush()
}

// Unwrap is for deadlines, which http.ResponseController sets.
func (k *keeper) Unwrap() http.ResponseWriter { return k.ResponseWriter }

// repeats remembers what pages that lie open showed last.
type repeats struct {
	mu sync.Mutex
	by map[string]string
}

// mostRepeats is how many pages it remembers.
const mostRepeats = 2000

// same reports whether a page shows what it showed before, and remembers it.
func (m *repeats) same(page, what string) bool {
	m.mu.Lock()
	defer m.mu.Unlock()
	if last, have := m.by[page]; have && last == what {
		return true
	}
	if m.by == nil || len(m.by) >= mostRepeats {
		m.by = map[string]string{} // a line too many in the log is no harm
	}
	m.by[page] = what
	return false
}

// known reports whether something is remembered of a page.
func (m *repeats) known(page string) bool {
	m.mu.Lock()
	defer m.mu.Unlock()
	_, have := m.by[page]
	return have
}

// forget drops what is remembered of a page.
func (m *repeats) forget(page string) {
	m.mu.Lock()
	defer m.mu.Unlock()
	delete(m.by, page)
}

// byOffice remembers a thing for each office, and for all together.
type byOffice[T any] struct {
	mu sync.Mutex
	by map[string]*remembered[T]
}

// get is the thing for the office of a request.
func (b *byOffice[T]) get(ctx context.Context, make func(context.Context) (T, error)) (T, error) {
	office := officeOf(ctx)
	b.mu.Lock()
	if b.by == nil {
		b.by = map[string]*remembered[T]{}
	}
	m := b.by[office]
	if m == nil {
		m = &remembered[T]{}
		b.by[office] = m
	}
	b.mu.Unlock()
	return m.get(ctx, make)
}

func (b *byOffice[T]) forget() {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.by = nil
}
