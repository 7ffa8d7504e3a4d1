// Package readertest is what every [ingest.Reader] has to pass.
//
// Enters: a reader and sample files. Leaves: failures of the test it was
// called from. Never: it does not say what a sample should contain; that is
// for the reader's own tests.
package readertest

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"strings"
	"sync"
	"testing"
	"time"

	"example.org/windrow/ingest"
)

// A Sample is one file to read.
type Sample struct {
	Name  string // as the file would arrive
	Bytes []byte
	Code  string // "" when a document must come back, otherwise the code of the reason
}

// damagedCopies is how many broken copies of each sample Run feeds a reader.
const damagedCopies = 60

// Run checks that the reader keeps the contract of [ingest.Reader] on the
// samples: a document or a reason and never both, the same document each
// time and at the same time, the source left alone and not held on to,
// limits and cancellation obeyed, and no panic on damaged copies. At least
// one sample must be readable.
func Run(t *testing.T, r ingest.Reader, samples []Sample) {
	t.Helper()
	readable := 0
	for _, s := range samples {
		if s.Code == "" {
			readable++
		}
	}
	if readable == 0 {
		t.Fatal("readertest: no readable sample was given, so nothing would be checked")
	}
	for _, s := range samples {
		t.Run(s.Name, func(t *testing.T) {
			if s.Code != "" {
				reasonFor(t, r, s)
			} else {
				document(t, r, s)
				limits(t, r, s)
			}
			t.Run("stopped", func(t *testing.T) { stopped(t, r, s) })
			t.Run("damaged", func(t *testing.T) { damaged(t, r, s) })
		})
	}
	t.Run("at once", func(t *testing.T) { atOnce(t, r, samples) })
}

// Read reads a sample with the default limits, checks what must hold for any
// bytes, and returns what came back.
func Read(t testing.TB, r ingest.Reader, name string, b []byte) (*ingest.Document, *ingest.Reason) {
	t.Helper()
	return read(context.Background(), t, r, name, b, ingest.Limits{})
}

func read(ctx context.Context, t testing.TB, r ingest.Reader, name string, b []byte, lim ingest.Limits) (doc *ingest.Document, reason *ingest.Reason) {
	t.Helper()
	src := ingest.NewSource(name, bytes.Clone(b))
	var err error
	func() {
		defer func() {
			if p := recover(); p != nil {
				t.Fatalf("%s: the reader panicked: %v", name, p)
			}
		}()
		doc, err = r.Read(ctx, src, lim)
	}()
	if !bytes.Equal(src.Bytes, b) {
		t.Fatalf("%s: the reader changed the bytes of its source", name)
	}
	if (doc == nil) == (err == nil) {
		t.Fatalf("%s: want a document or an error, got document %v and error %v", name, doc != nil, err)
	}
	if err != nil {
		if !errors.As(err, &reason) {
			t.Fatalf("%s: the error is a %T, not a *ingest.Reason: %v", name, err, err)
		}
		if reason == nil {
			t.Fatalf("%s: the error is a nil *ingest.Reason", name)
		}
		if p := ReasonFault(reason); p != "" {
			t.Fatalf("%s: %s: %v", name, p, reason)
		}
		if reason.Where.File != src.Title() {
			t.Fatalf("%s: the reason names the file %q: %v", name, reason.Where.File, reason)
		}
		if reason.Severity != ingest.Fail && reason.Severity != ingest.Hold {
			t.Fatalf("%s: severity %q of a file that was not read: %v", name, reason.Severity, reason)
		}
		return nil, reason
	}
	if p := DocumentFault(src, doc); p != "" {
		t.Fatalf("%s: %s", name, p)
	}
	before := encode(t, doc)
	for i := range src.Bytes {
		src.Bytes[i] ^= 0x55
	}
	if !bytes.Equal(before, encode(t, doc)) {
		t.Fatalf("%s: the document changed with the bytes it was read from: the reader kept them", name)
	}
	return doc, nil
}

func encode(t testing.TB, doc *ingest.Document) []byte {
	t.Helper()
	b, err := json.Marshal(doc)
	if err != nil {
		t.Fatalf("the document can't be written as JSON: %v", err)
	}
	return b
}

func document(t *testing.T, r ingest.Reader, s Sample) {
	t.Helper()
	doc, reason := Read(t, r, s.Name, s.Bytes)
	if reason != nil {
		t.Fatalf("want a document, got: %v", reason)
	}
	first := encode(t, doc)
	for range 3 {
		again, reason := Read(t, r, s.Name, s.Bytes)
		if reason != nil {
			t.Fatalf("read once, and the next time: %v", reason)
		}
		if b := encode(t, again); !bytes.Equal(first, b) {
			t.Fatalf("the same bytes gave two documents:\n%s", firstDifference(first, b))
		}
	}
}

func reasonFor(t *testing.T, r ingest.Reader, s Sample) {
	t.Helper()
	_, reason := Read(t, r, s.Name, s.Bytes)
	if reason == nil {
		t.Fatalf("want a reason %q, got a document", s.Code)
	}
	if reason.Code != s.Code {
		t.Fatalf("want a reason %q, got: %v", s.Code, reason)
	}
	if _, again := Read(t, r, s.Name, s.Bytes); again == nil || again.Error() != reason.Error() {
		t.Fatalf("the same bytes gave two reasons:\n%v\n%v", reason, again)
	}
}

// limits reads a good sample with every limit that it exceeds set one below
// what it needs.
func limits(t *testing.T, r ingest.Reader, s Sample) {
	doc, _ := Read(t, r, s.Name, s.Bytes)
	var words, cells int
	for _, p := range doc.Pages {
		words += len(p.Words)
		cells += len(p.Cells)
	}
	tight := map[string]ingest.Limits{"bytes": {Bytes: int64(len(s.Bytes)) - 1}}
	if n := len(doc.Pages); n > 1 {
		tight["pages"] = ingest.Limits{Pages: n - 1}
	}
	if words > 1 {
		tight["words"] = ingest.Limits{Words: words - 1}
	}
	if cells > 1 {
		tight["cells"] = ingest.Limits{Cells: cells - 1}
	}
	for name, lim := range tight {
		t.Run("limit of "+name, func(t *testing.T) {
			_, reason := read(context.Background(), t, r, s.Name, s.Bytes, lim)
			if reason == nil {
				t.Fatal("read although it exceeds the limit")
			}
			if reason.Code != "too-large" {
				t.Fatalf("want too-large, got: %v", reason)
			}
			if !strings.Contains(reason.Next, "limit") {
				t.Fatalf("the reason must say how to raise the limit: %v", reason)
			}
		})
	}
	exact := ingest.Limits{Bytes: int64(len(s.Bytes)), Pages: len(doc.Pages), Words: words, Cells: cells}
	if _, reason := read(context.Background(), t, r, s.Name, s.Bytes, exact); reason != nil {
		t.Fatalf("a file exactly at the limits must be read: %v", reason)
	}
}

// stopped reads with a context that is over already: code "stopped" when it
// was cancelled and "too-slow" when its time was up.
func stopped(t *testing.T, r ingest.Reader, s Sample) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, reason := read(ctx, t, r, s.Name, s.Bytes, ingest.Limits{}); reason == nil || reason.Code != "stopped" {
		t.Errorf("cancelled: want a reason \"stopped\", got: %v", reason)
	}
	ctx, cancel = context.WithDeadline(context.Background(), time.Unix(0, 0))
	defer cancel()
	if _, reason := read(ctx, t, r, s.Name, s.Bytes, ingest.Limits{}); reason == nil || reason.Code != "too-slow" {
		t.Errorf("out of time: want a reason \"too-slow\", got: %v", reason)
	}
}

// damaged reads broken copies; each is read, or refused with a reason.
func damaged(t *testing.T, r ingest.Reader, s Sample) {
	rnd := rand.New(rand.NewPCG(1, uint64(len(s.Bytes))))
	for i := range damagedCopies {
		b := Damage(rnd, s.Bytes)
		ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
		start := time.Now()
		_, _ = read(ctx, t, r, fmt.Sprintf("damaged %d of %s", i, s.Name), b, ingest.Limits{Seconds: 10})
		cancel()
		if d := time.Since(start); d > 15*time.Second {
			t.Fatalf("damaged copy %d took %v", i, d)
		}
	}
}

// Damage returns a broken copy of b: cut short, or with bytes changed, taken
// out or doubled.
func Damage(rnd *rand.Rand, b []byte) []byte {
	c := bytes.Clone(b)
	if len(c) == 0 {
		return []byte{byte(rnd.IntN(256))}
	}
	switch rnd.IntN(5) {
	case 0:
		return c[:rnd.IntN(len(c))]
	case 1:
		i := rnd.IntN(len(c))
		j := min(len(c), i+1+rnd.IntN(64))
		return append(c[:i:i], c[j:]...)
	case 2:
		i := rnd.IntN(len(c))
		j := min(len(c), i+1+rnd.IntN(64))
		return append(c[:j:j], c[i:]...)
	default:
		for range 1 + rnd.IntN(8) {
			c[rnd.IntN(len(c))] = byte(rnd.IntN(256))
		}
		return c
	}
}

func atOnce(t *testing.T, r ingest.Reader, samples []Sample) {
	type answer struct {
		doc []byte
		why string
	}
	once := func(s Sample) (a answer) {
		doc, err := r.Read(context.Background(), ingest.NewSource(s.Name, s.Bytes), ingest.Limits{})
		if err != nil {
			return answer{why: err.Error()}
		}
		b, err := json.Marshal(doc)
		if err != nil {
			return answer{why: err.Error()}
		}
		return answer{doc: b}
	}
	want := make([]answer, len(samples))
	for i, s := range samples {
		want[i] = once(s)
	}
	var wg sync.WaitGroup
	for g := range 6 {
		wg.Go(func() {
			for k := range samples {
				i := (k + g) % len(samples)
				if got := once(samples[i]); !bytes.Equal(got.doc, want[i].doc) || got.why != want[i].why {
					t.Errorf("%s: read at once with others, it gave another answer: %s", samples[i].Name, got.why)
				}
			}
		})
	}
	wg.Wait()
}

func firstDifference(a, b []byte) string {
	i := 0
	for i < len(a) && i < len(b) && a[i] == b[i] {
		i++
	}
	from := max(0, i-80)
	return fmt.Sprintf("%s\n%s", a[from:min(len(a), i+80)], b[from:min(len(b), i+80)])
}
