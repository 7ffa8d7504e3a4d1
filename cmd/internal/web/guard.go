package web

import (
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"net"
	"net/http"
	"strings"
	"time"
)

// What a browser may do with a page: load this server's own styles, script and
// pictures, send forms here, and nothing else.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// letterPolicy is for letters, which bring their style with them and have
// neither script nor form.
const letterPolicy = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; form-action 'none'; base-uri 'none'; frame-ancestors 'none'"

// mostForm is how many bytes a form may have that sends no file.
const mostForm = 64 << 10

// guard lets nothing through that comes from a page of another site or under a
// borrowed name, and where nobody signs in nothing from another computer.
func (d *Desk) guard(next http.Handler) http.Handler {
	inner := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method == http.MethodPost && !d.honest(w, r) {
			return
		}
		next.ServeHTTP(w, r)
	})
	cross := http.NewCrossOriginProtection()
	cross.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		d.fail(w, r, refused("what was sent here came from a page of another site", "open the workbench itself and decide there"))
	}))
	safe := cross.Handler(inner)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("X-Frame-Options", "DENY")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(), geolocation=(), microphone=()")
		h.Set("Cache-Control", "no-store")
		if why := d.stranger(r); why != "" {
			http.Error(w, why, http.StatusForbidden)
			return
		}
		if d.opt.Door != nil && d.opt.Door.Secure() {
			h.Set("Strict-Transport-Security", "max-age=31536000")
		}
		safe.ServeHTTP(w, r)
	})
}

// stranger says why a request can't be meant for this desk, "" where it can.
func (d *Desk) stranger(r *http.Request) string {
	if !local(r.Host) && (d.opt.Host == "" || !strings.EqualFold(r.Host, d.opt.Host)) {
		if d.opt.Host != "" {
			return "this address answers under its own name only"
		}
		return "this address answers to this computer only"
	}
	if d.opt.Door == nil {
		// A proxy here would open to others what is for this computer alone.
		for _, name := range []string{"Forwarded", "X-Forwarded-For", "X-Forwarded-Host", "X-Real-Ip"} {
			if r.Header.Get(name) != "" {
				return "this was handed on by a proxy, and nobody signs in here: this address answers to this computer only"
			}
		}
		return ""
	}
	if from, proxied := d.opt.Door.From(r); r.TLS == nil && !proxied && !from.IsLoopback() {
		return "this address answers by TLS only"
	}
	return ""
}

// local reports whether a request names this computer.
func local(host string) bool {
	if h, _, err := net.SplitHostPort(host); err == nil {
		host = h
	}
	if n := len(host); n > 2 && host[0] == '[' && host[n-1] == ']' {
		host = host[1 : n-1]
	}
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// seat names the cookie by which a browser is known again, for its forms.
const seat = "windrow-seat"

// token is what a form of this browser bears: nobody can make it who does not
// see a page of this desk. It sets the cookie where there is none.
func (d *Desk) token(w http.ResponseWriter, r *http.Request) string {
	c, err := r.Cookie(seat)
	if err != nil || len(c.Value) != 32 {
		b := make([]byte, 16)
		_, _ = rand.Read(b) // never fails
		c = &http.Cookie{Name: seat, Value: hex.EncodeToString(b), Path: "/", HttpOnly: true, Secure: d.opt.Door != nil && d.opt.Door.Secure(), SameSite: http.SameSiteStrictMode, MaxAge: int((12 * time.Hour).Seconds())}
		http.SetCookie(w, c)
	}
	return d.sign(d.bound(r, c.Value))
}

// bound is what a form is bound to: the browser, and the session where there
// is one.
func (d *Desk) bound(r *http.Request, value string) string {
	if d.opt.Door == nil {
		return value
	}
	return value + " " + d.opt.Door.SessionKey(r)
}

func (d *Desk) sign(value string) string {
	m := hmac.New(sha256.New, d.secret[:])
	_, _ = m.Write([]byte(value)) // a hash takes everything
	return hex.EncodeToString(m.Sum(nil))
}

// honest checks the token of what was sent. A body that is longer than a form
// is not read: files bring their token in front of them, see intake.
func (d *Desk) honest(w http.ResponseWriter, r *http.Request) bool {
	given := r.URL.Query().Get("form")
	if given == "" {
		r.Body = http.MaxBytesReader(w, r.Body, mostForm)
		if err := r.ParseForm(); err != nil {
			d.fail(w, r, refused("what was sent is no form of these pages", "go back and send it again"))
			return false
		}
		given = r.PostForm.Get("form")
	}
	c, err := r.Cookie(seat)
	if err != nil || !hmac.Equal([]byte(given), []byte(d.sign(d.bound(r, c.Value)))) {
		d.fail(w, r, refused("this form is no longer valid, most likely since Windrow was started again, or somebody signed in or out, after the page was opened", "go back, load the page again, and send it once more"))
		return false
	}
	return true
}

// cached lets a browser keep what is part of the program for a while.
func cached(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Cache-Control", "max-age=600")
		next.ServeHTTP(w, r)
	})
}
