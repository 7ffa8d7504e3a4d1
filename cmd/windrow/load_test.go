//go:build linux

package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"example.org/windrow/normalize"
)

// TestLoad puts reports of all kinds through an office alone, and through a
// central engine with one worker and with two, while what works on them is
// killed at random; and wants every report once, every sample of it, and the
// archive sound. It says how fast that is, what memory it takes, and how both
// grow with the archive. LOAD is how many reports (make load: 20,000),
// LOAD_DELAY how long each call of the store takes, and LOAD_PARTS which of the
// three are done ("alone,1,2": alone and the numbers of workers).
func TestLoad(t *testing.T) {
	n := 100
	if s := os.Getenv("LOAD"); s != "" {
		var err error
		if n, err = strconv.Atoi(s); err != nil || n < 100 || n > 60000 {
			t.Fatalf("LOAD is %q, not a number of reports from 100 to 60,000", s)
		}
	} else if testing.Short() {
		t.Skip("short: puts 100 reports through three engines")
	}
	delay, _ := time.ParseDuration(os.Getenv("LOAD_DELAY")) // none without
	parts := []string{"alone", "1", "2"}
	if s := os.Getenv("LOAD_PARTS"); s != "" {
		parts = strings.Split(s, ",")
	}
	drop := t.TempDir()
	want := fillWith(t, drop, n)
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d; %d files of %.0f MB: %v", seed, n, float64(want.bytes)/1e6, want.kinds)
	rnd := rand.New(rand.NewPCG(seed, 2))

	first := "" // what the first part left: the others must leave the same
	for _, part := range parts {
		left := ""
		if part == "alone" {
			left = loadAlone(t, drop, n, want, rnd)
		} else {
			many, err := strconv.Atoi(part)
			if err != nil || many < 1 || many > 8 {
				t.Fatalf("LOAD_PARTS has %q, which is neither \"alone\" nor a number of workers from 1 to 8", part)
			}
			left = loadEngine(t, drop, n, many, delay, want, rnd)
		}
		if first == "" {
			first = left
		} else {
			sameFiles(t, digests(t, left), digests(t, first))
		}
	}
}

// loadAlone puts the files through an office without an engine, and gives the
// folder of its archive.
func loadAlone(t *testing.T, drop string, n int, want *loaded, rnd *rand.Rand) string {
	t.Helper()
	alone := t.TempDir()
	if err := makeOffice(alone); err != nil {
		t.Fatal(err)
	}
	copyInto(t, drop, alone)
	w := startWatch(t, alone)
	underLoad(t, "alone", n, alone, rnd, func() []*exec.Cmd { return []*exec.Cmd{w.cmd} }, func(int) { w.kill(t); w = startWatch(t, alone) })
	w.until(t, 10*time.Minute, "the last file is filed", func() bool { return inboxed(t, alone) == 0 })
	w.stop(t)
	want.hold(t, alone, filepath.Join(alone, "archive"))
	must(t, exitDone, "archive", "verify", "--office", alone)
	return filepath.Join(alone, "archive")
}

// loadEngine puts the files through a central engine with so many workers, and
// gives the folder that its archive was taken out to.
func loadEngine(t *testing.T, drop string, n, many int, delay time.Duration, want *loaded, rnd *rand.Rand) string {
	t.Helper()
	en := startEngine(t)
	en.slow(delay)
	// Work that was killed comes back after this; a scan must be done by then,
	// also on a machine that does other things.
	longest := 5 * time.Second
	if n > 1000 {
		longest = time.Minute
	}
	office := en.office(t, longest)
	copyInto(t, drop, office)
	folders := make([]string, many)
	workers := make([]*exec.Cmd, many)
	for i := range workers {
		folders[i] = en.office(t, longest)
		workers[i] = worker(t, folders[i], &bytes.Buffer{})
	}
	watch := startWatch(t, office)
	underLoad(t, fmt.Sprintf("engine, workers %d", many), n, office, rnd, func() []*exec.Cmd { return workers }, func(k int) {
		i := k % many
		_ = workers[i].Process.Kill()
		_ = workers[i].Wait() // it was killed
		workers[i] = worker(t, folders[i], &bytes.Buffer{})
	})
	watch.until(t, 10*time.Minute, "the last file is filed", func() bool { return inboxed(t, office) == 0 })
	watch.stop(t)
	for _, x := range workers {
		_ = x.Process.Signal(syscall.SIGTERM)
		if err := x.Wait(); err != nil {
			t.Error(err)
		}
	}
	en.slow(0)
	t.Logf("engine, workers %d: %d calls of the store", many, en.calls.Load())
	must(t, exitDone, "archive", "verify", "--office", office)
	out := filepath.Join(t.TempDir(), "copy")
	must(t, exitDone, "archive", "export", "--office", office, out)
	want.hold(t, office, out)
	return out
}

// A loaded is what the files of a load must become.
type loaded struct {
	bytes                  int64
	kinds                  map[string]int
	reports, samples, held int
}

// fillWith writes n reports into a folder.
func fillWith(t *testing.T, dir string, n int) *loaded {
	t.Helper()
	l := &loaded{kinds: map[string]int{}}
	v := newVariety(t)
	for i := range n {
		r := v.report(i)
		if err := os.WriteFile(filepath.Join(dir, r.name), r.bytes, 0o600); err != nil {
			t.Fatal(err)
		}
		l.bytes += int64(len(r.bytes))
		l.kinds[r.kind]++
		l.reports += r.reports
		l.samples += r.samples
		if r.held {
			l.held++
		}
	}
	return l
}

// copyInto has the files wait in an office's inbox, all since the same time.
func copyInto(t *testing.T, from, office string) {
	t.Helper()
	at := time.Date(2026, 5, 21, 8, 0, 0, 0, time.UTC)
	for _, name := range names(t, from) {
		to := filepath.Join(office, "inbox", name)
		copyFile(t, filepath.Join(from, name), to)
		if err := os.Chtimes(to, at, at); err != nil {
			t.Fatal(err)
		}
	}
}

// inboxed is how many files still wait in an office's inbox.
func inboxed(t *testing.T, office string) int { return len(names(t, filepath.Join(office, "inbox"))) }

// hold wants an office to have made of the files what it must: each report is
// there once with all its samples, can be used, and what waits for a person is
// what must.
func (l *loaded) hold(t *testing.T, office, archive string) {
	t.Helper()
	if n := len(notes(t, filepath.Join(office, "held"))); n != l.held {
		t.Errorf("%d files are held, not %d", n, l.held)
	}
	reports, samples := 0, 0
	numbers := map[string]string{}
	err := filepath.WalkDir(filepath.Join(archive, "reports"), func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(p, ".json") {
			return err
		}
		b, err := os.ReadFile(p)
		if err != nil {
			return err
		}
		var rep normalize.Report
		if err := json.Unmarshal(b, &rep); err != nil {
			return fmt.Errorf("%s: %w", p, err)
		}
		if len(rep.Records) == 0 {
			return nil
		}
		if rep.Status != normalize.OK {
			if !strings.HasPrefix(rep.Source.Name, "scan-") {
				t.Errorf("%s is %s", rep.Source.Title(), rep.Status)
			}
			return nil
		}
		reports++
		samples += len(rep.Records)
		for _, rec := range rep.Records {
			key := rep.Lab.ID + " " + rec.Sample.LabID
			if other, twice := numbers[key]; twice {
				t.Errorf("sample %s is in %s and in %s", key, other, rep.Source.Title())
			}
			numbers[key] = rep.Source.Title()
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if reports != l.reports || samples != l.samples {
		t.Errorf("%d reports with %d samples, not %d with %d", reports, samples, l.reports, l.samples)
	}
}

// digests are the files below a folder, each by its SHA-256: an archive under
// load is more than one would like to hold in memory twice.
func digests(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	err := filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(p)
		rel, _ := filepath.Rel(dir, p) // p lies below dir
		sum := sha256.Sum256(b)
		out[filepath.ToSlash(rel)] = hex.EncodeToString(sum[:])
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// notes are those beside the held files of a folder.
func notes(t *testing.T, dir string) []string {
	t.Helper()
	return slices.DeleteFunc(names(t, dir), func(n string) bool { return !strings.HasSuffix(n, ".why.txt") })
}

// underLoad looks on while files leave an inbox, has the work killed now and
// then, and says what it took, and how time and memory grew by tenths.
func underLoad(t *testing.T, what string, n int, office string, rnd *rand.Rand, at func() []*exec.Cmd, kill func(k int)) {
	t.Helper()
	begun := time.Now()
	var tenths []string
	last, lastLeft := begun, n
	var peak, peakTenth int64
	kills := 0
	next := begun.Add(time.Duration(2+rnd.IntN(8)) * time.Second)
	for {
		var sum int64
		for _, c := range at() {
			sum += resident(c.Process.Pid)
		}
		peak, peakTenth = max(peak, sum), max(peakTenth, sum)
		left := inboxed(t, office)
		if done := lastLeft - left; left == 0 || done >= (n+9)/10 {
			took := time.Since(last)
			tenths = append(tenths, fmt.Sprintf("%.1f/s %d MiB", float64(done)/took.Seconds(), peakTenth>>20))
			last, lastLeft, peakTenth = time.Now(), left, 0
		}
		if left <= n/50 {
			break
		}
		if time.Since(begun) > 2*time.Hour {
			t.Fatalf("%s: %d of %d files still wait", what, left, n)
		}
		if time.Now().After(next) {
			kill(kills)
			kills++
			next = time.Now().Add(time.Duration(5+rnd.IntN(20)) * time.Second)
		}
		time.Sleep(200 * time.Millisecond)
	}
	took := time.Since(begun)
	t.Logf("%s: %.1f reports a second, %d kills; at most %d MiB, all its processes together; by tenths: %s", what, float64(n)/took.Seconds(), kills, peak>>20, strings.Join(tenths, ", "))
}

// resident is the memory that a process and its children hold, in bytes.
func resident(pid int) int64 {
	var sum int64
	if b, err := os.ReadFile(fmt.Sprintf("/proc/%d/statm", pid)); err == nil {
		if f := strings.Fields(string(b)); len(f) > 1 {
			pages, _ := strconv.ParseInt(f[1], 10, 64) // the system writes numbers
			sum = pages * int64(os.Getpagesize())
		}
	}
	tasks, _ := filepath.Glob(fmt.Sprintf("/proc/%d/task/*/children", pid)) // one that has ended holds nothing
	for _, f := range tasks {
		b, _ := os.ReadFile(f)
		for _, c := range strings.Fields(string(b)) {
			if id, err := strconv.Atoi(c); err == nil {
				sum += resident(id)
			}
		}
	}
	return sum
}
