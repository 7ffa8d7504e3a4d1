package progress

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"strings"
	"sync"
	"testing"
	"time"
)

// A clock that each look moves on.
type clock struct {
	mu   sync.Mutex
	t    time.Time
	step time.Duration
}

func (c *clock) now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.t = c.t.Add(c.step)
	return c.t
}

func lines(total, files int, step time.Duration) string {
	var b bytes.Buffer
	c := &clock{t: time.Unix(0, 0), step: step}
	p := New(Options{Out: &b, Total: total, Now: c.now})
	for i := range files {
		p.Step(fmt.Sprintf("r%d.pdf", i))
	}
	p.End()
	p.End()
	return b.String()
}

func TestPlainLines(t *testing.T) {
	for _, x := range []struct {
		name         string
		total, files int
		step         time.Duration
		want         string
	}{
		{"few and fast", 3, 3, time.Millisecond, "1 of 3 files, 33 %, 0s\n2 of 3 files, 66 %, 0s\n3 of 3 files, 100 %, 0s\n"},
		{"many and fast", 40, 25, time.Millisecond, "4 of 40 files, 10 %, 0s\n8 of 40 files, 20 %, 0s\n12 of 40 files, 30 %, 0s\n16 of 40 files, 40 %, 0s\n20 of 40 files, 50 %, 0s\n24 of 40 files, 60 %, 0s\n25 of 40 files, 62 %, 0s\n"},
		{"many and slow", 1000, 7, 2 * time.Second, "3 of 1000 files, 0 %, 6s\n6 of 1000 files, 0 %, 12s\n7 of 1000 files, 0 %, 16s\n"},
		{"how many is not known", 0, 150, time.Millisecond, "100 files, 0s\n150 files, 0s\n"},
		{"nothing done", 5, 0, time.Millisecond, ""},
	} {
		t.Run(x.name, func(t *testing.T) {
			if got := lines(x.total, x.files, x.step); got != x.want {
				t.Errorf("got\n%swant\n%s", got, x.want)
			}
		})
	}
}

func TestBarOnATerminalOnly(t *testing.T) {
	var b bytes.Buffer
	p := New(Options{Out: &b, Total: 4, Terminal: true})
	p.Step("evil\x1b[2Jname\u202e.pdf")
	var out bytes.Buffer
	if err := p.Print(&out, "a.pdf: archived\n"); err != nil {
		t.Fatal(err)
	}
	time.Sleep(80 * time.Millisecond) // longer than the bar's own throttle
	p.Step("two.pdf")
	p.End()
	got := b.String()
	if !strings.Contains(got, "\r") || !strings.Contains(got, "2/4") {
		t.Errorf("no bar in %q", got)
	}
	if strings.Contains(got, "\x1b[2J") || strings.Contains(got, "\u202e") {
		t.Errorf("a file's name moved the cursor: %q", got)
	}
	if out.String() != "a.pdf: archived\n" {
		t.Errorf("got %q", out.String())
	}
	if strings.ContainsAny(lines(30, 30, time.Second), "\r\x1b") {
		t.Error("a control character outside a terminal")
	}
}

func TestQuiet(t *testing.T) {
	var b bytes.Buffer
	for _, o := range []Options{{Out: &b, Quiet: true, Total: 2}, {Out: nil, Total: 2}, {Out: &b, Quiet: true, Terminal: true}} {
		p := New(o)
		p.Step("a")
		if err := p.Print(&b, ""); err != nil {
			t.Error(err)
		}
		p.End()
	}
	if b.Len() > 0 {
		t.Errorf("wrote %q", b.String())
	}
}

type broken struct{}

func (broken) Write([]byte) (int, error) { return 0, errors.New("broken pipe") }

// A reader that has gone away must not stop the work.
func TestBrokenStream(t *testing.T) {
	for _, terminal := range []bool{false, true} {
		p := New(Options{Out: broken{}, Total: 5, Terminal: terminal})
		for range 9 { // more than there were said to be
			p.Step("a")
		}
		p.End()
		if p.done != 9 {
			t.Errorf("counted %d", p.done)
		}
	}
	if err := (*Progress)(nil).Print(broken{}, "x"); err == nil {
		t.Error("results that could not be written were not reported")
	}
}

func TestManyAtOnce(t *testing.T) {
	var b bytes.Buffer
	p := New(Options{Out: &b, Total: 800})
	var wg sync.WaitGroup
	for range 8 {
		wg.Go(func() {
			for range 100 {
				p.Step("a")
			}
		})
	}
	wg.Wait()
	p.End()
	if p.done != 800 || strings.Count(b.String(), "800 of 800 files, 100 %") != 1 {
		t.Errorf("%d done; %s", p.done, b.String())
	}
}

func TestIsTerminal(t *testing.T) {
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	defer w.Close()
	if IsTerminal(w) || IsTerminal(nil) {
		t.Error("a pipe is no terminal")
	}
}

// A rate of one file every two seconds, and the rest at that.
func TestPlainLinesWithRate(t *testing.T) {
	var b bytes.Buffer
	c := &clock{t: time.Unix(0, 0), step: 2 * time.Second}
	p := New(Options{Out: &b, Total: 4, Rate: true, Now: c.now})
	for range 4 {
		p.Step("r.pdf")
	}
	p.End()
	want := "1 of 4 files, 25 %, 2s, 0.5 a second, 6s to go\n2 of 4 files, 50 %, 4s, 0.5 a second, 4s to go\n" +
		"3 of 4 files, 75 %, 6s, 0.5 a second, 2s to go\n4 of 4 files, 100 %, 8s, 0.5 a second\n"
	if b.String() != want {
		t.Errorf("got\n%swant\n%s", b.String(), want)
	}
}
