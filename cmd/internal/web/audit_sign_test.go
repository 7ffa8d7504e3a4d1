package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/audit"
)

// A steward reads the account of a period that is over, and signs for it; what
// can't be signed for is refused, and says why.
func TestSigningAnAudit(t *testing.T) {
	d := ownDesk(t, theReport(t, "MB26-0711.csv")) // which came on 1 June
	const path = "/audit?since=2026-05-01&until=2026-06-01&lab="
	signed := func() (out []*audit.SignOff) {
		t.Helper()
		if err := d.off.Archive.Each(archive.SignOffs, func(_ string, _ int, b []byte) error {
			s, err := audit.ParseSignOff(b)
			out = append(out, s)
			return err
		}); err != nil {
			t.Fatal(err)
		}
		return out
	}
	p := sitDown(t, d)
	p.open(path)
	sign := func(decision, by, note string) {
		t.Helper()
		p.do(chromedp.Click(chromedp.CSS(`input[name="decision"][value="`+decision+`"]`)), chromedp.SendKeys(chromedp.CSS("#by"), by))
		if note != "" {
			p.do(chromedp.SendKeys(chromedp.CSS("#note"), note))
		}
		p.do(chromedp.Click(chromedp.CSS(".decide form button")))
	}
	p.until("a period that is not over has no form to sign", `document.body.innerText.includes("The period is not over") && document.querySelector(".decide form") === null`)
	today := d.off.Today
	d.off.Today = func() time.Time { return day().AddDate(0, 0, 3) }
	p.open(path)
	d.off.Today = today // and whoever sends the form all the same is told so
	sign("accepted", "Ilse Marrow", "")
	p.until("a period that is not over is refused", `document.querySelector(".told.bad") !== null && document.body.innerText.includes("Not signed")`)
	p.sound("refused")
	if n := len(signed()); n > 0 {
		t.Fatalf("%d sign-offs of what was refused", n)
	}
	d.off.Today = func() time.Time { return day().AddDate(0, 0, 3) }
	p.look("audit-sign", path)
	p.open(path)
	sign("accepted with remarks", "Ilse Marrow", "one laboratory only, looked at by hand")
	p.until("it is signed", `document.body.innerText.includes("Signed by Ilse Marrow: accepted with remarks.")`)
	if text := ask[string](p, "document.body.innerText"); !strings.Contains(text, "one laboratory only, looked at by hand") || !strings.Contains(text, "1 report with") {
		t.Errorf("signed:\n%s", text)
	}
	p.sound("signed")
	p.until("of which days, in words", `document.body.innerText.includes("accepted with remarks, from 1 May 2026 to 1 Jun 2026. “one laboratory only, looked at by hand”")`)
	p.look("audit-signed", path)
	p.open(path)
	p.do(chromedp.Click(chromedp.CSS(`button[lang="es"]`)))
	p.until("it is signed in Spanish, too", `document.documentElement.lang === "es" && document.body.innerText.includes("aceptado con observaciones")`)
	p.look("es-audit-signed", path)
	p.open(path)
	p.do(chromedp.Click(chromedp.CSS(`button[lang="en"]`)))
	p.until("the page is in English", `document.documentElement.lang === "en"`)
	all := signed()
	if len(all) != 1 || all[0].Name != "Ilse Marrow" || all[0].Decision != "accepted with remarks" || all[0].Scope != (audit.Scope{Since: "2026-05-01", Until: "2026-06-01"}) {
		t.Fatalf("in the archive: %+v", all)
	}

	v := visit(t, d)
	page := v.get(path, http.StatusOK)
	m := deskToken.FindStringSubmatch(page)
	_, hash, ok := strings.Cut(page, `name="account" value="`)
	if m == nil || !ok || len(hash) < 64 {
		t.Fatal("the form has no token, or no account")
	}
	form := func(change func(url.Values)) url.Values {
		f := url.Values{"form": {m[1]}, "since": {"2026-05-01"}, "until": {"2026-06-01"}, "lab": {""}, "account": {hash[:64]}, "by": {"Orrin Vale"}, "decision": {"accepted"}}
		change(f)
		return f
	}
	if hash[:64] != all[0].Account {
		t.Errorf("signed for account %s, and the page shows %s", all[0].Account, hash[:64])
	}
	for name, change := range map[string]func(url.Values){
		"no name":          func(f url.Values) { f.Set("by", " ") },
		"no decision":      func(f url.Values) { f.Set("decision", "") },
		"another decision": func(f url.Values) { f.Set("decision", "liked") },
		"no account":       func(f url.Values) { f.Del("account") },
	} {
		if code, body := v.post("/audit/sign", form(change), nil); code != http.StatusUnprocessableEntity {
			t.Errorf("%s: %d %s", name, code, body)
		}
	}
	if _, body := v.post("/audit/sign", form(func(f url.Values) { f.Set("account", strings.Repeat("0", 64)) }), nil); !strings.Contains(body, "no longer the one that you read") {
		t.Error("an account that nobody has read is signed for")
	}
	if code, _ := v.post("/audit/sign", form(func(f url.Values) { f.Set("form", "0") }), nil); code != http.StatusForbidden {
		t.Errorf("without the token: %d", code)
	}
	if n := len(signed()); n != 1 {
		t.Errorf("%d sign-offs", n)
	}
}
