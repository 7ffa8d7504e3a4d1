package web_test

import (
	"context"
	"net/http"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// On paper, which is narrower than a desk, a table stays a table: a sheet of
// US letter between its margins is 720 pixels wide, and no telephone. What can
// be pressed there is not printed, and nothing is wider than the sheet.
func TestPagesOnPaper(t *testing.T) {
	d := sharedDesk(t)
	p, v := sitDown(t, d), visit(t, d)
	if _, err := chromedp.Run(p.ctx, chromedp.Action[struct{}](func(ctx context.Context, at *chromedp.Target) (struct{}, error) {
		_, err := cdp.Call(ctx, at, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"})
		return struct{}{}, err
	})); err != nil {
		t.Fatal(err)
	}
	p.do(chromedp.EmulateViewport(720, 960))
	report := first(t, v.get("/reports?q=TG-26-01402", http.StatusOK), "/report/")
	for _, path := range []string{"/", "/reports", "/labs", "/lab/thrushgate", report, d.sampleOf(t, v, "TG-26-01402"), "/audit?since=2026-05-01&until=2026-06-30&lab="} {
		p.open(path)
		p.until("the page is there", `document.querySelector(".list thead") !== null`)
		if got := ask[string](p, `[...document.querySelectorAll(".list")].map(x => getComputedStyle(x).display + " " + getComputedStyle(x.tHead).position).find(x => x !== "table static") || ""`); got != "" {
			t.Errorf("%s: a table is %s", path, got)
		}
		if got := ask[string](p, `[...document.querySelectorAll("nav, form, button, .find")].filter(x => x.checkVisibility()).map(x => x.outerHTML.slice(0, 80)).join(" | ")`); got != "" {
			t.Errorf("%s prints %s", path, got)
		}
		if wide := ask[int](p, `document.documentElement.scrollWidth - document.documentElement.clientWidth`); wide > 0 {
			t.Errorf("%s is %d pixels wider than the sheet", path, wide)
		}
	}
	// On paper are the steps that were opened, and no others.
	p.open(d.sampleOf(t, v, "TG-26-01402"))
	p.until("the steps are closed", `document.querySelectorAll("details.lineage").length === 19`)
	shown := `[...document.querySelectorAll("details.lineage")].filter(x => x.checkVisibility()).map(x => x.id).join(" ")`
	if got := ask[string](p, shown); got != "" {
		t.Errorf("nobody opened %s", got)
	}
	p.do(chromedp.Evaluate[chromedp.Void](`document.getElementById("r-3").open = true; 0`))
	if got := ask[string](p, shown); got != "r-3" {
		t.Errorf("r-3 was opened, and on paper is %q", got)
	}
}
