package second

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/apart"
	"example.org/windrow/ingest/pdf"
)

// cache is compiled once for all tests.
var cache string

func TestMain(m *testing.M) {
	if code, yes := Compiling(); yes {
		os.Exit(code)
	}
	if apart.Child(nil, apart.Workers{Format: New(Options{CacheDir: os.Getenv(CacheVar)})}) {
		return
	}
	dir, err := os.MkdirTemp("", "second")
	if err != nil {
		panic(err)
	}
	cache = filepath.Join(dir, "cache")
	start := time.Now()
	if err := Compile(context.Background(), cache); err != nil {
		panic(err)
	}
	fmt.Printf("compiling the engine: %.1f s\n", time.Since(start).Seconds())
	code := m.Run()
	os.RemoveAll(dir)
	os.Exit(code)
}

func engine(t testing.TB) *Engine {
	t.Helper()
	e := New(Options{CacheDir: cache})
	t.Cleanup(func() { e.Close() })
	return e
}

func read(t testing.TB, name string) *ingest.Source {
	t.Helper()
	b, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return ingest.NewSource(filepath.Base(name), b)
}

// texts are all PDF files of the samples that have text, with what the first
// engine reads in them.
func texts(t testing.TB) (sources []*ingest.Source, firsts []*ingest.Document) {
	t.Helper()
	for _, pattern := range []string{"../../testdata/labs/*/*.pdf", "../../testdata/labs/*/revised/*.pdf", "../pdf/testdata/*.pdf"} {
		names, _ := filepath.Glob(pattern)
		for _, n := range names {
			src := read(t, n)
			d, err := pdf.New().Read(t.Context(), src, ingest.Limits{})
			if err != nil {
				if ingest.AsReason(err).Code != "scan" {
					t.Errorf("%s: %v", n, err)
				}
				continue
			}
			sources, firsts = append(sources, src), append(firsts, d)
		}
	}
	if len(sources) < 20 {
		t.Fatalf("only %d sample files have text", len(sources))
	}
	return sources, firsts
}

// make writes a PDF of one page from a content stream and entries of the page
// and of the stream's dictionary.
func makePDF(content, page, filter string) []byte {
	var b bytes.Buffer
	var at []int
	obj := func(s string) {
		at = append(at, b.Len())
		fmt.Fprintf(&b, "%d 0 obj\n%s\nendobj\n", len(at), s)
	}
	b.WriteString("%PDF-1.7\n")
	obj("<</Type/Catalog/Pages 2 0 R>>")
	obj("<</Type/Pages/Kids[3 0 R]/Count 1>>")
	obj("<</Type/Page/Parent 2 0 R/MediaBox[0 0 612 792]" + page + "/Contents 4 0 R/Resources<</Font<</F 5 0 R>>>>>>")
	obj(fmt.Sprintf("<</Length %d%s>>\nstream\n%s\nendstream", len(content), filter, content))
	obj("<</Type/Font/Subtype/Type1/BaseFont/Helvetica/Encoding/WinAnsiEncoding>>")
	xref := b.Len()
	fmt.Fprintf(&b, "xref\n0 %d\n0000000000 65535 f \n", len(at)+1)
	for _, o := range at {
		fmt.Fprintf(&b, "%010d 00000 n \n", o)
	}
	fmt.Fprintf(&b, "trailer\n<</Size %d/Root 1 0 R>>\nstartxref\n%d\n%%%%EOF\n", len(at)+1, xref)
	return b.Bytes()
}

func allText(d *ingest.Document) string {
	var w []string
	for _, p := range d.Pages {
		for _, x := range p.Words {
			w = append(w, x.Text)
		}
	}
	return strings.Join(w, " ")
}
