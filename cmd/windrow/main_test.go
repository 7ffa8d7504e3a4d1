package main

import (
	"archive/zip"
	"bytes"
	"flag"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"example.org/windrow/cmd/internal/pipeline"
)

var update = flag.Bool("update", false, "write what the scripts print into them; read the difference before you keep it")

// asProgram in the environment makes the test binary the program itself, at
// the fixed time or, with "now", at this one.
const asProgram = "BE_THE_PROGRAM"

// fixedNow is the clock of every program that the tests start: the date of
// advice and of datasets.
func fixedNow() time.Time { return time.Date(2026, 6, 1, 9, 30, 0, 0, time.UTC) }

func TestMain(m *testing.M) {
	if code, yes := pipeline.Child(); yes {
		os.Exit(code)
	}
	switch os.Getenv(asProgram) {
	case "":
	case "now":
		os.Exit(start(time.Now))
	default:
		os.Exit(start(fixedNow))
	}
	testscript.Main(removing{m}, map[string]func(){"windrow": func() { os.Exit(start(fixedNow)) }})
}

// removing runs the tests, and removes the program that they made.
type removing struct{ m *testing.M }

// Run implements testscript.TestingM.
func (r removing) Run() int {
	code := r.m.Run()
	if at, err := plain(); underRace && err == nil {
		_ = os.Remove(at) // in a folder for temporary files
	}
	return code
}

// racedScripts are those in which files are worked on at once, or pages served
// beside: what the others do, one thing after the other, takes six times as long
// under the detector and shows it nothing.
var racedScripts = []string{"access", "demo", "hostile", "run", "usage"}

// TestScripts runs each file of testdata/script: commands, and what they must
// print and how they must end.
func TestScripts(t *testing.T) {
	const dir = "testdata/script"
	all, err := filepath.Glob(dir + "/*.txtar")
	if err != nil || len(all) < 10 {
		t.Fatalf("only %d scripts (%v)", len(all), err)
	}
	testscript.Run(t, testscript.Params{Dir: dir, UpdateScripts: *update, RequireExplicitExec: true,
		Setup: func(env *testscript.Env) error {
			for k, v := range map[string]string{"LABS": "../../testdata/labs", "HOSTILE": "../../testdata/hostile"} {
				abs, err := filepath.Abs(v)
				if err != nil {
					return err
				}
				env.Setenv(k, abs)
			}
			if underRace && !slices.Contains(racedScripts, strings.TrimPrefix(filepath.Base(env.WorkDir), "script-")) {
				at, err := plain()
				if err != nil {
					return err
				}
				bin := filepath.Join(env.WorkDir, ".bin")
				if err := os.Mkdir(bin, 0o750); err != nil {
					return err
				}
				if err := os.Symlink(at, filepath.Join(bin, "windrow")); err != nil {
					return err
				}
				env.Setenv("PATH", bin+string(filepath.ListSeparator)+env.Getenv("PATH"))
			}
			return outsideZip(filepath.Join(env.WorkDir, "only-outside.zip"))
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"exits": exits, "to": to, "count": count, "office": office, "narrow": narrow, "without": without, "swap": swap,
		}})
}

// outsideZip makes a zip whose only entry points out of it.
func outsideZip(at string) error {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	f, err := z.Create("../../report.csv")
	if err != nil {
		return err
	}
	if _, err := f.Write([]byte("LabNo,Result\n1,2\n")); err != nil {
		return err
	}
	if err := z.Close(); err != nil {
		return err
	}
	return os.WriteFile(at, b.Bytes(), 0o600)
}

// exits CODE COMMAND… runs a command that must end with that code.
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits CODE COMMAND…")
	}
	err := ts.Exec(args[1], args[2:]...)
	code := 0
	if err != nil {
		var ee *exec.ExitError
		if !errorsAs(err, &ee) {
			ts.Fatalf("%v", err)
		}
		code = ee.ExitCode()
	}
	if got := fmt.Sprint(code); got != args[0] {
		ts.Fatalf("%v exits with %s, not %s", args[1:], got, args[0])
	}
}

// to FILE CODE windrow ARGUMENT… runs the program, which must end with that
// code, and puts what it prints on stdout into a file: the log of a test is for
// people, and a document as JSON has 20,000 lines.
func to(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 4 || args[2] != "windrow" {
		ts.Fatalf("usage: to FILE CODE windrow ARGUMENT…")
	}
	self, err := os.Executable()
	ts.Check(err)
	cmd := exec.Command(self, args[3:]...)
	cmd.Dir = ts.MkAbs(".")
	cmd.Env = append(os.Environ(), asProgram+"=1")
	var errs bytes.Buffer
	cmd.Stderr = &errs
	out, err := cmd.Output()
	if cmd.ProcessState == nil {
		ts.Fatalf("%v", err)
	}
	if got := fmt.Sprint(cmd.ProcessState.ExitCode()); got != args[1] {
		ts.Fatalf("%v exits with %s, not %s\n%s", args[2:], got, args[1], errs.Bytes())
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), out, 0o600))
}

func errorsAs(err error, to **exec.ExitError) bool {
	ee, ok := err.(*exec.ExitError) //nolint:errorlint // testscript hands on what exec returned
	*to = ee
	return ok
}

// count N FILE TEXT wants the text on exactly N lines of a file.
func count(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 3 {
		ts.Fatalf("usage: count N FILE TEXT")
	}
	n := 0
	for line := range strings.Lines(ts.ReadFile(args[1])) {
		if strings.Contains(line, args[2]) {
			n++
		}
	}
	if fmt.Sprint(n) != args[0] {
		ts.Fatalf("%d lines of %s have %q, not %s", n, args[1], args[2], args[0])
	}
}

// narrow FILE wants no line beyond 80 characters.
func narrow(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: narrow FILE")
	}
	for line := range strings.Lines(ts.ReadFile(args[0])) {
		if n := len([]rune(strings.TrimRight(line, "\n"))); n > width {
			ts.Fatalf("%d characters: %s", n, line)
		}
	}
}

// without FILE OUT TEXT… copies a file without the lines that hold a text.
func without(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 3 {
		ts.Fatalf("usage: without FILE OUT TEXT…")
	}
	var b strings.Builder
	for line := range strings.Lines(ts.ReadFile(args[0])) {
		keep := true
		for _, x := range args[2:] {
			keep = keep && !strings.Contains(line, x)
		}
		if keep {
			b.WriteString(line)
		}
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), []byte(b.String()), 0o600))
}

// office DIR makes a small office that settles fast.
func office(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: office DIR")
	}
	ts.Check(makeOffice(ts.MkAbs(args[0])))
}

// makeOffice makes an office whose watched folder settles as fast as may be.
func makeOffice(dir string) error {
	if err := os.MkdirAll(filepath.Join(dir, "inbox"), 0o750); err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(dir, "windrow.yaml"), []byte("office:\n  name: \"Finch County Soil Desk\"\nwatch:\n  settle: 500ms\n  poll: 100ms\nlisten: 127.0.0.1:0\n"), 0o600)
}

// plain is this test binary without the race detector, made once: a program
// under the detector takes minutes for what these tests give it to do. The
// scripts in which several things happen at once run under it all the same.
var plain = sync.OnceValues(func() (string, error) {
	self, err := os.Executable()
	if err != nil || !underRace {
		return self, err
	}
	at := filepath.Join(os.TempDir(), fmt.Sprintf("windrow-test-%d", os.Getpid()))
	cmd := exec.Command("go", "test", "-c", "-o", at, ".")
	cmd.Env = append(os.Environ(), "CGO_ENABLED=0") // as make builds the program, so that its cache is of use
	out, err := cmd.CombinedOutput()
	if err != nil {
		return "", fmt.Errorf("go test -c: %w\n%s", err, out)
	}
	return at, nil
})

// program is the program as another process.
func program(t *testing.T, args ...string) *exec.Cmd {
	t.Helper()
	at, err := plain()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(at, args...)
	cmd.Env = append(os.Environ(), asProgram+"=1")
	return cmd
}

// must runs the program, and wants it to end with a code.
func must(t *testing.T, code int, args ...string) string {
	t.Helper()
	cmd := program(t, args...)
	var errs bytes.Buffer
	cmd.Stderr = &errs
	out, err := cmd.Output()
	if cmd.ProcessState == nil {
		t.Fatal(err)
	}
	if got := cmd.ProcessState.ExitCode(); got != code {
		t.Fatalf("windrow %v: exit %d, not %d\n%s%s", args, got, code, out, errs.Bytes())
	}
	return string(out)
}

// reportsOf makes n small reports in a folder: one sample each, copied from a
// sample of a laboratory, with numbers and hashes of their own. The files
// have times of their own, which do not depend on when this runs.
func reportsOf(t *testing.T, dir string, from, n int) {
	t.Helper()
	b, err := os.ReadFile("../../testdata/labs/marrow-brook-land-water-testing/MB26-0711.csv")
	if err != nil {
		t.Fatal(err)
	}
	var text strings.Builder
	rows := 0
	for i, line := range strings.SplitAfter(string(b), "\n") {
		if i == 0 || strings.Contains(line, "MB49180") {
			text.WriteString(line)
			rows++
		}
	}
	if rows < 10 {
		t.Fatalf("the report to copy from has only %d rows of the sample", rows)
	}
	if err := os.MkdirAll(dir, 0o750); err != nil {
		t.Fatal(err)
	}
	for i := from; i < from+n; i++ {
		s := strings.NewReplacer("MB49180", fmt.Sprintf("MB%05d", 60000+i), "MB26-0711", fmt.Sprintf("MB27-%04d", i)).Replace(text.String())
		at := filepath.Join(dir, fmt.Sprintf("MB27-%04d.csv", i))
		if err := os.WriteFile(at+".part", []byte(s), 0o600); err != nil {
			t.Fatal(err)
		}
		when := time.Date(2026, 5, 4, 8, 0, i, 0, time.UTC)
		if err := os.Chtimes(at+".part", when, when); err != nil {
			t.Fatal(err)
		}
		if err := os.Rename(at+".part", at); err != nil {
			t.Fatal(err)
		}
	}
}

// tree is every file below a folder: its path and its bytes.
func tree(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	err := filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(p)
		rel, _ := filepath.Rel(dir, p) // p lies below dir
		out[filepath.ToSlash(rel)] = string(b)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// sameTree compares two archives, apart from temporary files.
func sameTree(t *testing.T, got, want map[string]string) {
	t.Helper()
	n := 0
	for p, b := range want {
		if strings.HasPrefix(p, "incoming/") {
			continue
		}
		n++
		if g, ok := got[p]; !ok {
			t.Errorf("%s is missing", p)
		} else if g != b {
			t.Errorf("%s differs", p)
		}
	}
	for p := range got {
		if _, ok := want[p]; !ok && !strings.HasPrefix(p, "incoming/") {
			t.Errorf("%s is there and must not be", p)
		}
	}
	if n < 5 {
		t.Fatalf("compared only %d files", n)
	}
}

// names lists a folder.
func names(t *testing.T, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, e := range entries {
		out = append(out, e.Name())
	}
	return out
}
