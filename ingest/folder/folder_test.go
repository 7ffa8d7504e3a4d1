package folder

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"example.org/windrow/ingest"
)

// A hand clock moves only when a test moves it. Waiting for it moves it, so
// that Once runs at once.
type handClock struct {
	mu  sync.Mutex
	now time.Time
}

func newClock() *handClock {
	return &handClock{now: time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)}
}

func (c *handClock) Now() time.Time { c.mu.Lock(); defer c.mu.Unlock(); return c.now }

func (c *handClock) After(d time.Duration) <-chan time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(d)
	ch := make(chan time.Time, 1)
	ch <- c.now
	return ch
}

// An odd disk fails where a test wants it to.
type oddDisk struct {
	Disk
	list, read, move, write, sync func(path string) error
	wrote                         func(path string)
}

func ask(f func(string) error, path string) error {
	if f == nil {
		return nil
	}
	return f(path)
}

func (d *oddDisk) List(dir string) ([]fs.FileInfo, error) {
	if err := ask(d.list, dir); err != nil {
		return nil, err
	}
	return d.Disk.List(dir)
}

func (d *oddDisk) Read(path string, limit int64) ([]byte, fs.FileInfo, error) {
	if err := ask(d.read, path); err != nil {
		return nil, nil, err
	}
	return d.Disk.Read(path, limit)
}

func (d *oddDisk) Move(from, to string) error {
	if err := ask(d.move, from); err != nil {
		return err
	}
	return d.Disk.Move(from, to)
}

func (d *oddDisk) Write(path string, b []byte, modified time.Time) error {
	if err := ask(d.write, path); err != nil {
		return err
	}
	err := d.Disk.Write(path, b, modified)
	if d.wrote != nil {
		d.wrote(path)
	}
	return err
}

func (d *oddDisk) SyncDir(dir string) error {
	if err := ask(d.sync, dir); err != nil {
		return err
	}
	return d.Disk.SyncDir(dir)
}

// A house is an inbox with what was handled from it.
type house struct {
	t       *testing.T
	dir     string
	clock   *handClock
	disk    *oddDisk
	outcome func(Taken) Outcome

	mu       sync.Mutex
	handled  []string
	reported []string
}

func newHouse(t *testing.T) *house {
	return &house{t: t, dir: t.TempDir(), clock: newClock(), disk: &oddDisk{}, outcome: func(Taken) Outcome { return Outcome{Result: Done} }}
}

func (h *house) watcher() *Watcher {
	h.t.Helper()
	w, err := New([]Settings{{Dir: h.dir, Office: "Wren", County: "Wren", LandUse: "lawn"}}, func(_ context.Context, x Taken) Outcome {
		h.mu.Lock()
		h.handled = append(h.handled, x.Name+"="+string(x.Bytes))
		h.mu.Unlock()
		return h.outcome(x)
	}, Options{Clock: h.clock, FS: h.disk, PollOnly: true, Report: func(r *ingest.Reason) {
		h.mu.Lock()
		defer h.mu.Unlock()
		h.reported = append(h.reported, r.Code)
	}})
	if err != nil {
		h.t.Fatal(err)
	}
	return w
}

func (h *house) drop(name, text string) {
	h.t.Helper()
	if err := os.WriteFile(filepath.Join(h.dir, name), []byte(text), 0o644); err != nil {
		h.t.Fatal(err)
	}
}

func (h *house) once(w *Watcher) Pass {
	h.t.Helper()
	p, err := w.Once(context.Background())
	if err != nil {
		h.t.Fatal(err)
	}
	return p
}

// lies lists what is in a folder of the house, without subfolders.
func (h *house) lies(sub string) string {
	h.t.Helper()
	all, err := os.ReadDir(filepath.Join(h.dir, sub))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		h.t.Fatal(err)
	}
	var names []string
	for _, e := range all {
		if !e.IsDir() {
			names = append(names, e.Name())
		}
	}
	return strings.Join(names, " ")
}

func (h *house) want(what, got, want string) {
	h.t.Helper()
	if got != want {
		h.t.Errorf("%s: got %q, want %q", what, got, want)
	}
}

func TestDoneAndHeldFilesAreFiled(t *testing.T) {
	h := newHouse(t)
	h.outcome = func(x Taken) Outcome {
		if x.Folder.Office != "Wren" || x.Folder.County != "Wren" || x.Folder.LandUse != "lawn" {
			t.Errorf("settings %+v", x.Folder)
		}
		if x.Name == "bad.csv" {
			return Outcome{Result: Held, Reasons: []*ingest.Reason{{Code: "unit-differs", Severity: ingest.Hold, What: "the unit is another", Next: "look"}}}
		}
		return Outcome{Result: Done}
	}
	h.drop("good.csv", "1")
	h.drop("bad.csv", "2")
	if p := h.once(h.watcher()); p != (Pass{Done: 1, Held: 1}) {
		t.Errorf("pass %+v", p)
	}
	h.want("inbox", h.lies(""), "")
	h.want("done", h.lies("done"), "2026-11-25_good.csv")
	h.want("held", h.lies("held"), "bad.csv bad.csv.why.txt")
	note, _ := os.ReadFile(filepath.Join(h.dir, "held", "bad.csv.why.txt"))
	if !strings.Contains(string(note), "The unit is another.") || !strings.Contains(string(note), filepath.Join(h.dir, "held", "bad.csv")+"\n") {
		t.Errorf("note:\n%s", note)
	}
}

func TestNamesThatAreTakenGetANumber(t *testing.T) {
	h := newHouse(t)
	h.outcome = func(x Taken) Outcome {
		if strings.HasPrefix(x.Name, "h") {
			return Outcome{Result: Held}
		}
		return Outcome{Result: Done}
	}
	w := h.watcher()
	for i := range 3 {
		h.drop("a.csv", fmt.Sprint("a", i))
		h.drop("held.tar.gz", fmt.Sprint("h", i))
		h.once(w)
	}
	h.want("done", h.lies("done"), "2026-11-25_a-2.csv 2026-11-25_a-3.csv 2026-11-25_a.csv")
	h.want("held", h.lies("held"), "held.tar-2.gz held.tar-2.gz.why.txt held.tar-3.gz held.tar-3.gz.why.txt held.tar.gz held.tar.gz.why.txt")
	for name, want := range map[string]string{"done/2026-11-25_a.csv": "a0", "done/2026-11-25_a-2.csv": "a1", "held/held.tar-3.gz": "h2"} {
		b, _ := os.ReadFile(filepath.Join(h.dir, name))
		h.want(name, string(b), want)
	}
}

func TestLongNamesAreCut(t *testing.T) {
	long := strings.Repeat("ü", 124) + ".csv" // 252 bytes
	h := newHouse(t)
	h.outcome = func(Taken) Outcome { return Outcome{Result: Held} }
	h.drop(long, "1")
	if p := h.once(h.watcher()); p.Held != 1 {
		t.Errorf("pass %+v, reported %v", p, h.reported)
	}
	h.want("inbox", h.lies(""), "")
}

func TestTemporaryAndOtherNamesArePassedOver(t *testing.T) {
	h := newHouse(t)
	for _, n := range []string{"a.part", "b.TMP", "c.crdownload", "~$d.xlsx", ".e.csv", "f.swp", "g.csv~", "h.csv.why.txt"} {
		h.drop(n, "1")
	}
	if err := os.Mkdir(filepath.Join(h.dir, "sub"), 0o755); err != nil {
		t.Fatal(err)
	}
	h.drop("sub/inside.csv", "1")
	if err := os.Symlink("/etc/hostname", filepath.Join(h.dir, "link.csv")); err != nil {
		t.Fatal(err)
	}
	w := h.watcher()
	if p := h.once(w); p != (Pass{}) || len(h.handled) > 0 || w.Oldest() != 0 {
		t.Errorf("pass %+v, handled %v", p, h.handled)
	}
}

// What lies in the folder and is no file is told of by its name, once as long
// as it lies there; where files are filed is no such thing.
func TestWhatIsNoFileIsTold(t *testing.T) {
	h := newHouse(t)
	if err := os.Mkdir(filepath.Join(h.dir, "april"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("/etc/hostname", filepath.Join(h.dir, "link.csv")); err != nil {
		t.Fatal(err)
	}
	h.drop("a.csv", "1")
	w := h.watcher()
	h.once(w)
	h.once(w) // done is there now
	if len(h.reported) != 2 || !strings.Contains(h.reported[0], CodeNotTaken) || !strings.Contains(h.reported[1], CodeNotTaken) {
		t.Fatalf("told: %q", h.reported)
	}
	for name, mode := range map[string]fs.FileMode{"zip": fs.ModeDir, "copy of the file": fs.ModeSymlink, "take it away": fs.ModeNamedPipe} {
		if r := NotTaken("x/april", mode); !strings.Contains(r.Next, name) || r.Where.File != "x/april" {
			t.Errorf("of %v it is said: %v", mode, r)
		}
	}
	if err := os.Remove(filepath.Join(h.dir, "april")); err != nil {
		t.Fatal(err)
	}
	h.once(w)
	if err := os.Mkdir(filepath.Join(h.dir, "april"), 0o755); err != nil {
		t.Fatal(err)
	}
	h.once(w)
	if len(h.reported) != 3 {
		t.Errorf("a folder that comes again is told of again; told: %q", h.reported)
	}
}

func TestHalfWrittenFileIsNotTouched(t *testing.T) {
	h := newHouse(t)
	w := h.watcher()
	for i := range 10 {
		h.drop("slow.csv", strings.Repeat("x", i+1))
		w.look()
		h.clock.After(1900 * time.Millisecond)
		w.look()
		w.start(context.Background())
		w.wg.Wait()
	}
	if len(h.handled) > 0 {
		t.Fatalf("handled while it grew: %v", h.handled)
	}
	if got := w.Oldest(); got != 19*time.Second {
		t.Errorf("oldest waits %v", got)
	}
	h.clock.After(2 * time.Second)
	w.look()
	w.start(context.Background())
	w.wg.Wait()
	h.want("handled", strings.Join(h.handled, " "), "slow.csv=xxxxxxxxxx")
}

func TestSameSizeButNewerTimeIsAChange(t *testing.T) {
	h := newHouse(t)
	w := h.watcher()
	h.drop("a.csv", "1")
	w.look()
	h.clock.After(2 * time.Second)
	when := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	if err := os.Chtimes(filepath.Join(h.dir, "a.csv"), when, when); err != nil {
		t.Fatal(err)
	}
	w.look()
	w.start(context.Background())
	w.wg.Wait()
	if len(h.handled) > 0 {
		t.Errorf("handled although it had just changed")
	}
}

func TestFileThatGrowsWhileItIsReadIsLeft(t *testing.T) {
	h := newHouse(t)
	w := h.watcher()
	h.drop("a.csv", "1")
	grown := false
	h.disk.read = func(path string) error {
		if !grown {
			grown = true
			h.drop("a.csv", "1,2")
		}
		return nil
	}
	h.once(w)
	if len(h.handled) > 0 {
		t.Fatalf("handled %v", h.handled)
	}
	h.once(w)
	h.want("handled", strings.Join(h.handled, " "), "a.csv=1,2")
}

func TestEmptyFileWaitsLonger(t *testing.T) {
	h := newHouse(t)
	w := h.watcher()
	h.drop("a.csv", "")
	if p := h.once(w); p.Waiting != 1 {
		t.Errorf("pass %+v", p)
	}
	wait, some := w.Empty()
	if !some || wait <= 0 || wait > 30*time.Second {
		t.Errorf("an empty file waits %v, %v", wait, some)
	}
	h.clock.After(wait)
	if p := h.once(w); p.Done != 1 {
		t.Errorf("pass %+v", p)
	}
	if _, some := w.Empty(); some {
		t.Error("an empty file waits after it was filed")
	}
}

func TestFileReplacedWhileInHandIsANewFile(t *testing.T) {
	h := newHouse(t)
	w := h.watcher()
	h.drop("a.csv", "old")
	h.outcome = func(x Taken) Outcome {
		if string(x.Bytes) == "old" {
			h.drop("a.csv", "newer")
		}
		return Outcome{Result: Done}
	}
	h.once(w)
	h.want("inbox", h.lies(""), "a.csv")
	h.once(w)
	h.want("handled", strings.Join(h.handled, " "), "a.csv=old a.csv=newer")
	b, _ := os.ReadFile(filepath.Join(h.dir, "done", "2026-11-25_a.csv"))
	h.want("done", string(b), "newer")
}

func TestFileReplacedJustBeforeItIsMovedGoesBack(t *testing.T) {
	h := newHouse(t)
	w := h.watcher()
	h.drop("a.csv", "old")
	replaced := false
	h.disk.move = func(from string) error {
		if !replaced {
			replaced = true
			h.drop("a.csv", "newer")
		}
		return nil
	}
	h.once(w)
	h.want("inbox", h.lies(""), "a.csv")
	h.want("done", h.lies("done"), "")
	h.once(w)
	h.want("handled", strings.Join(h.handled, " "), "a.csv=old a.csv=newer")
}

func TestPassingFailureIsTriedAgainLater(t *testing.T) {
	h := newHouse(t)
	w := h.watcher()
	h.drop("a.csv", "1")
	full := true
	h.outcome = func(Taken) Outcome {
		if full {
			return Outcome{Result: Again, Reasons: []*ingest.Reason{{Code: "disk-full", Severity: ingest.Flag, What: "the disk is full", Next: "make room"}}}
		}
		return Outcome{Result: Done}
	}
	for _, wait := range []time.Duration{5, 10, 20, 40} {
		n := len(h.handled)
		w.look()
		h.clock.After(2 * time.Second)
		w.look()
		w.start(context.Background())
		w.wg.Wait()
		if len(h.handled) != n+1 {
			t.Fatalf("not tried when it was due")
		}
		h.clock.After(wait*time.Second - time.Millisecond)
		w.look()
		w.start(context.Background())
		w.wg.Wait()
		if len(h.handled) != n+1 {
			t.Fatalf("tried again before %v s", int(wait))
		}
	}
	h.want("inbox", h.lies(""), "a.csv")
	full = false
	h.clock.After(5 * time.Minute)
	h.once(w)
	h.want("inbox", h.lies(""), "")
	if len(h.reported) != 4 {
		t.Errorf("reported %v", h.reported)
	}
}

func TestFailedMoveIsTriedAgainWithoutHandlingAgain(t *testing.T) {
	h := newHouse(t)
	w := h.watcher()
	h.drop("a.csv", "1")
	h.disk.move = func(string) error { return errors.New("no space left on device") }
	h.outcome = func(Taken) Outcome { return Outcome{Result: Held} }
	h.once(w)
	h.want("inbox", h.lies(""), "a.csv")
	h.want("held", h.lies("held"), "")
	h.want("reported", strings.Join(h.reported, " "), "not-filed")
	h.disk.move = nil
	h.clock.After(time.Minute)
	h.once(w)
	h.want("held", h.lies("held"), "a.csv a.csv.why.txt")
	if len(h.handled) != 1 {
		t.Errorf("handled %v", h.handled)
	}
}

func TestBetweenDevicesTheOriginalGoesLast(t *testing.T) {
	other := func(h *house) func(string) error {
		return func(from string) error {
			if filepath.Dir(from) == h.dir {
				return ErrOtherDevice
			}
			return nil
		}
	}
	t.Run("sound", func(t *testing.T) {
		h := newHouse(t)
		h.disk.move = other(h)
		h.drop("a.csv", "1")
		h.once(h.watcher())
		h.want("inbox", h.lies(""), "")
		h.want("done", h.lies("done"), "2026-11-25_a.csv")
	})
	for name, odd := range map[string]func(h *house){
		"disk full": func(h *house) { h.disk.write = func(string) error { return errors.New("no space left on device") } },
		"copy differs": func(h *house) {
			h.disk.wrote = func(path string) { _ = os.WriteFile(path, []byte("2"), 0o644) }
		},
		"no sync": func(h *house) {
			h.disk.sync = func(string) error { return errors.New("input/output error") }
		},
	} {
		t.Run(name, func(t *testing.T) {
			h := newHouse(t)
			h.disk.move = other(h)
			odd(h)
			h.drop("a.csv", "1")
			if p := h.once(h.watcher()); p.Done != 0 || p.Again != 1 {
				t.Errorf("pass %+v", p)
			}
			h.want("inbox", h.lies(""), "a.csv")
			h.want("done", h.lies("done"), "")
		})
	}
}

func TestTooLargeFileIsHeldUnread(t *testing.T) {
	h := newHouse(t)
	w := h.watcher()
	w.opt.MaxBytes = 10
	h.drop("a.csv", "12345678901")
	h.once(w)
	if len(h.handled) != 0 {
		t.Error("it was handled")
	}
	h.want("held", h.lies("held"), "a.csv a.csv.why.txt")
}

func TestPanicInHandleLosesNothing(t *testing.T) {
	h := newHouse(t)
	h.outcome = func(Taken) Outcome { panic("oh") }
	h.drop("a.csv", "1")
	if p := h.once(h.watcher()); p.Again != 1 {
		t.Errorf("pass %+v", p)
	}
	h.want("inbox", h.lies(""), "a.csv")
}

func TestFolderThatGoesAndComesBack(t *testing.T) {
	h := newHouse(t)
	w := h.watcher()
	h.disk.list = func(string) error { return errors.New("host is down") }
	for range 3 {
		if _, err := w.Once(context.Background()); ingest.AsReason(err) == nil || ingest.AsReason(err).Code != "folder-gone" {
			t.Errorf("got %v", err)
		}
	}
	h.disk.list = nil
	h.drop("a.csv", "1")
	h.once(w)
	h.want("reported", strings.Join(h.reported, " "), "folder-gone folder-back")
	h.want("handled", strings.Join(h.handled, " "), "a.csv=1")
}

func TestSettingsThatCannotWork(t *testing.T) {
	handle := func(context.Context, Taken) Outcome { return Outcome{Result: Done} }
	for code, fs := range map[string][]Settings{
		"no-folder":    nil,
		"folder-twice": {{Dir: "/a"}, {Dir: "/a/"}},
		"folder-loops": {{Dir: "/a", Done: "/b"}, {Dir: "/b"}},
	} {
		if _, err := New(fs, handle, Options{}); ingest.AsReason(err) == nil || ingest.AsReason(err).Code != code {
			t.Errorf("%s: got %v", code, err)
		}
	}
	if _, err := New([]Settings{{Dir: "/a", Done: "/b", Held: "/b"}}, handle, Options{}); err == nil {
		t.Error("one folder for done and held files was accepted")
	}
}

func TestFileInHandIsNotTakenTwice(t *testing.T) {
	h := newHouse(t)
	w := h.watcher()
	h.drop("a.csv", "1")
	var again atomic.Bool
	h.outcome = func(Taken) Outcome {
		// While it is in hand, hours pass and the folder is looked at again.
		if again.Swap(true) {
			return Outcome{Result: Done}
		}
		for range 3 {
			h.clock.After(time.Hour)
			w.look()
			w.start(context.Background())
		}
		time.Sleep(100 * time.Millisecond) // time for a second worker to do wrong
		return Outcome{Result: Done}
	}
	h.once(w)
	h.want("handled", strings.Join(h.handled, " "), "a.csv=1")
}

func TestOnceEndsAfterTheFileInHand(t *testing.T) {
	h := newHouse(t)
	w := h.watcher()
	w.opt.Workers = 1
	for i := range 5 {
		h.drop(fmt.Sprintf("%d.csv", i), "1")
	}
	ctx, cancel := context.WithCancel(context.Background())
	h.outcome = func(Taken) Outcome { cancel(); return Outcome{Result: Done} }
	if p, err := w.Once(ctx); err != nil || p != (Pass{Done: 1, Waiting: 4}) {
		t.Errorf("pass %+v, %v", p, err)
	}
	h.want("inbox", h.lies(""), "1.csv 2.csv 3.csv 4.csv")
}
