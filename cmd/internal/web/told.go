package web

import (
	"crypto/rand"
	"encoding/hex"
	"sync"
)

// A tale is what came of something that a person sent, told once on the page
// that they are led to.
type tale struct {
	Title string
	Lines []string
	Bad   bool

	// Typed is what stood in the form that was refused, to be filled in again.
	Typed map[string]string
}

// mostTales is how many tales wait to be read.
const mostTales = 50

// told keeps tales until they are read.
type told struct {
	mu    sync.Mutex
	by    map[string]*tale
	order []string
}

// put keeps a tale and gives the word by which it is asked for.
func (t *told) put(x *tale) string {
	b := make([]byte, 8)
	_, _ = rand.Read(b) // never fails
	key := hex.EncodeToString(b)
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.by == nil {
		t.by = map[string]*tale{}
	}
	t.by[key] = x
	t.order = append(t.order, key)
	if len(t.order) > mostTales {
		delete(t.by, t.order[0])
		t.order = t.order[1:]
	}
	return key
}

// take gives the tale of that word; nil for none. It may be read again, as
// when a page is loaded anew.
func (t *told) take(key string) *tale {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.by[key]
}
