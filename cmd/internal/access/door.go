package access

import (
	"context"
	"net/http"
	"net/netip"
	"path/filepath"
	"strings"
	"sync/atomic"
	"time"

	"example.org/windrow/ingest"
)

// Options say how one signs in.
type Options struct {
	Users   string         // path of the list of users
	Idle    time.Duration  // after which an unused session ends
	Longest time.Duration  // after which every session ends
	Secure  bool           // browsers come by TLS, here or at a proxy
	Proxies []netip.Prefix // whose word on where a request comes from is taken
	Now     func() time.Time

	Provider *ProviderOptions // at which people may sign in, too; nil for none
}

// A Door lets people in. It is safe for concurrent use.
type Door struct {
	opt      Options
	users    roster
	sessions sessions
	provider *provider // nil for none
	accounts *delay
	places   *delay
	working  chan struct{} // full when as many passwords are being tried as may be
	unknown  string        // the hash that is tried where there is no other
	matches  func(hash, password string) bool

	ok, failed, delayed atomic.Int64
}

// The waits. That of an account is short at the most, so that nobody can be
// shut out by somebody else who tries; that of an address is longer.
const (
	freeTries    = 4
	firstWait    = 2 * time.Second
	mostWait     = time.Minute
	freePlace    = 20
	mostWaitHere = 15 * time.Minute
)

// atOnce is how many passwords are tried at a time: each takes 64 MiB.
const atOnce = 2

// NewDoor opens a door. The list of users must be there and hold somebody.
func NewDoor(opt Options) (*Door, error) {
	if opt.Now == nil {
		opt.Now = time.Now
	}
	l, missing, rs := ReadList(opt.Users)
	switch {
	case len(rs) > 0:
		return nil, rs[0]
	case missing:
		return nil, noUsers(opt.Users)
	case len(l.users) == 0 && (opt.Provider == nil || opt.Provider.RoleClaim == ""):
		return nil, noUsers(opt.Users)
	}
	unknown, err := Standard.Hash(strings.Repeat("nobody", 3))
	if err != nil {
		return nil, err
	}
	d := &Door{opt: opt, users: roster{path: opt.Users}, sessions: sessions{idle: opt.Idle, longest: opt.Longest, by: map[[32]byte]*session{}},
		accounts: newDelay(freeTries, firstWait, mostWait), places: newDelay(freePlace, firstWait, mostWaitHere), working: make(chan struct{}, atOnce), unknown: unknown, matches: Matches}
	if opt.Provider != nil {
		d.provider = newProvider(*opt.Provider)
	}
	return d, nil
}

// noUsers is why nobody can sign in.
func noUsers(path string) *ingest.Reason {
	return &ingest.Reason{Code: "users-none", Severity: ingest.Fail, Where: ingest.Place{File: filepath.Base(path)}, What: "there is no list of users, so that nobody could sign in", Next: "give: windrow user add ACCOUNT --role steward"}
}

// A Refusal is why somebody was not let in. It tells nothing of the account.
type Refusal struct {
	Wait   time.Duration  // before the next attempt, 0 for none
	Reason *ingest.Reason // what is wrong on this side; nil for a wrong name or password
}

// Error says it in words.
func (r *Refusal) Error() string {
	switch {
	case r.Reason != nil:
		return r.Reason.What
	case r.Wait > 0:
		return "too many attempts"
	}
	return "the name or the password is wrong"
}

// longestGiven bounds what is taken for a name and a password, in bytes.
const longestGiven = 4 * mostPassword

// SignIn tries a name and a password from an address, and begins a session. The
// error is a [*Refusal], or that of the context.
func (d *Door) SignIn(ctx context.Context, name, password string, from netip.Addr) (id string, p Person, err error) {
	account := strings.ToLower(strings.TrimSpace(name))
	if len(account) > longestGiven || len(password) > longestGiven {
		d.failed.Add(1)
		return "", Person{}, &Refusal{}
	}
	place := neighbours(from)
	now := d.opt.Now()
	list, fault := d.users.now(now)
	if fault != nil {
		return "", Person{}, &Refusal{Reason: fault}
	}
	if w := d.places.begin(place, now); w > 0 {
		d.delayed.Add(1)
		return "", Person{}, &Refusal{Wait: w}
	}
	if w := d.accounts.begin(account, now); w > 0 {
		d.delayed.Add(1)
		return "", Person{}, &Refusal{Wait: w}
	}
	// Whoever it is, and whether there is such an account, the same is done.
	u := list.User(account)
	hash := d.unknown
	if u != nil && u.Password != "" {
		hash = u.Password
	}
	select {
	case d.working <- struct{}{}:
		defer func() { <-d.working }()
	case <-ctx.Done():
		return "", Person{}, ctx.Err()
	}
	matches := d.matches(hash, password)
	if !matches || u == nil || u.Password == "" || u.Disabled {
		d.failed.Add(1)
		return "", Person{}, &Refusal{}
	}
	d.accounts.well(account)
	d.places.undo(place)
	d.ok.Add(1)
	return d.sessions.open(session{account: u.Account, listed: true, password: u.Password}, d.opt.Now()), u.Person(), nil
}

// Who is the person of a request's session. ok is false for nobody; the reason
// says why nobody can be told from another now, and is nil otherwise. What a
// page that lies open asks for by itself does not keep the session from ending:
// byItself says that the address is of that kind, and of others a browser says
// so, but not every one does, nor every proxy hands it on.
func (d *Door) Who(r *http.Request, byItself bool) (p Person, ok bool, fault *ingest.Reason) {
	c, err := r.Cookie(d.cookieName())
	if err != nil {
		return Person{}, false, nil
	}
	now := d.opt.Now()
	byItself = byItself || r.Method == http.MethodGet && r.Header.Get("Sec-Fetch-Dest") == "empty"
	s, ok := d.sessions.get(c.Value, now, !byItself)
	if !ok {
		return Person{}, false, nil
	}
	list, fault := d.users.now(now)
	if fault != nil {
		return Person{}, false, fault
	}
	u := list.User(s.account)
	if subject, only := strings.CutPrefix(s.account, "openid:"); only && u == nil {
		u = list.bySubject(subject)
	}
	if !s.listed && (u == nil || !u.Disabled) {
		return s.person, true, nil // the provider vouched for the role
	}
	if u == nil || u.Disabled || u.Password != s.password {
		d.sessions.end(c.Value)
		return Person{}, false, nil
	}
	return u.Person(), true, nil
}

// SignOut ends the session of a request, also in the browser.
func (d *Door) SignOut(w http.ResponseWriter, r *http.Request) {
	if c, err := r.Cookie(d.cookieName()); err == nil {
		d.sessions.end(c.Value)
	}
	c := d.cookie(d.cookieName(), "")
	c.MaxAge = -1
	http.SetCookie(w, c)
}

// SetSession gives a browser the id of a new session. The one that it had
// before, if any, ends.
func (d *Door) SetSession(w http.ResponseWriter, r *http.Request, id string) {
	if c, err := r.Cookie(d.cookieName()); err == nil {
		d.sessions.end(c.Value)
	}
	http.SetCookie(w, d.cookie(d.cookieName(), id))
}

// SessionKey is what forms of a session are bound to, "" without a session.
func (d *Door) SessionKey(r *http.Request) string {
	c, err := r.Cookie(d.cookieName())
	if err != nil {
		return ""
	}
	return c.Value
}

// cookieName is the name of the cookie of sessions. With TLS it begins so that
// browsers take it by TLS alone, for this host alone and for all its paths
// (RFC 6265bis, section 4.1.3.2).
func (d *Door) cookieName() string {
	if d.opt.Secure {
		return "__Host-windrow-session"
	}
	return "windrow-session"
}

// cookie is a cookie that no script reads and no other site sends along, but
// for links that lead here: these must find their session.
func (d *Door) cookie(name, value string) *http.Cookie {
	return &http.Cookie{Name: name, Value: value, Path: "/", HttpOnly: true, Secure: d.opt.Secure, SameSite: http.SameSiteLaxMode}
}

// Secure reports whether browsers come by TLS.
func (d *Door) Secure() bool { return d.opt.Secure }

// From is the address that a request comes from: that of the connection, or,
// where that is a proxy of ours, what the nearest of these says. It also says
// whether the connection is that of a proxy.
func (d *Door) From(r *http.Request) (from netip.Addr, proxied bool) {
	at, err := netip.ParseAddrPort(r.RemoteAddr)
	if err != nil {
		return netip.Addr{}, false
	}
	from = at.Addr().Unmap()
	if !d.ours(from) {
		return from, false
	}
	list := strings.Split(strings.Join(r.Header.Values("X-Forwarded-For"), ","), ",")
	for i := len(list) - 1; i >= 0; i-- {
		a, err := netip.ParseAddr(strings.TrimSpace(list[i]))
		if err != nil {
			break // whatever stands further to the left was written by others
		}
		if from = a.Unmap(); !d.ours(from) {
			break
		}
	}
	return from, true
}

// ours reports whether an address is that of a proxy of ours.
func (d *Door) ours(a netip.Addr) bool {
	for _, p := range d.opt.Proxies {
		if p.Contains(a) {
			return true
		}
	}
	return false
}

// Counts are how many signed in, failed to, and were made to wait, since the
// door was opened.
func (d *Door) Counts() (ok, failed, delayed int64) {
	return d.ok.Load(), d.failed.Load(), d.delayed.Load()
}

// Drop ends the session of an id.
func (d *Door) Drop(id string) { d.sessions.end(id) }
