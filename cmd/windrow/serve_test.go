package main

import (
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// TestServe has the program itself serve its pages: a report that is dropped in
// while they are open is on them, and an audit can be had; an address that
// another computer could reach is refused.
func TestServe(t *testing.T) {
	dir := t.TempDir()
	if err := makeOffice(dir); err != nil {
		t.Fatal(err)
	}
	if out, errs, code := toldBy(t, "serve", "--office", dir, "--listen", "0.0.0.0:0"); code != exitUsage && code != exitFailed || !strings.Contains(out+errs, "nobody would have to sign in") {
		t.Errorf("0.0.0.0: exit %d\n%s%s", code, out, errs)
	}
	w := startWatching(t, "serve", dir, "--listen", "127.0.0.1:0")
	if page := get(t, w.url+"/"); !strings.HasPrefix(page, "200 ") || !strings.Contains(page, "The archive is empty") {
		t.Errorf("an empty office: %s", page)
	}
	copyFile(t, "../internal/demo/testdata/TG-26-01402.pdf", filepath.Join(dir, "inbox", "a.pdf"))
	w.until(t, 60*time.Second, "the report is on the page", func() bool { return strings.Contains(get(t, w.url+"/reports"), `href="/report/R`) })
	day := time.Now().UTC().Format("2006-01-02")
	if page := get(t, w.url+"/audit?since="+day+"&until="+day); !strings.HasPrefix(page, "200 ") || !strings.Contains(page, "Conversions used") {
		t.Errorf("the audit: %s", page)
	}
	for _, p := range []string{"/healthz", "/metrics", "/letters/", "/audit/workbook?since=" + day} {
		if page := get(t, w.url+p); !strings.HasPrefix(page, "200 ") {
			t.Errorf("%s: %.200s", p, page)
		}
	}
	req, err := http.NewRequest(http.MethodGet, w.url+"/", nil)
	if err != nil {
		t.Fatal(err)
	}
	req.Host = "desk.example"
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	resp.Body.Close()
	if resp.StatusCode != http.StatusForbidden {
		t.Errorf("under a borrowed name: %d", resp.StatusCode)
	}
	w.stop(t)
	for _, s := range []string{w.out.String(), w.errs.String()} {
		if strings.Contains(s, "Threnody") {
			t.Errorf("a client's name was told:\n%s", s)
		}
	}
	if _, err := os.Stat(filepath.Join(dir, "letters", "index.html")); err != nil {
		t.Error(err)
	}
}
