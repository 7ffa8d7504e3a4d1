package metrics

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/prometheus/client_golang/prometheus"
)

// Other is the label of everything that is not in its known set.
const Other = "other"

// Outcomes are what may become of a report.
var outcomes = []string{"archived", "held", "duplicate", "failed"}

// Statuses are those of a result, as the plain results table has them.
var statuses = []string{"ok", "flagged", "held"}

// Options are the words that may become labels, and what to report besides.
type Options struct {
	Labs    []string // ids of the laboratories whose mappings are loaded
	Codes   []string // codes of the reasons for which a report may be held
	Stages  []string // names of the stages, in order
	Version string   // version of the program
	Commit  string   // short hash it was built from, "" when not known

	// State looks how the office stands. It is called at each scrape, from any
	// goroutine; nil is an office that never did anything.
	State func() State
}

// Metrics is what one program counts. Its methods may be called at once from
// any goroutine, and do nothing on a nil *Metrics, so that a command that
// serves no metrics need not ask.
type Metrics struct {
	reports *prometheus.CounterVec
	results *prometheus.CounterVec
	holds   *prometheus.CounterVec
	stages  *prometheus.HistogramVec
	known   struct{ labs, codes, stages map[string]bool }
}

// New makes the metrics and registers them with reg. The error is that of the
// registry, when something of the same name is registered already; then none
// of these metrics stays in it.
func New(reg prometheus.Registerer, o Options) (*Metrics, error) {
	m := &Metrics{
		reports: prometheus.NewCounterVec(prometheus.CounterOpts{Name: "windrow_reports_total",
			Help: "Reports finished, by laboratory and by outcome: archived, held, duplicate or failed."}, []string{"lab", "outcome"}),
		results: prometheus.NewCounterVec(prometheus.CounterOpts{Name: "windrow_results_total",
			Help: "Results made of reports, by laboratory and by status: ok, flagged or held."}, []string{"lab", "status"}),
		holds: prometheus.NewCounterVec(prometheus.CounterOpts{Name: "windrow_holds_total",
			Help: "Reasons for which reports were held, by code; one report may have several."}, []string{"code"}),
		stages: prometheus.NewHistogramVec(prometheus.HistogramOpts{Name: "windrow_stage_seconds",
			Help: "Time that one stage took for one report, in seconds.",
			// From a row of text to the default limit of 30 s for one file.
			Buckets: []float64{0.001, 0.003, 0.01, 0.03, 0.1, 0.3, 1, 3, 10, 30}}, []string{"stage"}),
	}
	m.known.labs, m.known.codes, m.known.stages = set(o.Labs), set(o.Codes), set(o.Stages)
	build := prometheus.NewGauge(prometheus.GaugeOpts{Name: "windrow_build_info",
		Help:        "Always 1; its labels tell which program this is.",
		ConstLabels: prometheus.Labels{"version": o.Version, "commit": o.Commit}})
	build.Set(1)

	var done []prometheus.Collector
	for _, c := range []prometheus.Collector{m.reports, m.results, m.holds, m.stages, newStateful(o.State), build} {
		if err := reg.Register(c); err != nil {
			for _, d := range done {
				reg.Unregister(d)
			}
			return nil, fmt.Errorf("metrics: %w", err)
		}
		done = append(done, c)
	}
	// A series that is not there cannot be told from one that is zero, and a
	// rate needs a first value: start what is few at 0.
	for _, lab := range append(slices.Clone(o.Labs), Other) {
		for _, out := range outcomes {
			m.reports.WithLabelValues(lab, out)
		}
	}
	for _, code := range append(slices.Clone(o.Codes), Other) {
		m.holds.WithLabelValues(code)
	}
	return m, nil
}

func set(words []string) map[string]bool {
	out := make(map[string]bool, len(words))
	for _, w := range words {
		if w != "" {
			out[w] = true
		}
	}
	return out
}

func word(known map[string]bool, w string) string {
	if known[w] {
		return w
	}
	return Other
}

// Report counts one finished report of a laboratory.
func (m *Metrics) Report(lab, outcome string) {
	if m == nil {
		return
	}
	if !slices.Contains(outcomes, outcome) {
		outcome = Other
	}
	m.reports.WithLabelValues(word(m.known.labs, lab), outcome).Inc()
}

// Results counts n results of a laboratory that have one status.
func (m *Metrics) Results(lab, status string, n int) {
	if m == nil || n <= 0 {
		return
	}
	if !slices.Contains(statuses, status) {
		status = Other
	}
	m.results.WithLabelValues(word(m.known.labs, lab), status).Add(float64(n))
}

// Hold counts one reason for which a report was held.
func (m *Metrics) Hold(code string) {
	if m == nil {
		return
	}
	m.holds.WithLabelValues(word(m.known.codes, code)).Inc()
}

// Stage notes the time that a stage took for one report.
func (m *Metrics) Stage(stage string, took time.Duration) {
	if m == nil {
		return
	}
	m.stages.WithLabelValues(word(m.known.stages, stage)).Observe(max(0, took.Seconds()))
}

// ErrNotLoopback is returned for an address that another computer could reach.
var ErrNotLoopback = errors.New("metrics: the address is not one of this computer alone")
