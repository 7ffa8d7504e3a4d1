package main

import (
	"bytes"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
)

// A watcher is a running watch.
type watcher struct {
	cmd    *exec.Cmd
	url    string
	out    safeBuffer
	errs   safeBuffer
	exited chan struct{}
}

type safeBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (s *safeBuffer) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.Write(p)
}

func (s *safeBuffer) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.String()
}

var atURL = regexp.MustCompile(`https?://(127\.0\.0\.1|\[::\]):\d+`)

func startWatch(t *testing.T, dir string, args ...string) *watcher {
	t.Helper()
	return startWatching(t, "watch", dir, args...)
}

// startWatching starts a command that watches.
func startWatching(t *testing.T, command, dir string, args ...string) *watcher {
	t.Helper()
	w := &watcher{cmd: program(t, append([]string{command, "--office", dir}, args...)...), exited: make(chan struct{})}
	w.cmd.Stdout, w.cmd.Stderr = &w.out, &w.errs
	if err := w.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	go func() {
		_ = w.cmd.Wait() // stop looks at the state
		close(w.exited)
	}()
	t.Cleanup(func() {
		_ = w.cmd.Process.Kill() // mostly it has ended already
		<-w.exited
	})
	w.until(t, 20*time.Second, "it watches", func() bool { w.url = atURL.FindString(w.errs.String()); return w.url != "" })
	return w
}

// until waits for something to become true while watch goes on.
func (w *watcher) until(t *testing.T, most time.Duration, what string, is func() bool) {
	t.Helper()
	for end := time.Now().Add(most); !is(); {
		select {
		case <-w.exited:
			t.Fatalf("watch ended before %s:\n%s", what, w.errs.String())
		case <-time.After(20 * time.Millisecond):
		}
		if time.Now().After(end) {
			t.Fatalf("not within %v: %s\n%s%s", most, what, w.out.String(), w.errs.String())
		}
	}
}

// kill ends watch as a power cut does.
func (w *watcher) kill(t *testing.T) {
	t.Helper()
	if err := w.cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	<-w.exited
}

// stop asks watch to end, as the system does.
func (w *watcher) stop(t *testing.T) {
	t.Helper()
	if err := w.cmd.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	select {
	case <-w.exited:
	case <-time.After(30 * time.Second):
		t.Fatal("watch does not end when asked to")
	}
	if code := w.cmd.ProcessState.ExitCode(); code != exitDone {
		t.Errorf("watch ended with %d\n%s", code, w.errs.String())
	}
}

func copyFile(t *testing.T, from, to string) {
	t.Helper()
	b, err := os.ReadFile(from)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(to, b, 0o600); err != nil {
		t.Fatal(err)
	}
}

func get(t *testing.T, url string) string {
	t.Helper()
	resp, err := http.Get(url)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	b, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	return fmt.Sprintf("%d %s", resp.StatusCode, b)
}

// TestWatch drops reports into the folder of a running watch with the
// default settings: a whole one is archived within five seconds of its last
// write, one that is still being written is not touched, a held one gets its
// note, and the counters tell of all of them.
func TestWatch(t *testing.T) {
	dir := t.TempDir()
	if err := makeOffice(dir); err != nil {
		t.Fatal(err)
	}
	// The default times, which are what an office has.
	if err := os.WriteFile(filepath.Join(dir, "windrow.yaml"), []byte("office:\n  name: \"Finch County Soil Desk\"\nlisten: 127.0.0.1:0\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	w := startWatch(t, dir)

	if out := get(t, w.url+"/healthz"); !strings.HasPrefix(out, "200 ") || !strings.Contains(out, `"healthy":true`) {
		t.Errorf("healthz says %s", out)
	}
	second := program(t, "watch", "--office", dir)
	if out, err := second.CombinedOutput(); err == nil || !strings.Contains(string(out), "office-busy") {
		t.Errorf("a second watch says (%v):\n%s", err, out)
	}
	if out, err := program(t, "run", "--office", dir).CombinedOutput(); err == nil || !strings.Contains(string(out), "office-busy") {
		t.Errorf("a run beside a watch says (%v):\n%s", err, out)
	}

	labs := "../../testdata/labs/"
	inbox := filepath.Join(dir, "inbox")
	whole := filepath.Join(inbox, "TG-26-01180.pdf")
	half := filepath.Join(inbox, "MB26-0730.csv")
	copyFile(t, labs+"thrushgate-garden-soil-desk/TG-26-01180.pdf", whole)
	written := time.Now()
	slow := slowly(t, labs+"marrow-brook-land-water-testing/MB26-0730.csv", half)
	filed := func(name string) bool {
		for _, n := range names(t, filepath.Join(dir, "done")) {
			if strings.HasSuffix(n, "_"+name) {
				return true
			}
		}
		return false
	}
	archived := func(name string) bool {
		// Not all of the archive: files that come in vanish while one looks.
		for _, b := range tree(t, filepath.Join(dir, "archive", "arrivals")) {
			if strings.Contains(b, name) {
				return true
			}
		}
		return false
	}
	w.until(t, 15*time.Second, "the report is archived", func() bool { return archived("TG-26-01180.pdf") })
	if took := time.Since(written); took > 5*time.Second {
		t.Errorf("archived %.1f s after its last write", took.Seconds())
	} else {
		t.Logf("archived %.1f s after its last write", took.Seconds())
	}
	w.until(t, 5*time.Second, "the report is filed", func() bool { return filed("TG-26-01180.pdf") })

	slow.halfWay(t)
	if archived("MB26-0730.csv") || filed("MB26-0730.csv") {
		t.Error("a file was taken while it was being written")
	}
	if _, err := os.Stat(half); err != nil {
		t.Errorf("a file that is being written was touched: %v", err)
	}
	last := <-slow.done
	w.until(t, 15*time.Second, "the slow file is archived", func() bool { return archived("MB26-0730.csv") })
	if took := time.Since(last); took > 5*time.Second {
		t.Errorf("the slow file was archived %.1f s after its last write", took.Seconds())
	}

	copyFile(t, labs+"thrushgate-garden-soil-desk/revised/TG-26-01920.pdf", filepath.Join(inbox, "TG-26-01920.pdf"))
	w.until(t, 15*time.Second, "the held report is set aside", func() bool { return len(names(t, filepath.Join(dir, "held"))) == 2 })
	why, err := os.ReadFile(filepath.Join(dir, "held", "TG-26-01920.pdf.why.txt"))
	if err != nil || !strings.Contains(string(why), "layout-changed") {
		t.Errorf("the note says (%v):\n%s", err, why)
	}
	metrics := get(t, w.url+"/metrics")
	for _, want := range []string{`windrow_reports_total{lab="thrushgate",outcome="archived"} 1`, `windrow_reports_total{lab="thrushgate",outcome="held"} 1`, `windrow_reports_total{lab="marrow-brook",outcome="archived"} 1`, "windrow_oldest_waiting"} {
		if !strings.Contains(metrics, want) {
			t.Errorf("/metrics lacks %s", want)
		}
	}
	if strings.Contains(metrics, "TG-26") || strings.Contains(metrics, "Winifred") {
		t.Error("/metrics tells names of files or clients")
	}
	w.stop(t)
	if out := must(t, exitDone, "archive", "verify", "--office", dir); !strings.Contains(out, "all is well") {
		t.Errorf("verify says:\n%s", out)
	}
}

// A slowWrite writes a file in pieces, over longer than a file must rest.
type slowWrite struct {
	half chan struct{}
	done chan time.Time
}

func slowly(t *testing.T, from, to string) *slowWrite {
	t.Helper()
	b, err := os.ReadFile(from)
	if err != nil {
		t.Fatal(err)
	}
	f, err := os.Create(to)
	if err != nil {
		t.Fatal(err)
	}
	s := &slowWrite{make(chan struct{}), make(chan time.Time, 1)}
	go func() {
		const pieces = 12
		for i := range pieces {
			if i == pieces-1 {
				close(s.half)
			}
			_, _ = f.Write(b[len(b)*i/pieces : len(b)*(i+1)/pieces]) // a failure shows as a report that is not archived
			time.Sleep(500 * time.Millisecond)
		}
		_ = f.Close()
		s.done <- time.Now().Add(-500 * time.Millisecond)
	}()
	return s
}

func (s *slowWrite) halfWay(t *testing.T) {
	t.Helper()
	select {
	case <-s.half:
	case <-time.After(time.Minute):
		t.Fatal("the slow file was never written")
	}
}

// TestFinishesTheFileInHand asks watch to stop while it works, and wants every
// file either untouched in the inbox or filed and archived.
func TestFinishesTheFileInHand(t *testing.T) {
	dir := t.TempDir()
	if err := makeOffice(dir); err != nil {
		t.Fatal(err)
	}
	const n = 150
	reportsOf(t, filepath.Join(dir, "inbox"), 0, n)
	w := startWatch(t, dir)
	w.until(t, 30*time.Second, "it works", func() bool { return len(names(t, filepath.Join(dir, "done"))) > 2 })
	w.stop(t)
	waiting, done := len(names(t, filepath.Join(dir, "inbox"))), len(names(t, filepath.Join(dir, "done")))
	arrivals := 0
	for p := range tree(t, filepath.Join(dir, "archive", "arrivals")) {
		if strings.HasSuffix(p, ".json") {
			arrivals++
		}
	}
	t.Logf("%d filed, %d waiting", done, waiting)
	if waiting+done != n || arrivals != done || waiting == 0 {
		t.Errorf("%d waiting, %d filed, %d archived of %d", waiting, done, arrivals, n)
	}
}

// TestSameInSameOut works on the reports of four laboratories in two offices,
// twice in one of them, and wants the same archive, byte for byte.
func TestSameInSameOut(t *testing.T) {
	var files []string
	for _, p := range []string{"thrushgate-garden-soil-desk/TG-26-01180.pdf", "thrushgate-garden-soil-desk/revised/TG-26-01920.pdf", "oxbow-tansy-agronomy-laboratory/OT-26-0612.pdf",
		"verrin-analytical/VA-26-0455.xlsx", "marrow-brook-land-water-testing/MB26-0711.csv"} {
		files = append(files, filepath.Join("../../testdata/labs", p))
	}
	a, b := t.TempDir(), t.TempDir()
	for _, dir := range []string{a, b} {
		if err := makeOffice(dir); err != nil {
			t.Fatal(err)
		}
		must(t, exitHeld, append([]string{"run", "-q", "--office", dir}, files...)...)
	}
	first := tree(t, filepath.Join(a, "archive"))
	must(t, exitHeld, append([]string{"run", "-q", "--office", a}, files...)...)
	sameTree(t, tree(t, filepath.Join(a, "archive")), first)
	sameTree(t, tree(t, filepath.Join(b, "archive")), first)
}

// A second office whose watch wants the same address is told in plain words
// what is the matter, and what to write.
func TestWatchOfTwoOfficesAtOneAddress(t *testing.T) {
	first, second := t.TempDir(), t.TempDir()
	for _, d := range []string{first, second} {
		if err := makeOffice(d); err != nil {
			t.Fatal(err)
		}
	}
	w := startWatch(t, first)
	addr := strings.TrimPrefix(w.url, "http://")
	cmd := program(t, "watch", "--office", second, "--listen", addr)
	var errs bytes.Buffer
	cmd.Stderr = &errs
	if err := cmd.Run(); err == nil {
		t.Fatal("two programs answer at one address")
	}
	for _, want := range []string{"another program answers at the address that listen sets, most likely a windrow watch in another office", addr + ", which is taken", "listen: 127.0.0.1:"} {
		if !strings.Contains(errs.String(), want) {
			t.Errorf("%q isn't told in\n%s", want, errs.String())
		}
	}
	if strings.Contains(errs.String(), "bind:") {
		t.Errorf("the system's own words are told:\n%s", errs.String())
	}
}
