package metrics

import (
	"strings"
	"testing"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/testutil"
)

func TestSignIns(t *testing.T) {
	reg := prometheus.NewRegistry()
	if err := SignIns(reg, func() (int64, int64, int64) { return 5, 3, 1 }); err != nil {
		t.Fatal(err)
	}
	if err := testutil.GatherAndCompare(reg, strings.NewReader(`# HELP windrow_sign_ins_total Attempts to sign in to the pages, by outcome: ok, failed or delayed.
# TYPE windrow_sign_ins_total counter
windrow_sign_ins_total{outcome="delayed"} 1
windrow_sign_ins_total{outcome="failed"} 3
windrow_sign_ins_total{outcome="ok"} 5
`)); err != nil {
		t.Error(err)
	}
	if err := SignIns(reg, nil); err == nil {
		t.Error("registered twice")
	}
}
