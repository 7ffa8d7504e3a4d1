package ingest

import (
	"context"
	"strings"
	"testing"
	"time"
)

// Time that is up and work that was stopped are told apart, as only the first
// says something about the file.
func TestOver(t *testing.T) {
	lim := Limits{Seconds: 7}
	if r := lim.Over(context.Background().Err(), "the workbook"); r != nil {
		t.Errorf("a context that goes on: %v", r)
	}
	ctx, cancel := context.WithDeadline(context.Background(), time.Unix(0, 0))
	defer cancel()
	if r := lim.Over(ctx.Err(), "the workbook"); r == nil || r.Code != "too-slow" || r.Severity != Fail || !strings.Contains(r.What, "the workbook") || r.Expected != "at most 7 seconds" {
		t.Errorf("out of time: %v", r)
	}
	ctx, cancel = context.WithCancel(context.Background())
	cancel()
	if r := lim.Over(ctx.Err(), "the workbook"); r == nil || r.Code != "stopped" || r.Severity != Fail || !strings.Contains(r.What, "the workbook") {
		t.Errorf("stopped: %v", r)
	}
}

func TestSize(t *testing.T) {
	for n, want := range map[int64]string{0: "0 bytes", 10<<10 - 1: "10239 bytes", 10 << 10: "10 KiB", 10<<20 - 1: "10239 KiB", 64 << 20: "64 MiB"} {
		if got := Size(n); got != want {
			t.Errorf("%d: %q, want %q", n, got, want)
		}
	}
}

// No two members have one name, also where a member is named as another one
// was numbered.
func TestNames(t *testing.T) {
	n := Names{}
	var got []string
	for _, name := range []string{"a (2)", "a", "a", "a", "b", "a (2)"} {
		got = append(got, n.Unique(name))
	}
	if want := "a (2), a, a (3), a (4), b, a (2) (2)"; strings.Join(got, ", ") != want {
		t.Errorf("got %q, want %q", strings.Join(got, ", "), want)
	}
}
