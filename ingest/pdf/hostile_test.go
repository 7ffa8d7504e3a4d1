package pdf

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/apart"
	"example.org/windrow/ingest/readertest"
)

func TestMain(m *testing.M) {
	if apart.Child(map[ingest.Format]ingest.Reader{ingest.PDF: New()}) {
		return
	}
	os.Exit(m.Run())
}

func sample(t testing.TB, pattern string) []byte {
	t.Helper()
	names, _ := filepath.Glob(pattern)
	if len(names) == 0 {
		t.Fatalf("no sample file is like %s", pattern)
	}
	b, err := os.ReadFile(names[0])
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestContract(t *testing.T) {
	lab := func(p string) []byte { return sample(t, "../../testdata/labs/"+p) }
	whole := sample(t, "../../testdata/labs/oxbow*/*.pdf")
	readertest.Run(t, New(), []readertest.Sample{
		{Name: "table of three pages.pdf", Bytes: whole},
		{Name: "letter.pdf", Bytes: lab("thrushgate*/*.pdf")},
		{Name: "printed sheet.pdf", Bytes: lab("verrin*/*.pdf")},
		{Name: "empty.pdf", Bytes: nil, Code: "empty-file"},
		{Name: "cut short.pdf", Bytes: whole[:len(whole)/2], Code: "damaged"},
		{Name: "photo.pdf", Bytes: []byte("\xff\xd8\xff\xe0\x00\x10JFIF\x00\x01\x01"), Code: "wrong-kind"},
		{Name: "page.pdf", Bytes: []byte("<html><body>not found</body></html>"), Code: "wrong-kind"},
	})
}

// TestHostileFiles has the files of testdata/hostile that are PDFs, or are
// named so.
func TestHostileFiles(t *testing.T) {
	for name, code := range map[string]string{"no-tounicode.pdf": "text-unreadable", "password-protected.pdf": "locked"} {
		refused(t, sample(t, "../../testdata/hostile/"+name), code)
	}
}

// TestLocked has the kinds of encryption that are opened, as their words are
// compared with pdftotext's, apart from those that aren't.
func TestLocked(t *testing.T) {
	for name, says := range map[string]string{"aes256": "can't be opened here", "rc4-40": "40-bit"} {
		if r := refused(t, sample(t, "testdata/locked/"+name+".pdf"), "locked"); !strings.Contains(r.Found, says) {
			t.Errorf("%s: %v", name, r)
		}
	}
}

func TestHeaders(t *testing.T) {
	good := onePage("BT /F1 10 Tf 20 200 Td (text) Tj ET")
	for name, b := range map[string][]byte{
		"version 2":      append([]byte("%PDF-2.0"), good[8:]...),
		"no line end":    append([]byte("%PDF-1.4 "), good[9:]...),
		"lines in front": append([]byte("X-Gateway: passed\r\n\r\n"), good...),
		"lines behind":   append(bytes.Clone(good), "\r\n-- \r\nsent by a gateway\r\n"...),
		"zeros behind":   append(bytes.Clone(good), make([]byte, 4096)...),
	} {
		t.Run(name, func(t *testing.T) { expect(t, b, "text") })
	}
}

// TestNothingLost has files refused of which the object layer, left alone,
// would return a part.
func TestNothingLost(t *testing.T) {
	text := "BT /F1 10 Tf 20 200 Td (text) Tj ET"
	two := func(change func(b *builder)) []byte {
		b := newBuilder()
		b.page(text, "")
		b.page(text, "")
		change(b)
		return b.bytes()
	}
	for name, c := range map[string]struct {
		data []byte
		says string
	}{
		"a page fewer than counted": {two(func(b *builder) { b.objects[1] = "<< /Type /Pages /Count 2 /Kids [" + b.pages[0] + "] >>" }), "pages are missing"},
		"a page that isn't there":   {two(func(b *builder) { b.objects[1] = "<< /Type /Pages /Count 2 /Kids [" + b.pages[0] + " 99 0 R] >>" }), "a page is missing"},
		"a stream longer than said": {bytes.Replace(onePage(text), []byte("/Length 35"), []byte("/Length 15"), 1), "not as long"},
		"a stream of no length":     {bytes.Replace(onePage(text), []byte("/Length 35"), []byte("/Lenght 35"), 1), "not as long"},
		"a string without end":      {onePage("BT /F1 10 Tf 20 200 Td (text Tj ET"), "breaks off"},
		"a list without end":        {onePage("BT /F1 10 Tf 20 200 Td [(text) Tj ET"), "breaks off"},
		"a form that isn't there": {func() []byte {
			b := newBuilder()
			b.page(text+" /Fm Do", "/Resources << "+standardResources+" /XObject << /Fm 99 0 R >> >>")
			return b.bytes()
		}(), "part of a page is missing"},
	} {
		t.Run(name, func(t *testing.T) {
			if r := refused(t, c.data, "damaged"); !strings.Contains(r.What, c.says) {
				t.Errorf("it says: %v", r)
			}
		})
	}
	// A changed byte in packed contents can't pass: its checksum is wrong.
	b := newBuilder()
	c := b.packed("", strings.Repeat(text+"\n", 50))
	b.pages = []string{b.add("<< /Type /Page /Parent 2 0 R /MediaBox [0 0 400 300] /Contents " + c + " /Resources << " + standardResources + " >> >>")}
	packed := b.bytes()
	want := fmt.Sprint(mustRead(t, packed).Pages[0].Words)
	refusals := 0
	from := bytes.Index(packed, []byte("stream\n")) + 7
	to := bytes.Index(packed, []byte("\nendstream"))
	for i := from; i < to; i++ {
		bad := bytes.Clone(packed)
		bad[i] ^= 0x10
		doc, reason := readertest.Read(t, New(), "a.pdf", bad)
		switch {
		case doc != nil && fmt.Sprint(doc.Pages[0].Words) != want: // bits that fill up the last byte say nothing
			t.Fatalf("byte %d of the packed contents changed, and the file was read otherwise", i-from)
		case reason != nil && reason.Code != "damaged":
			t.Fatal(reason)
		case reason != nil:
			refusals++
		}
	}
	if refusals < to-from-2 {
		t.Errorf("%d of %d changes were noticed", refusals, to-from)
	}
}

// circles are files whose parts refer to each other without end. Left alone,
// the object layer follows the first three for ever.
func circles() map[string][]byte {
	text := "BT /F1 10 Tf 20 200 Td (text) Tj ET"
	all := map[string][]byte{}

	b := newBuilder()
	b.page(text, "")
	plain := b.bytes()
	at := bytes.LastIndex(plain, []byte("xref\n0"))
	all["/Prev"] = bytes.Replace(plain, []byte("trailer\n<<"), fmt.Appendf(nil, "trailer\n<< /Prev %d", at), 1)

	b = newBuilder()
	b.objects[1] = "<< /Type /Pages /Count 1 /Kids [2 0 R 2 0 R] >>"
	all["/Kids"] = b.bytes()

	b = newBuilder()
	b.page(text, "")
	b.objects[1] = "<< /Type /Pages /Count 1 /Parent 2 0 R /Kids [" + b.pages[0] + "] >>"
	all["/Parent"] = b.bytes()

	b = newBuilder()
	n := len(b.objects) + 1
	b.stream(fmt.Sprintf("/Type /XObject /Subtype /Form /Resources << %s /XObject << /Me %d 0 R >> >>", standardResources, n), text+" /Me Do /Me Do")
	b.page("/Me Do", fmt.Sprintf("/Resources << /XObject << /Me %d 0 R >> >>", n))
	all["a form"] = b.bytes()

	b = newBuilder()
	first := len(b.objects) + 1
	for i := range 10 { // ten forms, each showing the next ten times: ten thousand million words
		b.stream(fmt.Sprintf("/Type /XObject /Subtype /Form /Resources << %s /XObject << /N %d 0 R >> >>", standardResources, first+i+1), text+strings.Repeat(" /N Do", 10))
	}
	b.page("/N Do", fmt.Sprintf("/Resources << /XObject << /N %d 0 R >> >>", first))
	all["forms in forms"] = b.bytes()

	b = newBuilder()
	n = len(b.objects) + 1
	b.add(fmt.Sprintf("<< /Length %d 0 R >>\nstream\n\nendstream", n))
	b.pages = []string{b.add(fmt.Sprintf("<< /Type /Page /MediaBox [0 0 400 300] /Contents %d 0 R >>", n))}
	all["/Length"] = b.bytes()
	return all
}

func TestCircles(t *testing.T) {
	for name, data := range circles() {
		t.Run(name, func(t *testing.T) {
			start := time.Now()
			_, err := New().Read(context.Background(), ingest.NewSource("a.pdf", data), ingest.Limits{Seconds: 2, Words: 10_000})
			if d := time.Since(start); d > 4*time.Second {
				t.Errorf("it took %v", d)
			}
			r := ingest.AsReason(err)
			if name == "/Parent" || name == "a form" {
				if err != nil {
					t.Errorf("this circle does no harm to what is on the page: %v", err)
				}
				return
			}
			if r == nil || r.Code != "damaged" && r.Code != "too-slow" && r.Code != "too-large" {
				t.Errorf("got: %v", err)
			}
			t.Log(r)
		})
	}
}

// TestDeadlyCircle has an object that is packed in itself: looking it up
// recurses until the process dies, which only a process apart survives.
func TestDeadlyCircle(t *testing.T) {
	table := "\x00\x00\x00\x00" + "\x02\x00\x01\x00" + "\x01\x00\x09\x00"
	data := fmt.Appendf(nil, "%%PDF-1.5\n2 0 obj\n<< /Type /XRef /Size 3 /W [1 2 1] /Root 1 0 R /Length %d >>\nstream\n%s\nendstream\nendobj\nstartxref\n9\n%%%%EOF\n", len(table), table)
	pool, err := apart.NewPool(1, ingest.PDF)
	if err != nil {
		t.Fatal(err)
	}
	defer pool.Close()
	_, reason := readertest.Read(t, pool, "a.pdf", data)
	if reason == nil || reason.Code != "parser-crashed" || !strings.Contains(reason.Found, "circle") {
		t.Errorf("got: %v", reason)
	}
}

// TestBomb has a page that unpacks to far more than the limit.
func TestBomb(t *testing.T) {
	b := newBuilder()
	c := b.packed("", strings.Repeat(" ", 32<<20))
	b.pages = []string{b.add("<< /Type /Page /MediaBox [0 0 400 300] /Contents " + c + " >>")}
	_, err := New().Read(context.Background(), ingest.NewSource("a.pdf", b.bytes()), ingest.Limits{Unzipped: 1 << 20})
	if r := ingest.AsReason(err); r == nil || r.Code != "too-large" || !strings.Contains(r.Next, "unzipped") {
		t.Errorf("got: %v", err)
	}
}

// TestCrowded has pages made to be slow to group into words: characters on
// top of each other, and drawn from right to left.
func TestCrowded(t *testing.T) {
	heap := "BT /F1 10 Tf " + strings.Repeat("1 0 0 1 50 50 Tm (a1) Tj ", 50_000) + "ET"
	var left strings.Builder
	left.WriteString("0.01 0 0 0.01 0 0 cm BT /F1 1 Tf ")
	for i := range 30_000 {
		fmt.Fprintf(&left, "1 0 0 1 %.3f 50 Tm (a) Tj ", 20_000-0.556*float64(i))
	}
	left.WriteString("ET")
	white := "1 g " + strings.Repeat("0 0 9 9 re f ", 20_000) + "BT /F1 1 Tf 20 50 Td (" + strings.Repeat("a", 20_000) + ") Tj ET"
	for name, content := range map[string]string{"a heap": heap, "right to left": left.String(), "white on many areas": white} {
		start := time.Now()
		_, err := New().Read(context.Background(), ingest.NewSource("a.pdf", onePage(content)), ingest.Limits{})
		if d := time.Since(start); d > 5*time.Second {
			t.Errorf("%s took %v", name, d)
		}
		t.Log(name, time.Since(start), err != nil)
	}
}

// TestMutants reads 2000 damaged copies of a file, in a process apart: each
// is read or refused, in time.
func TestMutants(t *testing.T) {
	pool, err := apart.NewPool(2, ingest.PDF)
	if err != nil {
		t.Fatal(err)
	}
	defer pool.Close()
	good := sample(t, "../../testdata/labs/oxbow*/*.pdf")
	rnd := rand.New(rand.NewPCG(7, 7))
	codes := map[string]int{}
	text := func(doc *ingest.Document) string {
		var all strings.Builder
		for _, p := range doc.Pages {
			for _, w := range p.Words {
				all.WriteString(w.Text + " ")
			}
		}
		return all.String()
	}
	want := text(mustRead(t, good))
	for i := range 2000 {
		b := readertest.Damage(rnd, good)
		start := time.Now()
		doc, reason := readertest.Read(t, &limited{pool}, fmt.Sprintf("mutant %d.pdf", i), b)
		if d := time.Since(start); d > 5*time.Second {
			t.Errorf("mutant %d took %v", i, d)
		}
		if reason == nil {
			codes["read"]++
			// Contents are packed with a checksum, so what is read is unharmed.
			if text(doc) != want {
				t.Errorf("mutant %d is read as another text", i)
			}
		} else {
			codes[reason.Code]++
		}
	}
	t.Log(codes)
	if codes["read"] == 2000 || codes["damaged"] == 0 {
		t.Errorf("the damage did nothing: %v", codes)
	}
}

type limited struct{ r ingest.Reader }

func (l *limited) Read(ctx context.Context, src *ingest.Source, _ ingest.Limits) (*ingest.Document, error) {
	return l.r.Read(ctx, src, ingest.Limits{Seconds: 3})
}

// FuzzRead holds the reader to its contract on any bytes.
func FuzzRead(f *testing.F) {
	f.Add([]byte(nil))
	f.Add([]byte("%PDF-1.4\n%%EOF"))
	f.Add(onePage("BT /F1 10 Tf 20 200 Td (text) Tj ET"))
	f.Add(onePage("BI /W 4 /H 4 /F /Fl ID ab EI q 1 0 0 1 0 0 cm BT /F1 7 Tf -2 Ts <4142> ' [(a) 1 (b)] TJ ET"))
	for _, b := range circles() {
		if len(b) < 3000 {
			f.Add(b)
		}
	}
	r := New()
	f.Fuzz(func(t *testing.T, b []byte) {
		src := ingest.NewSource("a.pdf", b)
		doc, err := r.Read(context.Background(), src, ingest.Limits{Seconds: 2, Words: 5000, Unzipped: 4 << 20})
		if (doc == nil) == (err == nil) {
			t.Fatalf("document %v and error %v", doc != nil, err)
		}
		if err != nil {
			if f := readertest.ReasonFault(ingest.AsReason(err)); f != "" {
				t.Fatal(f, err)
			}
			return
		}
		if f := readertest.DocumentFault(src, doc); f != "" {
			t.Fatal(f)
		}
	})
}

// FuzzContent holds the interpreter to the contract on any page content,
// which fuzzing whole files rarely gets to.
func FuzzContent(f *testing.F) {
	for _, s := range []string{"BT /F1 10 Tf 20 200 Td (text) Tj ET", "q 1 2 3 4 5 6 cm 0 0 10 10 re W* n Q 1 g f", "BI /W 4 ID x EI", "/A BDC EMC 99 Tz -1 Tc",
		"BT /F1 -10 Tf 0 1 -1 0 9 9 Tm [(a) -9e9 (b)] TJ ET", "0 0 m 1 1 l 2 2 3 3 4 4 c h b*", "BT /F1 1 Tf 1e38 0 0 1e38 0 0 Tm (x) Tj (\\)) Tj <4> ' 1 1 (x) \" ET"} {
		f.Add(s)
	}
	r := New()
	f.Fuzz(func(t *testing.T, content string) {
		src := ingest.NewSource("a.pdf", onePage(content))
		doc, err := r.Read(context.Background(), src, ingest.Limits{Seconds: 2, Words: 5000})
		if err != nil {
			r := ingest.AsReason(err)
			if f := readertest.ReasonFault(r); f != "" {
				t.Fatal(f, err)
			}
			if r.Code == "too-slow" && len(content) < 1<<14 {
				t.Fatal("so short a page must not take so long")
			}
			return
		}
		if f := readertest.DocumentFault(src, doc); f != "" {
			t.Fatal(f)
		}
	})
}

// BenchmarkRead is in the process itself, by page.
func BenchmarkRead(b *testing.B) {
	for _, p := range []string{"thrushgate*/TG-26-01180.pdf", "oxbow*/OT-26-0418.pdf", "verrin*/*print.pdf"} {
		data := sample(b, "../../testdata/labs/"+p)
		b.Run(strings.TrimSuffix(filepath.Base(p), ".pdf"), func(b *testing.B) {
			src := ingest.NewSource("a.pdf", data)
			b.ReportAllocs()
			pages, words := 0, 0
			for b.Loop() {
				doc, err := New().Read(context.Background(), src, ingest.Limits{})
				if err != nil {
					b.Fatal(err)
				}
				pages += len(doc.Pages)
				words = 0
				for _, p := range doc.Pages {
					words += len(p.Words)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(pages), "ns/page")
			b.ReportMetric(float64(words), "words")
		})
	}
}
