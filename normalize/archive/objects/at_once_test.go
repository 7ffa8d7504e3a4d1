package objects_test

import (
	"maps"
	"net/http"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/archive/objects"
)

// A store answers late and answers many at once: a copy asks for several files
// together, brings over the same as from a folder, and of a store that fails in
// the midst says what it could not read.
func TestCopiesAtOnce(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "archive")
	local, err := archive.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	if err := fill(local); err != nil {
		t.Fatal(err)
	}
	want := folderOf(t, dir)

	var mu sync.Mutex
	under, most, fail := 0, 0, false
	at := fake(t, func(h http.Handler) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if r.Method != http.MethodGet {
				h.ServeHTTP(w, r)
				return
			}
			mu.Lock()
			under++
			most = max(most, under)
			bad := fail && strings.Contains(r.URL.Path, "/originals/")
			mu.Unlock()
			defer func() { mu.Lock(); under--; mu.Unlock() }()
			time.Sleep(5 * time.Millisecond)
			if bad {
				w.WriteHeader(http.StatusForbidden)
				return
			}
			h.ServeHTTP(w, r)
		})
	})
	s, err := objects.Open(t.Context(), at)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	a := opened(t, s)
	if _, _, err := a.ImportFrom(t.Context(), local, nil); err != nil {
		t.Fatal(err)
	}
	verified(t, a)
	most = 0
	out := filepath.Join(t.TempDir(), "out")
	n, err := a.ExportTo(t.Context(), out)
	if err != nil {
		t.Fatal(err)
	}
	if got := folderOf(t, out); !maps.Equal(got, want) || n.New != len(want)-2 { // FORMAT.md and format.json every archive has
		t.Errorf("exported %d files, %d of them new; the folder has %d", len(got), n.New, len(want))
	}
	if most < 4 || most > s.AtOnce() {
		t.Errorf("at most %d files were asked for at once, want 4 to %d", most, s.AtOnce())
	}
	mu.Lock()
	fail = true
	mu.Unlock()
	_, err = a.ExportTo(t.Context(), filepath.Join(t.TempDir(), "cut"))
	if r := ingest.AsReason(err); err == nil || !strings.Contains(r.Where.File, "originals/") || r.Next == "" {
		t.Errorf("of a store that does not give its originals: %v", err)
	}
}
