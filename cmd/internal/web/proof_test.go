package web_test

import (
	"net/http"
	"net/url"
	"os/exec"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"example.org/windrow/normalize/archive"
)

// fillAsAPerson fills in what the program left open, as one does who sees the
// page: signs of per cent that the program took for several marks are one, and
// the rest is as the first reading has it. 172 is read as 173.
const fillAsAPerson = `(() => {
  const signs = [];
  let n = 0;
  for (const li of document.querySelectorAll(".compare li")) {
    const input = li.querySelector("input"), small = li.querySelector("small");
    const m = small && small.textContent.match(/^read (.*), then (.*)$/s);
    const read = m ? m[1] : input.value, again = m ? m[2] : read;
    if (read === "172") { input.value = "173"; n++; continue; }
    if (input.value !== "" && read !== "%") continue;
    const at = input.getAttribute("aria-label").match(/box (.*)$/)[1];
    if ([...read].length <= 2 && !/[a-z]/.test(again === "(nothing)" ? "" : again)) {
      const column = at.slice(0, at.indexOf(",") - 1);
      input.value = signs.includes(column) ? "(nothing)" : "%";
      signs.push(column);
    } else input.value = read;
  }
  return n;
})()`

// A scan waits. A clerk compares it with its picture, word by word, and corrects
// a digit; the report is used, and the lineage tells who read it and what the
// program had read.
func TestCorrectingADigit(t *testing.T) {
	if _, err := exec.LookPath("tesseract"); err != nil {
		t.Skip("NOT RUN: tesseract is not on this machine; Debian's package is tesseract-ocr")
	}
	d := ownDesk(t, labReport(t, "dunmere-hand-laboratory/DH-0470.pdf"))
	v := visit(t, d)
	look := link(t, v.get("/held", http.StatusOK), "DH-0470")
	report := strings.TrimSuffix(look, "/look")
	p := sitDown(t, d)
	p.open(look)
	p.do(chromedp.Click(chromedp.CSS(`a[href$="/proof"]`)))
	p.until("the words", `document.querySelectorAll(".compare li").length > 40`)
	p.do(chromedp.Evaluate[chromedp.Void](`document.querySelector("details").open = true; 0`))
	p.until("their pictures", `[...document.images].filter(i => i.complete && i.naturalWidth > 0).length > 100`)
	p.look("proof", report+"/proof")
	p.open(report + "/proof")
	p.until("the words", `document.querySelectorAll(".compare li").length > 40`)
	if n := ask[int](p, fillAsAPerson); n != 1 {
		t.Fatalf("172 stands %d times on the page", n)
	}
	p.sound("filled in")
	// Enter behind a word leads to the next, and accepts nothing.
	p.do(chromedp.SendKeys(chromedp.CSS("ul.compare input"), "\r"))
	p.until("the next word", `document.activeElement === document.querySelectorAll("ul.compare input")[1] && location.pathname.endsWith("/proof")`)
	p.do(chromedp.SendKeys(chromedp.CSS("#by"), "Ilse Marrow"), chromedp.Click(chromedp.CSS(".decide button")))
	p.until("it is kept", `document.body.innerText.includes("Compared by Ilse Marrow")`)
	if text := ask[string](p, "document.body.innerText"); !strings.Contains(text, "used") || !strings.Contains(text, "1 letter made") {
		t.Errorf("compared:\n%s", text)
	}
	p.do(chromedp.Click(chromedp.CSS(`a[href^="/sample/"]:not([href*="letter"])`)))
	p.until("the sample", `location.pathname.startsWith("/sample/")`)
	lineage := ask[string](p, `(() => { for (const d of document.querySelectorAll("details.lineage")) { d.open = true; if (d.innerText.includes("173")) return d.innerText } return "" })()`)
	if !strings.Contains(lineage, "compared with it by Ilse Marrow on 1 Jun 2026") || !strings.Contains(lineage, "the program had read “172”") {
		t.Errorf("the lineage of the corrected number:\n%s", lineage)
	}
	p.sound("the lineage")
	if _, _, err := d.off.Archive.Latest(archive.Proofs, strings.TrimPrefix(report, "/report/")); err != nil {
		t.Errorf("the proof is not in the archive: %v", err)
	}

	// What does not fit is refused, and nothing is kept.
	page := v.settled(report + "/proof")
	tok := deskToken.FindStringSubmatch(strings.ReplaceAll(page, "/proof?form=", `name="form" value="`))
	if tok == nil {
		t.Fatal("the form has no token")
	}
	for name, form := range map[string]url.Values{
		"no name":       {"mark": {"x"}},
		"other picture": {"by": {"Ilse Marrow"}, "mark": {"0000000000000000"}},
		"no words":      {"by": {"Ilse Marrow"}, "mark": {first16(t, page)}},
	} {
		if code, body := v.post(report+"/proof?form="+tok[1], form, nil); code != http.StatusUnprocessableEntity {
			t.Errorf("%s: %d %s", name, code, body)
		}
	}
	if code, _ := v.post(report+"/proof?form=0", url.Values{}, nil); code != http.StatusForbidden {
		t.Errorf("without the token: %d", code)
	}
	for _, bad := range []string{"/proof/word/9.9", "/proof/word/x"} {
		v.get(report+bad, http.StatusNotFound)
	}
}

// first16 is the mark of a form of a comparison.
func first16(t *testing.T, page string) string {
	t.Helper()
	_, after, ok := strings.Cut(page, `name="mark" value="`)
	if !ok || len(after) < 16 {
		t.Fatal("the form has no mark")
	}
	return after[:16]
}
