package web_test

import (
	"fmt"
	"slices"
	"strings"

	"github.com/chromedp/chromedp"
)

// amissAtZoom finds what a person who zooms in would lose or have to scroll
// sideways for. Two-dimensional by their nature, and therefore in boxes that
// scroll by themselves, are the pictures of pages, sheets, tables and the text
// of a mapping; see Reflow, WCAG 2.2, 1.4.10.
const amissAtZoom = `(() => {
  const out = [], wide = document.documentElement.clientWidth, name = e => e.tagName.toLowerCase() + (e.id ? "#" + e.id : "") + (e.classList.length ? "." + [...e.classList].join(".") : "") + " “" + (e.innerText || e.value || "").trim().slice(0, 50) + "”";
  const over = document.documentElement.scrollWidth - wide;
  if (over > 0) out.push("the page is " + over + " pixels wider than the window");
  const scrolls = e => { for (let p = e; p && p !== document.body; p = p.parentElement) { const o = getComputedStyle(p).overflowX; if (o === "auto" || o === "scroll") return true } return false };
  const hidden = e => { for (let p = e; p; p = p.parentElement) { const s = getComputedStyle(p); if (s.clipPath !== "none" || s.visibility === "hidden" || s.display === "none" || p.tagName === "DIALOG" && !p.open) return true } return false };
  for (const e of document.body.querySelectorAll("*")) {
    if (e.closest("svg") && e.tagName !== "svg" || e.classList.contains("skip")) continue;
    const own = [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim()) || ["INPUT", "SELECT", "TEXTAREA", "BUTTON", "IMG", "svg"].includes(e.tagName);
    if (!own || hidden(e) || scrolls(e)) continue;
    const r = e.getBoundingClientRect();
    if (!r.width && !r.height) continue;
    if (r.right > wide + 1 || r.left < -1) out.push("outside of the window: " + name(e) + " " + Math.round(r.left) + " to " + Math.round(r.right));
    const s = getComputedStyle(e), cut = x => x === "hidden" || x === "clip";
    if (e.tagName !== "svg" && (cut(s.overflowX) && e.scrollWidth > e.clientWidth + 1 || cut(s.overflowY) && e.scrollHeight > e.clientHeight + 1)) out.push("cut off: " + name(e));
  }
  return out.slice(0, 8);
})()`

// zoomed looks at the page that is open as at 200 percent on a window of 1280
// pixels, which are then 640 of CSS: nothing is lost, and nobody scrolls in two
// directions (WCAG 2.2, 1.4.4 and 1.4.10). A picture of it is kept.
func (p *person) zoomed(name string) {
	p.t.Helper()
	words := func() []string { return strings.Fields(ask[string](p, "document.body.innerText")) }
	p.do(chromedp.EmulateViewport(1280, 900))
	before := words()
	p.do(chromedp.EmulateViewport(640, 450, chromedp.EmulateScale(2)))
	after := words()
	lost := map[string]bool{}
	for _, w := range before {
		if !slices.Contains(after, w) {
			lost[w] = true
		}
	}
	for w := range lost {
		p.t.Errorf("%s at 200 %%: %q is no longer on the page", name, w)
	}
	for _, a := range ask[[]string](p, amissAtZoom) {
		p.t.Errorf("%s at 200 %%: %s", name, a)
	}
	b, err := chromedp.Run(p.ctx, chromedp.FullScreenshot(100))
	if err != nil {
		p.t.Fatal(err)
	}
	keep(p.t, fmt.Sprintf("%s-zoom.png", name), b)
}
