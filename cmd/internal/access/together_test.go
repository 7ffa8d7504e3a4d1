package access

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
)

// Several processes, here logs of their own, write into one log at once: every
// line is there, in one chain.
func TestLogOfSeveral(t *testing.T) {
	path := filepath.Join(t.TempDir(), "access.jsonl")
	const writers, lines = 6, 25
	var wg sync.WaitGroup
	for w := range writers {
		wg.Go(func() {
			l, err := OpenLog(path, noon)
			if err != nil {
				t.Error(err)
				return
			}
			for i := range lines {
				if err := l.Add(Entry{Who: fmt.Sprintf("w%d", w), Did: Saw, What: fmt.Sprint(i)}, i%5 == 0); err != nil {
					t.Error(err)
				}
			}
			if err := l.Close(); err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	got := map[string]int{}
	x, faults, err := Verify(path, func(e Entry) error { got[e.Who+" "+e.What]++; return nil })
	if err != nil || len(faults) > 0 || x.Lines != writers*lines || len(got) != writers*lines {
		t.Errorf("%+v, %d different, %v, %v", x, len(got), faults, err)
	}
}

// What another process left when it died in the middle of a line is taken off by
// the next line; what is no line of the chain ends the log.
func TestLogGoesOnBehindOthers(t *testing.T) {
	path := aLog(t, 2)
	l, err := OpenLog(path, noon)
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	put := func(s string) {
		t.Helper()
		f, err := os.OpenFile(path, os.O_APPEND|os.O_WRONLY, 0)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := f.WriteString(s); err != nil {
			t.Fatal(err)
		}
		if err := f.Close(); err != nil {
			t.Fatal(err)
		}
	}
	put(`{"n":3,"at":"20`)
	if err := l.Add(Entry{Who: "rolf", Did: Saw}, true); err != nil {
		t.Fatal(err)
	}
	if x, faults := verify(t, path); x.Lines != 4 || faults != "" {
		t.Errorf("%+v\n%s", x, faults)
	}
	put(fmt.Sprintf(`{"n":5,"at":"2026-06-01T12:00:00.000Z","did":"saw","prev":%q}`+"\n", strings.Repeat("0", 64)))
	if err := l.Add(Entry{Who: "rolf", Did: Saw}, true); err == nil || !strings.Contains(err.Error(), "another program wrote") {
		t.Errorf("behind a line of no chain: %v", err)
	}
}
