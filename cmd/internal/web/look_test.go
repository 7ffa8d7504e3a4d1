package web_test

import (
	"net/http"
	"net/url"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"example.org/windrow/cmd/internal/demo"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
)

// The page of a used report has a mark for each value of the archive, and each
// mark leads to its value.
func TestLookMarksEveryValue(t *testing.T) {
	v := visit(t, sharedDesk(t))
	at := first(t, v.get("/reports?q=TG-26-01402", http.StatusOK), "/report/")
	page := v.get(at+"/look", http.StatusOK)
	// The report has 19 results, by its truth.
	sample, _, _ := strings.Cut(page, "What else stands on it")
	_, sample, _ = strings.Cut(sample, `<h3>Sample`)
	lines := regexp.MustCompile(`<li id="v-(\d+)" data-n="\d+" class="v result"><a href="#m-(\d+)"`).FindAllStringSubmatch(sample, -1)
	if len(lines) != 19 {
		t.Errorf("%d results have a mark, want 19", len(lines))
	}
	for _, l := range lines {
		if l[1] != l[2] || !strings.Contains(page, `<a href="#v-`+l[1]+`" tabindex="-1"><rect id="m-`+l[1]+`"`) {
			t.Errorf("value %s has no mark that leads back to it", l[1])
		}
	}
	if strings.Contains(page, "Not accounted for</h3>") {
		t.Error("a used report has numbers that are not accounted for")
	}
	req, err := http.NewRequest(http.MethodGet, v.d.srv.URL+at+"/page/1", nil)
	if err != nil {
		t.Fatal(err)
	}
	if code, png, head := v.do(req); code != http.StatusOK || !strings.HasPrefix(png, "\x89PNG") || head.Get("Content-Type") != "image/png" {
		t.Errorf("the picture: %d %v", code, head)
	}
	for _, bad := range []string{"/page/0", "/page/99", "/page/x", "/page/-1"} {
		v.get(at+bad, http.StatusNotFound)
	}
}

func TestLookSaysWhyAReportWaits(t *testing.T) {
	v := visit(t, sharedDesk(t))
	queue := v.get("/held", http.StatusOK)
	has(t, queue, "2 reports", "No mapping recognises this file", "px-7713.pdf", "lost or renamed headings", "TG-26-01920.pdf")
	page := v.get(link(t, queue, "TG-26-01920"), http.StatusOK)
	has(t, page, "Why it waits", "lost or renamed headings", "expected", "Your result", "found", "Found", "next",
		`class="k unaccounted"`, "Not accounted for", "3,644", "That it counts can’t be decided here", "It is set aside")
	page = v.get(link(t, queue, "px-7713"), http.StatusOK)
	has(t, page, "the next that waits", "No mapping recognises", "no mapping knows this report")
	list := v.get(first(t, v.get("/reports?q=MB26-0711", http.StatusOK), "/report/")+"/look", http.StatusOK)
	has(t, list, "<table>", `class="k field"`, `class="k result"`, "Paddock 1")
}

// twoIssues are two reports of one day that contradict each other.
func twoIssues(t *testing.T) []demo.Report {
	t.Helper()
	b, err := os.ReadFile("../../../testdata/labs/marrow-brook-land-water-testing/MB26-0712-export.csv")
	if err != nil {
		t.Fatal(err)
	}
	other := strings.ReplaceAll(string(b), ";506,5;", ";406,5;")
	if other == string(b) {
		t.Fatal("the report has no 506,5 any more")
	}
	return []demo.Report{{Name: "a.csv", Bytes: b}, {Name: "b.csv", Bytes: []byte(other)}}
}

var token = regexp.MustCompile(`name="form" value="([0-9a-f]+)"`)

// A decision is kept and carried out; one that can't be made is refused, and
// nothing is kept.
func TestRuling(t *testing.T) {
	d := ownDesk(t, twoIssues(t)...)
	v := visit(t, d)
	queue := v.get("/held", http.StatusOK)
	has(t, queue, "2 reports", "Marrow Brook", "2 reports, the oldest waits") // one cause, shown once
	a, b := link(t, queue, "a.csv"), link(t, queue, "b.csv")
	page := v.get(a, http.StatusOK)
	has(t, page, "It counts", "It is set aside", "Your name", "Why")
	form := func(decision, by, because string) url.Values {
		m := token.FindStringSubmatch(page)
		if m == nil {
			t.Fatal("the form has no token")
		}
		return url.Values{"form": {m[1]}, "decision": {decision}, "by": {by}, "because": {because}}
	}
	to := strings.TrimSuffix(a, "/look") + "/rule"
	id := strings.TrimSuffix(strings.TrimPrefix(a, "/report/"), "/look")
	for name, f := range map[string]url.Values{"no name": form("count", " ", "so"), "no reason": form("count", "Ilse Marrow", ""), "no decision": form("", "Ilse Marrow", "so"), "another decision": form("erase", "Ilse Marrow", "so"), "too long": form("count", "Ilse Marrow", strings.Repeat("x", 2100))} {
		if code, body := v.post(to, f, nil); code != http.StatusUnprocessableEntity {
			t.Errorf("%s: %d %s", name, code, body)
		}
	}
	if _, _, err := d.off.Archive.Latest(archive.Rulings, id); err == nil {
		t.Error("a decision that was refused is in the archive")
	}
	if code, body := v.post(to, form("count", "Ilse Marrow", "so"), func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") }); code != http.StatusForbidden {
		t.Errorf("decided from another site: %d %s", code, body)
	}
	code, body := v.post(to, form("count", "Ilse Marrow", "the laboratory says <so>"), nil)
	if code != http.StatusOK {
		t.Fatalf("%d %s", code, body)
	}
	has(t, body, "Decided by Ilse Marrow: this report counts.", "a.csv: used", "made", "In force: count, by Ilse Marrow", "The laboratory says &lt;so&gt;.")
	raw, _, err := d.off.Archive.Latest(archive.Rulings, id)
	if err != nil {
		t.Fatal(err)
	}
	if r, err := normalize.ParseRuling(raw); err != nil || r.By != "Ilse Marrow" || r.Because != "the laboratory says <so>" || r.Decision != normalize.Count {
		t.Errorf("kept: %+v %v", r, err)
	}
	has(t, v.get("/held", http.StatusOK), "1 report", "b.csv")
	// The other one of that day can't count as well, and it is said why.
	page = v.get(b, http.StatusOK)
	if code, body = v.post(strings.TrimSuffix(b, "/look")+"/rule", form("count", "Ilse Marrow", "both"), nil); code != http.StatusOK {
		t.Fatalf("%d %s", code, body)
	}
	has(t, body, "Not decided: of another report of the same samples and the same day it was decided that it counts")
	// What is withdrawn is as before.
	if code, body = v.post(to, form("withdrawn", "Ilse Marrow", "a mistake"), nil); code != http.StatusOK {
		t.Fatalf("%d %s", code, body)
	}
	has(t, body, "the decision before counts no more", "a.csv: waits", "put aside")
	has(t, v.get("/held", http.StatusOK), "2 reports")
	for _, l := range d.logs {
		if strings.Contains(l, "Ilse") || strings.Contains(l, "csv") {
			t.Errorf("the log tells of a person or a file: %s", l)
		}
	}
}

// A clerk goes through what waits with keys alone, looks where a value stands,
// and decides.
func TestClerkDecidesInABrowser(t *testing.T) {
	d := ownDesk(t, append(twoIssues(t), theReport(t, "TG-26-01920.pdf"))...)
	p := sitDown(t, d)
	p.open("/")
	key := func(k string) { t.Helper(); p.do(chromedp.KeyEvent(k)) }
	p.open("/held")
	key("j")
	key("j")
	key("k")
	line := ask[string](p, "document.activeElement.textContent")
	if line == "" || !ask[bool](p, `document.activeElement === document.querySelector("main a.row")`) {
		t.Errorf("j, j, k lead to %q", line)
	}
	held := visit(t, d).get("/held", http.StatusOK)
	p.open(first(t, strings.ReplaceAll(held, "/look", ""), "/report/") + "/look")
	p.until("there is a next one", `document.querySelector("a[rel=next]") !== null`)
	next := ask[string](p, `document.querySelector("a[rel=next]").pathname`)
	key("n")
	p.until("n leads to the next that waits", `location.pathname === "`+next+`"`)
	p.open(link(t, held, "TG-26-01920"))
	p.until("the picture", `document.querySelector(".paper img").complete`)
	// From a value to its place.
	key("u")
	if !ask[bool](p, `document.activeElement.closest(".v.unaccounted") !== null && document.querySelectorAll("rect.unaccounted.on").length === 1`) {
		t.Error("u does not lead to a number that is not accounted for, and its place")
	}
	// Larger; then the place is still the one that is seen.
	for range 3 {
		key("+")
	}
	if got := ask[string](p, `document.querySelector("#leaves").dataset.zoom + " " + document.querySelector("#zoomed").textContent`); got != "300 300 %" {
		t.Errorf("three times larger: %s", got)
	}
	key("u")
	p.until("the place is in sight", `(() => { const m = document.querySelector("rect.on").getBoundingClientRect(), l = document.querySelector("#leaves").getBoundingClientRect(); return m.left >= l.left && m.right <= l.right && m.top >= l.top && m.bottom <= l.bottom })()`)
	// From a place to its value.
	p.do(chromedp.KeyEvent("-"), chromedp.KeyEvent("-"))
	n := ask[string](p, `(() => { const r = document.querySelector("rect.result[data-n]"); r.scrollIntoView({block: "center"}); return r.dataset.n })()`)
	xy := ask[[]float64](p, `(() => { const b = document.querySelector("rect.result[data-n]").getBoundingClientRect(); return [b.left + b.width / 2, b.top + b.height / 2] })()`)
	p.do(chromedp.MouseClickXY(xy[0], xy[1]))
	if got := ask[string](p, `(document.querySelector("li.v.on") || {dataset: {}}).dataset.n || ""`); got != n {
		t.Errorf("a click on the place of value %s leads to %q", n, got)
	}
	// To the decision, past all values; Tab goes on from there.
	key("d")
	p.until("d leads to the decision", `document.activeElement.id === "h-decide"`)
	key("\t")
	if got := ask[string](p, `document.activeElement.closest(".decide") ? "" : document.activeElement.outerHTML`); got != "" {
		t.Errorf("behind the heading of the decision stands %s", got)
	}
	p.do(chromedp.Evaluate[chromedp.Void](`document.activeElement.blur(); 0`))
	key("?")
	if !ask[bool](p, `document.querySelector("#keys").open`) {
		t.Error("? does not show the keys")
	}
	p.sound("the keys")
	p.do(chromedp.Click(chromedp.CSS("#keys-on")), chromedp.Click(chromedp.CSS("#keys form button")))
	key("+")
	if ask[string](p, `document.querySelector("#leaves").dataset.zoom`) != "150" {
		t.Error("a key that was switched off does something")
	}
	// The decision, as it is typed and sent.
	p.open(link(t, visit(t, d).get("/held", http.StatusOK), "a.csv"))
	p.do(chromedp.Click(chromedp.CSS(`input[value="count"]`)), chromedp.SendKeys(chromedp.CSS("#by"), "Ilse Marrow"), chromedp.SendKeys(chromedp.CSS("#because"), "the laboratory confirmed it"), chromedp.Click(chromedp.CSS(".decide form button")))
	p.until("it is decided", `document.body.innerText.includes("Decided by Ilse Marrow")`)
	p.sound("decided")
	p.open("/held")
	if text := ask[string](p, "document.body.innerText"); strings.Contains(text, "MB26-0712 a.csv") || !strings.Contains(text, "MB26-0712 b.csv") {
		t.Errorf("after the decision:\n%s", text)
	}
}
