package access

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

func noon() time.Time { return time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC) }

// aLog is a log with lines of ilse, closed.
func aLog(t *testing.T, lines int) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "access.jsonl")
	l, err := OpenLog(path, noon)
	if err != nil {
		t.Fatal(err)
	}
	for i := range lines {
		e := Entry{Who: "ilse", Role: Office, From: "192.0.2.7", Did: Saw, What: "GET /report/{id}", Reports: []string{fmt.Sprintf("R%016x", i)}}
		if err := l.Add(e, i%3 == 0); err != nil {
			t.Fatal(err)
		}
	}
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

func verify(t *testing.T, path string) (Extent, string) {
	t.Helper()
	x, faults, err := Verify(path, nil)
	if err != nil {
		t.Fatal(err)
	}
	all := ""
	for _, f := range faults {
		all += f.Error() + "\n"
	}
	return x, all
}

func TestLogIsWhole(t *testing.T) {
	path := aLog(t, 10)
	x, faults := verify(t, path)
	if x.Lines != 10 || faults != "" || x.First != "2026-06-01T12:00:00.000Z" {
		t.Errorf("%+v\n%s", x, faults)
	}
	if fi, err := os.Stat(path); err != nil || fi.Mode().Perm() != 0o600 {
		t.Errorf("%v %v", fi, err)
	}
	// A later start goes on where it ended.
	l, err := OpenLog(path, noon)
	if err != nil {
		t.Fatal(err)
	}
	if err := l.Add(Entry{Who: "rolf", Did: SignedIn}, true); err != nil {
		t.Fatal(err)
	}
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	if x, faults := verify(t, path); x.Lines != 11 || faults != "" {
		t.Errorf("%+v\n%s", x, faults)
	}
}

// The chain is what the page says that it is: the SHA-256 of the line before,
// which sha256sum gives, too.
func TestChainByHand(t *testing.T) {
	b, err := os.ReadFile(aLog(t, 2))
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(string(b), "\n")
	if !strings.Contains(lines[0], `"prev":"`+strings.Repeat("0", 64)+`"`) || !strings.Contains(lines[1], `"prev":"`+hashOf([]byte(lines[0]))+`"`) {
		t.Errorf("%s", b)
	}
	// FIPS 180-4, the example of one block.
	if got := hashOf([]byte("abc")); got != "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad" {
		t.Error(got)
	}
}

// Whatever is done to one line is noticed, whichever it is.
func TestEveryChangeIsNoticed(t *testing.T) {
	const n = 7
	for i := range n {
		for name, damage := range map[string]func([][]byte) [][]byte{
			"changed":      func(l [][]byte) [][]byte { l[i] = bytes.Replace(l[i], []byte("ilse"), []byte("rolf"), 1); return l },
			"taken out":    func(l [][]byte) [][]byte { return append(l[:i], l[i+1:]...) },
			"put in twice": func(l [][]byte) [][]byte { return append(l[:i+1], l[i:]...) },
			"swapped":      func(l [][]byte) [][]byte { j := (i + 1) % n; l[i], l[j] = l[j], l[i]; return l },
			"cut off here": func(l [][]byte) [][]byte { return l[:i] },
			"spoilt":       func(l [][]byte) [][]byte { l[i] = []byte("{}"); return l },
			"spaced":       func(l [][]byte) [][]byte { l[i] = append(l[i], ' '); return l },
		} {
			t.Run(fmt.Sprintf("%d %s", i+1, name), func(t *testing.T) {
				path := aLog(t, n)
				b, err := os.ReadFile(path)
				if err != nil {
					t.Fatal(err)
				}
				lines := damage(bytes.Split(bytes.TrimSuffix(b, []byte("\n")), []byte("\n")))
				out := bytes.Join(lines, []byte("\n"))
				if len(lines) > 0 {
					out = append(out, '\n')
				}
				if err := os.WriteFile(path, out, 0o600); err != nil {
					t.Fatal(err)
				}
				if _, faults := verify(t, path); faults == "" {
					t.Error("not noticed")
				}
			})
		}
	}
}

func TestLogThatWasTakenAway(t *testing.T) {
	path := aLog(t, 3)
	b, _ := os.ReadFile(path)
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
	if _, faults := verify(t, path); !strings.Contains(faults, "taken away") {
		t.Errorf("got %q", faults)
	}
	if _, err := OpenLog(path, noon); err == nil || !strings.Contains(err.Error(), "lines are missing") {
		t.Errorf("begun again: %v", err)
	}
	if err := os.WriteFile(path, b[:bytes.IndexByte(b, '\n')+1], 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := OpenLog(path, noon); err == nil {
		t.Error("gone on with where lines are missing")
	}
	if err := os.WriteFile(path, b, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(headName(path)); err != nil {
		t.Fatal(err)
	}
	if _, faults := verify(t, path); !strings.Contains(faults, "how far the log reaches") {
		t.Errorf("got %q", faults)
	}
	if _, err := OpenLog(path, noon); err == nil {
		t.Error("opened")
	}
}

// A line that a crash tore, at each of its bytes, is taken off, and that is
// said; the lines before stay.
func TestTornLine(t *testing.T) {
	whole := aLog(t, 2)
	b, err := os.ReadFile(whole)
	if err != nil {
		t.Fatal(err)
	}
	first := bytes.IndexByte(b, '\n') + 1
	for cut := first + 1; cut < len(b); cut += 7 {
		path := filepath.Join(t.TempDir(), "access.jsonl")
		if err := os.WriteFile(path, b[:cut], 0o600); err != nil {
			t.Fatal(err)
		}
		if err := writeHead(path, 1, hashOf(b[:first-1])); err != nil { // the second was never on the disk for certain
			t.Fatal(err)
		}
		l, err := OpenLog(path, noon)
		if err != nil {
			t.Fatalf("cut at %d: %v", cut, err)
		}
		if err := l.Close(); err != nil {
			t.Fatal(err)
		}
		got, _ := os.ReadFile(path)
		if !bytes.HasPrefix(got, b[:first]) || !bytes.Contains(got[first:], []byte(`"did":"log mended"`)) || bytes.Count(got, []byte("\n")) != 2 {
			t.Fatalf("cut at %d:\n%s", cut, got)
		}
		if x, faults := verify(t, path); x.Lines != 2 || faults != "" {
			t.Errorf("cut at %d: %+v\n%s", cut, x, faults)
		}
	}
}

// Where nothing can be written, Add says so: nothing may be shown then.
func TestLogThatCannotBeWritten(t *testing.T) {
	path := aLog(t, 1)
	l, err := OpenLog(path, noon)
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	full, err := os.OpenFile("/dev/full", os.O_RDWR, 0)
	if err != nil {
		t.Skip("skipped: this system has no /dev/full")
	}
	if err := os.WriteFile(path, []byte("x"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := l.Add(Entry{Did: Saw}, false); err == nil || !strings.Contains(err.Error(), "another program wrote") {
		t.Errorf("got %v", err)
	}
	path = aLog(t, 1)
	if l, err = OpenLog(path, noon); err != nil {
		t.Fatal(err)
	}
	if err := os.Rename(path, path+".away"); err != nil {
		t.Fatal(err)
	}
	if err := l.Add(Entry{Did: Saw}, false); err == nil || !strings.Contains(err.Error(), "taken away while") {
		t.Errorf("got %v", err)
	}
	// A disk that is full: the file is /dev/full, of which the size is 0.
	l = &Log{path: "/dev/full", now: noon, f: full, last: zero}
	for range 2 {
		if err := l.Add(Entry{Did: Saw}, false); err == nil || !strings.Contains(err.Error(), "the disk is full") {
			t.Errorf("got %v", err)
		}
	}
}

func TestManyWriteAtOnce(t *testing.T) {
	path := filepath.Join(t.TempDir(), "access.jsonl")
	l, err := OpenLog(path, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	var wg sync.WaitGroup
	for i := range 8 {
		wg.Go(func() {
			for range 50 {
				if err := l.Add(Entry{Who: fmt.Sprint(i), Did: Saw}, i == 0); err != nil {
					t.Error(err)
				}
			}
		})
	}
	wg.Wait()
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	if err := l.Add(Entry{Did: Saw}, false); err == nil {
		t.Error("a closed log takes lines")
	}
	if x, faults := verify(t, path); x.Lines != 400 || faults != "" {
		t.Errorf("%+v\n%s", x, faults)
	}
}
