package main

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"example.org/windrow/cmd/internal/pipeline"
)

// TestDamagedAmongGood works once on a folder in which two hundred damaged
// reports of all laboratories lie among two hundred good ones. Every good one
// is archived; every damaged one is held with a reason, or right.
func TestDamagedAmongGood(t *testing.T) {
	const each = 200
	if testing.Short() {
		t.Skip("short: works on four hundred files")
	}
	office := settings(t, t.TempDir(), "")
	inbox := filepath.Join(office.dir, "inbox")
	reportsOf(t, inbox, 0, each)
	good := names(t, inbox)
	truthOf := map[string]string{} // of damaged files, by name
	how := map[string]string{}
	seen := map[string]bool{}
	sources := samples(t)
	rnd := rand.New(rand.NewPCG(7, 2026))
	for i := 0; len(truthOf) < each; i++ {
		from := sources[i%len(sources)]
		b, err := os.ReadFile(from)
		if err != nil {
			t.Fatal(err)
		}
		hurt, what := damage(rnd, filepath.Ext(from), b)
		if bytes.Equal(hurt, b) || seen[string(hurt)] {
			continue
		}
		seen[string(hurt)] = true
		name := fmt.Sprintf("hurt%03d-%s", i, filepath.Base(from))
		truthOf[name], how[name] = filepath.Join(filepath.Dir(from), "truth", filepath.Base(from)+".json"), what
		if err := os.WriteFile(filepath.Join(inbox, name), hurt, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	begun := time.Now()
	outs := office.work(t, exitHeld)
	t.Logf("%d files in %.1f s", len(outs), time.Since(begun).Seconds())
	for _, name := range good {
		if out := outs[name]; out.Status != pipeline.OK || out.Parts == nil {
			t.Errorf("%s: a good report is %q: %v", name, out.Status, out.Reasons)
		}
		if done := names(t, filepath.Join(office.dir, "done")); !slices.ContainsFunc(done, func(d string) bool { return strings.HasSuffix(d, name) }) {
			t.Errorf("%s: a good report is not in done", name)
		}
	}
	counts := map[string]int{}
	for name, at := range truthOf {
		out, ok := outs[name]
		if !ok {
			t.Errorf("%s (%s): lost", name, how[name])
			continue
		}
		office.filed(t, &out)
		switch out.Status {
		case pipeline.OK, pipeline.Flagged:
			office.right(t, name+" ("+how[name]+")", at, &out)
			counts["read all the same, and right"]++
		case pipeline.Held:
			counts["held: "+out.Reasons[0].Code]++
			if left := office.rows(t, &out); len(out.Parts) == 1 && len(left) > 0 {
				t.Errorf("%s (%s): held, and yet %d results are given out", name, how[name], len(left))
			}
		default:
			t.Errorf("%s (%s): %s: %v", name, how[name], out.Status, out.Reasons)
		}
	}
	for c, n := range counts {
		t.Logf("%4d %s", n, c)
	}
	if n := counts["read all the same, and right"]; n > each*2/3 {
		t.Errorf("%d of %d damaged files were read: they are not damaged enough to show anything", n, each)
	}
	if left := names(t, inbox); len(left) > 0 {
		t.Errorf("left in the inbox: %v", left)
	}
	if said := must(t, exitDone, "archive", "verify", "--office", office.dir); !strings.Contains(said, "all is well") {
		t.Errorf("verify says:\n%s", said)
	}
}

// samples are the reports of the laboratories with a truth beside them, but
// for those that are pictures.
func samples(t *testing.T) []string {
	t.Helper()
	all, err := filepath.Glob("../../testdata/labs/*/truth/*.json")
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, p := range all {
		lab := filepath.Dir(filepath.Dir(p))
		if !scanned[filepath.Base(lab)] {
			out = append(out, filepath.Join(lab, strings.TrimSuffix(filepath.Base(p), ".json")))
		}
	}
	if len(out) < 30 {
		t.Fatalf("only %d reports to damage", len(out))
	}
	return out
}

// damage hurts a file as a bad line or a bad disk does, and says how. A digit
// of a text, or a number in an old workbook, that became another one can't be
// told from a report of that number: no sum over the bytes guards it. There
// the damage is of a kind that leaves a trace: bytes that are no text, and
// lost parts.
func damage(rnd *rand.Rand, ext string, b []byte) ([]byte, string) {
	out := slices.Clone(b)
	bare := ext == ".csv" || ext == ".xls" || ext == ".eml"
	switch kind := rnd.IntN(3); {
	case kind == 0 || ext == ".xls":
		n := 1 + rnd.IntN(len(b)-2)
		for ext == ".csv" && bytes.IndexByte(b[n:min(n+40, len(b))], '\n') >= 0 {
			n = 1 + rnd.IntN(len(b)-2) // a list that ends with a whole row is a shorter list
		}
		return out[:n], fmt.Sprintf("cut at %d of %d", n, len(b))
	case kind == 1:
		n, at := 16+rnd.IntN(200), rnd.IntN(len(b))
		end := min(at+n, len(b))
		clear(out[at:end])
		return out, fmt.Sprintf("zeros from %d to %d", at, end)
	}
	n, what := 1+rnd.IntN(6), "changed at"
	for range n {
		at, by := rnd.IntN(len(b)), byte(1+rnd.IntN(255))
		if bare {
			by = 0x80
		}
		out[at] ^= by
		what += " " + strconv.Itoa(at)
	}
	return out, what
}

// TestStillWritten works once on a folder in which a file is being written, and
// wants it left alone, and told.
func TestStillWritten(t *testing.T) {
	d := settings(t, t.TempDir(), "")
	at := filepath.Join(d.dir, "inbox", "MB27-9999.csv")
	stop, done := make(chan struct{}), make(chan error, 1)
	go func() {
		f, err := os.Create(at)
		for err == nil {
			select {
			case <-stop:
				done <- f.Close()
				return
			case <-time.After(30 * time.Millisecond):
				_, err = f.WriteString("a line of a long report\n")
			}
		}
		done <- err
	}()
	cmd := program(t, "run", "-q", "--office", d.dir)
	said, err := cmd.CombinedOutput()
	close(stop)
	if werr := <-done; werr != nil {
		t.Fatal(werr)
	}
	if err != nil || !strings.Contains(string(said), "[files-wait]") || !strings.Contains(string(said), "1 file that changed a moment ago") {
		t.Errorf("the run says (%v):\n%s", err, said)
	}
	if left := names(t, filepath.Join(d.dir, "inbox")); len(left) != 1 {
		t.Errorf("the inbox holds %v", left)
	}
}
