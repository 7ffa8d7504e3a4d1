package access

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"time"
	"unicode"

	"github.com/coreos/go-oidc/v3/oidc"
	"golang.org/x/oauth2"

	"example.org/windrow/ingest"
)

// ProviderOptions say at which OpenID provider people sign in.
type ProviderOptions struct {
	Issuer      string
	Client      string
	Secret      string // of the client, "" for one without
	Return      string // the address that the provider sends people back to
	RoleClaim   string // "" where the list of users has the roles
	OfficeClaim string
}

// A provider is an OpenID provider, asked by the authorisation code flow with
// PKCE (RFC 7636), a state and a nonce (OpenID Connect Core 1.0, section 3.1).
type provider struct {
	opt  ProviderOptions
	http *http.Client

	mu    sync.Mutex
	known *oidc.Provider // nil before the provider was reached
	trips map[string]trip
}

// A trip is one way to the provider and back.
type trip struct {
	state, nonce, verifier string
	to                     string
	until                  time.Time
}

// The bounds of trips: how long one may take, and how many may be under way.
const (
	longestTrip = 10 * time.Minute
	mostTrips   = 5000
)

// patience is how long the provider may take to answer.
const patience = 10 * time.Second

func newProvider(opt ProviderOptions) *provider {
	return &provider{opt: opt, http: &http.Client{Timeout: patience}, trips: map[string]trip{}}
}

// reach asks the provider for what it says of itself, once.
func (p *provider) reach(ctx context.Context) (*oidc.Provider, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.known != nil {
		return p.known, nil
	}
	// Its keys are asked for later, too: the context must not end with this page.
	known, err := oidc.NewProvider(oidc.ClientContext(context.WithoutCancel(ctx), p.http), p.opt.Issuer)
	if err != nil {
		return nil, &Refusal{Reason: &ingest.Reason{Code: "openid", Severity: ingest.Fail, Where: ingest.Place{File: p.host()}, What: "the OpenID provider can't be reached, or is another one than the settings say", Found: ingest.Cause(err), Next: "see openid.issuer in windrow.yaml, and whether this computer may reach it"}}
	}
	p.known = known
	return known, nil
}

// host is what people know the provider by.
func (p *provider) host() string {
	u, err := url.Parse(p.opt.Issuer)
	if err != nil {
		return p.opt.Issuer
	}
	return u.Hostname()
}

func (p *provider) config(known *oidc.Provider) *oauth2.Config {
	return &oauth2.Config{ClientID: p.opt.Client, ClientSecret: p.opt.Secret, Endpoint: known.Endpoint(), RedirectURL: p.opt.Return, Scopes: []string{oidc.ScopeOpenID, "profile", "email"}}
}

func random() string {
	b := make([]byte, 32)
	_, _ = rand.Read(b) // never fails
	return base64.RawURLEncoding.EncodeToString(b)
}

// begin begins a trip: key is what the browser keeps of it, at is where it goes.
func (p *provider) begin(ctx context.Context, to string, now time.Time) (key, at string, err error) {
	known, err := p.reach(ctx)
	if err != nil {
		return "", "", err
	}
	t := trip{state: random(), nonce: random(), verifier: oauth2.GenerateVerifier(), to: to, until: now.Add(longestTrip)}
	key = random()
	p.mu.Lock()
	defer p.mu.Unlock()
	for k, x := range p.trips {
		if now.After(x.until) || len(p.trips) >= mostTrips {
			delete(p.trips, k)
		}
	}
	p.trips[key] = t
	return key, p.config(known).AuthCodeURL(t.state, oidc.Nonce(t.nonce), oauth2.S256ChallengeOption(t.verifier)), nil
}

// claims are what the provider says of a person.
type claims struct {
	subject, name, email string
	verified             bool // the provider has seen that the address is the person's
	role, office         []string
}

// end ends a trip with what the browser brought back. A trip ends once.
func (p *provider) end(ctx context.Context, key string, q url.Values, now time.Time) (c claims, to string, err error) {
	p.mu.Lock()
	t, ok := p.trips[key]
	delete(p.trips, key)
	p.mu.Unlock()
	no := func(what, found, next string) error {
		return &Refusal{Reason: &ingest.Reason{Code: "openid-refused", Severity: ingest.Fail, Where: ingest.Place{File: p.host()}, What: what, Found: found, Next: next}}
	}
	if !ok || now.After(t.until) || subtle.ConstantTimeCompare([]byte(q.Get("state")), []byte(t.state)) != 1 {
		return c, "", no("this is not the end of a sign-in that was begun here, or it took too long", "", "begin again at the page for signing in")
	}
	if code := q.Get("error"); code != "" {
		return c, t.to, no("the provider did not let you in", fmt.Sprintf("%.60q", code), "try again, or ask the one who looks after your account there")
	}
	known, err := p.reach(ctx)
	if err != nil {
		return c, t.to, err
	}
	ctx = oidc.ClientContext(ctx, p.http)
	token, err := p.config(known).Exchange(ctx, q.Get("code"), oauth2.VerifierOption(t.verifier))
	if err != nil {
		return c, t.to, no("the provider does not take its own code back", plainFault(err), "begin again at the page for signing in")
	}
	raw, _ := token.Extra("id_token").(string)
	id, err := known.Verifier(&oidc.Config{ClientID: p.opt.Client}).Verify(ctx, raw)
	if err != nil {
		return c, t.to, no("what the provider says of you does not hold: its signature, its time or whom it is for", "", "begin again; if it happens again, tell the one who looks after this computer")
	}
	if subtle.ConstantTimeCompare([]byte(id.Nonce), []byte(t.nonce)) != 1 {
		return c, t.to, no("what the provider says of you was said for another sign-in", "", "begin again at the page for signing in")
	}
	all := map[string]any{}
	if err := id.Claims(&all); err != nil {
		return c, t.to, no("what the provider says of you can't be read", "", "tell the one who looks after this computer")
	}
	// Some providers put into the token only who it is, and tell the rest when asked.
	if lacks(all, "email", p.opt.RoleClaim, p.opt.OfficeClaim) {
		more := map[string]any{}
		info, err := known.UserInfo(ctx, oauth2.StaticTokenSource(token))
		if err == nil && info.Subject == id.Subject { // else it would be somebody else's
			if err := info.Claims(&more); err == nil {
				for k, v := range more {
					if _, have := all[k]; !have {
						all[k] = v
					}
				}
			}
		}
	}
	c = claims{subject: id.Subject, name: oneLine(text(all["name"])), email: text(all["email"])}
	switch v := all["email_verified"].(type) {
	case bool:
		c.verified = v
	case string:
		c.verified = v == "true"
	}
	c.role, c.office = texts(all, p.opt.RoleClaim), texts(all, p.opt.OfficeClaim)
	return c, t.to, nil
}

func lacks(all map[string]any, keys ...string) bool {
	for _, k := range keys {
		if _, have := all[k]; k != "" && !have {
			return true
		}
	}
	return false
}

func text(v any) string {
	s, _ := v.(string)
	return s
}

// texts is a claim that is a text, or a list of them.
func texts(all map[string]any, key string) (out []string) {
	if key == "" {
		return nil
	}
	switch v := all[key].(type) {
	case string:
		return []string{v}
	case []any:
		for _, x := range v {
			if s, ok := x.(string); ok {
				out = append(out, s)
			}
		}
	}
	return out
}

// oneLine is a name as it may be shown and kept.
func oneLine(s string) string {
	s = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || unicode.Is(unicode.Cf, r) || r == '\u2028' || r == '\u2029' {
			return -1
		}
		return r
	}, s)
	if r := []rune(s); len(r) > 100 {
		s = string(r[:100])
	}
	return strings.TrimSpace(s)
}

// plainFault is the code of what a provider answers, without its words, which
// may hold anything.
func plainFault(err error) string {
	var e *oauth2.RetrieveError
	if errors.As(err, &e) {
		if e.ErrorCode != "" {
			return fmt.Sprintf("%.60q", e.ErrorCode)
		}
		var body struct {
			Error string `json:"error"`
		}
		if json.Unmarshal(e.Body, &body) == nil && body.Error != "" {
			return fmt.Sprintf("%.60q", body.Error)
		}
		return "no reason"
	}
	return ingest.Cause(err)
}

// person says who somebody is whom the provider vouches for. listed is the user
// of the list, nil for one that only the provider knows.
func (p *provider) person(c claims, l *List) (who Person, listed *User, err error) {
	no := func(what, next string) error {
		return &Refusal{Reason: &ingest.Reason{Code: "openid-refused", Severity: ingest.Fail, Where: ingest.Place{File: p.host()}, What: what, Next: next}}
	}
	listed = l.bySubject(c.subject)
	if listed == nil && c.email != "" && c.verified {
		for _, u := range l.users {
			// Who has the provider's own id on the list is known by that alone.
			if u.Subject == "" && strings.EqualFold(u.Email, c.email) {
				listed = u
			}
		}
	}
	switch {
	case listed != nil && listed.Disabled:
		return Person{}, nil, no("you may sign in here no more", "ask the data steward of the office")
	case p.opt.RoleClaim == "" && listed == nil && c.email != "" && !c.verified:
		return Person{}, nil, no("the provider knows you and has not verified your e-mail address, so that nobody can be told by it", "have the address verified there, or have your id there put on the list of users here")
	case p.opt.RoleClaim == "" && listed == nil:
		return Person{}, nil, no("the provider knows you, and nobody has put you on the list of users here", "ask the data steward of the office")
	case p.opt.RoleClaim == "":
		return listed.Person(), listed, nil
	}
	who = Person{Account: "openid:" + c.subject, Called: c.name}
	if listed != nil {
		who.Account, who.Called = listed.Account, listed.Called
	}
	for _, r := range c.role {
		if !Role(r).Known() {
			continue // a group of something else
		}
		if who.Role != "" && who.Role != Role(r) {
			return Person{}, nil, no("the provider gives you more than one role, and which one holds is not ours to say", "ask the one who looks after your account there for one of office, steward and researcher")
		}
		who.Role = Role(r)
	}
	if who.Role == "" {
		return Person{}, nil, no("the provider gives you no role here", "ask the one who looks after your account there for one of office, steward and researcher")
	}
	if who.Role == Office {
		if len(c.office) != 1 || c.office[0] == "" {
			return Person{}, nil, no("the provider does not say of which office you are, or of more than one", "ask the one who looks after your account there")
		}
		who.Office = c.office[0]
	}
	return who, nil, nil
}
