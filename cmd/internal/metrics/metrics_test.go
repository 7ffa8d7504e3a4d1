package metrics

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/testutil"
	dto "github.com/prometheus/client_model/go"
)

func newMetrics(t *testing.T) (*Metrics, *prometheus.Registry) {
	t.Helper()
	reg := prometheus.NewPedanticRegistry()
	m, err := New(reg, Options{Labs: []string{"oxbow", "verrin"}, Codes: []string{"unit-differs", "layout-changed"},
		Stages: []string{"ingest", "mappings", "normalize", "interpret", "archive"}, Version: "1.2.3", Commit: "abc",
		State: func() State { return State{OldestWaiting: 90 * time.Second, DiskKnown: true} }})
	if err != nil {
		t.Fatal(err)
	}
	return m, reg
}

// The names, units and help texts follow the rules of the Prometheus project,
// as its own linter states them.
func TestLint(t *testing.T) {
	m, reg := newMetrics(t)
	m.Report("oxbow", "archived")
	m.Results("oxbow", "ok", 3)
	m.Stage("ingest", time.Second)
	problems, err := testutil.GatherAndLint(reg)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range problems {
		t.Errorf("%s: %s", p.Metric, p.Text)
	}
	n, err := testutil.GatherAndCount(reg)
	if err != nil || n == 0 {
		t.Fatalf("%d series: %v", n, err)
	}
	// The linter must be able to complain.
	bad := prometheus.NewRegistry()
	bad.MustRegister(prometheus.NewCounter(prometheus.CounterOpts{Name: "windrow_milliseconds"}))
	if p, _ := testutil.GatherAndLint(bad); len(p) == 0 {
		t.Error("the linter finds nothing wrong with a bad name")
	}
}

func TestCounts(t *testing.T) {
	m, reg := newMetrics(t)
	m.Report("oxbow", "archived")
	m.Report("oxbow", "archived")
	m.Report("Ada Client, 3 Mill Lane", "held")
	m.Report("verrin", "exploded")
	m.Results("verrin", "ok", 41)
	m.Results("verrin", "flagged", 1)
	m.Results("verrin", "ok", 0)
	m.Results("verrin", "ok", -5)
	m.Results("nobody", "strange", 2)
	m.Hold("unit-differs")
	m.Hold("sample 102.pdf")
	want := `
# HELP windrow_build_info Always 1; its labels tell which program this is.
# TYPE windrow_build_info gauge
windrow_build_info{commit="abc",version="1.2.3"} 1
# HELP windrow_holds_total Reasons for which reports were held, by code; one report may have several.
# TYPE windrow_holds_total counter
windrow_holds_total{code="layout-changed"} 0
windrow_holds_total{code="other"} 1
windrow_holds_total{code="unit-differs"} 1
# HELP windrow_oldest_waiting_seconds Age of the report that has waited longest in the watched folders, in seconds; 0 when none waits.
# TYPE windrow_oldest_waiting_seconds gauge
windrow_oldest_waiting_seconds 90
# HELP windrow_reports_total Reports finished, by laboratory and by outcome: archived, held, duplicate or failed.
# TYPE windrow_reports_total counter
windrow_reports_total{lab="other",outcome="archived"} 0
windrow_reports_total{lab="other",outcome="duplicate"} 0
windrow_reports_total{lab="other",outcome="failed"} 0
windrow_reports_total{lab="other",outcome="held"} 1
windrow_reports_total{lab="oxbow",outcome="archived"} 2
windrow_reports_total{lab="oxbow",outcome="duplicate"} 0
windrow_reports_total{lab="oxbow",outcome="failed"} 0
windrow_reports_total{lab="oxbow",outcome="held"} 0
windrow_reports_total{lab="verrin",outcome="archived"} 0
windrow_reports_total{lab="verrin",outcome="duplicate"} 0
windrow_reports_total{lab="verrin",outcome="failed"} 0
windrow_reports_total{lab="verrin",outcome="held"} 0
windrow_reports_total{lab="verrin",outcome="other"} 1
# HELP windrow_results_total Results made of reports, by laboratory and by status: ok, flagged or held.
# TYPE windrow_results_total counter
windrow_results_total{lab="other",status="other"} 2
windrow_results_total{lab="verrin",status="flagged"} 1
windrow_results_total{lab="verrin",status="ok"} 41
`
	if err := testutil.GatherAndCompare(reg, strings.NewReader(want), "windrow_build_info", "windrow_holds_total",
		"windrow_oldest_waiting_seconds", "windrow_reports_total", "windrow_results_total"); err != nil {
		t.Error(err)
	}
}

// Whatever reports hold, the number of series has a bound.
func TestLabelsAreBounded(t *testing.T) {
	m, reg := newMetrics(t)
	var wg sync.WaitGroup
	for i := range 8 {
		wg.Go(func() {
			for j := range 500 {
				w := strings.Repeat("x", 1+(i*500+j)%97)
				m.Report(w, w)
				m.Results(w, w, 1)
				m.Hold(w)
				m.Stage(w, time.Millisecond)
				m.Report("", "")
			}
		})
	}
	wg.Wait()
	n, err := testutil.GatherAndCount(reg)
	if err != nil {
		t.Fatal(err)
	}
	// reports 3 labs x 4 outcomes + other/other, results 1, holds 3, stages 1, the state's 11, build.
	if want := 13 + 1 + 3 + 1 + 11 + 1; n != want {
		t.Errorf("%d series, want %d", n, want)
	}
	if got := testutil.ToFloat64(m.holds.WithLabelValues(Other)); got != 4000 {
		t.Errorf("%v holds counted of 4000", got)
	}
}

func TestStageHistogram(t *testing.T) {
	m, reg := newMetrics(t)
	m.Stage("ingest", 20*time.Millisecond)
	m.Stage("ingest", 2*time.Second)
	m.Stage("ingest", -time.Second) // a clock set back
	fams, err := reg.Gather()
	if err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(fams, func(f *dto.MetricFamily) bool { return f.GetName() == "windrow_stage_seconds" })
	if i < 0 {
		t.Fatal("no histogram")
	}
	h := fams[i].GetMetric()[0].GetHistogram()
	if h.GetSampleCount() != 3 || h.GetSampleSum() != 2.02 {
		t.Errorf("count %d, sum %v", h.GetSampleCount(), h.GetSampleSum())
	}
}

func TestTwiceInOneRegistry(t *testing.T) {
	_, reg := newMetrics(t)
	if m, err := New(reg, Options{}); err == nil || m != nil {
		t.Error("registered twice")
	}
	// A failed New leaves nothing of its own behind.
	reg = prometheus.NewRegistry()
	reg.MustRegister(prometheus.NewCounterVec(prometheus.CounterOpts{Name: "windrow_holds_total", Help: "another"}, []string{"x"}))
	if _, err := New(reg, Options{}); err == nil {
		t.Fatal("took the place of another metric")
	}
	if n, err := testutil.GatherAndCount(reg); err != nil || n != 0 {
		t.Errorf("%d series left: %v", n, err)
	}
}

func TestNil(t *testing.T) {
	var m *Metrics
	m.Report("a", "b")
	m.Results("a", "b", 1)
	m.Hold("a")
	m.Stage("a", 1)
	var s *Server
	if err := s.Close(context.Background()); err != nil {
		t.Error(err)
	}
}

func TestHealth(t *testing.T) {
	for _, x := range []struct {
		name   string
		health func() Health
		code   int
		want   Health
	}{
		{"none", nil, 200, Health{true, []string{}}},
		{"well", func() Health { return Health{Healthy: true} }, 200, Health{true, []string{}}},
		{"ill", func() Health { return Health{Reasons: []string{"the archive cannot be written to: <disk full>"}} }, 503,
			Health{false, []string{"the archive cannot be written to: <disk full>"}}},
		{"ill, without a word", func() Health { return Health{} }, 503, Health{false, []string{"no reason was given"}}},
	} {
		t.Run(x.name, func(t *testing.T) {
			w := httptest.NewRecorder()
			r := httptest.NewRequest("GET", "http://127.0.0.1:8470/healthz", nil)
			Handler(prometheus.NewRegistry(), x.health, nil).ServeHTTP(w, r)
			var got Health
			if err := json.Unmarshal(w.Body.Bytes(), &got); err != nil {
				t.Fatal(err)
			}
			if w.Code != x.code || got.Healthy != x.want.Healthy || !slices.Equal(got.Reasons, x.want.Reasons) ||
				w.Header().Get("Content-Type") != "application/json" {
				t.Errorf("%d %s", w.Code, w.Body)
			}
			if strings.Contains(w.Body.String(), `\u003c`) || strings.Contains(w.Body.String(), "null") {
				t.Errorf("not for people: %s", w.Body)
			}
		})
	}
}

func TestWhoMayAsk(t *testing.T) {
	_, reg := newMetrics(t)
	h := Handler(reg, nil, nil)
	for _, x := range []struct {
		method, host, path string
		code               int
	}{
		{"GET", "127.0.0.1:8470", "/metrics", 200},
		{"GET", "localhost:8470", "/metrics", 200},
		{"GET", "[::1]:8470", "/metrics", 200},
		{"GET", "localhost", "/healthz", 200},
		{"GET", "localhost", "/readyz", 200},
		{"GET", "localhost", "/livez", 200},
		{"HEAD", "localhost", "/healthz", 200},
		{"GET", "evil.example:8470", "/metrics", 403},
		{"GET", "localhost.evil.example", "/healthz", 403},
		{"GET", "192.0.2.1:8470", "/metrics", 403},
		{"POST", "localhost", "/metrics", 405},
		{"GET", "localhost", "/", 404},
		{"GET", "localhost", "/debug/pprof/", 404},
	} {
		w := httptest.NewRecorder()
		r := httptest.NewRequest(x.method, "http://x"+x.path, nil)
		r.Host = x.host
		h.ServeHTTP(w, r)
		if w.Code != x.code {
			t.Errorf("%s %s %s: got %d, want %d", x.method, x.host, x.path, w.Code, x.code)
		}
	}
}

func TestServer(t *testing.T) {
	m, reg := newMetrics(t)
	m.Report("oxbow", "held")
	s, err := Start("127.0.0.1:0", Handler(reg, nil, nil))
	if err != nil {
		t.Fatal(err)
	}
	if s.srv.ReadHeaderTimeout <= 0 || s.srv.ReadTimeout <= 0 || s.srv.WriteTimeout <= 0 || s.srv.IdleTimeout <= 0 {
		t.Error("a server without a time limit")
	}
	resp, err := http.Get("http://" + s.Addr() + "/metrics")
	if err != nil {
		t.Fatal(err)
	}
	b, err := io.ReadAll(resp.Body)
	if err != nil || !strings.Contains(string(b), `windrow_reports_total{lab="oxbow",outcome="held"} 1`) {
		t.Errorf("%v\n%s", err, b)
	}
	if err := resp.Body.Close(); err != nil {
		t.Error(err)
	}
	if _, err := Start(s.Addr(), nil); err == nil {
		t.Error("took an address in use")
	}
	ctx, stop := context.WithTimeout(context.Background(), 5*time.Second)
	defer stop()
	if err := s.Close(ctx); err != nil {
		t.Error(err)
	}
	if c, err := net.DialTimeout("tcp", s.Addr(), time.Second); err == nil {
		_ = c.Close()
		t.Error("still listening after Close")
	}
	for _, a := range []string{"0.0.0.0:0", ":0", "[::]:0", "192.0.2.7:0"} {
		if _, err := Start(a, nil); !errors.Is(err, ErrNotLoopback) {
			t.Errorf("%s: got %v", a, err)
		}
	}
	if _, err := Start("localhost", nil); err == nil {
		t.Error("an address without a port")
	}
}
