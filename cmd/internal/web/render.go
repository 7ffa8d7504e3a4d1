package web

import (
	"bytes"
	"errors"
	"html/template"
	"io/fs"
	"net/http"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"example.org/windrow/cmd/internal/access"
	"example.org/windrow/ingest"
	"example.org/windrow/interpret/letter"
	"example.org/windrow/normalize/archive"
)

// A page is a parsed template.
type page = *template.Template

// An answer is what a page shows, or where to go instead.
type answer struct {
	page   string // name of the template
	title  string
	nav    string // the path of the heading it belongs to
	body   any
	code   int          // 0 for 200
	to     string       // to go to instead
	cookie *http.Cookie // to set before
	raw    func(w http.ResponseWriter)
}

// A view is what every template sees.
type view struct {
	Lang                        letter.Language
	Back                        string // the page's own address, to come back to
	Title, Nav, Office, Version string
	Token                       string
	Held                        int           // how many reports wait, for the heading
	Audits                      bool          // there is a page of audits
	Person                      access.Person // who has signed in; the zero one of nobody
	SignIn                      bool          // people sign in here
	First                       string        // where the person's work begins
	Find, Letters, Mends        bool          // what the person may do besides the headings
	Body                        any
}

// A heading leads to one of the desk's parts.
type heading struct{ Path, Name string }

// Headings are the parts of the desk that are for the one who looks, in the
// order in which a day goes.
func (v view) Headings() []heading {
	list := v.all()
	if v.SignIn {
		list = slices.DeleteFunc(list, func(h heading) bool { return !v.may("GET " + rootOf(h.Path)) })
	}
	return list
}

// may reports whether the one who looks may ask for a route.
func (v view) may(pattern string) bool { return !v.SignIn || rights[pattern].may(v.Person) }

func (v view) all() []heading {
	list := []heading{{"/", "Today"}, {"/intake", "Bring in"}, {"/held", "Waiting"}, {"/reports", "Reports"}, {"/labs", "Laboratories"}, {"/county", "Counties"}}
	if v.Audits {
		list = append(list, heading{"/audit", "Audit"})
	}
	return list
}

// parsePages parses the pages with the words of a language; turn gives what is
// read in place of a template's file.
func parsePages(files fs.FS, funcs template.FuncMap, turn func(src string) string) (map[string]page, error) {
	names, err := fs.Glob(files, "templates/*.html")
	if err != nil {
		return nil, err
	}
	parts, err := fs.Glob(files, "templates/part-*.html")
	if err != nil {
		return nil, err
	}
	out := map[string]page{}
	for _, n := range names {
		name := strings.TrimSuffix(strings.TrimPrefix(n, "templates/"), ".html")
		if name == "frame" || strings.HasPrefix(name, "part-") {
			continue
		}
		t := template.New("frame.html").Funcs(funcs)
		for _, f := range append([]string{"templates/frame.html", n}, parts...) {
			b, err := fs.ReadFile(files, f)
			if err != nil {
				return nil, err
			}
			file := path.Base(f)
			at := t
			if file != t.Name() {
				at = t.New(file)
			}
			if _, err := at.Parse(turn(string(b))); err != nil {
				return nil, err
			}
		}
		out[name] = t
	}
	return out, nil
}

// route answers a pattern with what ask gives.
func (d *Desk) route(pattern string, ask func(*http.Request) (*answer, error)) {
	d.mux.HandleFunc(pattern, func(w http.ResponseWriter, r *http.Request) { d.give(w, r, ask) })
}

func (d *Desk) give(w http.ResponseWriter, r *http.Request, ask func(*http.Request) (*answer, error)) {
	a, err := ask(r)
	switch {
	case err != nil:
		d.fail(w, r, err)
	case a.raw != nil:
		a.raw(w)
	case a.to != "":
		if a.cookie != nil {
			http.SetCookie(w, a.cookie)
		}
		http.Redirect(w, r, a.to, http.StatusSeeOther)
	default:
		d.show(w, r, a)
	}
}

// slow is route for what may take longer than a page may.
func (d *Desk) slow(pattern string, ask func(*http.Request) (*answer, error)) {
	d.mux.HandleFunc(pattern, func(w http.ResponseWriter, r *http.Request) {
		// A server without deadlines has none to move.
		_ = http.NewResponseController(w).SetWriteDeadline(time.Now().Add(auditTime))
		d.give(w, r, ask)
	})
}

func (d *Desk) show(w http.ResponseWriter, r *http.Request, a *answer) {
	in := d.in(r)
	v := view{Lang: in.lang, Back: "/", Title: a.title, Nav: a.nav, Office: d.off.Config.Office.Name, Version: d.opt.Version, Token: d.token(w, r), Audits: d.opt.Account != nil, SignIn: d.opt.Door != nil, Body: a.body}
	if at := visitOf(r.Context()); at != nil {
		v.Person = at.person
	}
	if r.Method == http.MethodGet {
		v.Back = r.URL.RequestURI()
	}
	v.Find, v.Letters = v.may("GET /reports"), v.may("GET /letters/{$}")
	v.Mends = v.may("GET /report/{id}/mapping")
	if v.SignIn && v.Person != (access.Person{}) {
		v.First = d.firstPage(v.Person)
	}
	if v.may("GET /held") {
		if n, err := d.officeCounts(r.Context()); err == nil {
			v.Held = n.held
		}
	}
	var b bytes.Buffer
	t := in.pages[a.page]
	if err := t.Execute(&b, v); err != nil {
		d.opt.Log(r.Method, r.Pattern, http.StatusInternalServerError, err)
		http.Error(w, "this page can't be made; nothing is lost", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	if a.code != 0 {
		w.WriteHeader(a.code)
	}
	_, _ = w.Write(b.Bytes()) // the one who asked has gone: there is nobody to tell
}

// A pageError is an error with the code of its answer.
type pageError struct {
	code   int
	reason *ingest.Reason
}

func (e *pageError) Error() string { return e.reason.What }

func notHere(what string) error {
	return &pageError{http.StatusNotFound, &ingest.Reason{Code: "not-here", Severity: ingest.Fail, What: what, Next: "check the address, or look for it among the reports"}}
}

func refused(what, next string) error {
	return &pageError{http.StatusForbidden, &ingest.Reason{Code: "refused", Severity: ingest.Fail, What: what, Next: next}}
}

func badInput(what, next string) error {
	return &pageError{http.StatusUnprocessableEntity, &ingest.Reason{Code: "not-usable", Severity: ingest.Fail, What: what, Next: next}}
}

// fail shows an error in words.
func (d *Desk) fail(w http.ResponseWriter, r *http.Request, err error) {
	code := http.StatusInternalServerError
	reason := ingest.AsReason(err)
	var p *pageError
	switch {
	case errors.As(err, &p):
		code, reason = p.code, p.reason
	case errors.Is(err, archive.ErrErased):
		code = http.StatusGone
	case errors.Is(err, archive.ErrNotFound):
		code = http.StatusNotFound
	case reason.Code == "ruling-refused", reason.Code == "proof-refused":
		code = http.StatusConflict
	}
	d.opt.Log(r.Method, r.Pattern, code, err)
	title := "That did not work"
	if code == http.StatusNotFound {
		title = "Not here"
	}
	v := faultView{Reason: reason}
	if code == http.StatusInternalServerError {
		v.At = d.today().Format("2006-01-02 15:04")
		if !filepath.IsAbs(reason.Where.File) {
			v.Place = reason.Where.String()
		}
	}
	d.show(w, r, &answer{page: "fault", title: title, code: code, body: v})
}

// A faultView is an error on its page.
type faultView struct {
	*ingest.Reason
	Place string // where in the archive
	At    string // when, of what failed without a fault of the one who asked; "" of anything else
}
