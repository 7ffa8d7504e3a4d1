package main

import (
	"context"
	"database/sql"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	_ "modernc.org/sqlite" // to lock the index as another program does

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest/folder"
)

// undisturbed is an office that worked on the reports of reportsOf and was let
// alone.
func undisturbed(t *testing.T, n int) string {
	t.Helper()
	dir := t.TempDir()
	if err := makeOffice(dir); err != nil {
		t.Fatal(err)
	}
	reportsOf(t, filepath.Join(dir, "inbox"), 0, n)
	must(t, exitDone, "run", "--office", dir, "-q")
	return dir
}

// whole wants the archive of an office that was let alone, its letters, each
// file filed once, and a clean verify.
func whole(t *testing.T, dir, calm string) {
	t.Helper()
	for _, sub := range []string{"archive", "letters"} {
		got, want := tree(t, filepath.Join(dir, sub)), tree(t, filepath.Join(calm, sub))
		for _, x := range []map[string]string{got, want} {
			delete(x, "index.html") // its order is that of the index
		}
		sameTree(t, got, want)
	}
	if got, want := len(names(t, filepath.Join(dir, "done"))), len(names(t, filepath.Join(calm, "done"))); got != want {
		t.Errorf("%d files in done, not %d", got, want)
	}
	if out := must(t, exitDone, "archive", "verify", "--office", dir); !strings.Contains(out, "all is well") {
		t.Errorf("verify says:\n%s", out)
	}
}

// Two processes in one office at once: one of them works, the other is told so
// and touches nothing, whatever the two are. Looking on is no work: verify
// finds everything well in the middle of a load.
func TestTwoProcessesInOneOffice(t *testing.T) {
	const n = 60
	calm := undisturbed(t, n)
	dir := t.TempDir()
	if err := makeOffice(dir); err != nil {
		t.Fatal(err)
	}
	reportsOf(t, filepath.Join(dir, "first"), 0, 1)
	must(t, exitDone, "run", "--office", dir, "-q", filepath.Join(dir, "first"))
	var id string
	for id = range archivedReports(t, dir) {
	}
	dir2 := t.TempDir() // a second one, without the first report
	if err := makeOffice(dir2); err != nil {
		t.Fatal(err)
	}

	// run and run, from the same moment: whichever is second is refused.
	reportsOf(t, filepath.Join(dir2, "inbox"), 0, n)
	var wg sync.WaitGroup
	said := make([]string, 4)
	for i := range said {
		wg.Go(func() {
			out, err := program(t, "run", "--office", dir2).CombinedOutput()
			if said[i] = string(out); err == nil {
				said[i] = "done\n" + said[i]
			}
		})
	}
	wg.Wait()
	done := 0
	for _, s := range said {
		switch {
		case strings.HasPrefix(s, "done"):
			done++
		case !strings.Contains(s, "office-busy") || !strings.Contains(s, "let it finish or stop it"):
			t.Errorf("neither done nor refused:\n%s", s)
		}
	}
	if done == 0 {
		t.Error("none of the four did the work")
	}
	whole(t, dir2, calm)

	// A watch at load, and all that may want the office beside it.
	w := startWatch(t, dir)
	reportsOf(t, filepath.Join(dir, "inbox"), 1, n-1)
	looked, refused := 0, 0
	for begun := time.Now(); len(names(t, filepath.Join(dir, "inbox"))) > 0 || looked == 0; {
		if time.Since(begun) > 2*time.Minute {
			t.Fatalf("the watch does not come to an end:\n%s", w.errs.String())
		}
		if out := must(t, exitDone, "archive", "verify", "--office", dir); !strings.Contains(out, "all is well") {
			t.Errorf("verify in the middle of a load says:\n%s", out)
		}
		looked++
		for _, args := range [][]string{{"run", "--office", dir}, {"replay", "--office", dir, "--apply"},
			{"archive", "erase", "--office", dir, id, "--by", "Records Desk", "--because", "request", "--apply"}} {
			out, err := program(t, args...).CombinedOutput()
			if err == nil || !strings.Contains(string(out), "office-busy") {
				t.Errorf("%v beside a watch is not refused: %v\n%s", args, err, out)
			}
			refused++
		}
	}
	w.stop(t)
	t.Logf("looked %d times, refused %d times", looked, refused)
	reports := archivedReports(t, dir)
	if len(reports) != n || reports[id] == nil || !strings.Contains(fmt.Sprint(reports[id].Records[0].Client), "{") {
		t.Errorf("%d reports, want %d", len(reports), n)
	}

	// And the other way round: an erasure and a replay get the office when it
	// is free, and leave it well.
	must(t, exitDone, "replay", "--office", dir, "--apply")
	eraseOf(t, dir, id)
	must(t, exitDone, "archive", "verify", "--office", dir)
}

// A watched folder is renamed, as a share that is taken off does, and comes
// back: it is told of once each way, nothing is made in its place, and the
// files that came meanwhile are taken.
func TestFolderThatIsTakenOff(t *testing.T) {
	const n = 12
	calm, dir := undisturbed(t, n), t.TempDir()
	if err := makeOffice(dir); err != nil {
		t.Fatal(err)
	}
	w := startWatch(t, dir)
	inbox, away := filepath.Join(dir, "inbox"), filepath.Join(dir, "away")
	reportsOf(t, inbox, 0, n/2) // some are being settled or worked on when it goes
	time.Sleep(400 * time.Millisecond)
	for round := range 2 {
		if err := os.Rename(inbox, away); err != nil {
			t.Fatal(err)
		}
		w.until(t, 20*time.Second, "it says that the folder is gone", func() bool { return strings.Count(w.errs.String(), folder.CodeGone) > round })
		if round == 0 {
			reportsOf(t, away, n/2, n/2)
		}
		if _, err := os.Stat(inbox); err == nil {
			t.Error("something was made in the place of the folder that is gone")
		}
		if err := os.Rename(away, inbox); err != nil {
			t.Fatal(err)
		}
		w.until(t, 30*time.Second, "all are filed", func() bool { return len(names(t, inbox)) == 0 })
	}
	said := w.errs.String()
	if !strings.Contains(said, inbox) || !strings.Contains(said, "goes on by itself when it is back") {
		t.Errorf("what was said does not name the folder or what to do:\n%s", said)
	}
	w.stop(t)
	whole(t, dir, calm)
}

// The index is deleted, cut short, overwritten with rubbish, or locked by
// another program while a watch is at work. Every file is taken all the same,
// once: also a report that comes again in another file, which only the index
// knows of.
func TestIndexFailsWhileWatching(t *testing.T) {
	const n = 20
	calm := undisturbed(t, n)
	hold := 3 * time.Second
	if torture(t) > 0 {
		hold = 40 * time.Second // longer than it is waited for: the files wait, and are told of
	}
	for name, harm := range map[string]func(t *testing.T, path string){
		"deleted": func(t *testing.T, path string) {
			for _, s := range []string{"", "-wal", "-shm"} {
				if err := os.Remove(path + s); err != nil {
					t.Fatal(err)
				}
			}
		},
		"cut short": func(t *testing.T, path string) { rewrite(t, path, func(b []byte) []byte { return b[:len(b)/3] }) },
		"emptied":   func(t *testing.T, path string) { rewrite(t, path, func([]byte) []byte { return nil }) },
		"rubbish": func(t *testing.T, path string) {
			rewrite(t, path, func(b []byte) []byte { return []byte(strings.Repeat("rubbish ", len(b)/8)) })
		},
		"rubbish in the middle": func(t *testing.T, path string) {
			rewrite(t, path, func(b []byte) []byte {
				for i := 4096; i < len(b); i++ {
					b[i] = "rubbish "[i%8]
				}
				return b
			})
		},
		"replaced": func(t *testing.T, path string) { // by an empty one, as a program does that saves by renaming
			if err := os.WriteFile(path+".new", nil, 0o600); err != nil {
				t.Fatal(err)
			}
			if err := os.Rename(path+".new", path); err != nil {
				t.Fatal(err)
			}
		},
		"locked": func(t *testing.T, path string) {
			db, err := sql.Open("sqlite", "file:"+path)
			if err != nil {
				t.Fatal(err)
			}
			c, err := db.Conn(t.Context())
			if err == nil {
				_, err = c.ExecContext(t.Context(), "PRAGMA busy_timeout=10000")
			}
			if err == nil {
				_, err = c.ExecContext(t.Context(), "BEGIN IMMEDIATE")
			}
			if err != nil {
				t.Fatal(err)
			}
			time.AfterFunc(hold, func() {
				_, _ = c.ExecContext(context.WithoutCancel(t.Context()), "ROLLBACK")
				_ = c.Close()
				_ = db.Close()
			})
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			dir := t.TempDir()
			if err := makeOffice(dir); err != nil {
				t.Fatal(err)
			}
			w := startWatch(t, dir)
			inbox := filepath.Join(dir, "inbox")
			reportsOf(t, inbox, 0, n/2)
			w.until(t, time.Minute, "the first half is filed", func() bool { return len(names(t, inbox)) == 0 })
			harm(t, filepath.Join(dir, "index.sqlite"))
			reportsOf(t, inbox, n/2, n/2)
			w.until(t, 3*time.Minute, "the second half is filed", func() bool { return len(names(t, inbox)) == 0 })
			said := w.errs.String()
			w.stop(t)
			if name == "deleted" && !strings.Contains(said, pipeline.CodeIndexAnew) {
				t.Errorf("that the index was made again is not told:\n%s", said)
			}
			if name == "locked" && hold > 20*time.Second && !strings.Contains(said, "another program keeps it locked") {
				t.Errorf("that the index is locked is not told:\n%s", said)
			}
			whole(t, dir, calm)
			// What the index knows now is what the archive holds.
			have := dump(t, dir)
			must(t, exitDone, "archive", "rebuild", "--office", dir)
			if have == "" || have != dump(t, dir) {
				t.Error("the index is not that which the archive makes")
			}
			// A report that came before, in another file: only the index knows.
			before := len(archivedReports(t, dir))
			first := names(t, filepath.Join(dir, "done"))[0]
			copyFile(t, filepath.Join(dir, "done", first), filepath.Join(dir, "again.csv"))
			if out := must(t, exitDone, "run", "--office", dir, filepath.Join(dir, "again.csv")); !strings.Contains(out, "before") && !strings.Contains(out, "already") {
				t.Errorf("it is not told that it came before:\n%s", out)
			}
			if got := len(archivedReports(t, dir)); got != before {
				t.Errorf("%d reports, and %d before", got, before)
			}
		})
	}
}

// rewrite changes the file of an index where it lies, once everything is in it
// and nothing in its journal.
func rewrite(t *testing.T, path string, as func([]byte) []byte) {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+path)
	if err == nil {
		_, err = db.ExecContext(t.Context(), "PRAGMA wal_checkpoint(TRUNCATE)")
	}
	if err == nil {
		err = db.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_TRUNC, 0)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.Write(as(b)); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
}

// The clock of the machine jumps back and forward between runs, and files bear
// times before their laboratory's and after today. What is archived is the
// same, versions follow one another, and nothing is taken twice.
func TestClockJumpsBetweenRuns(t *testing.T) {
	dir := t.TempDir()
	if err := makeOffice(dir); err != nil {
		t.Fatal(err)
	}
	named := filepath.Join(dir, "named")
	reportsOf(t, named, 0, 3)
	list := names(t, named)
	write(t, filepath.Join(dir, "register.csv"), "label,client,date sent\nA1,Marten Oake,2026-05-11\nA2,Marten Oake,2031-01-01\n")
	outcomes := func() (o []string) {
		for p, b := range tree(t, filepath.Join(dir, "archive", "arrivals")) {
			o = append(o, p+b)
		}
		return o
	}
	for i, when := range []time.Time{fixedNow().AddDate(0, 0, -20), fixedNow().AddDate(3, 0, 0), fixedNow().AddDate(-40, 0, 0), time.Unix(0, 0), fixedNow().AddDate(0, 0, -21)} {
		for _, name := range list {
			if err := os.Chtimes(filepath.Join(named, name), when, when); err != nil {
				t.Fatal(err)
			}
		}
		must(t, exitDone, "run", "--office", dir, "-q", named)
		must(t, exitDone, "run", "--office", dir, "-q", named) // the same again is the same arrival
		if got, want := len(outcomes()), 3*(i+1); got != want {
			t.Fatalf("after jump %d: %d arrivals, not %d", i, got, want)
		}
		reports, versions := 0, 0
		for p := range tree(t, filepath.Join(dir, "archive", "reports")) {
			if strings.HasSuffix(p, ".json") {
				versions++
			}
		}
		reports = len(archivedReports(t, dir))
		if reports != 3 || versions != 3 {
			t.Fatalf("after jump %d: %d reports with %d versions", i, reports, versions)
		}
		if out := must(t, exitDone, "waiting", "--office", dir); !strings.Contains(out, "A1") || !strings.Contains(out, "A2") || strings.Contains(out, " -") {
			t.Errorf("what waits, with one from a time to come:\n%s", out)
		}
	}
	if out := must(t, exitDone, "archive", "verify", "--office", dir); !strings.Contains(out, "all is well") {
		t.Error(out)
	}
}

// regular lists the files below a folder, temporary ones apart.
func regular(t *testing.T, dir string) (list []string) {
	t.Helper()
	err := filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
		if err == nil && d.Type().IsRegular() && !strings.Contains(p, "/incoming/") {
			list = append(list, p)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return list
}
