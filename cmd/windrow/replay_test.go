package main

import (
	"bytes"
	"context"
	"fmt"
	"io/fs"
	"maps"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/normalize/archive/index"
)

// swap FILE OUT OLD NEW… copies a file with texts replaced, each of which must
// be there.
func swap(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 4 || len(args)%2 != 0 {
		ts.Fatalf("usage: swap FILE OUT OLD NEW…")
	}
	text := ts.ReadFile(args[0])
	for i := 2; i < len(args); i += 2 {
		if !strings.Contains(text, args[i]) {
			ts.Fatalf("%s does not hold %q", args[0], args[i])
		}
		text = strings.ReplaceAll(text, args[i], args[i+1])
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), []byte(text), 0o600))
}

func TestApart(t *testing.T) {
	long := "one two three four five six seven eight nine ten eleven twelve thirteen fourteen"
	for _, x := range []struct{ a, b, was, is string }{
		{"low", "high", "low", "high"},
		{long, strings.Replace(long, "seven", "7", 1), "… four five six seven eight nine ten …", "… four five six 7 eight nine ten …"},
		{long, "none " + long, "one two three …", "none one two three …"},
		{long, long + " fifteen", "… twelve thirteen fourteen", "… twelve thirteen fourteen fifteen"},
		{"", long, "", long},
	} {
		if was, is := apart(x.a, x.b); was != x.was || is != x.is {
			t.Errorf("%q, %q: %q → %q, want %q → %q", x.a, x.b, was, is, x.was, x.is)
		}
	}
}

// officeWith makes an office and has it work on files.
func officeWith(t *testing.T, code int, files ...string) string {
	t.Helper()
	dir := t.TempDir()
	if err := makeOffice(dir); err != nil {
		t.Fatal(err)
	}
	must(t, code, append([]string{"run", "--office", dir, "-q"}, files...)...)
	return dir
}

// fullVar names the environment variable with which TestReplayUnchanged reads
// the large scans, too, which takes a minute for each time.
const fullVar = "REPLAY_SCANS"

// TestReplayUnchanged wants no report of the demonstration, and none of the
// test laboratories', to be read otherwise a second time: held ones, revised
// ones, scans, mails and archives among them. Not a byte of archive and
// letters changes by it, with --apply or without.
func TestReplayUnchanged(t *testing.T) {
	if testing.Short() {
		t.Skip("short: reads every report of the test laboratories three times")
	}
	dir := filepath.Join(t.TempDir(), "office")
	must(t, exitDone, "demo", "--dir", dir)
	var files []string
	err := filepath.WalkDir("../../testdata/labs", func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		large := strings.HasPrefix(d.Name(), "DH-") && d.Name() != "DH-0475.pdf" && os.Getenv(fullVar) == ""
		if filepath.Ext(p) != ".json" && filepath.Ext(p) != ".md" && !large {
			files = append(files, p)
		}
		return nil
	})
	if err != nil || len(files) < 50 {
		t.Fatalf("%d files, %v", len(files), err)
	}
	must(t, exitHeld, append([]string{"run", "--office", dir, "-q"}, files...)...)
	before, letters := tree(t, filepath.Join(dir, "archive")), tree(t, filepath.Join(dir, "letters"))
	reports := 0
	for p := range before {
		if strings.HasPrefix(p, "reports/") && strings.HasSuffix(p, ".json") {
			reports++
		}
	}
	for _, args := range [][]string{{"replay"}, {"replay", "--apply"}} {
		out := must(t, exitHeld, append(args, "--office", dir, "-q")...)
		if line, _, _ := strings.Cut(out, "\n"); !strings.HasPrefix(line, fmt.Sprintf("%d reports read anew, 0 ", reports)) {
			t.Errorf("%v says:\n%s", args, out)
		}
		if n := strings.Count(out, "byte for byte"); n != 1 || strings.Contains(out, "not read") {
			t.Errorf("%v says:\n%s", args, out)
		}
		sameTree(t, tree(t, filepath.Join(dir, "archive")), before)
		sameTree(t, tree(t, filepath.Join(dir, "letters")), letters)
	}
	t.Logf("%d reports of %d files", reports, len(files))
}

// lettersOf are the letters of an office by their place, without the list and
// what a kill left half-written.
func lettersOf(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := tree(t, filepath.Join(dir, "letters"))
	for p := range out {
		if strings.HasSuffix(p, ".part") || p == "index.html" {
			delete(out, p)
		}
	}
	return out
}

// TestReplayStopped kills an applying replay, or stops it as Ctrl-C does, by
// turns and at random moments. Whenever that is, each report is at its old
// version with its old letter or none, or at its new version with its new
// letter or none; and giving the command again ends with the very archive,
// letters and index of one that was never disturbed.
func TestReplayStopped(t *testing.T) {
	const n, stops = 80, 10
	if testing.Short() {
		t.Skip("short: stops the program ten times")
	}
	dirs := [2]string{t.TempDir(), t.TempDir()}
	for _, dir := range dirs {
		if err := makeOffice(dir); err != nil {
			t.Fatal(err)
		}
		reportsOf(t, filepath.Join(dir, "named"), 0, n)
		must(t, exitDone, "run", "--office", dir, "-q", filepath.Join(dir, "named"))
		reread(t, dir)
	}
	calm, rough := dirs[0], dirs[1]
	old := lettersOf(t, rough)
	begun := time.Now()
	must(t, exitDone, "replay", "--apply", "--office", calm, "-q")
	took := time.Since(begun)
	now := lettersOf(t, calm)
	if len(old) != n || len(now) != 2*n {
		t.Fatalf("%d letters before, %d after, of %d reports", len(old), len(now), n)
	}

	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	rnd := rand.New(rand.NewPCG(seed, 1))
	between := 0
	for i := range stops {
		cmd := program(t, "replay", "--apply", "--office", rough, "-q")
		var errs bytes.Buffer
		cmd.Stderr = &errs
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(took/10 + time.Duration(rnd.Int64N(int64(took)/2)))
		if i%2 == 0 {
			_ = cmd.Process.Kill() // it may have ended
		} else {
			_ = cmd.Process.Signal(os.Interrupt)
		}
		_ = cmd.Wait() // its state tells
		if code := cmd.ProcessState.ExitCode(); i%2 == 1 && code != exitDone && code != -1 && !strings.Contains(errs.String(), "give the same command again") {
			t.Errorf("stopped, it ends with %d and says %s", code, errs.String())
		}
		if some := eitherOr(t, rough, old, now); some > 0 && some < n {
			between++
		}
	}
	if between == 0 {
		t.Error("no stop met the work in the middle")
	}
	t.Logf("%d of %d stops left some reports at their old and some at their new version", between, stops)
	must(t, exitDone, "replay", "--apply", "--office", rough, "-q")
	if out := must(t, exitDone, "replay", "--apply", "--office", rough, "-q"); !strings.HasPrefix(out, fmt.Sprintf("%d reports read anew, 0 changed", n)) {
		t.Errorf("something is left to do:\n%s", out)
	}
	sameTree(t, tree(t, filepath.Join(rough, "archive")), tree(t, filepath.Join(calm, "archive")))
	sameTree(t, lettersOf(t, rough), now)
	if out := must(t, exitDone, "archive", "verify", "--office", rough); !strings.Contains(out, "all is well") {
		t.Errorf("verify says:\n%s", out)
	}
	was := dump(t, rough)
	must(t, exitDone, "archive", "rebuild", "--office", rough)
	if is := dump(t, rough); is != was {
		t.Error("the index made anew from the archive is another")
	}
	if was != dump(t, calm) {
		t.Error("the index is not that of an office that was never disturbed")
	}
}

// reread gives an office a mapping by which phosphorus is read otherwise.
func reread(t *testing.T, dir string) {
	t.Helper()
	swapIn(t, dir, "marrow-brook.yaml", "Phosphorus:           {analyte: P, unit", "Phosphorus:           {analyte: P, basis: P2O5, unit")
}

// swapIn gives an office a built-in mapping with one text replaced.
func swapIn(t *testing.T, dir, name, was, is string) {
	t.Helper()
	b, err := os.ReadFile("../../mappings/labs/" + name)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Contains(b, []byte(was)) {
		t.Fatalf("the mapping does not hold %q", was)
	}
	at := filepath.Join(dir, "mappings")
	if err := os.MkdirAll(at, 0o750); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(at, name), bytes.ReplaceAll(b, []byte(was), []byte(is)), 0o600); err != nil {
		t.Fatal(err)
	}
}

// eitherOr wants each report of one sample at its first or second version,
// with the letter of that version or none. It counts those at the second.
func eitherOr(t *testing.T, dir string, old, now map[string]string) (second int) {
	t.Helper()
	at := map[string]int{}
	for p := range tree(t, filepath.Join(dir, "archive", "reports")) {
		if strings.HasSuffix(p, ".json") {
			at[filepath.Base(filepath.Dir(p))]++
		}
	}
	have := lettersOf(t, dir)
	for p, before := range old {
		id := p[strings.LastIndex(p, "_")+1 : strings.LastIndex(p, "-")]
		letter, is := have[p]
		switch version := at[id]; {
		case version < 1 || version > 2:
			t.Errorf("%s has %d versions", id, version)
		case is && version == 1 && letter != before:
			t.Errorf("%s is at its old version, and its letter is not", id)
		case is && version == 2 && letter != now[p]:
			t.Errorf("%s is at its new version, and its letter is not", id)
		}
		if at[id] == 2 {
			second++
		}
	}
	return second
}

// dump is the index of an office as text.
func dump(t *testing.T, dir string) string {
	t.Helper()
	ix, err := index.Open(context.Background(), filepath.Join(dir, "index.sqlite"))
	if err != nil {
		t.Fatal(err)
	}
	defer ix.Close()
	var b bytes.Buffer
	if err := ix.Dump(context.Background(), &b); err != nil {
		t.Fatal(err)
	}
	if b.Len() < 1000 {
		t.Fatalf("the index holds only %d bytes", b.Len())
	}
	return b.String()
}

// TestReplayWithoutOriginals loses one original and damages another: both are
// told, and all others are read.
func TestReplayWithoutOriginals(t *testing.T) {
	named := filepath.Join(t.TempDir(), "named")
	reportsOf(t, named, 0, 6)
	dir := officeWith(t, exitDone, named)
	var originals []string
	for p := range tree(t, filepath.Join(dir, "archive", "originals")) {
		originals = append(originals, filepath.Join(dir, "archive", "originals", filepath.FromSlash(p)))
	}
	if len(originals) != 6 {
		t.Fatalf("%d originals", len(originals))
	}
	if err := os.Remove(originals[0]); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(originals[1], 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(originals[1], []byte("other bytes"), 0o600); err != nil {
		t.Fatal(err)
	}
	reread(t, dir)
	for _, args := range [][]string{{"replay"}, {"replay", "--apply"}} {
		cmd := program(t, append(args, "--office", dir, "-q")...)
		var out, errs bytes.Buffer
		cmd.Stdout, cmd.Stderr = &out, &errs
		_ = cmd.Run() // its state tells
		if code := cmd.ProcessState.ExitCode(); code != exitFailed {
			t.Errorf("%v: exit %d\n%s%s", args, code, out.String(), errs.String())
		}
		for _, want := range []string{"       4  with a difference\n", "       2  not read; see above\n"} {
			if !strings.Contains(out.String(), want) {
				t.Errorf("%v says not %q but\n%s", args, want, out.String())
			}
		}
		if !strings.Contains(errs.String(), "[archive-not-found]") || !strings.Contains(errs.String(), "[archive-damaged]") {
			t.Errorf("%v tells:\n%s", args, errs.String())
		}
	}
}

// TestReplayMails reads what came in mails and archives as it came: with what
// lies beside it and with its sender. One report that came in two mails is
// one report, whichever of them is read first.
func TestReplayMails(t *testing.T) {
	const lab = "../../testdata/labs/ashlar-reed-soil-laboratory/"
	again := filepath.Join(t.TempDir(), "again.eml")
	b, err := os.ReadFile(lab + "AR-26-2201.eml")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(again, append([]byte("X-Forwarded: yes\r\n"), b...), 0o600); err != nil {
		t.Fatal(err)
	}
	dir := officeWith(t, exitDone, lab+"AR-26-2201.eml", lab+"AR-26-2214.eml", lab+"AR-26-2260-batch.zip", again)
	before := tree(t, filepath.Join(dir, "archive"))
	out := must(t, exitDone, "replay", "--apply", "--office", dir, "-q")
	if !strings.Contains(out, " reports read anew, 0 changed\n") {
		t.Errorf("nothing is another, and replay says:\n%s", out)
	}
	sameTree(t, tree(t, filepath.Join(dir, "archive")), before)

	swapIn(t, dir, "ashlar-reed.yaml", "  K: {analyte: K, unit: ppm", "  K: {analyte: K, basis: K2O, unit: ppm")
	out = must(t, exitDone, "replay", "--apply", "--office", dir, "-q")
	if strings.Contains(out, ", 0 changed") || strings.Contains(out, "not read") || strings.Contains(out, "no longer made") {
		t.Errorf("a mapping that reads otherwise, and replay says:\n%s", out)
	}
	t.Log(strings.Split(out, "\n")[0])
	out = must(t, exitDone, "replay", "--apply", "--office", dir, "-q")
	if !strings.Contains(out, " reports read anew, 0 changed\n") {
		t.Errorf("all is done, and replay says:\n%s", out)
	}
	must(t, exitDone, "archive", "verify", "--office", dir)
}

// TestReplayCannotRead reads scans anew where the program that reads them is
// missing. That says nothing of the reports: they are told as not read, and stay
// as they are.
func TestReplayCannotRead(t *testing.T) {
	if _, err := exec.LookPath("tesseract"); err != nil {
		t.Skip("tesseract is missing, so that no scan can be read to begin with; apt-get install tesseract-ocr")
	}
	dir := officeWith(t, exitHeld, "../../testdata/labs/dunmere-hand-laboratory/DH-0461.pdf")
	before := tree(t, filepath.Join(dir, "archive"))
	at := filepath.Join(dir, config.FileName)
	b, err := os.ReadFile(at)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(at, append(b, "\ntesseract: /nowhere/tesseract\n"...), 0o600); err != nil {
		t.Fatal(err)
	}
	cmd := program(t, "replay", "--apply", "--office", dir, "-q")
	var out, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errs
	_ = cmd.Run() // its state tells
	if code := cmd.ProcessState.ExitCode(); code != exitFailed || !strings.Contains(out.String(), "       1  not read; see above\n") || !strings.Contains(errs.String(), "[scan-no-ocr]") {
		t.Errorf("exit %d\n%s%s", code, out.String(), errs.String())
	}
	if after := tree(t, filepath.Join(dir, "archive")); !maps.Equal(before, after) {
		t.Error("the archive is not as it was")
	}
}
