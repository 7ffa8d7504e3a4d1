package archive_test

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"maps"
	"math/rand/v2"
	"strings"
	"syscall"
	"testing"
	"time"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize/archive"
)

const memDir = "/mem/archive"

// A job is what a pipeline does with two files, one of which was read before
// by an earlier version. It is what a pipeline does again after a crash.
var (
	jobSources = [][]byte{[]byte("P 31 ppm, by one laboratory"), []byte("K 212 ppm, by another")}
	jobOld     = report(idA, jobSources[0], "as an earlier version read it")
	jobReports = map[string][]byte{idA: report(idA, jobSources[0], "as read now"), idB: report(idB, jobSources[1], "as read now")}
	jobAdvice  = []byte(`{"say":"no phosphorus is needed"}`)
	jobTime    = time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)
)

// prepare makes the state before the job: an archive with the older version.
func prepare(t *testing.T, fsys archive.FS) {
	t.Helper()
	a, err := archive.OpenOn(fsys, memDir)
	if err == nil {
		_, err = a.PutOriginal(jobSources[0])
	}
	if err == nil {
		_, _, err = a.PutReport(idA, jobOld)
	}
	if err != nil {
		t.Fatal(err)
	}
}

// job runs until its first error and tells acked of each thing that the
// archive has promised to have.
func job(fsys archive.FS, acked func(check func(*archive.Archive) error)) error {
	a, err := archive.OpenOn(fsys, memDir)
	if err != nil {
		return err
	}
	for i, id := range []string{idA, idB} {
		src, doc := jobSources[i], jobReports[id]
		r, err := a.PutOriginal(src)
		if err != nil {
			return err
		}
		acked(func(a *archive.Archive) error {
			b, err := a.Original(r.SHA256())
			return differ("original", b, src, err)
		})
		put := a.PutReport
		if i == 1 { // the long one
			put = func(id string, b []byte) (int, bool, error) {
				return a.PutFrom(archive.Reports, id, func(w io.Writer) error {
					_, err1 := w.Write(b[:len(b)/2])
					_, err2 := w.Write(b[len(b)/2:])
					return errors.Join(err1, err2)
				})
			}
		}
		v, _, err := put(id, doc)
		if err != nil {
			return err
		}
		acked(func(a *archive.Archive) error {
			b, err := a.Version(archive.Reports, id, v)
			return differ("report", b, doc, err)
		})
		if _, _, err := a.PutAdvice(id+"-1", jobAdvice); err != nil {
			return err
		}
		acked(func(a *archive.Archive) error {
			b, _, err := a.Latest(archive.Advice, id+"-1")
			return differ("advice", b, jobAdvice, err)
		})
		where, err := a.PutArrival(archive.Arrival{Name: "a.csv", Channel: "folder", Time: jobTime,
			SHA256: r.SHA256(), Size: int64(len(src)), Outcome: "ok", Report: id})
		if err != nil {
			return err
		}
		acked(func(a *archive.Archive) error {
			n, err := a.Arrival(where)
			return differ("arrival", []byte(n.Report), []byte(id), err)
		})
	}
	return nil
}

func differ(what string, got, want []byte, err error) error {
	if err == nil && !bytes.Equal(got, want) {
		err = fmt.Errorf("got %q, want %q", got, want)
	}
	if err != nil {
		return fmt.Errorf("%s: %w", what, err)
	}
	return nil
}

// undisturbed is the archive that a run without faults leaves.
func undisturbed(t *testing.T, like *memFS) map[string]string {
	t.Helper()
	m := newMemFS()
	m.noLink, m.noMove = like.noLink, like.noMove
	prepare(t, m)
	if err := job(m, func(func(*archive.Archive) error) {}); err != nil {
		t.Fatal(err)
	}
	return m.files()
}

// The process stops at its n-th call of the file system, for every n until a
// run completes: killed, with the power cut, with the power cut and a disk
// that had written some of what was not yet asked for. Whatever the archive
// had promised is there, and running again leaves the archive that an
// undisturbed run leaves.
func TestStopAtEveryCall(t *testing.T) {
	for _, way := range []struct {
		name           string
		noLink, noMove bool
	}{{"link", false, false}, {"move", true, false}, {"reserve", true, true}} {
		for _, end := range []string{"killed", "power", "some"} {
			t.Run(way.name+"/"+end, func(t *testing.T) {
				seeds := uint64(1)
				if end == "some" {
					seeds = 2
				}
				stops := 0
				want := undisturbed(t, &memFS{noLink: way.noLink, noMove: way.noMove})
				for seed := range seeds {
					for n := 1; ; n++ {
						m := newMemFS()
						m.noLink, m.noMove = way.noLink, way.noMove
						prepare(t, m)
						if stopAndGoOn(t, m, want, n, end, seed) {
							break
						}
						if t.Failed() {
							t.Fatalf("at call %d, seed %d", n, seed)
						}
						stops++
					}
				}
				if stops < 50 {
					t.Errorf("only %d stops: the seam sees too little", stops)
				}
				t.Logf("%d stops", stops)
			})
		}
	}
}

func stopAndGoOn(t *testing.T, m *memFS, want map[string]string, n int, end string, seed uint64) (completed bool) {
	t.Helper()
	var promises []func(*archive.Archive) error
	f := &faultFS{FS: m, at: n, cause: errDead, dead: true, torn: true}
	err := job(f, func(check func(*archive.Archive) error) { promises = append(promises, check) })
	if err != nil && !errors.Is(err, errDead) {
		t.Errorf("the job ended by itself: %v", err)
	}
	switch end {
	case "power":
		m.powerCut(nil)
	case "some":
		m.powerCut(rand.New(rand.NewPCG(seed, uint64(n))))
	}
	m.now = m.now.Add(2 * time.Hour)
	after, oerr := archive.OpenOn(m, memDir)
	if oerr != nil {
		t.Errorf("open after the stop: %v", oerr)
		return true
	}
	for _, check := range promises {
		if err := check(after); err != nil {
			t.Errorf("promised and lost: %v", err)
		}
	}
	if err := job(m, func(func(*archive.Archive) error) {}); err != nil {
		t.Errorf("running again: %v", err)
	}
	m.powerCut(nil) // what the second run promised must not rest on what the first left undone
	m.now = m.now.Add(2 * time.Hour)
	if after, oerr = archive.OpenOn(m, memDir); oerr != nil {
		t.Fatal(oerr)
	}
	ps, count, err2 := after.Verify(t.Context(), nil)
	if err2 != nil {
		t.Error(err2)
	}
	if count.Incoming != 0 {
		t.Errorf("%d temporary files left after two hours", count.Incoming)
	}
	if m.noLink && m.noMove {
		// Here a name may stay reserved. It may be found, and nothing else.
		for _, p := range ps {
			if p.Code != archive.CodeEmpty {
				t.Errorf("verify: %v", p)
			}
		}
		for id, doc := range jobReports {
			if b, _, err := after.Latest(archive.Reports, id); err != nil || !bytes.Equal(b, doc) {
				t.Errorf("%s: %q, %v", id, b, err)
			}
		}
		return err == nil
	}
	for _, p := range ps {
		t.Errorf("verify: %v", p)
	}
	if got := m.files(); !maps.Equal(got, want) {
		t.Errorf("the archive differs from that of an undisturbed run:\n got %q\nwant %q", got, want)
	}
	return err == nil
}

// One call fails, or it and what comes after: the disk is full, rights are
// lost, the disk is read-only or can't be read, the share is gone, a write is
// cut short. The job says so in words that name the place, what happened and
// what to do, and when the fault is over it leaves the archive that an
// undisturbed run leaves.
func TestFailAtEveryCall(t *testing.T) {
	for name, c := range map[string]struct {
		fault faultFS
		code  string
		least int // failures that must have been said
	}{
		"full, once":       {faultFS{cause: errFull, torn: true}, "archive-disk-full", 50},
		"full from then":   {faultFS{cause: errFull, torn: true, full: true}, "archive-disk-full", 50},
		"quota":            {faultFS{cause: syscall.EDQUOT, torn: true, full: true}, "archive-disk-full", 50},
		"rights, once":     {faultFS{cause: syscall.EACCES}, "archive-no-rights", 50},
		"rights from then": {faultFS{cause: syscall.EACCES, dead: true}, "archive-no-rights", 50},
		"read-only disk":   {faultFS{cause: syscall.EROFS, full: true}, "archive-no-rights", 50},
		"sick, once":       {faultFS{cause: syscall.EIO, torn: true}, "archive-failed", 50},
		"sick from then":   {faultFS{cause: syscall.EIO, torn: true, dead: true}, "archive-failed", 50},
		"stale share":      {faultFS{cause: syscall.ESTALE, dead: true}, "archive-failed", 50},
		"cut short":        {faultFS{short: true}, "archive-failed", 8},
	} {
		t.Run(name, func(t *testing.T) {
			said := 0
			want := undisturbed(t, newMemFS())
			for n := 1; ; n++ {
				m := newMemFS()
				prepare(t, m)
				f := c.fault
				f.FS, f.at = m, n
				err := job(&f, func(func(*archive.Archive) error) {})
				if err != nil {
					said++
					if r := ingest.AsReason(err); r.Code != c.code || r.Where.File == "" || r.What == "" || r.Found == "" || !strings.Contains(r.Next, "nothing was lost") {
						t.Fatalf("call %d: %v", n, err)
					}
				}
				if err := job(m, func(func(*archive.Archive) error) {}); err != nil {
					t.Fatalf("call %d: with the fault over: %v", n, err)
				}
				if got := m.files(); !maps.Equal(got, want) {
					t.Fatalf("call %d: the archive differs:\n got %q\nwant %q", n, got, want)
				}
				a, err := archive.OpenOn(m, memDir)
				if err != nil {
					t.Fatal(err)
				}
				if ps, _, err := a.Verify(t.Context(), nil); err != nil || len(ps) > 0 {
					t.Fatalf("call %d: verify: %v %v", n, ps, err)
				}
				if f.n < n {
					break
				}
			}
			if said < c.least {
				t.Errorf("only %d failures were said", said)
			}
		})
	}
}

// The model of a power cut must be able to fail: bytes that were not synced
// and names whose folder was not synced must be gone after it.
func TestPowerCutForgets(t *testing.T) {
	m := newMemFS()
	for _, how := range []struct {
		name                string
		syncFile, syncNames bool
		want                string
		there               bool
	}{{"a", true, true, "data", true}, {"b", false, true, "", true}, {"c", true, false, "", false}} {
		m.root = newDir()
		f, err := m.Create("/mem/" + how.name)
		if err != nil {
			t.Fatal(err)
		}
		_, _ = f.Write([]byte("data"))
		if how.syncFile {
			_ = f.Sync()
		}
		if how.syncNames {
			_ = m.SyncDir("/mem")
		}
		m.powerCut(nil)
		b, err := m.ReadFile("/mem/" + how.name)
		if string(b) != how.want || (err == nil) != how.there {
			t.Errorf("%s: %q, %v", how.name, b, err)
		}
	}
}

// The same while the archive is being made.
func TestStopWhileMaking(t *testing.T) {
	src := []byte("the first file of an office")
	work := func(fsys archive.FS) error {
		a, err := archive.OpenOn(fsys, memDir)
		if err == nil {
			_, err = a.PutOriginal(src)
		}
		return err
	}
	whole := newMemFS()
	if err := work(whole); err != nil {
		t.Fatal(err)
	}
	for _, way := range []struct{ noLink, noMove bool }{{false, false}, {true, false}, {true, true}} {
		for _, power := range []bool{false, true} {
			stops := 0
			for n := 1; ; n++ {
				m := newMemFS()
				m.noLink, m.noMove = way.noLink, way.noMove
				err := work(&faultFS{FS: m, at: n, cause: errDead, dead: true, torn: true})
				if power {
					m.powerCut(nil)
				}
				m.now = m.now.Add(2 * time.Hour)
				if err == nil { // then it is a promise
					a, err := archive.OpenOn(m, memDir)
					if err != nil {
						t.Fatal(err)
					}
					if b, err := a.Original(archive.RefOf(src).SHA256()); err != nil || !bytes.Equal(b, src) {
						t.Fatalf("promised and lost: %q, %v", b, err)
					}
				}
				if err := work(m); err != nil {
					t.Fatalf("call %d: running again: %v", n, err)
				}
				m.powerCut(nil)
				if got := m.files(); !maps.Equal(got, whole.files()) {
					t.Fatalf("call %d: the archive differs: %q", n, got)
				}
				if err == nil {
					break
				}
				stops++
			}
			if stops < 25 {
				t.Errorf("only %d stops", stops)
			}
		}
	}
}
