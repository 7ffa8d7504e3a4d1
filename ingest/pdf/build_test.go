package pdf

import (
	"bytes"
	"compress/zlib"
	"fmt"
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/readertest"
)

// A builder writes PDF files for tests, with a correct cross-reference
// table, so that each special case can be read in the test that needs it.
type builder struct {
	objects []string // from number 1; 1 is the catalog, 2 the page tree
	pages   []string
	trailer string
}

func newBuilder() *builder { return &builder{objects: make([]string, 2)} }

// add adds an object and returns its reference.
func (b *builder) add(body string) string {
	b.objects = append(b.objects, body)
	return fmt.Sprintf("%d 0 R", len(b.objects))
}

func (b *builder) stream(dict, data string) string {
	return b.add(fmt.Sprintf("<< %s /Length %d >>\nstream\n%s\nendstream", dict, len(data), data))
}

func (b *builder) packed(dict, data string) string {
	var z bytes.Buffer
	w := zlib.NewWriter(&z)
	w.Write([]byte(data))
	w.Close()
	return b.stream(dict+" /Filter /FlateDecode", z.String())
}

// page adds a page of 400 by 300 points with fonts F1 Helvetica and F2
// Times-Bold.
func (b *builder) page(content, extra string) {
	c := b.stream("", content)
	if !strings.Contains(extra, "/Resources") {
		extra += " /Resources << " + standardResources + " >>"
	}
	if !strings.Contains(extra, "/MediaBox") {
		extra += " /MediaBox [0 0 400 300]"
	}
	b.pages = append(b.pages, b.add("<< /Type /Page /Parent 2 0 R /Contents "+c+" "+extra+" >>"))
}

const standardResources = "/Font << /F1 << /Type /Font /Subtype /Type1 /BaseFont /Helvetica /Encoding /WinAnsiEncoding >>" +
	" /F2 << /Type /Font /Subtype /Type1 /BaseFont /Times-Bold /Encoding /WinAnsiEncoding >> >>"

func (b *builder) bytes() []byte {
	if b.objects[0] == "" {
		b.objects[0] = "<< /Type /Catalog /Pages 2 0 R >>"
	}
	if b.objects[1] == "" {
		b.objects[1] = fmt.Sprintf("<< /Type /Pages /Count %d /Kids [%s] >>", len(b.pages), strings.Join(b.pages, " "))
	}
	var out bytes.Buffer
	out.WriteString("%PDF-1.4\n%\xe2\xe3\xcf\xd3\n")
	at := make([]int, len(b.objects))
	for i, o := range b.objects {
		at[i] = out.Len()
		fmt.Fprintf(&out, "%d 0 obj\n%s\nendobj\n", i+1, o)
	}
	xref := out.Len()
	fmt.Fprintf(&out, "xref\n0 %d\n0000000000 65535 f \n", len(at)+1)
	for _, n := range at {
		fmt.Fprintf(&out, "%010d 00000 n \n", n)
	}
	fmt.Fprintf(&out, "trailer\n<< /Size %d /Root 1 0 R %s >>\nstartxref\n%d\n%%%%EOF\n", len(at)+1, b.trailer, xref)
	return out.Bytes()
}

// onePage is a file with one page of that content.
func onePage(content string) []byte {
	b := newBuilder()
	b.page(content, "")
	return b.bytes()
}

func mustRead(t *testing.T, data []byte) *ingest.Document {
	t.Helper()
	doc, reason := readertest.Read(t, New(), "test.pdf", data)
	if reason != nil {
		t.Fatal(reason)
	}
	return doc
}

// wordsOf lists the words of the first page, each with a ghost's reason.
func wordsOf(t *testing.T, data []byte) []string {
	t.Helper()
	var all []string
	for _, w := range mustRead(t, data).Pages[0].Words {
		s := w.Text
		if w.Ghost != "" {
			s += " (" + w.Ghost + ")"
		}
		all = append(all, s)
	}
	return all
}

func expect(t *testing.T, data []byte, want string) {
	t.Helper()
	if got := strings.Join(wordsOf(t, data), " | "); got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
}

func refused(t *testing.T, data []byte, code string) *ingest.Reason {
	t.Helper()
	_, reason := readertest.Read(t, New(), "test.pdf", data)
	if reason == nil || reason.Code != code {
		t.Fatalf("want a reason %q, got: %v", code, reason)
	}
	return reason
}
