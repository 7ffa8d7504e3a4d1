package web_test

import (
	"net/http"
	"testing"

	"github.com/chromedp/chromedp"
)

func TestPagesInABrowser(t *testing.T) {
	d := sharedDesk(t)
	p := sitDown(t, d)
	v := visit(t, d)
	report := first(t, v.get("/reports?q=TG-26-01402", http.StatusOK), "/report/")
	sample := first(t, v.get(report, http.StatusOK), "/sample/")
	p.look("home", "/")
	p.look("reports", "/reports")
	p.look("reports-found", "/reports?q=terrace&county=Finch")
	p.look("report", report)
	p.look("sample", sample)
	p.do(chromedp.Click(chromedp.CSS("[data-unfold]")))
	if n := ask[int](p, `[...document.querySelectorAll("details.lineage")].filter(d => d.open).length`); n != 19 {
		t.Errorf("%d lineages are open, want 19", n)
	}
	p.sound("a sample with every lineage open")
	// From a step to the outlined value on the page.
	p.do(chromedp.Click(chromedp.CSS("#r-3 .steps a")))
	p.until("the place is marked", `document.querySelectorAll("rect.on").length === 1 && document.querySelector("li.v.on") !== null`)
	p.open(sample + "/letter?language=es")
	p.look("versions", report+"/versions")
	p.look("waiting", "/held")
	p.look("labs", "/labs")
	p.look("lab", first(t, v.get("/labs", http.StatusOK), "/lab/t"))
	p.look("audit", "/audit?since=2026-05-01&until=2026-06-30&lab=")
	p.look("look-used", report+"/look")
	for _, x := range []string{"TG-26-01920", "px-7713", "MB26-0711"} {
		p.look("look-"+x, first(t, v.get("/reports?q="+x, http.StatusOK), "/report/")+"/look")
	}
	p.calm()
	p.allowed = []string{"404"}
	p.look("not-here", "/report/R0123456789abcdef")
}
