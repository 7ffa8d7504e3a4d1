package web_test

import (
	"context"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/netip"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"example.org/windrow/cmd/internal/access"
	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/cmd/internal/web"
	"example.org/windrow/ingest"
)

// The password of every user of the tests.
const pass = "copper lantern fig ninety"

// The office of the demonstration, and another one whose reports lie in the
// same archive.
const (
	thisOffice  = "Alderbrook County Soil Desk"
	otherOffice = "Finch County Soil Desk"
)

// A guarded desk is one where people sign in.
type guardedDesk struct {
	*openDesk
	door *access.Door
	list string // path of the list of users
	log  string // path of the log of who saw what
	kept *access.Log
	now  time.Time
	// later is how much later it is for sessions.
	later atomic.Int64
}

// guarded opens a second desk on an office, with users of each role.
func guarded(t *testing.T, d *openDesk, secure bool) *guardedDesk {
	t.Helper()
	return guardedBy(t, d, secure, nil)
}

// guardedBy is guarded, with an OpenID provider or nil.
func guardedBy(t *testing.T, d *openDesk, secure bool, provider *access.ProviderOptions) *guardedDesk {
	t.Helper()
	dir := t.TempDir()
	path := filepath.Join(dir, "users.yaml")
	hash, err := access.Cost{Time: 1, Memory: 64, Threads: 1}.Hash(pass)
	if err != nil {
		t.Fatal(err)
	}
	l, _, _ := access.ReadList(path)
	for _, u := range []access.User{
		{Account: "odalys", Called: "Odalys Fenwick", Role: access.Office, Office: thisOffice},
		{Account: "finn", Role: access.Office, Office: otherOffice},
		{Account: "rolf", Called: "Rolf <b>Tansy</b>", Role: access.Steward},
		{Account: "ada", Called: "Ada Quill", Role: access.Researcher},
	} {
		u.Password = hash
		if rs := l.Add(u); len(rs) > 0 {
			t.Fatal(rs)
		}
	}
	if err := l.Write(); err != nil {
		t.Fatal(err)
	}
	g := &guardedDesk{openDesk: &openDesk{off: d.off}, list: path, log: filepath.Join(dir, "access.jsonl"), now: day()}
	if g.door, err = access.NewDoor(access.Options{Now: func() time.Time { return time.Now().Add(time.Duration(g.later.Load())) }, Provider: provider, Users: path, Idle: time.Hour, Longest: 8 * time.Hour, Secure: secure, Proxies: []netip.Prefix{netip.MustParsePrefix("10.0.0.5/32")}}); err != nil {
		t.Fatal(err)
	}
	if g.kept, err = access.OpenLog(g.log, func() time.Time { return g.now }); err != nil {
		t.Fatal(err)
	}
	g.desk, err = web.New(web.Options{Office: d.off, Version: "test", Account: d.account, Door: g.door, Access: g.kept, Host: "desk.example", Log: func(method, route string, status int, err error) {
		g.logs = append(g.logs, strings.Join([]string{method, route, http.StatusText(status), ingest.AsReason(err).Code}, " "))
	}})
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range []string{"/metrics", "/healthz", "/readyz", "/livez"} {
		g.desk.Also(p, http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { _, _ = w.Write([]byte("well")) }))
	}
	g.srv = httptest.NewServer(g.desk)
	t.Cleanup(func() {
		g.srv.Close()
		_ = g.kept.Close()
	})
	return g
}

// spoil puts into the list of users what is none.
func (g *guardedDesk) spoil(t *testing.T) {
	t.Helper()
	if err := os.WriteFile(g.list, []byte("users:\n  - account: odalys\n    role: boss\n"), 0o600); err != nil {
		t.Fatal(err)
	}
}

// twoOffices is the demonstration with one report of another office.
func twoOffices(t *testing.T) *openDesk {
	t.Helper()
	d := ownDesk(t, theReport(t, "TG-26-01402.pdf"), theReport(t, "px-7713.pdf"))
	r := theReport(t, "MB26-0711.csv")
	if out := d.off.Process(context.Background(), pipeline.Arrival{Source: ingest.NewSource(r.Name, r.Bytes), Channel: "folder", Time: day(), Defaults: pipeline.Defaults{Office: otherOffice}}); out.Status == pipeline.Failed {
		t.Fatal(out.Reasons)
	}
	r = theReport(t, "TG-26-01920.pdf")
	if out := d.off.Process(context.Background(), pipeline.Arrival{Source: ingest.NewSource(r.Name, r.Bytes), Channel: "folder", Time: day(), Defaults: pipeline.Defaults{Office: otherOffice}}); out.Status != pipeline.Held {
		t.Fatal(out.Status)
	}
	return d
}

// signedIn is a visitor who has signed in.
func signedIn(t *testing.T, d *guardedDesk, account string) *visitor {
	t.Helper()
	v := visit(t, d.openDesk)
	v.c.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	if code, page := v.signIn(account, pass, "/"); code != http.StatusSeeOther {
		t.Fatalf("%s is not let in: %d %s", account, code, page)
	}
	return v
}

func (v *visitor) signIn(account, password, to string) (int, string) {
	v.t.Helper()
	return v.post("/sign-in", url.Values{"form": {formToken(v.t, v.get("/sign-in", http.StatusOK))}, "to": {to}, "name": {account}, "password": {password}}, nil)
}

var formField = regexp.MustCompile(`name="form" value="([0-9a-f]{64})"`)

func formToken(t *testing.T, page string) string {
	t.Helper()
	m := formField.FindStringSubmatch(page)
	if m == nil {
		t.Fatalf("the page has no form:\n%s", page)
	}
	return m[1]
}

// Every route is in the table of rights, and nothing in the table is gone.
func TestEveryRouteHasAnEntry(t *testing.T) {
	g := guarded(t, sharedDesk(t), false)
	routes := g.desk.Routes()
	if len(routes) < 25 {
		t.Fatalf("only %d routes", len(routes))
	}
	for _, p := range routes {
		if _, _, _, _, _, listed := web.Listed(p); !listed {
			t.Errorf("%s is in no line of the table of rights (rights.go), so that nobody who signs in may ask for it: say who may", p)
		}
	}
}

// addressOf makes an address of a route's pattern.
func addressOf(pattern, report, sample string) (method, path string) {
	method, path, ok := strings.Cut(pattern, " ")
	if !ok {
		return http.MethodGet, "/no/such/page"
	}
	id := report
	if strings.HasPrefix(path, "/sample/") {
		id = sample
	}
	path = strings.NewReplacer("{$}", "", "{id}", id, "{page}", "1").Replace(path)
	path = regexp.MustCompile(`\{[^}]*\}`).ReplaceAllString(path, "x")
	switch pattern {
	case "GET /static/":
		path += "desk.css"
	case "GET /letters/": // of which the list has a pattern of its own
		path += "marrow-brook/MB26-0711_" + sample + ".html"
	}
	return method, path
}

// Each route is asked for as each role and as nobody: it answers those alone
// whom the table names, and never with anything of another office.
func TestEachRouteAsEachRole(t *testing.T) {
	g := guarded(t, twoOffices(t), false)
	as := map[string]*visitor{"": visit(t, g.openDesk)}
	as[""].c.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	for _, who := range []string{"odalys", "finn", "rolf", "ada"} {
		as[who] = signedIn(t, g, who)
	}
	steward := as["rolf"]
	list := steward.get("/reports?q=MB26-0711", http.StatusOK)
	report := strings.TrimPrefix(first(t, list, "/report/"), "/report/")
	sample := report + "-1"
	for _, pattern := range g.desk.Routes() {
		roles, open, here, names, of, _ := web.Listed(pattern)
		method, path := addressOf(pattern, report, sample)
		if open && strings.HasPrefix(path, "/sign-") || pattern == "POST /sign-out" || pattern == "POST /language" {
			continue // looked at in tests of their own
		}
		for _, who := range []string{"", "odalys", "finn", "rolf", "ada"} {
			v := as[who]
			role := map[string]access.Role{"odalys": access.Office, "finn": access.Office, "rolf": access.Steward, "ada": access.Researcher}[who]
			var code int
			var body string
			if method == http.MethodPost {
				// Through the guard on forms, which another test looks at.
				page := v.get(map[string]string{"": "/sign-in", "odalys": "/held", "finn": "/held", "rolf": "/held", "ada": "/no/such/page"}[who], map[string]int{"": 200, "odalys": 200, "finn": 200, "rolf": 200, "ada": 404}[who])
				code, body = v.post(path, url.Values{"form": {formToken(t, page)}}, nil)
			} else {
				req, err := http.NewRequest(method, g.srv.URL+path, nil)
				if err != nil {
					t.Fatal(err)
				}
				code, body, _ = v.do(req)
			}
			// A page names the address that was asked for itself, to come back to
			// it in another tongue: that is not told by us.
			body = strings.ReplaceAll(body, path, "")
			ends := strings.Contains(body, "Jasper") || strings.Contains(body, "MB26-0711")
			switch {
			case here || open:
				if code != http.StatusOK {
					t.Errorf("%s as %q: %d", pattern, who, code)
				}
			case who == "" && method == http.MethodGet && !web.ByItself(pattern): // else the page that asks is told, and not led away
				if code != http.StatusSeeOther {
					t.Errorf("%s as nobody: %d", pattern, code)
				}
			case who == "":
				if code != http.StatusUnauthorized {
					t.Errorf("%s as nobody: %d", pattern, code)
				}
			case !slices.Contains(roles, role):
				if code != http.StatusForbidden && !(pattern == "GET /{$}" && code == http.StatusSeeOther) {
					t.Errorf("%s as %s: %d", pattern, who, code)
				}
				if ends {
					t.Errorf("%s as %s shows something of a client", pattern, who)
				}
			case of && who == "odalys": // the report is that of the other office
				if code != http.StatusNotFound || ends {
					t.Errorf("%s as %s of another office: %d", pattern, who, code)
				}
			default:
				if code == http.StatusForbidden || code == http.StatusUnauthorized || code >= 500 || code == http.StatusSeeOther && method == http.MethodGet && !strings.Contains(path, "/look") {
					t.Errorf("%s as %s: %d\n%s", pattern, who, code, body)
				}
				if who == "odalys" && strings.Contains(body, "MB26-0711") {
					t.Errorf("%s shows %s a report of another office", pattern, who)
				}
				if role == access.Researcher && names {
					t.Errorf("%s is for researchers and shows names", pattern)
				}
			}
		}
	}
}

// An office sees its own reports in every list, and none of another's.
func TestListsOfAnOffice(t *testing.T) {
	g := guarded(t, twoOffices(t), false)
	mine, theirs, all := signedIn(t, g, "odalys"), signedIn(t, g, "finn"), signedIn(t, g, "rolf")
	for _, path := range []string{"/", "/held", "/reports", "/labs", "/lab/thrushgate", "/lab/marrow-brook", "/reports?q=MB26-0711", "/reports?q=TG-26-01402", "/reports?status=held"} {
		a, b, c := mine.get(path, http.StatusOK), theirs.get(path, http.StatusOK), all.get(path, http.StatusOK)
		for _, x := range []string{"MB26-0711.csv", "TG-26-01920.pdf"} {
			if strings.Contains(a, x) {
				t.Errorf("%s shows %s of another office", path, x)
			}
			if strings.Contains(c, x) && !strings.Contains(b, x) {
				t.Errorf("%s does not show its own office %s", path, x)
			}
		}
		for _, x := range []string{"TG-26-01402.pdf", "px-7713.pdf"} {
			if strings.Contains(b, x) {
				t.Errorf("%s shows the other office %s", path, x)
			}
			if strings.Contains(c, x) && !strings.Contains(a, x) {
				t.Errorf("%s does not show its own office %s", path, x)
			}
		}
	}
	// Who sees nothing since all is another office's is not told that nothing is there.
	none := signedIn(t, guarded(t, ownDesk(t, theReport(t, "TG-26-01402.pdf")), false), "finn")
	for _, path := range []string{"/", "/reports"} {
		if page := none.get(path, http.StatusOK); !strings.Contains(page, "Nothing of your office is in the archive yet.") || strings.Contains(page, "The archive is empty") {
			t.Errorf("%s says to an office without reports that the archive is empty", path)
		}
	}
	has(t, mine.get("/", http.StatusOK), "2 reports with", "1 report waits")
	has(t, theirs.get("/", http.StatusOK), "2 reports with", "1 report waits")
	has(t, all.get("/", http.StatusOK), "4 reports with", "2 reports wait")
	if page := theirs.get("/", http.StatusOK); strings.Contains(page, "Rose bed") {
		t.Error("the other office sees the register of this one")
	}
	if page := mine.get("/intake", http.StatusOK); strings.Contains(page, "MB26-0711") {
		t.Error("what came for another office is shown")
	}
	// The first folder is that of this office: the other one has none to drop into.
	has(t, theirs.get("/intake", http.StatusOK), "No folder is watched for this office")
}

func TestSigningIn(t *testing.T) {
	g := guarded(t, sharedDesk(t), false)
	v := visit(t, g.openDesk)
	v.c.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	// From any page one is led here, and back.
	req, _ := http.NewRequest(http.MethodGet, g.srv.URL+"/reports?q=jasper", nil)
	code, _, head := v.do(req)
	if code != http.StatusSeeOther || head.Get("Location") != "/sign-in?to=%2Freports%3Fq%3Djasper" {
		t.Fatalf("%d %v", code, head)
	}
	page := v.get(head.Get("Location"), http.StatusOK)
	has(t, page, "Sign in", `name="to" value="/reports?q=jasper"`, `autocomplete="current-password"`)
	for _, x := range []string{"Today", "role=\"search\"", "Waiting", "2 reports", "letters"} {
		if strings.Contains(page, x) {
			t.Errorf("a stranger is shown %q", x)
		}
	}
	// A part of a page is not answered by a page for signing in.
	req, _ = http.NewRequest(http.MethodGet, g.srv.URL+"/intake/state", nil)
	req.Header.Set("Sec-Fetch-Dest", "empty")
	if code, _, _ := v.do(req); code != http.StatusUnauthorized {
		t.Errorf("a part of a page: %d", code)
	}
	code, page = v.signIn("Odalys", "wrong", "/")
	if code != http.StatusForbidden {
		t.Errorf("%d", code)
	}
	has(t, page, "The name or the password is wrong.", `value="Odalys"`)
	if strings.Contains(page, `value="wrong"`) {
		t.Error("the password comes back")
	}
	code, other := v.signIn("nobody", "wrong", "/")
	if strings.ReplaceAll(page, "Odalys", "") != strings.ReplaceAll(other, "nobody", "") || code != http.StatusForbidden {
		t.Error("an account that is there is told from one that is not")
	}
	if code, page = v.signIn("odalys", pass, "/reports?q=jasper"); code != http.StatusSeeOther {
		t.Fatalf("%d %s", code, page)
	}
	page = v.get("/reports?q=jasper", http.StatusOK)
	has(t, page, "Signed in as", "Odalys Fenwick", "clerk", thisOffice, "Sign out", "TG-26-01402.pdf")
	if strings.Contains(page, "this computer only") {
		t.Error("the foot says that the pages are for this computer")
	}
	req, _ = http.NewRequest(http.MethodGet, g.srv.URL+"/sign-in?to=//elsewhere.example", nil)
	if code, _, head := v.do(req); code != http.StatusSeeOther || head.Get("Location") != "/" {
		t.Errorf("one who is in: %d %v", code, head)
	}
	// A form of before the sign-in is bound to nobody.
	jar := v.c.Jar
	if code, _ := v.post("/sign-out", url.Values{"form": {formToken(t, page)}}, nil); code != http.StatusSeeOther {
		t.Errorf("signing out: %d", code)
	}
	if code, page := v.post("/sign-out", url.Values{"form": {formToken(t, page)}}, nil); code != http.StatusForbidden || !strings.Contains(page, "no longer valid") {
		t.Errorf("a form of a session that has ended: %d", code)
	}
	has(t, v.get("/sign-in?out", http.StatusOK), "You are signed out.")
	u, _ := url.Parse(g.srv.URL)
	for _, c := range jar.Cookies(u) {
		if c.Name == "windrow-session" {
			t.Error("the cookie of the session is still there")
		}
	}
	// Names are shown, and never done.
	has(t, signedIn(t, g, "rolf").get("/", http.StatusOK), "Rolf &lt;b&gt;Tansy&lt;/b&gt;", "data steward")
}

// Somebody else's browser can't be signed in from another site, nor by a form
// that is not this desk's.
func TestSignInTakesItsOwnFormsOnly(t *testing.T) {
	g := guarded(t, sharedDesk(t), false)
	v := visit(t, g.openDesk)
	token := formToken(t, v.get("/sign-in", http.StatusOK))
	form := url.Values{"form": {token}, "name": {"odalys"}, "password": {pass}}
	for name, change := range map[string]func(*http.Request){
		"another site": func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") },
		"another origin": func(r *http.Request) {
			r.Header.Del("Sec-Fetch-Site")
			r.Header.Set("Origin", "https://elsewhere.example")
		},
		"no cookie": func(r *http.Request) { r.Header.Set("Cookie", "") },
	} {
		if name == "no cookie" {
			v = &visitor{t, &http.Client{}, g.openDesk}
		}
		if code, _ := v.post("/sign-in", form, change); code != http.StatusForbidden {
			t.Errorf("%s: %d", name, code)
		}
	}
	if ok, failed, _ := g.door.Counts(); ok != 0 || failed != 0 {
		t.Errorf("passwords were tried: %d %d", ok, failed)
	}
}

func TestTooManyAttempts(t *testing.T) {
	g := guarded(t, sharedDesk(t), false)
	v := visit(t, g.openDesk)
	for range 5 {
		v.signIn("odalys", "wrong", "/")
	}
	req, _ := http.NewRequest(http.MethodPost, g.srv.URL+"/sign-in", strings.NewReader(url.Values{"form": {formToken(t, v.get("/sign-in", http.StatusOK))}, "name": {"odalys"}, "password": {pass}}.Encode()))
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	code, page, head := v.do(req)
	if code != http.StatusTooManyRequests || head.Get("Retry-After") == "" {
		t.Errorf("%d %v", code, head)
	}
	has(t, page, "too many attempts", "Wait", "second")
}

// Where browsers come by TLS, cookies are for TLS and browsers are told so;
// what comes otherwise, or under another name, is refused.
func TestGuardOfASecureDesk(t *testing.T) {
	g := guarded(t, sharedDesk(t), true)
	ask := func(remote, host string, head map[string]string) *httptest.ResponseRecorder {
		r := httptest.NewRequest(http.MethodGet, "/sign-in", nil)
		r.RemoteAddr, r.Host = remote, host
		for k, v := range head {
			r.Header.Set(k, v)
		}
		w := httptest.NewRecorder()
		g.desk.ServeHTTP(w, r)
		return w
	}
	for _, x := range []struct {
		remote, host string
		code         int
	}{
		{"10.0.0.5:1", "desk.example", 200}, {"10.0.0.5:1", "DESK.example", 200}, {"127.0.0.1:1", "localhost", 200},
		{"192.0.2.7:1", "desk.example", 403}, // past the proxy, where all can read along
		{"10.0.0.5:1", "elsewhere.example", 403}, {"10.0.0.5:1", "desk.example.elsewhere.example", 403}, {"10.0.0.5:1", "", 403},
	} {
		if w := ask(x.remote, x.host, nil); w.Code != x.code {
			t.Errorf("%+v: %d", x, w.Code)
		}
	}
	w := ask("10.0.0.5:1", "desk.example", map[string]string{"X-Forwarded-For": "192.0.2.7"})
	if w.Header().Get("Strict-Transport-Security") == "" || !strings.Contains(w.Header().Get("Set-Cookie"), "Secure") {
		t.Errorf("headers %v", w.Header())
	}
	for remote, want := range map[string]int{"127.0.0.1:1": 200, "10.0.0.5:1": 403} {
		r := httptest.NewRequest(http.MethodGet, "/metrics", nil)
		r.RemoteAddr, r.Host = remote, "desk.example"
		w := httptest.NewRecorder()
		g.desk.ServeHTTP(w, r)
		if w.Code != want {
			t.Errorf("metrics for %s: %d", remote, w.Code)
		}
	}
}

// Where nobody signs in, a proxy in front would open the pages to others: what
// bears the mark of one is refused.
func TestProxyWithoutSignIn(t *testing.T) {
	d := sharedDesk(t)
	for _, name := range []string{"X-Forwarded-For", "Forwarded", "X-Forwarded-Host", "X-Real-IP"} {
		r := httptest.NewRequest(http.MethodGet, "/", nil)
		r.Host = "localhost:8470"
		r.Header.Set(name, "192.0.2.7")
		w := httptest.NewRecorder()
		d.desk.ServeHTTP(w, r)
		if w.Code != http.StatusForbidden || !strings.Contains(w.Body.String(), "proxy") {
			t.Errorf("%s: %d %s", name, w.Code, w.Body)
		}
	}
}

// A session lasts no longer than it may, also in a browser that keeps its
// cookies.
func TestSessionIsTheServers(t *testing.T) {
	g := guarded(t, sharedDesk(t), false)
	v := signedIn(t, g, "odalys")
	v.get("/", http.StatusOK)
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	u, _ := url.Parse(g.srv.URL)
	for _, c := range v.c.Jar.Cookies(u) {
		jar.SetCookies(u, []*http.Cookie{{Name: c.Name, Value: strings.Repeat("A", len(c.Value)), Path: "/"}})
	}
	v.c.Jar = jar
	v.get("/", http.StatusSeeOther)
}
