package web_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"

	"example.org/windrow/cmd/internal/demo"
	"example.org/windrow/cmd/internal/pipeline"
)

// mendingDesk is an office whose mappings a test may change.
func mendingDesk(t *testing.T, reports ...demo.Report) *openDesk {
	t.Helper()
	st, reasons := pipeline.Load(pipeline.Want{Workers: 2, Version: "test"})
	if len(reasons) > 0 {
		t.Fatal(reasons[0])
	}
	t.Cleanup(func() { _ = st.Close() }) // after the office is closed
	d, err := openOfficeBy(st, t.TempDir(), reports)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(d.close)
	return d
}

// labReport is a report of the invented laboratories.
func labReport(t *testing.T, at string) demo.Report {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("../../../testdata/labs", at))
	if err != nil {
		t.Fatal(err)
	}
	return demo.Report{Name: filepath.Base(at), Bytes: b}
}

// A laboratory revises its reports; they wait. A clerk mends the mapping beside
// the page, sees what that changes, and saves: all that waited is used.
func TestMendingAMapping(t *testing.T) {
	const lab = "thrushgate-garden-soil-desk/"
	d := mendingDesk(t, labReport(t, lab+"TG-26-01402.pdf"), labReport(t, lab+"revised/TG-26-01920.pdf"), labReport(t, lab+"revised/TG-26-01957.pdf"))
	p := sitDown(t, d)
	p.open("/held")
	p.do(chromedp.Click(chromedp.CSS(`a[href$="/mapping"]`)))
	p.until("the desk", `document.querySelector("#base").value === "thrushgate"`)
	at := ask[string](p, "location.pathname")
	p.look("bench-start", at)
	p.do(chromedp.Click(chromedp.CSS(`input[name=with]`)), chromedp.Click(chromedp.CSS(".decide button")))
	p.until("the draft", `document.querySelector("#text").value.includes("Thrushgate")`)
	p.until("the picture", `document.querySelector(".paper img").complete`)
	p.look("bench", at)
}
