package apart

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/pdf"
	"example.org/windrow/ingest/readertest"
)

// misbehave is a reader that does to its process what a hostile file might
// make a parser do, as the file's own bytes say.
type misbehave struct{}

var sink [][]byte

func (misbehave) Read(ctx context.Context, src *ingest.Source, lim ingest.Limits) (*ingest.Document, error) {
	switch string(src.Bytes) {
	case "hang":
		for { // deaf to its context
			time.Sleep(time.Millisecond)
		}
	case "spin":
		for i := 0; ; i++ {
			_ = i
		}
	case "panic":
		panic("a bug")
	case "exit":
		os.Exit(3)
	case "exit once":
		if os.Remove(src.Name) == nil {
			os.Exit(3)
		}
	case "stack":
		var f func(int) int
		f = func(i int) int { return f(i+1) + f(i+2) }
		return nil, fmt.Errorf("%d", f(0))
	case "memory":
		for {
			b := make([]byte, 1<<20)
			for i := range b {
				b[i] = 1
			}
			sink = append(sink, b)
		}
	case "memory at once":
		sink = append(sink, make([]byte, 1<<42))
	case "chatter":
		os.Stdout.WriteString("this must not reach the parent as an answer\n")
	case "pid":
		return &ingest.Document{Source: src.Ref(), Format: ingest.CSV, Dialect: &ingest.Dialect{}, Pages: []*ingest.Page{{Number: 1, Name: strconv.Itoa(os.Getpid())}}}, nil
	case "write":
		f, err := os.CreateTemp("", "apart")
		if err == nil {
			defer os.Remove(f.Name())
			_, err = f.Write([]byte("x"))
		}
		if err != nil {
			return nil, &ingest.Reason{Code: "no-writing", Severity: ingest.Fail, What: "no", Next: "no"}
		}
	case "wrong source":
		return &ingest.Document{Source: ingest.SourceRef{Name: "another"}, Format: ingest.CSV, Dialect: &ingest.Dialect{}, Pages: []*ingest.Page{{Number: 1}}}, nil
	}
	return &ingest.Document{Source: src.Ref(), Format: ingest.CSV, Dialect: &ingest.Dialect{}, Pages: []*ingest.Page{{Number: 1}}}, nil
}

const bad ingest.Format = "misbehaving"

func TestMain(m *testing.M) {
	// The test of an orphan needs a parent to kill.
	if os.Getenv("APART_TEST_PARENT") != "" && os.Getenv(childMark) == "" {
		orphanParent()
		return
	}
	if Child(map[ingest.Format]ingest.Reader{ingest.PDF: pdf.New(), bad: misbehave{}}, Workers{echoes: echo{}}) {
		return
	}
	os.Exit(m.Run())
}

func newPool(t testing.TB, n int, f ingest.Format) *Pool {
	t.Helper()
	p, err := NewPool(n, f)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { p.Close() })
	return p
}

func lab(t testing.TB, pattern string) (string, []byte) {
	t.Helper()
	names, _ := filepath.Glob("../../testdata/labs/" + pattern)
	if len(names) == 0 {
		t.Fatalf("no sample file is like %s", pattern)
	}
	b, err := os.ReadFile(names[0])
	if err != nil {
		t.Fatal(err)
	}
	return filepath.Base(names[0]), b
}

func TestContract(t *testing.T) {
	var samples []readertest.Sample
	for _, p := range []string{"oxbow*/*.pdf", "thrushgate*/*.pdf"} {
		n, b := lab(t, p)
		samples = append(samples, readertest.Sample{Name: n, Bytes: b})
	}
	samples = append(samples, readertest.Sample{Name: "empty.pdf", Code: "empty-file"})
	readertest.Run(t, newPool(t, 2, ingest.PDF), samples)
}

// TestMisbehaviour has every way for a parser to go wrong cost one file and
// nothing else: the file after it is read.
func TestMisbehaviour(t *testing.T) {
	p := newPool(t, 1, bad)
	for _, c := range []struct {
		file, code, says string
		lim              ingest.Limits
	}{
		{"hang", "too-slow", "1 seconds", ingest.Limits{Seconds: 1}},
		{"spin", "too-slow", "1 seconds", ingest.Limits{Seconds: 1}},
		{"panic", "parser-crashed", "wasn't made for", ingest.Limits{}},
		{"exit", "parser-crashed", "stopped", ingest.Limits{}},
		{"stack", "parser-crashed", "circle", ingest.Limits{}},
		{"memory", "too-large", "64 MiB", ingest.Limits{MemoryMiB: 64}},
		{"memory at once", "too-large", "MiB", ingest.Limits{}},
		{"chatter", "", "", ingest.Limits{}},
		{"wrong source", "", "", ingest.Limits{}},
	} {
		t.Run(c.file, func(t *testing.T) {
			start := time.Now()
			src := ingest.NewSource("a.bin", []byte(c.file))
			doc, err := p.Read(context.Background(), src, c.lim)
			if d := time.Since(start); d > 6*time.Second {
				t.Errorf("it took %v", d)
			}
			if c.code == "" {
				if err != nil {
					t.Fatal(err)
				}
				if doc.Source != src.Ref() {
					t.Fatalf("the document is said to be of %+v", doc.Source)
				}
			} else {
				var r *ingest.Reason
				if !errors.As(err, &r) || r.Code != c.code || !strings.Contains(r.Error(), c.says) || r.Where.File != "a.bin" {
					t.Fatalf("want %s with %q, got: %v", c.code, c.says, err)
				}
				if f := readertest.ReasonFault(r); f != "" {
					t.Error(f)
				}
			}
			if _, err := p.Read(context.Background(), ingest.NewSource("b.bin", []byte("good")), ingest.Limits{}); err != nil {
				t.Fatalf("the next file: %v", err)
			}
		})
	}
	if runtime.GOOS == "linux" {
		_, err := p.Read(context.Background(), ingest.NewSource("a.bin", []byte("write")), ingest.Limits{})
		if err == nil {
			t.Error("a child could write a file")
		}
	}
}

func TestCancelled(t *testing.T) {
	p := newPool(t, 1, bad)
	ctx, cancel := context.WithCancel(context.Background())
	time.AfterFunc(100*time.Millisecond, cancel)
	start := time.Now()
	_, err := p.Read(ctx, ingest.NewSource("a.bin", []byte("hang")), ingest.Limits{})
	if r := ingest.AsReason(err); r == nil || r.Code != "stopped" {
		t.Fatalf("got: %v", err)
	}
	if d := time.Since(start); d > 2*time.Second {
		t.Errorf("it took %v to stop", d)
	}
}

func pid(t *testing.T, p *Pool) int {
	t.Helper()
	doc, err := p.Read(context.Background(), ingest.NewSource("a.bin", []byte("pid")), ingest.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	n, err := strconv.Atoi(doc.Pages[0].Name)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// TestReuse has one child read many files, and another take its place after
// its share.
func TestReuse(t *testing.T) {
	p := newPool(t, 1, bad)
	pids := map[int]int{}
	for range 2*jobsPerChild + 1 {
		pids[pid(t, p)]++
	}
	if len(pids) != 3 {
		t.Errorf("%d children for %d files, want 3: %v", len(pids), 2*jobsPerChild+1, pids)
	}
	if pids[os.Getpid()] > 0 {
		t.Error("a file was read in the parent")
	}
}

// A child that ends may have been ended by the system: the file is given to
// another one, and not blamed until that has ended as well.
func TestEndedOnce(t *testing.T) {
	p := newPool(t, 1, bad)
	at := filepath.Join(t.TempDir(), "there")
	if err := os.WriteFile(at, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := p.Read(t.Context(), ingest.NewSource(at, []byte("exit once")), ingest.Limits{}); err != nil {
		t.Error(err)
	}
	if _, err := os.Stat(at); err == nil {
		t.Error("no child has ended")
	}
}

func TestManyAtOnce(t *testing.T) {
	p := newPool(t, 3, bad)
	var wg sync.WaitGroup
	for i := range 40 {
		wg.Go(func() {
			file, want := "good", ""
			switch i % 4 {
			case 1:
				file, want = "exit", "parser-crashed"
			case 2:
				file, want = "panic", "parser-crashed"
			}
			name := fmt.Sprintf("%d.bin", i)
			doc, err := p.Read(context.Background(), ingest.NewSource(name, []byte(file)), ingest.Limits{})
			switch r := ingest.AsReason(err); {
			case want == "" && (err != nil || doc.Source.Name != name):
				t.Errorf("%s: %v", name, err)
			case want != "" && (r == nil || r.Code != want || r.Where.File != name):
				t.Errorf("%s: want %s, got %v", name, want, err)
			}
		})
	}
	wg.Wait()
}

func TestClose(t *testing.T) {
	p := newPool(t, 2, bad)
	child := pid(t, p)
	if err := p.Close(); err != nil {
		t.Fatal(err)
	}
	if runtime.GOOS == "linux" {
		if _, err := os.Stat(fmt.Sprintf("/proc/%d", child)); err == nil {
			t.Errorf("child %d lives on after Close", child)
		}
	}
	_, err := p.Read(context.Background(), ingest.NewSource("a.bin", []byte("good")), ingest.Limits{})
	if r := ingest.AsReason(err); r == nil || r.Code != "stopped" {
		t.Errorf("after Close: %v", err)
	}
}

// orphanParent starts a child, has it hang, says which process it is, and
// waits to be killed.
func orphanParent() {
	p, err := NewPool(1, bad)
	if err != nil {
		fmt.Println("error", err)
		return
	}
	doc, err := p.Read(context.Background(), ingest.NewSource("a.bin", []byte("pid")), ingest.Limits{})
	if err != nil {
		fmt.Println("error", err)
		return
	}
	fmt.Println(doc.Pages[0].Name)
	p.Read(context.Background(), ingest.NewSource("a.bin", []byte("hang")), ingest.Limits{})
}

// TestOrphan kills a parent in the middle of a job; its child must end too.
func TestOrphan(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("looks for processes under /proc, which only Linux has")
	}
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), "APART_TEST_PARENT=1")
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	var child int
	if _, err := fmt.Fscan(out, &child); err != nil {
		cmd.Process.Kill()
		t.Fatalf("the parent didn't name its child: %v", err)
	}
	time.Sleep(50 * time.Millisecond) // the child is at its endless job
	cmd.Process.Kill()
	cmd.Wait()
	for range 100 {
		b, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", child))
		if err != nil || strings.Contains(string(b), ") Z ") {
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
	t.Errorf("child %d lives on after its parent was killed", child)
}

// TestNoChild has the pool say so when the program doesn't start as a parser.
func TestNoChild(t *testing.T) {
	c, err := launch("/bin/true")
	if err != nil {
		t.Skip("there is no /bin/true to start")
	}
	defer c.end()
	if err := c.greet(); err == nil {
		t.Error("a program that is no parser was taken for one")
	}
}

// BenchmarkPool reads a one-page file end to end through a warm pool, and
// BenchmarkPdftotext has poppler do the same in a process a file.
func BenchmarkPool(b *testing.B) {
	p := newPool(b, 1, ingest.PDF)
	name, data := lab(b, "thrushgate*/TG-26-01180.pdf")
	src := ingest.NewSource(name, data)
	if _, err := p.Read(context.Background(), src, ingest.Limits{}); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := p.Read(context.Background(), src, ingest.Limits{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkPdftotext(b *testing.B) {
	if _, err := exec.LookPath("pdftotext"); err != nil {
		b.Skip("pdftotext is not installed")
	}
	names, _ := filepath.Glob("../../testdata/labs/thrushgate*/TG-26-01180.pdf")
	for b.Loop() {
		if err := exec.Command("pdftotext", "-bbox", names[0], os.DevNull).Run(); err != nil {
			b.Fatal(err)
		}
	}
}
