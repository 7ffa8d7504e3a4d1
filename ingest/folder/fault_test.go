package folder

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"example.org/windrow/ingest"
)

func (c *handClock) jump(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(d)
}

// The clock is set back or forward while a file waits: it is taken after one
// settling at the latest, and not when a clock that was set back has caught
// up. Go's own clock bears such a jump by itself; one that does not, such as
// that of a machine that slept, must not make a difference.
func TestClockThatJumps(t *testing.T) {
	for name, by := range map[string]time.Duration{"back": -10 * time.Hour, "forward": 10 * time.Hour, "back over years": -3 * 365 * 24 * time.Hour} {
		t.Run(name, func(t *testing.T) {
			h := newHouse(t)
			w := h.watcher()
			h.drop("a.csv", "1")
			w.look() // seen
			h.clock.jump(by)
			if p := h.once(w); p.Done != 1 {
				t.Errorf("pass %+v", p)
			}
			h.want("inbox", h.lies(""), "")
			if len(h.handled) != 1 {
				t.Errorf("handled %v", h.handled)
			}
			if w.Oldest() != 0 {
				t.Errorf("something waits since %v", w.Oldest())
			}
			// And once more between two passes, with a second try due.
			h.outcome = func(Taken) Outcome { return Outcome{Result: Again} }
			h.drop("b.csv", "2")
			h.once(w)
			h.clock.jump(by)
			h.outcome = func(Taken) Outcome { return Outcome{Result: Done} }
			for range 3 {
				h.clock.jump(10 * time.Second)
				h.once(w)
			}
			h.want("inbox", h.lies(""), "")
		})
	}
}

// A hidden report from a time to come, by the clock of a file server or by one
// that was set back since, is told of all the same.
func TestHiddenReportFromATimeToCome(t *testing.T) {
	h := newHouse(t)
	h.drop(".a.csv", "1")
	soon := h.clock.Now().Add(48 * time.Hour)
	if err := os.Chtimes(filepath.Join(h.dir, ".a.csv"), soon, soon); err != nil {
		t.Fatal(err)
	}
	h.once(h.watcher())
	h.want("told", strings.Join(h.reported, " "), CodeNotTaken)
}

// A process that ends between copying to another device and removing the
// original leaves both. The next one files it no second time.
func TestCrashBetweenDevicesLeavesOne(t *testing.T) {
	for _, result := range []Result{Done, Held} {
		h := newHouse(t)
		h.outcome = func(Taken) Outcome { return Outcome{Result: result} }
		h.disk.move = func(from string) error {
			if filepath.Dir(from) == h.dir {
				return ErrOtherDevice
			}
			return nil
		}
		when := time.Date(2026, 5, 4, 8, 0, 0, 123456789, time.UTC)
		put := func(text string) {
			h.drop("a.csv", text)
			if err := os.Chtimes(filepath.Join(h.dir, "a.csv"), when, when); err != nil {
				t.Fatal(err)
			}
		}
		sub, name := "done", "2026-11-25_a.csv"
		if result == Held {
			sub, name = "held", "a.csv"
		}
		put("1")
		h.once(h.watcher())
		put("1") // what the crash has left
		h.once(h.watcher())
		want := name
		if result == Held {
			want += " " + name + whyEnd
		}
		h.want("inbox", h.lies(""), "")
		h.want(sub, h.lies(sub), want)
		// Another file by the name, of that very time and size, is another.
		put("2")
		h.once(h.watcher())
		h.want("inbox", h.lies(""), "")
		if n := strings.Count(h.lies(sub), ".csv"); n != map[Result]int{Done: 2, Held: 4}[result] {
			t.Errorf("%s: %s", sub, h.lies(sub))
		}
	}
}

// callDisk fails its n-th call, and if dead all later ones.
type callDisk struct {
	Disk
	n, at int
	cause error
	dead  bool
	cross bool // another device
	inbox string
}

func (d *callDisk) step(op, path string) error {
	d.n++
	if d.n == d.at || d.dead && d.n > d.at {
		return &fs.PathError{Op: op, Path: path, Err: d.cause}
	}
	return nil
}

func (d *callDisk) List(dir string) ([]fs.FileInfo, error) {
	if err := d.step("list", dir); err != nil {
		return nil, err
	}
	return d.Disk.List(dir)
}

func (d *callDisk) Read(path string, limit int64) ([]byte, fs.FileInfo, error) {
	if err := d.step("read", path); err != nil {
		return nil, nil, err
	}
	return d.Disk.Read(path, limit)
}

func (d *callDisk) Stat(path string) (fs.FileInfo, error) {
	if err := d.step("stat", path); err != nil {
		return nil, err
	}
	return d.Disk.Stat(path)
}

func (d *callDisk) MakeDir(dir string) error {
	if err := d.step("mkdir", dir); err != nil {
		return err
	}
	return d.Disk.MakeDir(dir)
}

func (d *callDisk) Move(from, to string) error {
	if err := d.step("rename", from); err != nil {
		return err
	}
	if d.cross && filepath.Dir(from) == d.inbox {
		return ErrOtherDevice
	}
	return d.Disk.Move(from, to)
}

func (d *callDisk) Write(path string, b []byte, modified time.Time) error {
	if err := d.step("write", path); err != nil {
		// Torn: the bytes got there by half, and nobody is left to tidy up.
		if d.dead {
			_ = os.WriteFile(path, b[:len(b)/2], 0o600)
		}
		return err
	}
	return d.Disk.Write(path, b, modified)
}

func (d *callDisk) Remove(path string) error {
	if err := d.step("remove", path); err != nil {
		return err
	}
	return d.Disk.Remove(path)
}

func (d *callDisk) SyncDir(dir string) error {
	if err := d.step("sync", dir); err != nil {
		return err
	}
	return d.Disk.SyncDir(dir)
}

var _ FS = (*callDisk)(nil)

// One call of the file system fails, or it and all later ones, for every call
// until a pass completes, with each cause: a full disk, lost rights, a disk
// that is read-only, a read error, a share that is gone. Whatever was said,
// names the file or the folder, what happened and what to do; and a pass
// without faults has each file filed once, with its bytes.
func TestFailAtEveryCallOfAFolder(t *testing.T) {
	runs, told := 0, 0
	causes := []error{syscall.ENOSPC, syscall.EIO}
	if os.Getenv("TORTURE") != "" { // make torture
		causes = append(causes, syscall.EACCES, syscall.EROFS, syscall.ESTALE)
	}
	for _, cause := range causes {
		for _, way := range []struct{ dead, cross bool }{{false, false}, {false, true}, {true, false}, {true, true}} {
			for n := 1; ; n++ {
				dir, clock := t.TempDir(), newClock()
				for name, text := range map[string]string{"a.csv": "1", "b.csv": "2"} {
					at := filepath.Join(dir, name)
					when := time.Date(2026, 5, 4, 8, 0, 0, 0, time.UTC)
					if err := errors.Join(os.WriteFile(at, []byte(text), 0o600), os.Chtimes(at, when, when)); err != nil {
						t.Fatal(err)
					}
				}
				disk := &callDisk{at: n, cause: cause, dead: way.dead, cross: way.cross, inbox: dir}
				pass := func() {
					w, err := New([]Settings{{Dir: dir}}, func(_ context.Context, x Taken) Outcome {
						if x.Name == "b.csv" {
							return Outcome{Result: Held, Reasons: []*ingest.Reason{{Code: "x", Severity: ingest.Hold, What: "it is held", Next: "look"}}}
						}
						return Outcome{Result: Done}
					}, Options{Clock: clock, FS: disk, PollOnly: true, Workers: 1, Report: func(r *ingest.Reason) {
						if told++; r.What == "" || r.Where.IsZero() || r.Next == "" && r.Code != "folder-back" {
							t.Errorf("call %d, %v: said without place, words or next step: %v", n, cause, r)
						}
					}})
					if err != nil {
						t.Fatal(err)
					}
					for range 2 {
						_, _ = w.Once(t.Context()) // a fault is told; the second is the second try
						clock.jump(time.Minute)
					}
				}
				pass()
				calls := disk.n
				disk.at, disk.dead = 0, false
				pass()
				runs++
				got := map[string]string{}
				for _, sub := range []string{"", "done", "held"} {
					list, err := os.ReadDir(filepath.Join(dir, sub))
					if err != nil {
						t.Fatal(err)
					}
					for _, e := range list {
						if !e.IsDir() {
							b, _ := os.ReadFile(filepath.Join(dir, sub, e.Name())) // it was just listed
							got[sub+"/"+e.Name()] = string(b)
						}
					}
				}
				if got["done/2026-11-25_a.csv"] != "1" || got["held/b.csv"] != "2" || !strings.Contains(got["held/b.csv"+whyEnd], "It is held") || len(got) != 3 {
					t.Fatalf("call %d, %v, %+v: %q", n, cause, way, got)
				}
				if calls < n {
					break
				}
			}
		}
	}
	t.Logf("%d runs, %d messages", runs, told)
	if runs < 40*len(causes) || told < 40*len(causes) {
		t.Errorf("only %d runs and %d messages", runs, told)
	}
}
