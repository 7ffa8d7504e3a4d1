package access

import (
	"net/http"
)

// ProviderName is what people know the OpenID provider by, "" for none.
func (d *Door) ProviderName() string {
	if d.provider == nil {
		return ""
	}
	return d.provider.host()
}

// tripCookie names the cookie that a browser keeps while it is at the provider.
func (d *Door) tripCookie() string {
	if d.opt.Secure {
		return "__Host-windrow-trip"
	}
	return "windrow-trip"
}

// Go begins a sign-in at the OpenID provider, and gives the address to go to. to
// is where the person wanted to go here. The error is a [*Refusal].
func (d *Door) Go(w http.ResponseWriter, r *http.Request, to string) (at string, err error) {
	key, at, err := d.provider.begin(r.Context(), to, d.opt.Now())
	if err != nil {
		return "", err
	}
	c := d.cookie(d.tripCookie(), key)
	c.MaxAge = int(longestTrip.Seconds())
	http.SetCookie(w, c)
	return at, nil
}

// Return ends a sign-in at the OpenID provider with what the browser brought
// back, and begins a session. The error is a [*Refusal], or that of the context.
func (d *Door) Return(w http.ResponseWriter, r *http.Request) (id string, p Person, to string, err error) {
	key := ""
	if c, err := r.Cookie(d.tripCookie()); err == nil {
		key = c.Value
	}
	gone := d.cookie(d.tripCookie(), "")
	gone.MaxAge = -1
	http.SetCookie(w, gone)
	claims, to, err := d.provider.end(r.Context(), key, r.URL.Query(), d.opt.Now())
	if err != nil {
		d.failed.Add(1)
		return "", Person{}, to, err
	}
	list, fault := d.users.now(d.opt.Now())
	if fault != nil {
		return "", Person{}, to, &Refusal{Reason: fault}
	}
	p, listed, err := d.provider.person(claims, list)
	if err != nil {
		d.failed.Add(1)
		return "", Person{}, to, err
	}
	d.ok.Add(1)
	s := session{account: p.Account, person: p}
	if listed != nil {
		s = session{account: listed.Account, listed: true, password: listed.Password}
	}
	return d.sessions.open(s, d.opt.Now()), p, to, nil
}
