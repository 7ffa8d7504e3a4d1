package main

import (
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// TestKilledAtAnyMoment kills the program twenty times at random moments, at
// work on watched and on named files by turns, lets it finish, and wants the
// very archive of an office that was never disturbed: nothing lost, nothing
// twice.
func TestKilledAtAnyMoment(t *testing.T) {
	const watched, named, kills = 240, 240, 20
	if testing.Short() {
		t.Skip("short: kills the program twenty times")
	}
	calm, rough := t.TempDir(), t.TempDir()
	for _, dir := range []string{calm, rough} {
		if err := makeOffice(dir); err != nil {
			t.Fatal(err)
		}
		reportsOf(t, filepath.Join(dir, "inbox"), 0, watched)
		reportsOf(t, filepath.Join(dir, "named"), watched, named)
	}
	must(t, exitDone, "run", "--office", calm, "-q")
	must(t, exitDone, "run", "--office", calm, "-q", filepath.Join(calm, "named"))
	begun := time.Now()
	must(t, exitDone, "run", "--office", calm, "-q") // nothing is there any more
	idle := int(time.Since(begun).Milliseconds())    // what beginning and ending take on this machine, now

	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	rnd := rand.New(rand.NewPCG(seed, 1))
	killed := 0
	for i := range kills {
		cmd := program(t, "watch", "--office", rough, "-q")
		wait := 500 + idle/2 + rnd.IntN(300) // the watched files settle first
		if i%2 == 1 {
			cmd = program(t, "run", "--office", rough, "-q", filepath.Join(rough, "named"))
			wait = idle/4 + rnd.IntN(300)
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Duration(wait) * time.Millisecond)
		if err := cmd.Process.Kill(); err == nil {
			killed++
		}
		_ = cmd.Wait() // it was killed
	}
	before := len(names(t, filepath.Join(rough, "inbox")))
	t.Logf("killed %d times; %d of %d watched files were still waiting then", killed, before, watched)
	if before == watched {
		t.Error("no watch was killed after it had begun its work: the kills come too early")
	}
	if killed < kills/2 {
		t.Errorf("only %d of %d kills met a running program: give it more files", killed, kills)
	}
	must(t, exitDone, "run", "--office", rough, "-q")
	must(t, exitDone, "run", "--office", rough, "-q", filepath.Join(rough, "named"))

	if left := names(t, filepath.Join(rough, "inbox")); len(left) > 0 {
		t.Errorf("left in the inbox: %v", left)
	}
	if n := len(names(t, filepath.Join(rough, "done"))); n != watched {
		t.Errorf("%d files in done, not %d", n, watched)
	}
	if n := len(names(t, filepath.Join(rough, "held"))); n != 0 {
		t.Errorf("%d files in held", n)
	}
	sameTree(t, tree(t, filepath.Join(rough, "archive")), tree(t, filepath.Join(calm, "archive")))
	letters := func(dir string) map[string]string {
		out := tree(t, filepath.Join(dir, "letters"))
		for p := range out {
			if strings.HasSuffix(p, ".part") || p == "index.html" {
				delete(out, p) // left by a kill; and a list whose order is that of the index
			}
		}
		return out
	}
	sameTree(t, letters(rough), letters(calm))
	if out := must(t, exitDone, "archive", "verify", "--office", rough); !strings.Contains(out, "all is well") {
		t.Errorf("verify says:\n%s", out)
	}
}

// TestThousandAtOnce drops a thousand reports at once into the folder of a
// running watch, some of them twice under other names, and wants each
// archived once.
func TestThousandAtOnce(t *testing.T) {
	const n, twice = 1000, 10
	if testing.Short() {
		t.Skip("short: works on a thousand files")
	}
	dir := t.TempDir()
	if err := makeOffice(dir); err != nil {
		t.Fatal(err)
	}
	w := startWatch(t, dir)
	drop := filepath.Join(dir, "drop")
	reportsOf(t, drop, 0, n)
	for i := range twice {
		b, err := os.ReadFile(filepath.Join(drop, names(t, drop)[i*7]))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(drop, "copy "+string(rune('a'+i))+".csv"), b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for _, name := range names(t, drop) {
		if err := os.Rename(filepath.Join(drop, name), filepath.Join(dir, "inbox", name)); err != nil {
			t.Fatal(err)
		}
	}
	begun := time.Now()
	w.until(t, 3*time.Minute, "all are filed", func() bool { return len(names(t, filepath.Join(dir, "inbox"))) == 0 })
	t.Logf("%d files in %.1f s", n+twice, time.Since(begun).Seconds())
	w.stop(t)
	if got := len(names(t, filepath.Join(dir, "done"))); got != n+twice {
		t.Errorf("%d files in done, not %d", got, n+twice)
	}
	originals, reports, again, arrivals := 0, 0, 0, 0
	for p, b := range tree(t, filepath.Join(dir, "archive")) {
		switch {
		case strings.HasPrefix(p, "originals/"):
			originals++
		case strings.HasPrefix(p, "reports/") && strings.HasSuffix(p, ".json"):
			reports++
		case strings.HasPrefix(p, "arrivals/"):
			arrivals++
			if strings.Contains(b, `"outcome":"again"`) || strings.Contains(b, `"outcome": "again"`) {
				again++
			}
		}
	}
	if originals != n || reports != n || arrivals != n+twice || again != twice {
		t.Errorf("%d originals, %d reports, %d arrivals of which %d again; want %d, %d, %d, %d", originals, reports, arrivals, again, n, n, n+twice, twice)
	}
	must(t, exitDone, "archive", "verify", "--office", dir)
}
