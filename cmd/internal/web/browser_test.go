package web_test

import (
	"context"
	_ "embed"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

//go:embed testdata/axe/axe.min.js
var axe string

// screens is where pictures of the pages go, for a person to look at; git
// ignores it.
const screens = "../../../testdata/screens"

// The widths at which pages are looked at: a desk and a telephone.
var widths = []int64{1280, 390}

// A person looks at pages in a real browser.
type person struct {
	t   *testing.T
	ctx context.Context
	d   *openDesk

	mu      sync.Mutex
	amiss   []string // what the browser complained of
	allowed []string // complaints that the test brings about on purpose
}

// sitDown opens a browser on a desk.
func sitDown(t *testing.T, d *openDesk) *person {
	t.Helper()
	path := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if p, err := exec.LookPath(name); err == nil {
			path = p
			break
		}
	}
	if path == "" {
		t.Skip("NOT RUN: there is no chromium on this machine (apt-get install chromium), so no page was looked at in a browser")
	}
	ctx, cancel := context.WithTimeout(t.Context(), 5*time.Minute)
	t.Cleanup(cancel)
	opt := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.Flag("lang", "en-US"), chromedp.UserDataDir(t.TempDir()))
	ctx, cancel = chromedp.NewExecAllocator(ctx, opt...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	p := &person{t: t, ctx: ctx, d: d}
	if err := chromedp.Listen(ctx, p.listen); err != nil {
		t.Fatalf("the browser does not start: %v", err)
	}
	t.Cleanup(p.calm)
	return p
}

// listen notes whatever a browser complains of.
func (p *person) listen(ev any) {
	say := ""
	switch e := ev.(type) {
	case *runtime.EventConsoleAPICalled:
		if e.Type == runtime.ConsoleAPICalledTypeError || e.Type == runtime.ConsoleAPICalledTypeWarning {
			say = fmt.Sprintf("console: %v", e.Args)
		}
	case *runtime.EventExceptionThrown:
		say = "exception: " + e.ExceptionDetails.Text
	case *log.EventEntryAdded:
		if e.Entry.Level == log.EntryLevelError || e.Entry.Level == log.EntryLevelWarning {
			say = "log: " + e.Entry.Text + " " + e.Entry.URL
		}
	case *network.EventResponseReceived:
		if e.Response.Status >= 400 {
			say = fmt.Sprintf("answer %d: %s", e.Response.Status, e.Response.URL)
		}
	case *network.EventLoadingFailed:
		if !e.Canceled {
			say = "not loaded: " + e.ErrorText
		}
	}
	if say != "" {
		p.mu.Lock()
		p.amiss = append(p.amiss, say)
		p.mu.Unlock()
	}
}

// calm fails the test if the browser complained of anything.
func (p *person) calm() {
	p.mu.Lock()
	defer p.mu.Unlock()
complaints:
	for _, s := range p.amiss {
		for _, a := range p.allowed {
			if strings.Contains(s, a) {
				continue complaints
			}
		}
		p.t.Errorf("the browser complains: %s", s)
	}
	p.amiss = nil
}

func (p *person) do(steps ...chromedp.Action[chromedp.Void]) {
	p.t.Helper()
	if err := chromedp.Do(p.ctx, steps...); err != nil {
		p.t.Fatalf("the browser: %v", err)
	}
}

func ask[T any](p *person, js string) T {
	p.t.Helper()
	v, err := chromedp.Run(p.ctx, chromedp.Evaluate[T](js, chromedp.EvalAwaitPromise))
	if err != nil {
		p.t.Fatalf("%s: %v", js, err)
	}
	return v
}

// until waits for something to become true on the page.
func (p *person) until(what, js string) {
	p.t.Helper()
	js = "(() => { try { return " + js + " } catch { return false } })()" // a page that is being changed has no body
	for end := time.Now().Add(30 * time.Second); !ask[bool](p, js); time.Sleep(40 * time.Millisecond) {
		if time.Now().After(end) {
			p.t.Fatalf("not within 30 seconds: %s\n%s", what, ask[string](p, "document.body.innerText"))
		}
	}
}

func (p *person) open(path string) {
	p.t.Helper()
	p.do(chromedp.Navigate(p.d.srv.URL + path))
}

// look opens a page at both widths, and at 200 percent: it must be accessible,
// no wider than the window, lose nothing, and be quiet. A picture of each is kept.
func (p *person) look(name, path string) {
	p.t.Helper()
	for _, w := range widths {
		p.do(chromedp.EmulateViewport(w, 900))
		p.open(path)
		p.until("pictures are there", `[...document.images].every(i => i.complete)`)
		p.sound(fmt.Sprintf("%s at %d", name, w))
		b, err := chromedp.Run(p.ctx, chromedp.FullScreenshot(100))
		if err != nil {
			p.t.Fatal(err)
		}
		keep(p.t, fmt.Sprintf("%s-%d.png", name, w), b)
		if w == widths[0] {
			p.zoomed(name)
		}
	}
	p.do(chromedp.EmulateViewport(widths[0], 900))
}

func keep(t *testing.T, name string, b []byte) {
	t.Helper()
	if err := os.MkdirAll(screens, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(screens, name), b, 0o644); err != nil {
		t.Fatal(err)
	}
}

// sound holds the page that is open against the success criteria of WCAG 2.2,
// levels A and AA, as far as axe knows them.
func (p *person) sound(name string) {
	p.t.Helper()
	p.do(chromedp.Evaluate[chromedp.Void](axe + ";0"))
	found := ask[struct {
		Wrong  []string
		Looked int
	}](p, `(async () => { const r = await axe.run({runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"], resultTypes: ["violations"]}); return {Looked: r.passes.length, Wrong: r.violations.map(v => v.id + ": " + v.help + " – " + v.nodes.slice(0, 3).map(n => n.html.slice(0, 160) + " " + (n.any[0] || n.all[0] || n.none[0] || {}).message).join(" | "))} })()`)
	for _, f := range found.Wrong {
		p.t.Errorf("%s: %s", name, f)
	}
	if found.Looked < 5 {
		p.t.Errorf("%s: axe looked at only %d things", name, found.Looked)
	}
	if wide := ask[int](p, `document.documentElement.scrollWidth - document.documentElement.clientWidth`); wide > 0 {
		p.t.Errorf("%s: the page is %d pixels wider than the window", name, wide)
	}
	// Nor does a field stick out of its form.
	for _, out := range ask[[]string](p, `[...document.querySelectorAll("main form input, main form select, main form textarea")].filter(e => e.offsetParent && e.getBoundingClientRect().right > e.closest("form").getBoundingClientRect().right + 1).map(e => e.outerHTML.slice(0, 80))`) {
		p.t.Errorf("%s: a field sticks out of its form: %s", name, out)
	}
}
