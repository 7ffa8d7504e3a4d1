package web

import (
	"errors"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"example.org/windrow/cmd/internal/access"
)

// A signInView is the page for signing in.
type signInView struct {
	To       string // where to go then, a path here
	Name     string // as it was given before
	Wrong    string // why one was not let in, "" for the first time
	Out      bool   // one has just signed out
	Provider string // the name of the OpenID provider, "" for none
	Local    bool   // there is a list of passwords, too
}

// An Attempt is a sign-in that failed, for the log of the program: from where,
// and not of whom, since people type a password where the name belongs.
type Attempt struct {
	From  string // the address
	Waits bool   // it was not tried, since there were too many before
}

// Error implements error.
func (a *Attempt) Error() string { return "a sign-in failed" }

// signingIn registers the pages for signing in and out.
func (d *Desk) signingIn() {
	if d.opt.Door == nil {
		return
	}
	d.route("GET /sign-in", d.signInPage)
	d.mux.HandleFunc("POST /sign-in", d.signIn)
	d.mux.HandleFunc("POST /sign-out", d.signOut)
	if d.opt.Door.ProviderName() != "" {
		d.mux.HandleFunc("GET /sign-in/go", d.goToProvider)
		d.mux.HandleFunc("GET /sign-in/return", d.backFromProvider)
	}
}

// within is an address to go to after signing in: a path of this desk, and
// never another place.
func within(to string) string {
	u, err := url.Parse(to)
	if err != nil || len(to) > 2000 || !strings.HasPrefix(to, "/") || strings.HasPrefix(to, "//") || strings.ContainsAny(to, "\\\r\n\t") || u.Scheme != "" || u.Host != "" || u.User != nil || strings.HasPrefix(u.Path, "/sign-") {
		return "/"
	}
	return to
}

func (d *Desk) signInView(to string) signInView {
	return signInView{To: within(to), Local: true, Provider: d.opt.Door.ProviderName()}
}

// signInPage asks for name and password.
func (d *Desk) signInPage(r *http.Request) (*answer, error) {
	v := d.signInView(r.URL.Query().Get("to"))
	if p, ok, _ := d.opt.Door.Who(r, false); ok && p != (access.Person{}) {
		return &answer{to: v.To}, nil
	}
	v.Out = r.URL.Query().Has("out")
	return &answer{page: "sign-in", title: "Sign in", body: v}, nil
}

// signIn tries what was given. Nothing of it is kept or logged but the account
// of one who was let in.
func (d *Desk) signIn(w http.ResponseWriter, r *http.Request) {
	v := d.signInView(r.PostForm.Get("to"))
	v.Name = r.PostForm.Get("name")
	from, _ := d.opt.Door.From(r)
	id, p, err := d.opt.Door.SignIn(r.Context(), v.Name, r.PostForm.Get("password"), from)
	if err == nil {
		d.welcome(w, r, id, p, v.To)
		return
	}
	var refusal *access.Refusal
	if !errors.As(err, &refusal) {
		d.fail(w, r, err)
		return
	}
	if refusal.Reason != nil {
		d.opt.Log(r.Method, r.Pattern, http.StatusServiceUnavailable, refusal.Reason)
		d.fail(w, r, noList())
		return
	}
	code := http.StatusForbidden
	d.opt.Log(r.Method, r.Pattern, code, &Attempt{From: from.String(), Waits: refusal.Wait > 0})
	if refusal.Wait > 0 {
		code = http.StatusTooManyRequests
		seconds := int(refusal.Wait/time.Second) + 1
		w.Header().Set("Retry-After", strconv.Itoa(seconds))
		v.Wrong = "There were too many attempts. Wait " + count(seconds, "second") + " and try again; also the right password is not taken before."
	} else {
		v.Wrong = "The name or the password is wrong."
	}
	d.show(w, r, &answer{page: "sign-in", title: "Sign in", code: code, body: v})
}

// goToProvider leads to the OpenID provider.
func (d *Desk) goToProvider(w http.ResponseWriter, r *http.Request) {
	at, err := d.opt.Door.Go(w, r, within(r.URL.Query().Get("to")))
	if err != nil {
		d.notVouched(w, r, err)
		return
	}
	http.Redirect(w, r, at, http.StatusSeeOther)
}

// backFromProvider lets in whom the provider vouches for.
func (d *Desk) backFromProvider(w http.ResponseWriter, r *http.Request) {
	id, p, to, err := d.opt.Door.Return(w, r)
	if err != nil {
		d.notVouched(w, r, err)
		return
	}
	d.welcome(w, r, id, p, within(to))
}

// notVouched says why somebody who comes from the provider is not let in. What
// is wrong on this side stands in the log of the program.
func (d *Desk) notVouched(w http.ResponseWriter, r *http.Request, err error) {
	var refusal *access.Refusal
	switch {
	case !errors.As(err, &refusal) || refusal.Reason == nil:
		d.fail(w, r, err)
	case refusal.Reason.Code == "openid-refused":
		from, _ := d.opt.Door.From(r)
		d.opt.Log(r.Method, r.Pattern, http.StatusForbidden, &Attempt{From: from.String()})
		d.fail(w, r, &pageError{http.StatusForbidden, refusal.Reason})
	case refusal.Reason.Code == "openid":
		d.opt.Log(r.Method, r.Pattern, http.StatusBadGateway, refusal.Reason)
		shown := *refusal.Reason
		shown.Found, shown.Next = "", "try again later, or tell the one who looks after this computer; the log of the program says more"
		d.fail(w, r, &pageError{http.StatusBadGateway, &shown})
	default:
		d.opt.Log(r.Method, r.Pattern, http.StatusServiceUnavailable, refusal.Reason)
		d.fail(w, r, noList())
	}
}

// welcome begins a session in the browser. Who can't be written down is not
// let in.
func (d *Desk) welcome(w http.ResponseWriter, r *http.Request, id string, p access.Person, to string) {
	v := visitOf(r.Context())
	v.person = p
	if err := d.opt.Access.Add(v.entry(access.SignedIn, ""), true); err != nil {
		d.opt.Door.Drop(id)
		v.person = access.Person{}
		d.fail(w, r, d.notKept(r, err))
		return
	}
	d.opt.Door.SetSession(w, r, id)
	http.Redirect(w, r, to, http.StatusSeeOther)
}

// signOut ends the session.
func (d *Desk) signOut(w http.ResponseWriter, r *http.Request) {
	d.keep(visitOf(r.Context()).entry(access.SignedOut, ""), true)
	d.opt.Door.SignOut(w, r)
	http.Redirect(w, r, "/sign-in?out", http.StatusSeeOther)
}

// firstPage is where the work of a person begins, "" where there is nothing for
// the role.
func (d *Desk) firstPage(p access.Person) string {
	for _, h := range (view{}).all() {
		if rights["GET "+rootOf(h.Path)].may(p) && d.has("GET "+rootOf(h.Path)) {
			return h.Path
		}
	}
	return ""
}

// rootOf is the pattern of the path of a heading.
func rootOf(path string) string {
	if path == "/" {
		return "/{$}"
	}
	return path
}

// has reports whether the desk has a route.
func (d *Desk) has(pattern string) bool {
	for _, p := range d.mux.list {
		if p == pattern {
			return true
		}
	}
	return false
}
