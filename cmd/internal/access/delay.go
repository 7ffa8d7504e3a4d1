package access

import (
	"container/list"
	"net/netip"
	"sync"
	"time"
)

// A delay makes those wait who try again and again: each failure in a row
// doubles the wait, up to a bound. It forgets who has not tried for a while.
type delay struct {
	free  int           // failures without a wait
	first time.Duration // after the failure beyond these
	most  time.Duration

	mu    sync.Mutex
	by    map[string]*list.Element
	order *list.List // of *trier, the one who tried last in front
}

type trier struct {
	key  string
	n    int
	last time.Time
}

// mostTriers is how many are remembered; those who tried longest ago are
// forgotten first.
const mostTriers = 50_000

// forgetAfter is when a failure counts no more.
const forgetAfter = 12 * time.Hour

func newDelay(free int, first, most time.Duration) *delay {
	return &delay{free: free, first: first, most: most, by: map[string]*list.Element{}, order: list.New()}
}

// after is how long one waits after n failures.
func (d *delay) after(n int) time.Duration {
	if n <= d.free {
		return 0
	}
	w := d.first
	for range n - d.free - 1 {
		if w *= 2; w >= d.most {
			return d.most
		}
	}
	return min(w, d.most)
}

// begin begins an attempt: it gives how long a key still has to wait, and where
// that is not at all, counts the attempt as a failure before it is known what
// it is, so that many that are made at once count one by one.
func (d *delay) begin(key string, now time.Time) (wait time.Duration) {
	d.mu.Lock()
	defer d.mu.Unlock()
	e, ok := d.by[key]
	if !ok {
		e = d.order.PushFront(&trier{key: key})
		d.by[key] = e
		if d.order.Len() > mostTriers {
			old := d.order.Back()
			d.order.Remove(old)
			delete(d.by, old.Value.(*trier).key)
		}
	}
	t := e.Value.(*trier)
	// A clock that was set back must not shut anybody out for longer.
	if after := d.after(t.n); after > 0 {
		if wait = min(t.last.Add(after).Sub(now), d.most); wait > 0 {
			return wait
		}
	}
	if now.Sub(t.last) > forgetAfter {
		t.n = 0
	}
	t.n++
	t.last = now
	d.order.MoveToFront(e)
	return 0
}

// undo takes an attempt back that was no failure.
func (d *delay) undo(key string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if e, ok := d.by[key]; ok {
		if t := e.Value.(*trier); t.n > 0 {
			t.n--
		}
	}
}

// well forgets the failures of a key.
func (d *delay) well(key string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if e, ok := d.by[key]; ok {
		d.order.Remove(e)
		delete(d.by, key)
	}
}

// neighbours is the part of an address by which attempts are counted: of IPv6
// the first 64 bits, since one connection has all addresses behind them.
func neighbours(a netip.Addr) string {
	if a = a.Unmap(); a.Is6() {
		p, err := a.WithZone("").Prefix(64)
		if err == nil {
			return p.String()
		}
	}
	return a.String()
}
