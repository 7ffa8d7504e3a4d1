package access

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"example.org/windrow/cmd/internal/access/providertest"
)

func TestMain(m *testing.M) {
	if code, is := providertest.Child(); is {
		os.Exit(code)
	}
	os.Exit(m.Run())
}

// A lobby is a desk that is nothing but a door.
type lobby struct {
	t    *testing.T
	door *Door
	srv  *httptest.Server

	mu   sync.Mutex
	last error // of the latest return
	who  Person
	to   string
}

// aLobby opens a door with a provider; set changes what is set of it.
func aLobby(t *testing.T, set func(*ProviderOptions)) *lobby {
	t.Helper()
	l := &lobby{t: t}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /sign-in/go", func(w http.ResponseWriter, r *http.Request) {
		at, err := l.door.Go(w, r, "/report/R1")
		if err != nil {
			http.Error(w, err.Error(), http.StatusBadGateway)
			return
		}
		http.Redirect(w, r, at, http.StatusSeeOther)
	})
	mux.HandleFunc("GET /sign-in/return", func(w http.ResponseWriter, r *http.Request) {
		id, p, to, err := l.door.Return(w, r)
		l.mu.Lock()
		l.last, l.who, l.to = err, p, to
		l.mu.Unlock()
		if err != nil {
			http.Error(w, err.Error(), http.StatusForbidden)
			return
		}
		l.door.SetSession(w, r, id)
		http.Redirect(w, r, "/", http.StatusSeeOther)
	})
	mux.HandleFunc("GET /", func(w http.ResponseWriter, r *http.Request) {
		p, ok, _ := l.door.Who(r, false)
		_, _ = fmt.Fprintf(w, "%v %s %s", ok, p.Account, p.Role)
	})
	l.srv = httptest.NewServer(mux)
	t.Cleanup(l.srv.Close)
	base := strings.Replace(l.srv.URL, "127.0.0.1", "localhost", 1)
	opt := ProviderOptions{Issuer: providertest.Start(t, base+"/sign-in/return"), Client: "desk", Secret: "shared secret", Return: base + "/sign-in/return"}
	if set != nil {
		set(&opt)
	}
	path := filepath.Join(t.TempDir(), "users.yaml")
	list, _, _ := ReadList(path)
	for _, u := range []User{
		{Account: "rolf", Called: "Rolf Tansy", Role: Steward, Email: "rolf@office.example"},
		{Account: "ada", Role: Researcher, Subject: "id-ada", Email: "ada@office.example"},
		{Account: "gone", Role: Steward, Email: "gone@office.example", Disabled: true},
	} {
		if rs := list.Add(u); len(rs) > 0 {
			t.Fatal(rs)
		}
	}
	if err := list.Write(); err != nil {
		t.Fatal(err)
	}
	var err error
	if l.door, err = NewDoor(Options{Users: path, Idle: time.Hour, Longest: time.Hour, Provider: &opt}); err != nil {
		t.Fatal(err)
	}
	return l
}

func (l *lobby) base() string { return strings.Replace(l.srv.URL, "127.0.0.1", "localhost", 1) }

// browser is a client that keeps cookies, with a hook for each address that it
// is sent to.
func (l *lobby) browser(visit func(*http.Request) error) *http.Client {
	jar, err := cookiejar.New(nil)
	if err != nil {
		l.t.Fatal(err)
	}
	return &http.Client{Jar: jar, Timeout: 20 * time.Second, CheckRedirect: func(r *http.Request, via []*http.Request) error {
		if len(via) > 10 {
			return errors.New("sent round and round")
		}
		if visit != nil {
			return visit(r)
		}
		return nil
	}}
}

var fetch = providertest.Fetch

// signIn goes to the provider and signs in there as a person would.
func (l *lobby) signIn(c *http.Client, user string) (int, string, *url.URL) {
	l.t.Helper()
	return providertest.SignIn(l.t, c, l.base()+"/sign-in/go", user)
}

// code is that of why the latest one was not let in.
func (l *lobby) code() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	var refusal *Refusal
	if !errors.As(l.last, &refusal) || refusal.Reason == nil {
		return fmt.Sprint(l.last)
	}
	return refusal.Reason.What
}

func TestProviderLetsIn(t *testing.T) {
	l := aLobby(t, nil)
	asked := url.Values{}
	c := l.browser(func(r *http.Request) error {
		if r.URL.Query().Has("code_challenge") {
			asked = r.URL.Query()
		}
		return nil
	})
	code, page, at := l.signIn(c, "rolf")
	if code != http.StatusOK || page != "true rolf steward" || at.Path != "/" {
		t.Fatalf("%d at %s: %s (%v)", code, at, page, l.last)
	}
	if l.who.Title() != "Rolf Tansy" || l.to != "/report/R1" {
		t.Errorf("%+v to %q", l.who, l.to)
	}
	// RFC 7636, section 4.3; OpenID Connect Core 1.0, section 3.1.2.1.
	if asked.Get("code_challenge_method") != "S256" || len(asked.Get("code_challenge")) != 43 || len(asked.Get("state")) < 40 || len(asked.Get("nonce")) < 40 || asked.Get("response_type") != "code" || !strings.Contains(asked.Get("scope"), "openid") {
		t.Errorf("asked for %v", asked)
	}
	// By the provider's own id, without any address.
	if _, page, _ := l.signIn(l.browser(nil), "ada"); page != "true ada researcher" {
		t.Errorf("%s (%v)", page, l.last)
	}
	if ok, failed, _ := l.door.Counts(); ok != 2 || failed != 0 {
		t.Errorf("counted %d %d", ok, failed)
	}
	// Without a secret, as a public client: PKCE alone says that it is the same browser.
	l = aLobby(t, func(o *ProviderOptions) { o.Client, o.Secret = "open-desk", "" })
	if _, page, _ := l.signIn(l.browser(nil), "rolf"); page != "true rolf steward" {
		t.Errorf("%s (%v)", page, l.last)
	}
}

// Whom nobody has put on the list, who only says that an address is theirs, whose
// address belongs to one who is known by the provider's id, and who is disabled,
// is not let in.
func TestProviderKnowsOthers(t *testing.T) {
	l := aLobby(t, nil)
	for user, want := range map[string]string{"mail": "has not verified your e-mail address", "other": "nobody has put you on the list", "taken": "nobody has put you on the list", "gone": "no more"} {
		code, page, _ := l.signIn(l.browser(nil), user)
		if code != http.StatusForbidden || !strings.Contains(l.code(), want) {
			t.Errorf("%s: %d %s, %s", user, code, page, l.code())
		}
	}
	if ok, failed, _ := l.door.Counts(); ok != 0 || failed != 4 {
		t.Errorf("counted %d %d", ok, failed)
	}
}

// Roles out of a claim: here one of the standard claims, since the provider's
// example has no others.
func TestRolesOfTheProvider(t *testing.T) {
	l := aLobby(t, func(o *ProviderOptions) { o.RoleClaim, o.OfficeClaim = "given_name", "family_name" })
	for user, want := range map[string]Person{"other": {Account: "openid:id-other", Called: "office Finch", Role: Office, Office: "Finch"}, "ada": {Account: "ada", Role: Researcher}} {
		if code, page, _ := l.signIn(l.browser(nil), user); code != http.StatusOK || l.who != want {
			t.Errorf("%s: %d %s, %+v (%v)", user, code, page, l.who, l.last)
		}
	}
	// Who is put on the list and disabled there is out, whatever the provider says.
	c := l.browser(nil)
	if _, page, _ := l.signIn(c, "other"); page != "true openid:id-other office" {
		t.Error(page)
	}
	list, _, _ := ReadList(l.door.opt.Users)
	list.users = append(list.users, &User{Account: "other", Role: Researcher, Subject: "id-other", Disabled: true})
	if err := list.Write(); err != nil {
		t.Fatal(err)
	}
	time.Sleep(lookEvery + 100*time.Millisecond)
	if _, page, _ := fetch(t, c, http.MethodGet, l.base()+"/", nil); page != "false  " {
		t.Errorf("disabled, and still %s", page)
	}
	for user, want := range map[string]string{"taken": "no role here", "gone": "no more", "other": "no more"} {
		if code, _, _ := l.signIn(l.browser(nil), user); code != http.StatusForbidden || !strings.Contains(l.code(), want) {
			t.Errorf("%s: %d, %s", user, code, l.code())
		}
	}
}

// What comes back must be what was sent for, by the browser that was sent, once.
func TestTripsThatWereNotBegun(t *testing.T) {
	l := aLobby(t, nil)
	// back is the way back of rolf, not gone yet.
	back := func(c *http.Client) *url.URL {
		t.Helper()
		var at *url.URL
		c.CheckRedirect = func(r *http.Request, _ []*http.Request) error {
			if r.URL.Path == "/sign-in/return" {
				at = r.URL
				return http.ErrUseLastResponse
			}
			return nil
		}
		l.signIn(c, "rolf")
		c.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
		if at == nil {
			t.Fatal("the provider sends nobody back")
		}
		return at
	}
	ends := func(name string, c *http.Client, at string, want string) {
		t.Helper()
		code, _, _ := fetch(t, c, http.MethodGet, at, nil)
		if code != http.StatusForbidden || !strings.Contains(l.code(), want) {
			t.Errorf("%s: %d, %s", name, code, l.code())
		}
	}
	const notBegun = "not the end of a sign-in that was begun here"
	c := l.browser(nil)
	at := back(c)
	ends("another browser", l.browser(nil), at.String(), notBegun)
	q := at.Query()
	q.Set("state", q.Get("state")+"x")
	ends("another state", c, l.base()+"/sign-in/return?"+q.Encode(), notBegun)
	ends("once more", c, at.String(), notBegun) // the trip ended with the wrong state
	c = l.browser(nil)
	at = back(c)
	q = at.Query()
	q.Set("code", "guessed")
	ends("another code", c, l.base()+"/sign-in/return?"+q.Encode(), "does not take its own code back")
	c = l.browser(nil)
	back(c)
	ends("refused there", c, l.base()+"/sign-in/return?error=access_denied&error_description=%3Cscript%3E&state="+l.stateOf(t), "did not let you in")
	// A code that was given for one browser's trip, put into another's: the
	// verifier of PKCE is another one.
	mine, theirs := l.browser(nil), l.browser(nil)
	stolen := back(theirs).Query().Get("code")
	q = back(mine).Query()
	q.Set("code", stolen)
	ends("a stolen code", mine, l.base()+"/sign-in/return?"+q.Encode(), "does not take its own code back")
	// Too late.
	c = l.browser(nil)
	at = back(c)
	l.door.opt.Now = func() time.Time { return time.Now().Add(longestTrip + time.Minute) }
	ends("too late", c, at.String(), notBegun)
}

// stateOf is the state of the only trip under way.
func (l *lobby) stateOf(t *testing.T) string {
	t.Helper()
	l.door.provider.mu.Lock()
	defer l.door.provider.mu.Unlock()
	newest := trip{}
	for _, x := range l.door.provider.trips {
		if x.until.After(newest.until) {
			newest = x
		}
	}
	return newest.state
}

// A provider that is away is said to be; it may come later.
func TestProviderThatIsAway(t *testing.T) {
	p := newProvider(ProviderOptions{Issuer: "http://localhost:" + providertest.FreePort(t) + "/"})
	_, _, err := p.begin(context.Background(), "/", time.Now())
	var refusal *Refusal
	if !errors.As(err, &refusal) || refusal.Reason == nil || refusal.Reason.Code != "openid" {
		t.Errorf("got %v", err)
	}
	// One that says to be another one.
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		_, _ = w.Write([]byte(`{"issuer":"https://login.elsewhere.example"}`))
	}))
	defer srv.Close()
	p = newProvider(ProviderOptions{Issuer: srv.URL})
	if _, _, err := p.begin(context.Background(), "/", time.Now()); !errors.As(err, &refusal) {
		t.Errorf("got %v", err)
	}
}

// The roles of a claim, one by one.
func TestPersonsOfAProvider(t *testing.T) {
	l, rs := ParseList("users.yaml", []byte("users: []\n"))
	if len(rs) > 0 {
		t.Fatal(rs)
	}
	p := newProvider(ProviderOptions{RoleClaim: "groups", OfficeClaim: "office"})
	for _, x := range []struct {
		c    claims
		role Role
	}{
		{claims{subject: "a", role: []string{"steward"}}, Steward},
		{claims{subject: "a", role: []string{"staff", "researcher", "researcher"}}, Researcher},
		{claims{subject: "a", role: []string{"office"}, office: []string{"Finch"}}, Office},
		{claims{subject: "a", role: []string{"office"}}, ""},
		{claims{subject: "a", role: []string{"office"}, office: []string{"Finch", "Vesper"}}, ""},
		{claims{subject: "a", role: []string{"office"}, office: []string{""}}, ""},
		{claims{subject: "a", role: []string{"steward", "researcher"}}, ""},
		{claims{subject: "a", role: []string{"Steward"}}, ""},
		{claims{subject: "a"}, ""},
	} {
		who, _, err := p.person(x.c, l)
		if who.Role != x.role || (err == nil) != (x.role != "") {
			t.Errorf("%+v: %+v %v", x.c, who, err)
		}
	}
	if got := oneLine("Ada\n\u202eQuill\x00 "); got != "AdaQuill" {
		t.Errorf("%q", got)
	}
}
