package web_test

import (
	"bytes"
	"fmt"
	"mime/multipart"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"example.org/windrow/cmd/internal/demo"
)

// send sends files as the form of the intake page does.
func (v *visitor) send(files ...demo.Report) (int, string) {
	v.t.Helper()
	m := token.FindStringSubmatch(strings.ReplaceAll(v.get("/intake", http.StatusOK), `/intake?form=`, `name="form" value="`))
	if m == nil {
		v.t.Fatal("the form has no token")
	}
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	for _, f := range files {
		p, err := w.CreateFormFile("files", f.Name)
		if err != nil {
			v.t.Fatal(err)
		}
		if _, err := p.Write(f.Bytes); err != nil {
			v.t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		v.t.Fatal(err)
	}
	req, err := http.NewRequest(http.MethodPost, v.d.srv.URL+"/intake?form="+m[1], &b)
	if err != nil {
		v.t.Fatal(err)
	}
	req.Header.Set("Content-Type", w.FormDataContentType())
	req.Header.Set("Sec-Fetch-Site", "same-origin")
	code, body, _ := v.do(req)
	return code, body
}

func names(t *testing.T, dir string) (out []string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		out = append(out, e.Name())
	}
	return out
}

// A file that is sent lies in the inbox, whole and under a name that is free,
// whatever a browser calls it.
func TestBringIn(t *testing.T) {
	d := ownDesk(t)
	v := visit(t, d)
	limit := d.off.Stages.Limits.Bytes
	inbox := d.off.Config.Folders[0].Path
	r := theReport(t, "TG-26-01402.pdf")
	code, page := v.send(r, r, demo.Report{Name: "../../windrow.yaml", Bytes: []byte("x")}, demo.Report{Name: `C:\tmp\a<b>.csv`, Bytes: []byte("y")}, demo.Report{Name: ".hidden", Bytes: []byte("z")},
		demo.Report{Name: "late.part", Bytes: []byte("p")}, demo.Report{Name: "empty.csv"}, demo.Report{Name: strings.Repeat("ä", 200) + ".csv", Bytes: []byte("long")})
	if code != http.StatusOK {
		t.Fatalf("%d %s", code, page)
	}
	has(t, page, "7 files sent; 1 not taken.", "empty.csv: not taken, since it is empty.", "TG-26-01402.pdf: sent.", "TG-26-01402 (2).pdf: sent.")
	got := names(t, inbox)
	want := []string{"TG-26-01402 (2).pdf", "TG-26-01402.pdf", "a-b-.csv", "hidden", "late.part.bin", "windrow.yaml", strings.Repeat("ä", 58) + ".csv"}
	slices.Sort(want)
	if !slices.Equal(got, want) {
		t.Errorf("the inbox has %q, want %q", got, want)
	}
	if b, err := os.ReadFile(filepath.Join(inbox, "TG-26-01402 (2).pdf")); err != nil || !bytes.Equal(b, r.Bytes) {
		t.Errorf("what was sent is not what lies there: %v", err)
	}
	if b, err := os.ReadFile(filepath.Join(d.off.Config.Dir, "windrow.yaml")); err != nil || len(b) < 10 {
		t.Errorf("the settings were replaced: %v", err)
	}
	// What is too large is not taken, and nothing of it is left.
	_, page = v.send(demo.Report{Name: "large.csv", Bytes: bytes.Repeat([]byte("a"), int(limit)+1)})
	has(t, page, "large.csv: not taken, since it is larger than")
	if after := names(t, inbox); !slices.Equal(after, got) {
		t.Errorf("afterwards the inbox has %q", after)
	}
	if code, _ := v.send(); code != http.StatusUnprocessableEntity {
		t.Errorf("no files: %d", code)
	}
	req, err := http.NewRequest(http.MethodPost, d.srv.URL+"/intake?form=0", strings.NewReader("x"))
	if err != nil {
		t.Fatal(err)
	}
	if code, _, _ := v.do(req); code != http.StatusForbidden {
		t.Errorf("without the token: %d", code)
	}
}

// A report that is brought in by the page is taken by the watch, read, and its
// letter can be read; one in a revised layout waits, and the page says why.
func TestBringInByABrowser(t *testing.T) {
	d := ownDesk(t, theReport(t, "TG-26-01217.pdf")) // the first page of a PDF takes its time, and is no matter of this test
	d.watch(t)
	p := sitDown(t, d)
	dir := t.TempDir()
	var paths []string
	for _, name := range []string{"TG-26-01402.pdf", "TG-26-01920.pdf"} {
		at := filepath.Join(dir, name)
		if err := os.WriteFile(at, theReport(t, name).Bytes, 0o600); err != nil {
			t.Fatal(err)
		}
		paths = append(paths, at)
	}
	p.look("intake-empty", "/intake")
	p.open("/intake")
	p.do(chromedp.SetUploadFiles(chromedp.CSS("#files"), paths), chromedp.Click(chromedp.CSS(".bring button")))
	p.until("they are sent", `document.body.innerText.includes("2 files sent.")`)
	// Nobody loads the page again: it tells by itself.
	p.until("they are seen in a stage", `document.querySelectorAll(".ways .track .now").length > 0`)
	p.until("both came", `document.querySelectorAll(".list .state.ok, .list .state.flagged").length === 2 && document.querySelectorAll(".list .state.held").length === 1`)
	if text := ask[string](p, "document.body.innerText"); !strings.Contains(text, "Nothing is on the way: all that came was taken.") || !strings.Contains(text, "lost or renamed headings") {
		t.Errorf("what came of them:\n%s", text)
	}
	p.sound("what came of them")
	p.look("intake", "/intake")
	p.open(first(t, visit(t, d).get("/reports?q=TG-26-01402", http.StatusOK), "/report/"))
	p.do(chromedp.Click(chromedp.CSS(`a[href^="/sample/"]:not([href*="letter"])`)))
	p.until("the sample", `location.pathname.startsWith("/sample/")`)
	p.do(chromedp.Click(chromedp.CSS(`a[href$="letter?language=en"]`)))
	p.until("the letter", `document.body.innerText.includes("Jasper Threnody")`)
	if held := names(t, d.off.Config.Held); len(held) != 2 { // the file and its note
		t.Errorf("held: %s", fmt.Sprint(held))
	}
}
