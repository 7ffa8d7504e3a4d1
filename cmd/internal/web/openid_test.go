package web_test

import (
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"example.org/windrow/cmd/internal/access"
	"example.org/windrow/cmd/internal/access/providertest"
)

// TestSignInAtAProvider has people come in through the workbench's own pages by
// a real provider: led there by the button, let in for what they are, brought to
// the page that they came for, turned away with words, and out again.
func TestSignInAtAProvider(t *testing.T) {
	port := providertest.FreePort(t)
	base := "http://localhost:" + port
	back := base + "/sign-in/return"
	g := guardedBy(t, twoOffices(t), false, &access.ProviderOptions{Issuer: providertest.Start(t, back), Client: providertest.Client, Secret: providertest.Secret, Return: back})
	l, _, rs := access.ReadList(g.list)
	for _, u := range []access.User{
		{Account: "orrin", Called: "Orrin Vale", Role: access.Office, Office: otherOffice, Email: "rolf@office.example"}, // whom the provider calls rolf
		{Account: "quill", Role: access.Researcher, Subject: "id-ada"},
		{Account: "left", Role: access.Steward, Email: "gone@office.example", Disabled: true},
	} {
		rs = append(rs, l.Add(u)...)
	}
	if len(rs) > 0 {
		t.Fatal(rs)
	}
	if err := l.Write(); err != nil {
		t.Fatal(err)
	}
	ln, err := net.Listen("tcp", "127.0.0.1:"+port)
	if err != nil {
		t.Fatal(err)
	}
	srv := &httptest.Server{Listener: ln, Config: &http.Server{Handler: g.desk}}
	srv.Start()
	defer srv.Close()
	browser := func() *http.Client {
		jar, err := cookiejar.New(nil)
		if err != nil {
			t.Fatal(err)
		}
		return &http.Client{Jar: jar}
	}
	get := func(c *http.Client, path string) (int, string, *url.URL) {
		t.Helper()
		return providertest.Fetch(t, c, http.MethodGet, base+path, nil)
	}

	c := browser()
	code, page, at := get(c, "/reports?q=MB26")
	if code != http.StatusOK || at.Path != "/sign-in" {
		t.Fatalf("%d at %s", code, at)
	}
	const to = "/sign-in/go?to=%2freports%3fq%3dMB26"
	if !strings.Contains(strings.ToLower(page), strings.ToLower(`href="`+to+`"`)) || !strings.Contains(page, "Sign in at localhost") {
		t.Fatalf("the page does not lead to the provider:\n%s", page)
	}
	code, page, at = providertest.SignIn(t, c, base+to, "rolf")
	if code != http.StatusOK || at.Path != "/reports" || at.Query().Get("q") != "MB26" || !strings.Contains(page, "Orrin Vale") || !strings.Contains(page, "MB26-0711") {
		t.Fatalf("%d at %s\n%s", code, at, page)
	}
	// One of an office sees its own records, whoever vouched for them.
	if _, page, _ := get(c, "/reports"); strings.Contains(page, "TG-26-01402") || !strings.Contains(page, "MB26-0711") {
		t.Errorf("an office sees:\n%s", page)
	}
	if code, _, _ := get(c, "/audit"); code != http.StatusForbidden {
		t.Errorf("the audit of all offices: %d", code)
	}
	u, err := url.Parse(base)
	if err != nil {
		t.Fatal(err)
	}
	for _, k := range c.Jar.Cookies(u) {
		if strings.Contains(page, k.Value) {
			t.Error("a page shows what only the cookie may hold")
		}
	}
	// A second one, known by the provider's own id, is led to what is theirs.
	r := browser()
	if code, page, at := providertest.SignIn(t, r, base+"/sign-in/go?to=%2F", "ada"); code != http.StatusOK || at.Path != "/county" || strings.Contains(page, "MB26-0711") {
		t.Errorf("a researcher: %d at %s", code, at)
	}
	if code, _, _ := get(r, "/reports"); code != http.StatusForbidden {
		t.Errorf("a researcher sees reports: %d", code)
	}
	for user, want := range map[string]string{"other": "nobody has put you on the list", "mail": "has not verified your e-mail address", "gone": "no more"} {
		x := browser()
		if code, page, _ := providertest.SignIn(t, x, base+to, user); code != http.StatusForbidden || !strings.Contains(page, want) || strings.Contains(page, "MB26-0711") {
			t.Errorf("%s: %d\n%s", user, code, page)
		}
		if _, _, at := get(x, "/"); at.Path != "/sign-in" {
			t.Errorf("%s is in, at %s", user, at)
		}
	}
	// A way back that nobody was sent on.
	if code, _, _ := get(browser(), "/sign-in/return?state=x&code=y"); code != http.StatusForbidden {
		t.Errorf("a borrowed way back: %d", code)
	}
	_, page, _ = get(c, "/reports")
	req, err := http.NewRequest(http.MethodPost, base+"/sign-out", strings.NewReader(url.Values{"form": {formToken(t, page)}}.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	req.Header.Set("Origin", base)
	resp, err := c.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	resp.Body.Close()
	if _, _, at := get(c, "/reports"); at.Path != "/sign-in" {
		t.Errorf("after signing out one is at %s", at)
	}
	did := map[string]int{}
	if _, faults, err := access.Verify(g.log, func(e access.Entry) error { did[e.Who+" "+string(e.Did)]++; return nil }); err != nil || len(faults) > 0 {
		t.Fatalf("%v %v", err, faults)
	}
	for who, n := range map[string]int{"orrin signed in": 1, "orrin signed out": 1, "quill signed in": 1} {
		if did[who] != n {
			t.Errorf("%s: %d times in the log, not %d: %v", who, did[who], n, did)
		}
	}
	if did["orrin saw"] < 2 || did["quill saw"] > 0 {
		t.Errorf("the log has %v", did)
	}
}
