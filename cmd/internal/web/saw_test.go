package web_test

import (
	"context"
	"net/http"
	"net/url"
	"os"
	"slices"
	"strings"
	"testing"

	"example.org/windrow/cmd/internal/access"
)

// What a person who has signed in decides bears their name, whatever the form
// says; and it is written down before it is done.
func TestDecisionsBearTheName(t *testing.T) {
	g := guarded(t, twoOffices(t), false)
	v := signedIn(t, g, "odalys")
	at := link(t, v.get("/held", http.StatusOK), "px-7713")
	page := v.get(at, http.StatusOK)
	has(t, page, "You decide as", "Odalys Fenwick (odalys)")
	if strings.Contains(page, `name="by"`) {
		t.Error("the name is asked for")
	}
	rule := strings.TrimSuffix(at, "/look") + "/rule"
	id := strings.TrimPrefix(strings.TrimSuffix(at, "/look"), "/report/")
	if code, body := v.post(rule, url.Values{"form": {formToken(t, page)}, "decision": {"set aside"}, "by": {"Rolf Tansy"}, "because": {"a test of ours"}}, nil); code != http.StatusSeeOther {
		t.Fatalf("%d %s", code, body)
	}
	has(t, v.get("/report/"+id, http.StatusOK), "set aside, by Odalys Fenwick (odalys)")
	var did []string
	for _, e := range g.lines(t) {
		if slices.Contains(e.Reports, id) && e.Did != access.Saw {
			did = append(did, string(e.Did)+" "+e.Who+" "+e.What+" "+http.StatusText(e.Status))
		}
	}
	if want := []string{"asked to change odalys POST /report/{id}/rule ", "changed odalys POST /report/{id}/rule See Other"}; !slices.Equal(did, want) {
		t.Errorf("got %q, want %q", did, want)
	}
	// Another office decides nothing about it.
	other := signedIn(t, g, "finn")
	if code, _ := other.post(rule, url.Values{"form": {formToken(t, other.get("/held", http.StatusOK))}, "decision": {"withdrawn"}, "because": {"no"}}, nil); code != http.StatusNotFound {
		t.Errorf("the other office: %d", code)
	}
}

// lines are those of the log of who saw what.
func (g *guardedDesk) lines(t *testing.T) []access.Entry {
	t.Helper()
	var out []access.Entry
	_, faults, err := access.Verify(g.log, func(e access.Entry) error {
		out = append(out, e)
		return nil
	})
	if err != nil || len(faults) > 0 {
		t.Fatal(err, faults)
	}
	return out
}

// The log says who saw which report, and nothing of what it says.
func TestWhoSawWhat(t *testing.T) {
	g := guarded(t, twoOffices(t), false)
	v := signedIn(t, g, "odalys")
	list := v.get("/reports?q=threnody", http.StatusOK)
	report := first(t, list, "/report/")
	id := strings.TrimPrefix(report, "/report/")
	v.get(report, http.StatusOK)
	v.get(report+"/original", http.StatusOK)
	v.get("/sample/"+id+"-1", http.StatusOK)
	v.get("/sample/"+id+"-1/letter", http.StatusOK)
	v.get("/report/R0123456789abcdef", http.StatusNotFound)
	v.get("/labs", http.StatusOK)
	v.get("/audit", http.StatusForbidden)
	for range 3 { // as a page does that lies open
		v.get("/intake/state", http.StatusOK)
	}
	other := signedIn(t, g, "finn")
	other.get(report, http.StatusNotFound)
	var got []string
	for _, e := range g.lines(t) {
		if e.What == "GET /intake/state" {
			if len(e.Reports) != 2 {
				t.Errorf("the page of what came names %v", e.Reports)
			}
			e.Reports = nil
		}
		got = append(got, strings.TrimSpace(strings.Join([]string{e.Who, string(e.Did), e.What, strings.Join(e.Reports, ","), strings.Join(e.Records, ",")}, " ")))
		if e.From != "127.0.0.1" || e.At != "2026-06-01T09:30:00.000Z" {
			t.Errorf("from %q at %q", e.From, e.At)
		}
	}
	want := []string{"odalys signed in", "odalys saw GET /reports " + id, "odalys saw GET /report/{id} " + id, "odalys saw GET /report/{id}/original " + id, "odalys saw GET /sample/{id} " + id + " " + id + "-1",
		"odalys saw GET /sample/{id}/letter " + id + " " + id + "-1", "odalys was refused GET /report/{id} R0123456789abcdef", "odalys was refused GET /audit", "odalys saw GET /intake/state", "finn signed in", "finn was refused GET /report/{id} " + id}
	if !slices.Equal(got, want) {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	b, err := os.ReadFile(g.log)
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range []string{"hrenody", "asper", "Plot", "TG-26", ".pdf", pass} {
		if strings.Contains(string(b), x) {
			t.Errorf("the log holds %q", x)
		}
	}
	for _, l := range g.logs {
		if strings.Contains(l, "hrenody") {
			t.Errorf("the log of the program holds a name: %s", l)
		}
	}
}

// Where it can't be written down, no page with a name is shown, nobody is let
// in and nothing is decided; pages without one go on.
func TestNothingWithoutTheLog(t *testing.T) {
	g := guarded(t, twoOffices(t), false)
	v := signedIn(t, g, "odalys")
	held := v.get("/held", http.StatusOK)
	at := strings.TrimSuffix(link(t, held, "px-7713"), "/look")
	if err := os.Rename(g.log, g.log+".away"); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{"/", "/held", "/reports", at, at + "/look", at + "/original", at + "/page/1", "/intake/state"} {
		page := v.get(path, http.StatusServiceUnavailable)
		if strings.Contains(page, "px-7713") || strings.HasPrefix(page, "%PDF") || strings.Contains(page, "PNG") {
			t.Errorf("%s is shown all the same", path)
		}
		has(t, page, "be written down who sees or changes this", "its disk is full")
	}
	code, _ := v.post(at+"/rule", url.Values{"form": {formToken(t, held)}, "decision": {"set aside"}, "because": {"a test"}}, nil)
	if code != http.StatusServiceUnavailable {
		t.Errorf("a decision: %d", code)
	}
	if list, err := g.off.Index.Held(context.Background()); err != nil || len(list) != 2 {
		t.Errorf("it was decided: %d held, %v", len(list), err)
	}
	v.get("/labs", http.StatusOK)
	v.get("/static/desk.css", http.StatusOK)
	other := visit(t, g.openDesk)
	if code, _ := other.signIn("rolf", pass, "/"); code != http.StatusServiceUnavailable {
		t.Errorf("let in: %d", code)
	}
	other.get("/sign-in", http.StatusOK) // and has no session
}

// What is typed at the mapping desk goes out with nearly every key; the log has
// one line of it for each time the page was opened, and none is typed where
// that line can't be written.
func TestTypingIsOneLine(t *testing.T) {
	g := guarded(t, twoOffices(t), false)
	v := signedIn(t, g, "rolf")
	at := strings.TrimSuffix(link(t, v.get("/held", http.StatusOK), "px-7713"), "/look") + "/mapping"
	id := strings.Split(at, "/")[2]
	page := v.get(at, http.StatusOK)
	if code, body := v.post(at+"/draft", url.Values{"form": {formToken(t, page)}, "lab": {"Pexley"}}, nil); code != http.StatusSeeOther && code != http.StatusOK {
		t.Fatalf("%d %s", code, body)
	}
	typed := func(page, text string) int {
		t.Helper()
		code, _ := v.post(at+"/typed?form="+formToken(t, page), url.Values{"text": {text}}, func(r *http.Request) { r.Header.Set("HX-Request", "true") })
		return code
	}
	lines := func() int {
		n := 0
		for _, e := range g.lines(t) {
			if e.What == "POST /report/{id}/mapping/typed" {
				n++
				if e.Did != access.Asked || e.Who != "rolf" || !slices.Equal(e.Reports, []string{id}) {
					t.Errorf("the line says %+v", e)
				}
			}
		}
		return n
	}
	for opened := 1; opened <= 2; opened++ {
		page = v.get(at, http.StatusOK)
		for _, text := range []string{"id: p", "id: pe", "id: pex", "id: pex\nlab: x"} {
			if code := typed(page, text); code != http.StatusOK {
				t.Fatalf("%q: %d", text, code)
			}
		}
		if n := lines(); n != opened {
			t.Errorf("opened %d times, and %d lines of what was typed", opened, n)
		}
	}
	if has := v.get(at, http.StatusOK); !strings.Contains(has, "id: pex\nlab: x") {
		t.Error("what was typed was not kept")
	}
	if err := os.Rename(g.log, g.log+".away"); err != nil {
		t.Fatal(err)
	}
	if code := typed(page, "id: other"); code != http.StatusServiceUnavailable {
		t.Errorf("typed without the log: %d", code)
	}
}
