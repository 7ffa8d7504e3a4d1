package archive_test

import (
	"bufio"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"example.org/windrow/normalize/archive"
)

// The test binary is also the other process: with these variables set it
// writes to an archive instead of running tests.
const (
	envDir  = "WINDROW_TEST_ARCHIVE"
	envWho  = "WINDROW_TEST_WRITER"
	envMany = "WINDROW_TEST_MANY"
)

func TestMain(m *testing.M) {
	if dir := os.Getenv(envDir); dir != "" {
		many, err := strconv.Atoi(os.Getenv(envMany))
		if err == nil {
			err = writeMany(dir, os.Getenv(envWho), many, os.Stdout)
		}
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

func shared(i int) []byte { return fmt.Appendf(nil, "a file that everybody has, number %d", i) }

func own(who string, i int) []byte { return fmt.Appendf(nil, "a file of %s, number %d", who, i) }

func idOf(n int) string { return fmt.Sprintf("R%016x", uint64(n)*0x9e3779b97f4a7c15) }

// writeMany puts the same things as every other writer, and things of its
// own, under the same ids and under others. It says each number when the
// archive has promised everything of it.
func writeMany(dir, who string, many int, say io.Writer) error {
	a, err := archive.Open(dir)
	if err != nil {
		return err
	}
	for i := range many {
		s, o := shared(i), own(who, i)
		for _, b := range [][]byte{s, o} {
			if _, err := a.PutOriginal(b); err != nil {
				return err
			}
		}
		// The same report of the same file.
		if _, _, err := a.PutReport(idOf(i), report(idOf(i), s, "the same")); err != nil {
			return err
		}
		// Different reports under one id: each must become a version.
		if _, _, err := a.PutReport(idA, report(idA, s, who+" "+strconv.Itoa(i))); err != nil {
			return err
		}
		if _, err := a.PutArrival(archive.Arrival{Name: who, Time: jobTime, SHA256: archive.RefOf(s).SHA256(), Outcome: "ok", Report: idOf(i)}); err != nil {
			return err
		}
		fmt.Fprintln(say, i)
	}
	return nil
}

// checkMany checks what the writers must have left together.
func checkMany(t *testing.T, dir string, who []string, many int) {
	t.Helper()
	a, err := archive.OpenExisting(dir)
	if err != nil {
		t.Fatal(err)
	}
	n := clean(t, a)
	if want := many + len(who)*many; n.Originals != want {
		t.Errorf("%d originals, want %d", n.Originals, want)
	}
	if want := len(who) * many; n.Arrivals != want {
		t.Errorf("%d arrivals, want %d", n.Arrivals, want)
	}
	if want := many + len(who)*many; n.Documents[archive.Reports] != want {
		t.Errorf("%d versions of reports, want %d", n.Documents[archive.Reports], want)
	}
	vs, err := a.Versions(archive.Reports, idA)
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]int{}
	for _, v := range vs {
		b, err := a.Version(archive.Reports, idA, v)
		if err != nil {
			t.Fatal(err)
		}
		seen[string(b)]++
	}
	for _, w := range who {
		for i := range many {
			if got := seen[string(report(idA, shared(i), w+" "+strconv.Itoa(i)))]; got != 1 {
				t.Errorf("the report of %s, number %d, is there %d times", w, i, got)
			}
		}
	}
}

func TestGoroutinesTogether(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "archive")
	who := []string{"one", "two", "three", "four"}
	var wg sync.WaitGroup
	for _, w := range who {
		wg.Go(func() {
			if err := writeMany(dir, w, 25, io.Discard); err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	checkMany(t, dir, who, 25)
}

func child(t *testing.T, dir, who string, many int) *exec.Cmd {
	t.Helper()
	c := exec.Command(os.Args[0])
	c.Env = append(os.Environ(), envDir+"="+dir, envWho+"="+who, envMany+"="+strconv.Itoa(many))
	c.Stderr = os.Stderr
	return c
}

func TestProcessesTogether(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "archive")
	who := []string{"one", "two", "three"}
	var cs []*exec.Cmd
	for _, w := range who {
		c := child(t, dir, w, 25)
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		cs = append(cs, c)
	}
	for _, c := range cs {
		if err := c.Wait(); err != nil {
			t.Error(err)
		}
	}
	checkMany(t, dir, who, 25)
}

// A real process is killed at random moments. What it had said is there, and
// each id has only complete versions.
func TestKilled(t *testing.T) {
	kills := 20
	if testing.Short() {
		kills = 5
	}
	if n, err := strconv.Atoi(os.Getenv("TORTURE")); err == nil { // make torture
		kills = n / 10
	}
	dir := filepath.Join(t.TempDir(), "archive")
	promised, landed := 0, 0
	for k := range kills {
		who := "writer " + strconv.Itoa(k)
		c := child(t, dir, who, 100_000)
		out, err := c.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		kill := func() {
			time.AfterFunc(time.Duration(50+rand.IntN(250))*time.Millisecond, func() { _ = c.Process.Kill() })
		}
		if k%2 == 0 {
			kill()
		}
		last := -1
		for s := bufio.NewScanner(out); s.Scan(); {
			if last < 0 && k%2 == 1 {
				kill() // counted from its first word, so that a slow machine doesn't kill them all before it
			}
			if n, err := strconv.Atoi(strings.TrimSpace(s.Text())); err == nil {
				last = n
			}
		}
		if c.Wait() == nil {
			t.Fatal("the writer ended before it was killed")
		}
		if last < 0 {
			continue // killed before it had promised anything
		}
		landed++
		promised += last + 1
		a, err := archive.OpenExisting(dir)
		if err != nil {
			t.Fatal(err)
		}
		for i := range last + 1 {
			if _, err := a.Original(archive.RefOf(own(who, i)).SHA256()); err != nil {
				t.Fatalf("promised and lost: %v", err)
			}
			if b, v, err := a.Latest(archive.Reports, idOf(i)); err != nil || v != 1 || string(b) != string(report(idOf(i), shared(i), "the same")) {
				t.Fatalf("promised and lost, or twice: %q, %d, %v", b, v, err)
			}
		}
		ps, _, err := a.Verify(t.Context(), nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range ps {
			// Only the last document may wait for its checksum.
			if p.Code != archive.CodeNoSum {
				t.Fatal(p)
			}
		}
	}
	if landed < kills/2 {
		t.Errorf("only %d of %d kills met a writer at work", landed, kills)
	}
	t.Logf("%d kills at work, %d promises kept", landed, promised)
}
