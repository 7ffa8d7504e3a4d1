package index_test

import (
	"context"
	"sync"
	"testing"
	"time"

	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive/index"
)

// More writers and readers than an index has connections: preparing what is
// kept must not wait for a connection that a transaction has, which waits for
// what is kept.
func TestCrowd(t *testing.T) { onBoth(t, testCrowd) }

func testCrowd(t *testing.T) {
	const crowd, each = 12, 8
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	ix := open(t, fresh(t))
	var wg sync.WaitGroup
	for w := range crowd {
		wg.Go(func() {
			for i := range each {
				n := w*each + i
				_, r := made(n, normalize.OK, 1, 2)
				if err := ix.AddReport(ctx, r.ID, 1, encode(t, r)); err != nil {
					t.Errorf("report %d: %v", n, err)
					return
				}
				if _, _, err := ix.Known(ctx, r.Source.SHA256); err != nil {
					t.Errorf("what is known of %d: %v", n, err)
					return
				}
				if got, err := ix.Reports(ctx, index.Filter{Limit: 1}); err != nil || len(got) != 1 {
					t.Errorf("after report %d: %d reports, %v", n, len(got), err)
					return
				}
			}
		})
	}
	wg.Wait()
	if got, err := ix.Reports(ctx, index.Filter{Limit: 2 * crowd * each}); err != nil || len(got) != crowd*each {
		t.Errorf("%d reports, want %d; %v", len(got), crowd*each, err)
	}
}
