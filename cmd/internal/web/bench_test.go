package web_test

import (
	"context"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"example.org/windrow/cmd/internal/demo"
	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest"
	"example.org/windrow/ingest/folder"
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

// watch works on what is dropped into the inbox until it is stopped.
func (d *openDesk) watch(t *testing.T) (stop func()) {
	t.Helper()
	d.off.Config.Watch.Settle, d.off.Config.Watch.Poll = 100*time.Millisecond, 50*time.Millisecond
	d.off.Moved = d.desk.Moved
	w, err := d.off.Watcher(d.off.Config.Folders, d.desk.Note, folder.Options{})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- w.Run(ctx) }()
	var once sync.Once
	stop = func() { once.Do(func() { cancel(); <-ended }) }
	t.Cleanup(stop)
	return stop
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
	d := mendingDesk(t, labReport(t, lab+"TG-26-01402.pdf"))
	stop := d.watch(t)
	for _, name := range []string{"TG-26-01920.pdf", "TG-26-01957.pdf"} {
		if err := os.WriteFile(filepath.Join(d.off.Config.Folders[0].Path, name), labReport(t, lab+"revised/"+name).Bytes, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for end := time.Now().Add(2 * time.Minute); len(names(t, d.off.Config.Held)) != 4; time.Sleep(50 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("held: %q", names(t, d.off.Config.Held))
		}
	}
	stop()
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
	p.open(at)
	p.until("the lines have numbers", `document.querySelectorAll("#gutter span").length > 40`)
	p.until("the marks are there", `document.querySelectorAll("rect.result").length === 18`)

	// What is typed shows on the page by itself: a heading that is not there
	// loses its column, and the numbers of it are not accounted for.
	type edit struct{ was, is string }
	typing := func(e edit) {
		t.Helper()
		if !ask[bool](p, fmt.Sprintf(`(() => { const x = document.querySelector("#text"), i = x.value.indexOf(%q); if (i < 0) return false; x.focus(); x.setSelectionRange(i, i + %d); return true })()`, e.was, len(e.was))) {
			t.Fatalf("the text has no %q", e.was)
		}
		p.do(chromedp.KeyEvent(e.is))
	}
	typing(edit{"{heading: Found, reads: result}", "{heading: Lost, reads: result}"})
	p.until("the marks follow", `document.querySelectorAll("rect.result").length < 18 && document.querySelector("#verdict").innerText.includes("What would hold the report")`)
	p.sound("a heading that is not there")
	// A mistake stands at its line, and leads there; the marks stay.
	n := ask[int](p, `document.querySelectorAll("rect.result").length`)
	typing(edit{"{heading: Lost, reads: result}", "{heading: Lost, reads: rezult}"})
	p.until("a mistake", `document.querySelectorAll("#verdict [data-amiss]").length === 2 && document.querySelector("#verdict").innerText.includes("2 mistakes in the text")`)
	if got := ask[int](p, `document.querySelectorAll("rect.result").length`); got != n {
		t.Errorf("with a mistake %d results are marked, not the %d before", got, n)
	}
	// The first one follows from it: the table has no result left.
	line := ask[string](p, `[...document.querySelectorAll("#gutter .amiss")].at(-1).textContent.replace(/[^0-9]/g, "")`)
	if want := ask[string](p, `String(document.querySelector("#text").value.split("\n").findIndex(l => l.includes("rezult")) + 1)`); line != want || ask[string](p, `[...document.querySelectorAll("[data-amiss]")].at(-1).dataset.line`) != want {
		t.Errorf("the mistake of line %s is shown at line %s", want, line)
	}
	p.sound("a mistake")
	p.do(chromedp.Click(chromedp.CSS("#verdict li:last-child [data-amiss]")))
	if got := ask[string](p, `(() => { const x = document.querySelector("#text"); return document.activeElement === x ? x.value.slice(x.selectionStart, x.selectionEnd) : "" })()`); !strings.Contains(got, "rezult") {
		t.Errorf("the mistake leads to %q", got)
	}
	typing(edit{"{heading: Lost, reads: rezult}", "{heading: Found, reads: result}"})
	p.until("as before", `document.querySelectorAll("rect.result").length === 18`)

	// What would change: both that wait would be used, by this text.
	p.do(chromedp.Click(chromedp.CSS(`button[formaction*="/trial"]`)))
	p.until("it is tried", `document.querySelector("#trial").innerText.includes("nothing was changed")`)
	if got := ask[string](p, `document.querySelector("#trial").innerText`); !strings.Contains(got, "2 that wait would be used") || !strings.Contains(got, "1 would stay as it is") || !strings.Contains(got, "its numbers would be used") {
		t.Errorf("what would change:\n%s", got)
	}
	p.do(chromedp.Click(chromedp.CSS(`button[formaction*="/examples"]`)))
	p.until("the examples", `document.querySelector("#examples li") !== null`)
	p.sound("tried")
	if held := names(t, d.off.Config.Held); len(held) != 4 { // two files with their notes
		t.Errorf("a trial changed what is held: %q", held)
	}

	// A mapping with an open question is not saved.
	p.do(chromedp.SendKeys(chromedp.CSS("#by"), "Ilse Marrow"), chromedp.SendKeys(chromedp.CSS("#because"), "lb/acre since September, by the laboratory's new guide"), chromedp.Click(chromedp.CSS(`button[formaction*="/save"]`)))
	p.until("it is refused", `document.querySelector(".told.bad") !== null && document.body.innerText.includes("questions of the draft not answered yet")`)
	p.sound("refused")
	// The questions are answered one by one, with keys alone.
	p.until("the answers are there", `document.querySelectorAll("[data-answer]:not([hidden])").length === 9`)
	p.do(chromedp.Focus(chromedp.CSS("[data-answer]")))
	for left := 8; left >= 0; left-- {
		p.do(chromedp.KeyEvent(kb.Enter))
		p.until("one less", fmt.Sprintf(`document.querySelectorAll("[data-answer]").length === %d && (%d === 0 || document.activeElement.hasAttribute("data-answer"))`, left, left))
	}
	p.until("it is clean", `document.querySelector("#verdict").innerText.includes("Nothing holds the report any more")`)
	p.do(chromedp.Evaluate[chromedp.Void](`document.querySelector("#date").value = "2026-09-01"; 0`))
	// Who and why were given before the mapping was refused, and stand there still.
	p.until("it is filled in", `document.querySelector("#by").value === "Ilse Marrow" && document.querySelector("#because").value.startsWith("lb/acre since September")`)
	p.do(chromedp.Click(chromedp.CSS(`button[formaction*="/save"]`)))
	p.until("all is read", `document.body.innerText.includes("Saved, and what waited was read again.")`)
	p.sound("saved")
	if got := ask[string](p, "document.body.innerText"); !strings.Contains(got, "2 waited and are used now") || !strings.Contains(got, "thrushgate.yaml") {
		t.Errorf("saved:\n%s", got)
	}
	p.look("bench-saved", at)
	p.open("/held")
	p.until("the queue is empty", `document.body.innerText.includes("Nothing waits.")`)

	// On the disk: the mapping, with who and why; the files have left the held
	// ones; letters are there; the archive has the numbers of the page.
	b, err := os.ReadFile(filepath.Join(d.off.Config.Mappings, "thrushgate.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"# 2026-06-01, Ilse Marrow: lb/acre since September", "from: 2026-09-01", "until: 2026-08-31", "{heading: Found, reads: result}"} {
		if !strings.Contains(string(b), want) {
			t.Errorf("the saved mapping has no %q:\n%s", want, b)
		}
	}
	if held := names(t, d.off.Config.Held); len(held) != 0 {
		t.Errorf("held: %q", held)
	}
	if left := names(t, filepath.Join(d.off.Config.Mappings, "drafts")); len(left) != 0 {
		t.Errorf("of the draft there is still %q", left)
	}
	v := visit(t, d)
	sample := v.get(first(t, v.get(first(t, v.get("/reports?q=TG-26-01920", http.StatusOK), "/report/"), http.StatusOK), "/sample/"), http.StatusOK)
	has(t, sample, "222", "lb/acre", "111") // P by the report's truth, testdata/labs/thrushgate-garden-soil-desk/revised/truth
	has(t, v.get("/lab/thrushgate", http.StatusOK), "letter, Form A", "until 31 Aug 2026", "letter, Form A from 2026-09-09", "from 1 Sep 2026")
	// A report that comes now is read by it at once.
	out := d.off.Process(t.Context(), pipeline.Arrival{Source: ingest.NewSource("again.pdf", append(labReport(t, lab+"revised/TG-26-01957.pdf").Bytes, '\n')), Channel: "folder", Time: day()})
	if out.Status == pipeline.Held || out.Status == pipeline.Failed {
		t.Errorf("a report in the new layout is %s: %v", out.Status, out.Reasons)
	}
}
