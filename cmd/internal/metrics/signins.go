package metrics

import (
	"fmt"

	"github.com/prometheus/client_golang/prometheus"
)

// SignIns registers how often somebody was let in to the pages, was not since
// the name or the password was wrong, and was made to wait. look gives the three
// counts since the start; it is called at each scrape, from any goroutine.
func SignIns(reg prometheus.Registerer, look func() (ok, failed, delayed int64)) error {
	const name, help = "windrow_sign_ins_total", "Attempts to sign in to the pages, by outcome: ok, failed or delayed."
	for i, outcome := range []string{"ok", "failed", "delayed"} {
		c := prometheus.NewCounterFunc(prometheus.CounterOpts{Name: name, Help: help, ConstLabels: prometheus.Labels{"outcome": outcome}}, func() float64 {
			ok, failed, delayed := look()
			return float64([]int64{ok, failed, delayed}[i])
		})
		if err := reg.Register(c); err != nil {
			return fmt.Errorf("metrics: %w", err)
		}
	}
	return nil
}
