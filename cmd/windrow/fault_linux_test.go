package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// disk mounts a small disk in memory, of which the test is the owner. Without
// the right to do so the test is left out, and says so; the same faults are
// then tried only at the seams of normalize/archive and ingest/folder.
func disk(t *testing.T, at, size string) {
	t.Helper()
	if err := os.MkdirAll(at, 0o750); err != nil {
		t.Fatal(err)
	}
	if err := unix.Mount("none", at, "tmpfs", 0, "size="+size+",mode=0750"); err != nil {
		t.Skipf("a disk that fills can't be made here, which takes root: %v", err)
	}
	t.Cleanup(func() { _ = unix.Unmount(at, unix.MNT_DETACH) })
}

func remount(t *testing.T, at, size string, flags uintptr) {
	t.Helper()
	if err := unix.Mount("none", at, "tmpfs", unix.MS_REMOUNT|flags, "size="+size); err != nil {
		t.Fatal(err)
	}
}

// A real disk fills up, is made larger, turns read-only, and may be written to
// again. Each failure names the file, what happened and what to do; then the
// archive is that of an office that was let alone.
func TestDiskThatFills(t *testing.T) {
	const n = 40
	calm := undisturbed(t, n)
	reports := t.TempDir()
	reportsOf(t, reports, 0, n)
	at := filepath.Join(t.TempDir(), "disk")
	disk(t, at, "1536k")
	if err := makeOffice(at); err != nil {
		t.Fatal(err)
	}
	told := map[string]bool{}
	say := func(out []byte, err error, codes ...string) {
		t.Helper()
		if err == nil {
			t.Fatalf("no failure is told:\n%s", out)
		}
		s := string(out)
		for _, c := range codes {
			if strings.Contains(s, c) {
				told[c] = true
				if !strings.Contains(s, "nothing was lost") && !strings.Contains(s, "nothing is lost") && !strings.Contains(s, "next") {
					t.Errorf("no next step:\n%s", s)
				}
				return
			}
		}
		t.Errorf("none of %v is told:\n%s", codes, s)
	}
	for _, size := range []string{"1536k", "2m", "3m"} {
		remount(t, at, size, 0)
		out, err := program(t, "run", "--office", at, "-q", reports).CombinedOutput()
		if err != nil {
			say(out, err, "archive-disk-full", "index-failed", "no space left", "disk is full")
		}
	}
	if len(told) == 0 {
		t.Error("the disk was never full, so that nothing is shown")
	}
	remount(t, at, "64m", unix.MS_RDONLY)
	out, err := program(t, "run", "--office", at, "-q", reports).CombinedOutput()
	say(out, err, "folder-amiss", "archive-no-rights", "index-failed")
	remount(t, at, "64m", 0)
	must(t, exitDone, "run", "--office", at, "-q", reports)
	t.Logf("told: %v; %d files", told, len(regular(t, at)))
	for _, sub := range []string{"originals", "reports", "advice"} {
		sameTree(t, tree(t, filepath.Join(at, "archive", sub)), tree(t, filepath.Join(calm, "archive", sub)))
	}
	if out := must(t, exitDone, "archive", "verify", "--office", at); !strings.Contains(out, "all is well") {
		t.Errorf("verify says:\n%s", out)
	}
}

// The watched folder lies on another disk, which is taken off while its files
// are worked on, leaving an empty folder in its place as a share does, and put
// back: files are copied and not renamed, each is filed once, with its time.
func TestInboxOnADiskThatIsTakenOff(t *testing.T) {
	const n = 24
	calm, dir := undisturbed(t, n), t.TempDir()
	share := filepath.Join(t.TempDir(), "share") // what the disk holds
	disk(t, share, "8m")
	if err := makeOffice(dir); err != nil {
		t.Fatal(err)
	}
	inbox := filepath.Join(dir, "inbox")
	on := func() {
		t.Helper()
		if err := unix.Mount(share, inbox, "", unix.MS_BIND, ""); err != nil {
			t.Fatal(err)
		}
	}
	on()
	t.Cleanup(func() { _ = unix.Unmount(inbox, unix.MNT_DETACH) })
	w := startWatch(t, dir)
	for i := range 4 {
		reportsOf(t, share, i*n/4, n/4)
		time.Sleep(time.Duration(500+i*40) * time.Millisecond) // in the middle of them
		if err := unix.Unmount(inbox, unix.MNT_DETACH); err != nil {
			t.Fatal(err)
		}
		time.Sleep(300 * time.Millisecond)
		if left := names(t, inbox); len(left) > 0 {
			t.Errorf("in the place of the disk there is %v", left)
		}
		on()
	}
	w.until(t, time.Minute, "all are filed", func() bool { return len(names(t, inbox)) == 0 })
	w.stop(t)
	whole(t, dir, calm)
	for i, name := range names(t, filepath.Join(dir, "done")) {
		info, err := os.Stat(filepath.Join(dir, "done", name))
		if err != nil {
			t.Fatal(err)
		}
		if want := time.Date(2026, 5, 4, 8, 0, i, 0, time.UTC); !info.ModTime().Equal(want) || !strings.HasSuffix(name, fmt.Sprintf("MB27-%04d.csv", i)) {
			t.Errorf("%s is of %v, and was of %v", name, info.ModTime(), want)
		}
	}
}
