package web_test

import (
	"net/http"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"example.org/windrow/cmd/internal/access"
)

// A person signs in with the keyboard alone, is told when the password is
// wrong, comes to the page that was asked for, and signs out; each page on the
// way is accessible and fits a telephone.
func TestSignInInABrowser(t *testing.T) {
	g := guardedBy(t, sharedDesk(t), false, &access.ProviderOptions{Issuer: "https://login.calder.example", Client: "desk", Return: "https://desk.example/sign-in/return"})
	p := sitDown(t, g.openDesk)
	p.look("sign-in", "/sign-in?to=/held")
	key := func(keys ...string) {
		t.Helper()
		for _, k := range keys {
			p.do(chromedp.KeyEvent(k))
		}
	}
	p.allowed = append(p.allowed, "403") // of the wrong password
	p.open("/held")
	p.until("one is asked to sign in", `location.pathname === "/sign-in"`)
	p.do(chromedp.Focus(chromedp.CSS("#name")))
	key("odalys", "\t", "not the password", "\r")
	p.until("one is told", `document.querySelector(".told.bad") !== null`)
	p.sound("sign-in that failed")
	b, err := chromedp.Run(p.ctx, chromedp.FullScreenshot(100))
	if err != nil {
		t.Fatal(err)
	}
	keep(t, "sign-in-wrong-1280.png", b)
	if got := ask[string](p, `document.querySelector("#name").value + "|" + document.querySelector("#password").value`); got != "odalys|" {
		t.Errorf("the form holds %q", got)
	}
	p.do(chromedp.Focus(chromedp.CSS("#password")))
	key(pass, "\r")
	p.until("one is where one wanted to go", `location.pathname === "/held" && document.body.innerText.includes("Odalys Fenwick")`)
	if ask[bool](p, `document.cookie.includes("session")`) {
		t.Error("a script can read the session")
	}
	p.look("home-signed-in", "/")
	p.look("not-yours", "/audit")
	p.open("/")
	p.do(chromedp.Click(chromedp.CSS(".who button")))
	p.until("one is out", `location.pathname === "/sign-in" && document.body.innerText.includes("You are signed out")`)
	p.open("/held")
	p.until("nothing is shown", `location.pathname === "/sign-in"`)
}

// A list of users that is spoilt while the desk is open, and a log that can't be
// written, each have a page that says so.
func TestPagesOfTrouble(t *testing.T) {
	g := guarded(t, sharedDesk(t), false)
	v := signedIn(t, g, "odalys")
	g.kept.Close()
	has(t, v.get("/held", http.StatusServiceUnavailable), "Signed in as", "be written down", "its disk is full")
	g = guarded(t, sharedDesk(t), false)
	v = signedIn(t, g, "odalys")
	g.spoil(t)
	time.Sleep(1100 * time.Millisecond) // what the file said holds for a second
	page := v.get("/held", http.StatusServiceUnavailable)
	has(t, page, "The list of users can&#39;t be read", "nobody can be let in")
	if want := "GET GET /held Service Unavailable users-faulty"; len(g.logs) == 0 || g.logs[0] != want {
		t.Errorf("the log says %q, want first %q", g.logs, want)
	}
}
