package main

import (
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// torture is how many times make torture kills the program; 0 without it.
func torture(t *testing.T) int {
	t.Helper()
	env := os.Getenv("TORTURE")
	if env == "" {
		return 0
	}
	n, err := strconv.Atoi(env)
	if err != nil || n < 1 {
		t.Fatalf("TORTURE is %q, not a number of kills", env)
	}
	return n
}

// unfinished looks whether a kill left something half done: a temporary file
// of the archive or a letter, or an original whose arrival is not noted. What
// earlier kills left doesn't count: their temporary files are in seen, and
// their originals without arrival in open.
func unfinished(t *testing.T, dir string, seen map[string]bool, open *int) bool {
	t.Helper()
	originals, arrivals, temp := 0, 0, false
	for _, top := range []string{"archive", "letters"} {
		_ = filepath.WalkDir(filepath.Join(dir, top), func(p string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				return nil //nolint:nilerr // the kill came before it was made
			}
			rel, _ := filepath.Rel(dir, p) // p lies below dir
			rel = filepath.ToSlash(rel)
			switch {
			case strings.HasPrefix(rel, "archive/originals/"):
				originals++
			case strings.HasPrefix(rel, "archive/arrivals/"):
				arrivals++
			case strings.HasPrefix(rel, "archive/incoming/"), strings.HasSuffix(rel, ".part"):
				temp = temp || !seen[rel]
				seen[rel] = true
			}
			return nil
		})
	}
	was := *open
	*open = originals - arrivals
	return temp || *open > was
}

// TestKilledAtAnyMoment kills the program twenty times at random moments (as
// often as TORTURE says under make torture), at work on watched and on named
// files by turns, lets it finish, and wants the very archive of an office that
// was never disturbed: nothing lost, nothing twice.
func TestKilledAtAnyMoment(t *testing.T) {
	if testing.Short() {
		t.Skip("short: kills the program twenty times")
	}
	kills, each, watchEvery := 20, 24, 2
	if n := torture(t); n > 0 {
		kills, each, watchEvery = n, 3, 5
	}
	calm, rough := t.TempDir(), t.TempDir()
	var lists []string // of named files: one for each kill, since what is done already takes the time of a later run
	for _, dir := range []string{calm, rough} {
		if err := makeOffice(dir); err != nil {
			t.Fatal(err)
		}
	}
	begun, watched := time.Now(), 0
	must(t, exitDone, "run", "--office", rough, "-q")
	idle := int(time.Since(begun).Milliseconds()) // what beginning and ending take on this machine, now

	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	rnd := rand.New(rand.NewPCG(seed, 1))
	killed, mid, open := 0, 0, 0
	seen := map[string]bool{}
	start := time.Now()
	for i := range kills {
		var cmd *exec.Cmd
		var wait int
		if i%watchEvery == 0 {
			reportsOf(t, filepath.Join(rough, "inbox"), i*each, each)
			reportsOf(t, filepath.Join(calm, "inbox"), i*each, each)
			watched += each
			cmd = program(t, "watch", "--office", rough, "-q")
			wait = 500 + idle/2 + rnd.IntN(300) // the watched files settle first
		} else {
			list := fmt.Sprintf("named-%04d", i)
			lists = append(lists, list)
			reportsOf(t, filepath.Join(rough, list), i*each, each)
			reportsOf(t, filepath.Join(calm, list), i*each, each)
			cmd = program(t, "run", "--office", rough, "-q", filepath.Join(rough, list))
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
		if cmd.ProcessState.Exited() {
			killed-- // it had ended by itself
		} else if unfinished(t, rough, seen, &open) {
			mid++
		}
		if i%100 == 99 {
			t.Logf("%d kills, %d in the middle of a file, %.0f s", killed, mid, time.Since(start).Seconds())
		}
	}
	t.Logf("%d kills of %d met a running program, %d in the middle of a file; %d files, %.0f s", killed, kills, mid, kills*each, time.Since(start).Seconds())
	if mid < kills/10 {
		t.Errorf("only %d of %d kills came in the middle of a file: they prove too little", mid, kills)
	}
	if killed < kills/2 {
		t.Errorf("only %d of %d kills met a running program: give it more files", killed, kills)
	}
	for _, dir := range []string{rough, calm} {
		args := []string{"run", "--office", dir, "-q", filepath.Join(dir, "inbox")}
		for _, list := range lists {
			args = append(args, filepath.Join(dir, list))
		}
		must(t, exitDone, args...)
	}

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
	out := must(t, exitDone, "archive", "verify", "--office", rough)
	if !strings.Contains(out, "all is well") {
		t.Errorf("verify says:\n%s", out)
	}
	t.Logf("verify: %s", strings.TrimSpace(out))
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
