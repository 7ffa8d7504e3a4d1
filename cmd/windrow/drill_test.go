package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// countsOf is what verify counts in an archive that is well.
func countsOf(t *testing.T, dir string) string {
	t.Helper()
	out := must(t, exitDone, "archive", "verify", "--office", dir)
	if !strings.Contains(out, "all is well") {
		t.Fatalf("verify says:\n%s", out)
	}
	line, _, _ := strings.Cut(out, "\n")
	return line
}

// TestRestoreDrill does what deploy/BACKUP.md says, with the program itself: a
// copy under load is sound and can be restored; after the load one more copy
// adds the rest; archive and index are wiped and come back from it with the same
// counts, byte for byte; reports that come again are known; and a single damaged
// file is brought back by the same import.
func TestRestoreDrill(t *testing.T) {
	dir := t.TempDir()
	if err := makeOffice(dir); err != nil {
		t.Fatal(err)
	}
	archive, index := filepath.Join(dir, "archive"), filepath.Join(dir, "index.sqlite")
	const n = 40
	given := filepath.Join(t.TempDir(), "given")
	if err := os.Mkdir(given, 0o700); err != nil {
		t.Fatal(err)
	}
	reportsOf(t, given, 0, n)
	reportsOf(t, filepath.Join(dir, "inbox"), 0, n)
	copies := filepath.Join(t.TempDir(), "copies")
	w := startWatch(t, dir)
	filed := func() int { return len(names(t, filepath.Join(dir, "done"))) }
	w.until(t, time.Minute, "it works", func() bool { return filed() > 2 })
	began := filed()
	must(t, exitDone, "archive", "export", "--office", dir, copies)
	ended := filed()
	t.Logf("copied while %d to %d of %d reports were filed", began, ended, n)
	if began >= n {
		t.Fatal("there was no load any more when the copy began")
	}

	// The copy under load, restored elsewhere.
	other := t.TempDir()
	if err := makeOffice(other); err != nil {
		t.Fatal(err)
	}
	must(t, exitDone, "archive", "import", "--office", other, copies)
	t.Logf("restored from the copy under load: %s", countsOf(t, other))
	if got := len(tree(t, filepath.Join(other, "archive", "originals"))); got < began {
		t.Errorf("the copy has %d originals, and %d reports were filed before it began", got, began)
	}

	w.until(t, 2*time.Minute, "all are filed", func() bool { return filed() == n })
	w.stop(t)
	must(t, exitDone, "archive", "export", "--office", dir, copies)
	before, indexed, whole := countsOf(t, dir), must(t, exitDone, "archive", "rebuild", "--office", dir), tree(t, archive)

	// The loss, and the way back.
	for _, p := range []string{archive, index, index + "-wal", index + "-shm"} {
		if err := os.RemoveAll(p); err != nil {
			t.Fatal(err)
		}
	}
	if out, err := program(t, "doctor", "--office", dir).CombinedOutput(); err == nil || !strings.Contains(string(out), "do not run windrow before") {
		t.Errorf("the doctor says of the loss (%v):\n%s", err, out)
	}
	must(t, exitDone, "archive", "import", "--office", dir, copies)
	if got := countsOf(t, dir); got != before {
		t.Errorf("restored %s\nof       %s", got, before)
	}
	if got := must(t, exitDone, "archive", "rebuild", "--office", dir); got != indexed {
		t.Errorf("the index has %s, and had %s", got, indexed)
	}
	sameTree(t, tree(t, archive), whole)
	out := must(t, exitDone, "run", "--office", dir, given)
	if got := strings.Count(out, "these bytes are in the archive already"); got != n {
		t.Errorf("of %d reports that came again %d are known", n, got)
	}

	// A single file, damaged.
	var at string
	for p := range tree(t, filepath.Join(archive, "originals")) {
		at = filepath.Join(archive, "originals", p)
	}
	if err := os.Chmod(at, 0o600); err != nil {
		t.Fatal(err)
	}
	write(t, at, "other")
	bad, err := program(t, "archive", "verify", "--office", dir).CombinedOutput()
	if err == nil || !strings.Contains(string(bad), filepath.Base(at)) {
		t.Errorf("the damage is not named (%v):\n%s", err, bad)
	}
	if err := os.Rename(at, filepath.Join(t.TempDir(), "aside")); err != nil {
		t.Fatal(err)
	}
	must(t, exitDone, "archive", "import", "--office", dir, copies)
	countsOf(t, dir)
}
