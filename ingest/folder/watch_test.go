package folder

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"example.org/windrow/ingest"
)

// The tests below run on the real clock and the real file system.

func run(t *testing.T, dir string, opt Options, handle Handle) (stop func()) {
	t.Helper()
	w, err := New([]Settings{{Dir: dir}}, handle, opt)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- w.Run(ctx) }()
	return func() {
		t.Helper()
		cancel()
		select {
		case err := <-ended:
			if err != nil {
				t.Errorf("run: %v", err)
			}
		case <-time.After(20 * time.Second):
			t.Error("it did not stop")
		}
	}
}

func waitFor(t *testing.T, what string, ok func() bool) {
	t.Helper()
	for end := time.Now().Add(20 * time.Second); time.Now().Before(end); time.Sleep(2 * time.Millisecond) {
		if ok() {
			return
		}
	}
	t.Fatalf("waited in vain for %s", what)
}

func TestThousandFilesAtOnceAreHandledOnceEach(t *testing.T) {
	for _, pollOnly := range []bool{true, false} {
		t.Run(fmt.Sprintf("poll only %v", pollOnly), func(t *testing.T) {
			dir := t.TempDir()
			var mu sync.Mutex
			times, now, most := map[string]int{}, 0, 0
			stop := run(t, dir, Options{Settle: 100 * time.Millisecond, Every: 20 * time.Millisecond, PollOnly: pollOnly}, func(_ context.Context, x Taken) Outcome {
				mu.Lock()
				now++
				most = max(most, now)
				times[x.Name]++
				mu.Unlock()
				time.Sleep(200 * time.Microsecond)
				mu.Lock()
				now--
				mu.Unlock()
				if x.Bytes[len(x.Bytes)-1] == '0' {
					return Outcome{Result: Held}
				}
				return Outcome{Result: Done}
			})
			for i := range 1000 {
				if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("r%04d.csv", i)), []byte(fmt.Sprint("x,", i)), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			count := func(sub string) int { e, _ := os.ReadDir(filepath.Join(dir, sub)); return len(e) }
			waitFor(t, "all files", func() bool { return count("done")+count("held") >= 1100 && count("") == 2 })
			stop()
			if len(times) != 1000 || most > 2 || count("done") != 900 || count("held") != 200 {
				t.Errorf("%d files, at most %d at once, %d done, %d held", len(times), most, count("done"), count("held"))
			}
			for n, k := range times {
				if k != 1 {
					t.Errorf("%s was handled %d times", n, k)
				}
			}
		})
	}
}

func TestStoppingFinishesTheFileInHand(t *testing.T) {
	dir := t.TempDir()
	for i := range 5 {
		if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("%d.csv", i)), []byte("1"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	var begun, ended atomic.Int32
	stop := run(t, dir, Options{Settle: 20 * time.Millisecond, Every: 10 * time.Millisecond, Workers: 1}, func(ctx context.Context, _ Taken) Outcome {
		begun.Add(1)
		time.Sleep(300 * time.Millisecond)
		if ctx.Err() != nil {
			t.Error("the file in hand was cancelled")
		}
		ended.Add(1)
		return Outcome{Result: Done}
	})
	waitFor(t, "the first file", func() bool { return begun.Load() == 1 })
	stop()
	done, _ := os.ReadDir(filepath.Join(dir, "done"))
	if begun.Load() != 1 || ended.Load() != 1 || len(done) != 1 {
		t.Errorf("%d begun, %d ended, %d filed", begun.Load(), ended.Load(), len(done))
	}
}

func TestDroppedReportIsTakenWithinFiveSeconds(t *testing.T) {
	for _, pollOnly := range []bool{true, false} {
		dir := t.TempDir()
		took := make(chan time.Time, 1)
		stop := run(t, dir, Options{PollOnly: pollOnly}, func(context.Context, Taken) Outcome {
			took <- time.Now()
			return Outcome{Result: Done}
		})
		time.Sleep(300 * time.Millisecond)
		if err := os.WriteFile(filepath.Join(dir, "a.csv"), []byte("1"), 0o644); err != nil {
			t.Fatal(err)
		}
		written := time.Now()
		select {
		case at := <-took:
			d := at.Sub(written)
			t.Logf("poll only %v: taken after %v", pollOnly, d)
			if d < 2*time.Second || d > 4*time.Second {
				t.Errorf("poll only %v: taken after %v", pollOnly, d)
			}
		case <-time.After(6 * time.Second):
			t.Errorf("poll only %v: not taken", pollOnly)
		}
		stop()
	}
}

func TestFolderDeletedAndMadeAgainWhileWatching(t *testing.T) {
	parent := t.TempDir()
	dir := filepath.Join(parent, "inbox")
	var mu sync.Mutex
	var codes, handled []string
	stop := run(t, dir, Options{Settle: 30 * time.Millisecond, Every: 10 * time.Millisecond, Report: func(r *ingest.Reason) {
		mu.Lock()
		defer mu.Unlock()
		codes = append(codes, r.Code)
	}}, func(_ context.Context, x Taken) Outcome {
		mu.Lock()
		defer mu.Unlock()
		handled = append(handled, x.Name)
		return Outcome{Result: Done}
	})
	get := func(s *[]string) []string { mu.Lock(); defer mu.Unlock(); return slices.Clone(*s) }
	waitFor(t, "the report that it is gone", func() bool { return len(get(&codes)) == 1 })
	if err := os.Mkdir(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "a.csv"), []byte("1"), 0o644); err != nil {
		t.Fatal(err)
	}
	waitFor(t, "the file", func() bool { return len(get(&handled)) == 1 })
	waitFor(t, "its filing", func() bool { _, err := os.Stat(filepath.Join(dir, "a.csv")); return err != nil })
	if err := os.RemoveAll(dir); err != nil {
		t.Fatal(err)
	}
	waitFor(t, "the second report", func() bool { return len(get(&codes)) == 3 })
	stop()
	if got := strings.Join(get(&codes), " "); got != "folder-gone folder-back folder-gone" {
		t.Errorf("reported %s", got)
	}
}

func TestMoveNeverOverwrites(t *testing.T) {
	for name, move := range map[string]func(string, string) error{"by the system": Disk{}.Move, "by reserving": moveReserving} {
		dir := t.TempDir()
		a, b := filepath.Join(dir, "a"), filepath.Join(dir, "b")
		_ = os.WriteFile(a, []byte("a"), 0o644)
		_ = os.WriteFile(b, []byte("b"), 0o644)
		if err := move(a, b); !errors.Is(err, fs.ErrExist) {
			t.Errorf("%s: got %v", name, err)
		}
		if x, _ := os.ReadFile(b); string(x) != "b" {
			t.Errorf("%s: overwritten", name)
		}
		if err := move(a, filepath.Join(dir, "c")); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if err := move(filepath.Join(dir, "no"), filepath.Join(dir, "d")); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("%s: a missing file: %v", name, err)
		}
		if _, err := os.Stat(filepath.Join(dir, "d")); err == nil {
			t.Errorf("%s: a failed move left something behind", name)
		}
	}
}

// A slowDisk takes its time for a list, as a folder of very many files does.
type slowDisk struct {
	FS
	list  time.Duration
	lists atomic.Int64
}

func (d *slowDisk) List(dir string) ([]fs.FileInfo, error) {
	d.lists.Add(1)
	time.Sleep(d.list)
	return d.FS.List(dir)
}

// Looking takes a small part of the time also where something happens in the
// folder all the time.
func TestSlowLooksAreFewThoughTheBellRings(t *testing.T) {
	dir := t.TempDir()
	disk := &slowDisk{FS: Disk{}, list: 40 * time.Millisecond}
	begun := time.Now()
	stop := run(t, dir, Options{FS: disk, Settle: time.Millisecond, Every: time.Millisecond}, func(context.Context, Taken) Outcome { return Outcome{Result: Done} })
	for i := 0; time.Since(begun) < 2*time.Second; i++ {
		if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("%d.csv", i)), []byte("a"), 0o600); err != nil {
			t.Fatal(err)
		}
		time.Sleep(10 * time.Millisecond)
	}
	stop()
	looks, most := disk.lists.Load(), int64(time.Since(begun)/((lookShare+1)*disk.list))+2
	if looks < 2 || looks > most {
		t.Errorf("%d looks, want 2 to %d", looks, most)
	}
}
