package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"example.org/windrow/cmd/internal/demo"
)

// A report that a person set aside says so everywhere, and waits nowhere; one
// who decides is led on to what waits next.
func TestSetAsideLeavesTheQueue(t *testing.T) {
	d := ownDesk(t, demo.Report{Name: "list.csv", Bytes: []byte("what,how many\npots,12\n")}, demo.Report{Name: "other.csv", Bytes: []byte("who,when\nAda,9\n")})
	v := visit(t, d)
	queue := v.get("/held", http.StatusOK)
	has(t, queue, "2 reports, those first", "list.csv", "other.csv")
	at := link(t, queue, "list.csv")
	page := v.get(at, http.StatusOK)
	if code, body := v.post(strings.TrimSuffix(at, "/look")+"/rule", url.Values{"form": {formToken(t, page)}, "decision": {"set aside"}, "by": {"Ilse Marrow"}, "because": {"no report of ours"}}, nil); code != http.StatusOK {
		t.Fatalf("%d %s", code, body)
	} else {
		has(t, body, `class="state aside">set aside`, "the next that waits", "Decided by Ilse Marrow: this report is not used.", "list.csv: set aside", "Why it is not used", "No report of ours")
		if strings.Contains(body, "Why it waits") || !strings.Contains(body, link(t, queue, "other.csv")) {
			t.Error("what was set aside is said to wait, or nothing leads on")
		}
	}
	queue = v.get("/held", http.StatusOK)
	has(t, queue, `class="tally">1<`, "1 report, those first", "other.csv")
	if strings.Contains(queue, "list.csv") {
		t.Error("what was set aside waits all the same")
	}
	for _, path := range []string{"/", "/reports", "/intake"} {
		has(t, v.get(path, http.StatusOK), `class="state aside">set aside`)
	}
	has(t, v.get("/reports?status=aside", http.StatusOK), "list.csv", "1 to 1")
	has(t, v.get("/reports?status=waiting", http.StatusOK), "other.csv", "1 to 1")
}

// What came is told as it stands now, and what came before leads to what it is
// the same as.
func TestWhatCameStandsAsItIsNow(t *testing.T) {
	used := theReport(t, "MB26-0711.csv")
	again := used
	again.Name = "the same.csv"
	d := ownDesk(t, append(twoIssues(t), used, again)...)
	v := visit(t, d)
	page := v.get("/intake", http.StatusOK)
	has(t, page, "the same.csv", "came before", "The report that came first")
	if n := strings.Count(page, ">Why it waits<"); n != 2 {
		t.Fatalf("%d wait, want 2:\n%s", n, page)
	}
	at := link(t, v.get("/held", http.StatusOK), "a.csv")
	if code, body := v.post(strings.TrimSuffix(at, "/look")+"/rule", url.Values{"form": {formToken(t, v.get(at, http.StatusOK))}, "decision": {"count"}, "by": {"Ilse Marrow"}, "because": {"the later one"}}, nil); code != http.StatusOK {
		t.Fatalf("%d %s", code, body)
	}
	page = v.get("/intake", http.StatusOK)
	if n := strings.Count(page, ">Why it waits<"); n != 1 || strings.Count(page, ">The report<") != 2 {
		t.Errorf("%d wait after one was decided to count:\n%s", n, page)
	}
}
