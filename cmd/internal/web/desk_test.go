package web_test

import (
	"bytes"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"example.org/windrow/cmd/internal/demo"
)

func TestHomeTellsHowThingsStand(t *testing.T) {
	page := visit(t, sharedDesk(t)).get("/", http.StatusOK)
	has(t, page, "Monday 1 June 2026", "8 reports with 48 samples", "2 reports wait for a person",
		"No mapping recognises this file as a report of a laboratory that the office knows.", "px-7713.pdf · Laboratory not known", "for 2 days",
		"Mon 1 Jun", "3 used, 0 used with a mark, 0 held, 0 came before", "Sun 31 May", "2 used, 0 used with a mark, 1 held",
		"Rose bed", "11 May 2026", "21", "The latest reports", "OT-26-0533")
	if strings.Contains(page, "Wed 20 May") {
		t.Error("days before the first file are listed")
	}
}

func TestReportsAreFound(t *testing.T) {
	v := visit(t, sharedDesk(t))
	for _, x := range []struct {
		query string
		want  []string
		not   string
	}{
		{"", []string{"VA-26-0455.xlsx", "MB26-0711", "OT-26-0533", "1 to 8"}, ""},
		{"q=OT-26", []string{"OT-26-0533", "1 to 1"}, "MB26-0711"},
		{"q=threnody", []string{"TG-26-01402.pdf", "1 to 1"}, "OT-26-0533"},
		{"q=jasper+threnody+alderbrook", []string{"TG-26-01402.pdf", "1 to 1"}, "OT-26-0533"},
		{"q=TG-26-01402", []string{"Samples of exactly this number", "Plot 17", "TG-26-01402.pdf"}, "OT-26-0533"},
		{"county=Quarry", []string{"VA-26-0455.xlsx"}, "OT-26-0533"},
		{"status=held", []string{"px-7713.pdf", "1 to 2"}, "OT-26-0533"},
		{"from=2026-03-01&to=2026-03-31", []string{"OT-26-0533", "1 to 2"}, "MB26-0711"},
		{"q=nowhere", []string{"No report fits all of that"}, "OT-26-0533"},
		{"q=%3Cscript%3Ealert(1)%3C/script%3E", []string{"value=\"&lt;script&gt;alert(1)&lt;/script&gt;\""}, "<script>alert"},
		{"lab=oxbow-tansy&page=1", nil, "MB26-0711"},
	} {
		page := v.get("/reports?"+x.query, http.StatusOK)
		has(t, page, x.want...)
		if x.not != "" && strings.Contains(page, x.not) {
			t.Errorf("?%s has %q", x.query, x.not)
		}
	}
	for _, bad := range []string{"from=yesterday", "page=0", "page=x", "page=999999", "q=" + strings.Repeat("a", 201)} {
		v.get("/reports?"+bad, http.StatusUnprocessableEntity)
	}
}

func TestWhatIsNotHere(t *testing.T) {
	v := visit(t, sharedDesk(t))
	for _, path := range []string{"/nothing", "/report/R0123456789abcdef", "/report/x", "/report/..%2F..%2Fetc", "/sample/R0123456789abcdef-1", "/sample/R0123456789abcdef", "/letters/../windrow.yaml", "/letters/.windrow", "/static/nothing.css"} {
		v.get(path, http.StatusNotFound)
	}
}

func TestOriginalComesAsItCame(t *testing.T) {
	d := sharedDesk(t)
	v := visit(t, d)
	report := first(t, v.get("/reports?q=TG-26-01402", http.StatusOK), "/report/")
	req, err := http.NewRequest(http.MethodGet, d.srv.URL+report+"/original", nil)
	if err != nil {
		t.Fatal(err)
	}
	code, body, head := v.do(req)
	if want := theReport(t, "TG-26-01402.pdf").Bytes; code != http.StatusOK || !bytes.Equal([]byte(body), want) {
		t.Errorf("%d: %d bytes, want %d", code, len(body), len(want))
	}
	if got := head.Get("Content-Disposition"); !strings.HasPrefix(got, `attachment; filename="R`) || !strings.HasSuffix(got, `.pdf"`) || head.Get("Content-Type") != "application/octet-stream" {
		t.Errorf("a browser may show what a stranger sent: %v", head)
	}
}

// Whatever a report says, a page shows it and does not do it.
func TestHostileReport(t *testing.T) {
	const evil = `<img src=x onerror=alert(1)>`
	b := bytes.ReplaceAll(theReport(t, "MB26-0711.csv").Bytes, []byte("Paddock 1"), []byte(evil))
	if !bytes.Contains(b, []byte(evil)) {
		t.Fatal("the report has no Paddock 1 any more")
	}
	d := ownDesk(t, demo.Report{Name: `"><svg onload=alert(2)>.csv`, Bytes: b})
	v := visit(t, d)
	list := v.get("/reports", http.StatusOK)
	report := v.get(first(t, list, "/report/"), http.StatusOK)
	sample := v.get(first(t, report, "/sample/"), http.StatusOK)
	for name, page := range map[string]string{"home": v.get("/", http.StatusOK), "list": list, "report": report, "sample": sample} {
		if strings.Contains(page, "<img src=x") || strings.Contains(page, "<svg onload") {
			t.Errorf("the page %s does what a report says", name)
		}
	}
	has(t, report, "&lt;img src=x")
	has(t, list, "svg onload=alert(2)")
	for _, l := range d.logs {
		if strings.Contains(l, "alert") {
			t.Errorf("the log has a text of a report: %s", l)
		}
	}
}

func TestGuard(t *testing.T) {
	d := sharedDesk(t)
	ask := func(method, target, host string, head map[string]string, body string) *httptest.ResponseRecorder {
		r := httptest.NewRequest(method, target, strings.NewReader(body))
		r.Host = host
		for k, v := range head {
			r.Header.Set(k, v)
		}
		if body != "" {
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		}
		w := httptest.NewRecorder()
		d.desk.ServeHTTP(w, r)
		return w
	}
	for host, want := range map[string]int{"127.0.0.1:8470": 200, "localhost": 200, "[::1]:8470": 200, "desk.example": 403, "127.0.0.1.desk.example": 403, "192.0.2.7:8470": 403, "": 403} {
		if w := ask("GET", "/", host, nil, ""); w.Code != want {
			t.Errorf("named %q: %d, want %d", host, w.Code, want)
		}
	}
	h := ask("GET", "/", "localhost", nil, "").Header()
	csp := h.Get("Content-Security-Policy")
	if !strings.Contains(csp, "default-src 'none'") || strings.Contains(csp, "unsafe") || strings.Contains(csp, "http") || h.Get("X-Content-Type-Options") != "nosniff" || h.Get("Cache-Control") != "no-store" {
		t.Errorf("headers %v", h)
	}
	if c := h.Get("Set-Cookie"); !strings.Contains(c, "HttpOnly") || !strings.Contains(c, "SameSite=Strict") {
		t.Errorf("cookie %q", c)
	}
	cookie := strings.SplitN(h.Get("Set-Cookie"), ";", 2)[0]
	for name, x := range map[string]struct {
		head map[string]string
		want string
	}{
		"a page of another site": {map[string]string{"Sec-Fetch-Site": "cross-site", "Cookie": cookie}, "a page of another site"},
		"another origin":         {map[string]string{"Origin": "https://desk.example", "Cookie": cookie}, "a page of another site"},
		"no token":               {map[string]string{"Sec-Fetch-Site": "same-origin", "Cookie": cookie}, "no longer valid"},
		"no cookie":              {map[string]string{"Sec-Fetch-Site": "same-origin"}, "no longer valid"},
	} {
		w := ask("POST", "/report/R0123456789abcdef/rule", "localhost", x.head, url.Values{"form": {"0"}}.Encode())
		if w.Code != http.StatusForbidden || !strings.Contains(strings.ToLower(w.Body.String()), x.want) {
			t.Errorf("%s: %d %s", name, w.Code, w.Body)
		}
	}
	if w := ask("POST", "/", "localhost", map[string]string{"Sec-Fetch-Site": "same-origin", "Cookie": cookie}, "form="+strings.Repeat("x", 70<<10)); w.Code != http.StatusForbidden {
		t.Errorf("a form of 70 KiB: %d", w.Code)
	}
}

// The list of letters writes a day as letters do.
func TestTheListOfLettersSaysDays(t *testing.T) {
	page := visit(t, sharedDesk(t)).get("/letters/", http.StatusOK)
	has(t, page, `<time datetime="2026-03-25">March 25, 2026</time>`)
}
