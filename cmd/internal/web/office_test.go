package web_test

import (
	"context"
	"encoding/json"
	"errors"
	"html"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"os"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"example.org/windrow/cmd/internal/access/providertest"
	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/cmd/internal/demo"
	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/cmd/internal/web"
	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/audit"
)

// TestMain lets the test binary be the process that parses, and closes the
// office that tests look at together.
func TestMain(m *testing.M) {
	if code, yes := pipeline.Child(); yes {
		os.Exit(code)
	}
	if code, yes := providertest.Child(); yes {
		os.Exit(code)
	}
	code := m.Run()
	for _, end := range atEnd {
		end()
	}
	os.Exit(code)
}

var atEnd []func()

// day is the office's day in the tests.
func day() time.Time { return time.Date(2026, 6, 1, 9, 30, 0, 0, time.UTC) }

// An openDesk is a workbench that answers, with the office behind it.
type openDesk struct {
	off  *pipeline.Office
	desk *web.Desk
	srv  *httptest.Server
	logs []string
}

// stages are loaded once: they keep nothing.
var stages = sync.OnceValues(func() (*pipeline.Stages, error) {
	st, reasons := pipeline.Load(pipeline.Want{Workers: 2, Version: "test"})
	if len(reasons) > 0 {
		return nil, reasons[0]
	}
	atEnd = append(atEnd, func() { _ = st.Close() })
	return st, nil
})

// openOffice makes the demonstration office in a folder, works on the reports
// given, and opens its desk.
func openOffice(dir string, reports []demo.Report) (*openDesk, error) {
	st, err := stages()
	if err != nil {
		return nil, err
	}
	return openOfficeBy(st, dir, reports)
}

// openOfficeBy is openOffice with stages of the test's own, whose mappings it
// may change.
func openOfficeBy(st *pipeline.Stages, dir string, reports []demo.Report) (*openDesk, error) {
	if err := demo.Make(dir); err != nil {
		return nil, err
	}
	cfg, reasons := config.Load(dir, nil)
	if len(reasons) > 0 {
		return nil, reasons[0]
	}
	off, err := pipeline.OpenOffice(context.Background(), cfg, st)
	if err != nil {
		return nil, err
	}
	off.Today = day
	for i, r := range reports {
		// Each came on a day of its own, some on one.
		at := day().AddDate(0, 0, -i/3).Add(time.Duration(i) * time.Minute)
		if out := off.Process(context.Background(), pipeline.Arrival{Source: ingest.NewSource(r.Name, r.Bytes), Channel: "folder", Time: at, Defaults: pipeline.Defaults{Office: cfg.Office.Name}}); out.Status == pipeline.Failed {
			return nil, errors.New(r.Name + ": " + out.Reasons[0].What)
		}
	}
	d := &openDesk{off: off}
	d.desk, err = web.New(web.Options{Office: off, Version: "test", Account: d.account, Log: func(method, route string, status int, err error) {
		d.logs = append(d.logs, strings.Join([]string{method, route, http.StatusText(status), ingest.AsReason(err).Code}, " "))
	}})
	if err != nil {
		return nil, err
	}
	d.srv = httptest.NewServer(d.desk)
	return d, nil
}

// account audits all that is in the archive, by day of arrival.
func (d *openDesk) account(_ context.Context, scope audit.Scope) (*audit.Account, audit.Binding, error) {
	clerk := audit.NewClerk(scope, normalize.Sources())
	days := map[string]string{}
	if err := d.off.Archive.EachArrival(func(_ string, n archive.Arrival) error {
		days[n.SHA256] = n.Time.Format(time.DateOnly)
		return nil
	}); err != nil {
		return nil, audit.Binding{}, err
	}
	err := d.off.Archive.Each(archive.Reports, func(id string, version int, b []byte) error {
		rep := &normalize.Report{}
		if err := json.Unmarshal(b, rep); err != nil {
			return err
		}
		if day := days[rep.Source.SHA256]; scope.Holds(day, rep.Lab.ID) {
			clerk.Take(rep, audit.Document{Report: id, Version: version, SHA256: strings.Repeat("0", 64), Lab: rep.Lab.ID, File: audit.FileOf(rep), Arrived: day})
		}
		return nil
	})
	if err != nil {
		return nil, audit.Binding{}, err
	}
	b := audit.Binding{Office: d.off.Config.Office.Name, Software: "test", Made: day()}
	err = d.off.Archive.Each(archive.SignOffs, func(_ string, _ int, raw []byte) error {
		s, err := audit.ParseSignOff(raw)
		b.Signed = append(b.Signed, s)
		return err
	})
	return clerk.Account(), b, err
}

func (d *openDesk) close() {
	d.desk.StopTelling()
	d.srv.Close()
	d.desk.Wait()
	_ = d.off.Close() // the test has ended
}

// theReport is a report of the demonstration.
func theReport(t *testing.T, name string) demo.Report {
	t.Helper()
	for _, r := range demo.Reports() {
		if r.Name == name {
			return r
		}
	}
	t.Fatalf("the demonstration has no %s", name)
	return demo.Report{}
}

// shared is an office that no test changes.
var shared = sync.OnceValues(func() (*openDesk, error) {
	dir, err := os.MkdirTemp("", "windrow-desk-")
	if err != nil {
		return nil, err
	}
	d, err := openOffice(dir, demo.Reports())
	if err == nil {
		atEnd = append([]func(){d.close, func() { _ = os.RemoveAll(dir) }}, atEnd...)
	}
	return d, err
})

func sharedDesk(t *testing.T) *openDesk {
	t.Helper()
	d, err := shared()
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// ownDesk is an office of the test's own.
func ownDesk(t *testing.T, reports ...demo.Report) *openDesk {
	t.Helper()
	d, err := openOffice(t.TempDir(), reports)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(d.close)
	return d
}

// A visitor is a browser without pictures: it keeps cookies and follows links.
type visitor struct {
	t *testing.T
	c *http.Client
	d *openDesk
}

func visit(t *testing.T, d *openDesk) *visitor {
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	return &visitor{t, &http.Client{Jar: jar}, d}
}

func (v *visitor) do(req *http.Request) (int, string, http.Header) {
	v.t.Helper()
	resp, err := v.c.Do(req)
	if err != nil {
		v.t.Fatal(err)
	}
	defer resp.Body.Close()
	b, err := io.ReadAll(resp.Body)
	if err != nil {
		v.t.Fatal(err)
	}
	return resp.StatusCode, string(b), resp.Header
}

// get asks for a page, which must answer with the code.
func (v *visitor) get(path string, code int) string {
	v.t.Helper()
	req, err := http.NewRequest(http.MethodGet, v.d.srv.URL+path, nil)
	if err != nil {
		v.t.Fatal(err)
	}
	got, body, _ := v.do(req)
	if got != code {
		v.t.Fatalf("%s answers %d, want %d:\n%s", path, got, code, body)
	}
	return body
}

// post sends a form as a page of the desk would.
func (v *visitor) post(path string, form url.Values, change func(*http.Request)) (int, string) {
	v.t.Helper()
	req, err := http.NewRequest(http.MethodPost, v.d.srv.URL+path, strings.NewReader(form.Encode()))
	if err != nil {
		v.t.Fatal(err)
	}
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	req.Header.Set("Sec-Fetch-Site", "same-origin")
	if change != nil {
		change(req)
	}
	code, body, _ := v.do(req)
	return code, body
}

// has wants a page to hold texts, in their order.
func has(t *testing.T, page string, texts ...string) {
	t.Helper()
	rest := page
	for _, x := range texts {
		_, after, ok := strings.Cut(rest, x)
		if !ok {
			t.Errorf("the page does not have %q in its place:\n%s", x, strings.Join(strings.Fields(tags.ReplaceAllString(page, " ")), " "))
			return
		}
		rest = after
	}
}

var tags = regexp.MustCompile(`<[^>]*>`)

// link is the address of the first link of a page whose text or address has a
// text.
func link(t *testing.T, page, text string) string {
	t.Helper()
	for _, m := range regexp.MustCompile(`(?s)<a [^>]*href="([^"]*)"[^>]*>(.*?)</a>`).FindAllStringSubmatch(page, -1) {
		if strings.Contains(m[2], text) {
			return html.UnescapeString(m[1])
		}
	}
	t.Fatalf("no link says %q", text)
	return ""
}

// first is the first address of a page that begins so and leads no deeper.
func first(t *testing.T, page, prefix string) string {
	t.Helper()
	for _, m := range regexp.MustCompile(`href="([^"]*)"`).FindAllStringSubmatch(page, -1) {
		if rest, ok := strings.CutPrefix(m[1], prefix); ok && !strings.Contains(rest, "/") {
			return html.UnescapeString(m[1])
		}
	}
	t.Fatalf("no link leads to %s", prefix)
	return ""
}
