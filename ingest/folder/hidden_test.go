package folder

import (
	"os"
	"path/filepath"
	"testing"
	"time"
)

// TestHiddenReportsAreTold: a file that could be a report and has a hidden name
// is told of once it is not being written any more; what systems hide is not.
func TestHiddenReportsAreTold(t *testing.T) {
	h := newHouse(t)
	for _, name := range []string{".DS_Store", ".gitkeep", "._a.csv", ".~lock.a.csv#", ".a.csv.Xq3f9k"} {
		if r := HiddenReport("in/" + name); r != nil {
			t.Errorf("%s: %v", name, r)
		}
		h.drop(name, "1")
	}
	for _, name := range []string{".a.csv", ".B.PDF", ".csv"} {
		if r := HiddenReport("in/" + name); r == nil || r.Where.File != "in/"+name {
			t.Errorf("%s: %v", name, r)
		}
	}
	h.drop(".a.csv", "1")
	for name, old := range map[string]time.Duration{".a.csv": time.Hour, ".B.pdf": 0} {
		h.drop(name, "1")
		at := h.clock.Now().Add(-old)
		if err := os.Chtimes(filepath.Join(h.dir, name), at, at); err != nil {
			t.Fatal(err)
		}
	}
	w := h.watcher()
	w.look()
	w.look()
	if len(h.reported) != 1 || h.reported[0] != CodeNotTaken {
		t.Errorf("told: %q", h.reported)
	}
}
