//go:build linux

package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
)

// sizeVar names the environment variable that says how many reports
// TestReplayAtSize works on: make replay-size sets it to 10,000.
const sizeVar = "REPLAY_SIZE"

// TestReplayAtSize fills an archive with reports that are derived from those of
// two laboratories, each with numbers of its own, and replays it at a tenth of
// its size and at all of it: unchanged, with a corrected mapping that is looked
// at, the same applied, and once more. It prints what each took.
func TestReplayAtSize(t *testing.T) {
	n := 200
	if s := os.Getenv(sizeVar); s != "" {
		var err error
		if n, err = strconv.Atoi(s); err != nil || n < 20 {
			t.Fatalf("%s is %q, not a number of reports of at least 20", sizeVar, s)
		}
	} else if testing.Short() {
		t.Skip("short: reads 200 reports several times")
	}
	dir := t.TempDir()
	if err := makeOffice(dir); err != nil {
		t.Fatal(err)
	}
	from := filepath.Join(dir, "reports")
	var per [2]time.Duration // processor time of a report: the clock tells more of what else the machine does
	for i, size := range []int{n / 10, n} {
		begun := 0
		if i == 1 {
			begun = n / 10
		}
		derive(t, from, begun, size-begun)
		t.Logf("%6d reports: run on %d of them        %v", size, size-begun, measured(t, "run", "--office", dir, "-q", from))
		m := measured(t, "replay", "--office", dir)
		wantLine(t, m.out, fmt.Sprintf("%d reports read anew, 0 would change", size))
		wantLine(t, m.out, fmt.Sprintf("  %6d  the same, byte for byte", size))
		per[i] = m.cpu / time.Duration(size)
		t.Logf("%6d reports: replay, nothing changes   %v; %.1f a second", size, m, float64(size)/m.took.Seconds())
		// The system counts to a process what its parent held when it began: more
		// than this one ever held is its own.
		var own syscall.Rusage
		if err := syscall.Getrusage(syscall.RUSAGE_SELF, &own); err != nil {
			t.Fatal(err)
		}
		if m.peak > 400<<20 && m.peak > own.Maxrss<<10 {
			t.Errorf("a process held %d MiB", m.peak>>20)
		}
	}
	// Growth is told by the larger archive; on a small one the start counts.
	if n >= 5000 && per[1] > per[0]*3/2 {
		t.Errorf("a report takes the processors %v among %d and %v among %d", per[0], n/10, per[1], n)
	}
	reread(t, dir)
	changed := 0
	for i := range n {
		if !isPDF(i) {
			changed++
		}
	}
	m := measured(t, "replay", "--office", dir, "--out", filepath.Join(dir, "changes.csv"))
	wantLine(t, m.out, fmt.Sprintf("%d reports read anew, %d would change", n, changed))
	t.Logf("%6d reports: replay, %d would change  %v", n, changed, m)
	m = measured(t, "replay", "--office", dir, "--apply")
	wantLine(t, m.out, fmt.Sprintf("%d versions written, %d letters made, %d replaced", changed, changed, changed))
	t.Logf("%6d reports: replay --apply            %v", n, m)
	m = measured(t, "replay", "--office", dir)
	wantLine(t, m.out, fmt.Sprintf("%d reports read anew, 0 would change", n))
}

func wantLine(t *testing.T, out, line string) {
	t.Helper()
	for l := range strings.Lines(out) {
		if strings.TrimRight(l, "\n") == line {
			return
		}
	}
	t.Fatalf("no line %q in:\n%s", line, out)
}

// A measure is what a run of the program took.
type measure struct {
	took, cpu time.Duration // by the clock; by the processors, of the program and its readers together
	peak      int64         // the most memory, in bytes, that the program or one of its readers held
	out       string
}

func (m measure) String() string {
	return fmt.Sprintf("%7.1f s, %7.1f s of a processor, at most %d MiB in one process", m.took.Seconds(), m.cpu.Seconds(), m.peak>>20)
}

// measured runs the program, which must end well.
func measured(t *testing.T, args ...string) measure {
	t.Helper()
	cmd := program(t, args...)
	var out, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errs
	begun := time.Now()
	_ = cmd.Run() // the code tells
	m := measure{took: time.Since(begun), out: out.String()}
	if got := cmd.ProcessState.ExitCode(); got != exitDone {
		t.Fatalf("windrow %v: exit %d, not %d\n%s%s", args, got, exitDone, out.Bytes(), errs.Bytes())
	}
	u, ok := cmd.ProcessState.SysUsage().(*syscall.Rusage)
	if !ok {
		t.Fatal("the system tells no memory")
	}
	m.cpu, m.peak = cmd.ProcessState.UserTime()+cmd.ProcessState.SystemTime(), u.Maxrss<<10
	return m
}

// isPDF says which of the derived reports are PDF files: three of twenty.
func isPDF(i int) bool { return i%20 >= 17 }

// derive writes n reports into a folder: lists of one sample and printed
// listings of several, with the layout of a laboratory's report and numbers of
// their own.
func derive(t *testing.T, dir string, from, n int) {
	t.Helper()
	list, err := os.ReadFile("../../testdata/labs/marrow-brook-land-water-testing/MB26-0711.csv")
	if err != nil {
		t.Fatal(err)
	}
	listing, err := os.ReadFile("../../testdata/labs/grayling-street-soil-chemistry-bureau/J26-140.pdf")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.MkdirAll(dir, 0o750); err != nil {
		t.Fatal(err)
	}
	for i := from; i < from+n; i++ {
		name, b := fmt.Sprintf("MB27-%05d.csv", i), derivedList(t, string(list), i)
		if isPDF(i) {
			name, b = fmt.Sprintf("J27-%05d.pdf", i), derivedListing(t, listing, i)
		}
		if err := os.WriteFile(filepath.Join(dir, name), b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
}

var amount = regexp.MustCompile(`,(\d+)\.(\d),,mg/dm3,`)

// derivedList is the list of one sample, with its amounts by volume moved by
// up to nine tenths.
func derivedList(t *testing.T, list string, i int) []byte {
	t.Helper()
	var b strings.Builder
	moved := 0
	for k, line := range strings.SplitAfter(list, "\n") {
		if k > 0 && !strings.Contains(line, "MB49180") {
			continue
		}
		line = strings.NewReplacer("MB49180", fmt.Sprintf("MB%06d", i), "MB26-0711", fmt.Sprintf("MB27-%05d", i)).Replace(line)
		line = amount.ReplaceAllStringFunc(line, func(s string) string {
			moved++
			m := amount.FindStringSubmatch(s)
			return fmt.Sprintf(",%s.%d,,mg/dm3,", m[1], (i+moved)%10)
		})
		b.WriteString(line)
	}
	if moved < 2 {
		t.Fatalf("only %d numbers of the list could be varied", moved)
	}
	return []byte(b.String())
}

var (
	stream  = regexp.MustCompile(`(?s)\n(\d+) 0 obj\s*<<([^>]*/Filter ?/FlateDecode[^>]*)>>\s*stream\r?\n`)
	trailer = regexp.MustCompile(`(?s)trailer\s*<<(.*?)>>\s*startxref\s+(\d+)`)
	decimal = regexp.MustCompile(`(Morgan \d+\.|DTPA\)-\d+\(\d+\.)\d`)
)

// derivedListing is a PDF file with other numbers on its first page.
func derivedListing(t *testing.T, pdf []byte, i int) []byte {
	t.Helper()
	content := firstStream(t, pdf)
	moved := 0
	text := decimal.ReplaceAllStringFunc(string(content), func(s string) string {
		moved++
		return s[:len(s)-1] + strconv.Itoa((i+moved)%10)
	})
	if moved < 4 || !strings.Contains(text, "J26-140") || !strings.Contains(text, "(LAB NO 704/26)") {
		t.Fatalf("%d numbers of the listing could be varied", moved)
	}
	// Numbers that end in one printed width: no other text moves. Each sample has
	// a number of its own, or reports of one day would contradict each other.
	pairs := []string{"J26-140", fmt.Sprintf("J%02d-%03d", i/1000%100, i%1000)}
	for k, no := range []string{"704/26", "705/26", "706/26"} {
		if strings.Count(text, "(LAB NO "+no+")") != 1 {
			t.Fatalf("the sample %s is not once in the listing", no)
		}
		pairs = append(pairs, "(LAB NO "+no+")", fmt.Sprintf("(LAB NO %03d/%02d)", i%1000, 10+30*k+i/1000%30))
	}
	text = strings.NewReplacer(pairs...).Replace(text)
	return withFirstStream(t, pdf, []byte(text))
}
