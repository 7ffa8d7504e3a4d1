package second

import (
	"bytes"
	"compress/zlib"
	"context"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/apart"
	"example.org/windrow/ingest/pdf"
	"example.org/windrow/ingest/readertest"
)

func TestContract(t *testing.T) {
	var samples []readertest.Sample
	for _, n := range []string{"../../testdata/labs/thrushgate-garden-soil-desk", "../../testdata/labs/oxbow-tansy-agronomy-laboratory"} {
		names, _ := filepath.Glob(n + "/*.pdf")
		if len(names) == 0 {
			t.Fatalf("no sample in %s", n)
		}
		samples = append(samples, readertest.Sample{Name: filepath.Base(names[0]), Bytes: read(t, names[0]).Bytes})
	}
	for n, code := range map[string]string{"../pdf/testdata/locked/aes256.pdf": "", "../../testdata/hostile/password-protected.pdf": "locked", "../../testdata/hostile/no-tounicode.pdf": "text-unreadable",
		"../../testdata/hostile/photo-of-report.pdf": "wrong-kind", "../../testdata/hostile/upside-down-scan.pdf": "scan"} {
		samples = append(samples, readertest.Sample{Name: filepath.Base(n), Bytes: read(t, n).Bytes, Code: code})
	}
	samples = append(samples, readertest.Sample{Name: "empty.pdf", Code: "empty-file"},
		readertest.Sample{Name: "blank.pdf", Bytes: makePDF("", "", ""), Code: "no-text"})
	readertest.Run(t, Over(engine(t).Do), samples)
}

// TestOpens reads files that the first engine refuses, and says so.
func TestOpens(t *testing.T) {
	e := engine(t)
	want := allText(mustRead(t, Over(e.Do), read(t, "../pdf/testdata/reportlab.pdf")))
	for _, n := range []string{"../pdf/testdata/locked/aes256.pdf", "../pdf/testdata/locked/rc4-40.pdf"} {
		src := read(t, n)
		if _, err := pdf.New().Read(t.Context(), src, ingest.Limits{}); err == nil {
			t.Errorf("%s: the first engine opens it, so it shows nothing", n)
		}
		d := mustRead(t, Over(e.Do), src)
		if got := allText(d); got != want {
			t.Errorf("%s: got %q, want %q", n, got, want)
		}
		if len(d.Notes) != 1 || d.Notes[0].Code != "second-engine-only" || d.Notes[0].Severity != ingest.Flag {
			t.Errorf("%s: the notes are %v", n, d.Notes)
		}
	}
	// The table of objects is gone.
	whole := read(t, "../pdf/testdata/reportlab.pdf")
	cut := bytes.Clone(whole.Bytes)
	i := bytes.LastIndex(cut, []byte("startxref\n"))
	copy(cut[i+len("startxref\n"):], "7")
	src := ingest.NewSource("cut.pdf", cut)
	if _, err := pdf.New().Read(t.Context(), src, ingest.Limits{}); err == nil {
		t.Error("the first engine opens the damaged file, so it shows nothing")
	}
	if got := allText(mustRead(t, Over(e.Do), src)); got != want {
		t.Errorf("repaired: got %q, want %q", got, want)
	}
}

func TestPasswords(t *testing.T) {
	e := engine(t)
	src := read(t, "../../testdata/hostile/password-protected.pdf")
	for _, c := range []struct {
		passwords []string
		code      string
	}{{nil, "locked"}, {[]string{"wrong"}, "locked"}, {[]string{"wrong", "furrow-slice-667"}, ""}} {
		d, err := Over(e.Do, c.passwords...).Read(t.Context(), src, ingest.Limits{})
		switch {
		case c.code != "":
			if err == nil || ingest.AsReason(err).Code != c.code {
				t.Errorf("%v: got %v, want %s", c.passwords, err, c.code)
			} else if r := ingest.AsReason(err); strings.Contains(r.Error(), "wrong") && c.passwords != nil && strings.Contains(r.Error(), c.passwords[0]) && !strings.Contains(r.Found, "none of the passwords") {
				t.Errorf("the reason tells a password: %v", r)
			}
		case err != nil:
			t.Error(err)
		case len(d.Pages[0].Words) < 50:
			t.Errorf("only %d words", len(d.Pages[0].Words))
		}
	}
}

func mustRead(t testing.TB, c *Client, src *ingest.Source) *ingest.Document {
	t.Helper()
	d, err := c.Read(t.Context(), src, ingest.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// TestWords holds the words that this engine makes by itself against those of
// the first: the same text, but for how words are parted.
func TestWords(t *testing.T) {
	c := Over(engine(t).Do)
	sources, firsts := texts(t)
	same, all := 0, 0
	for i, src := range sources {
		d := mustRead(t, c, src)
		for pi, p := range firsts[i].Pages {
			have := map[string]int{}
			for _, w := range d.Pages[pi].Words {
				have[plain(w.Text)]++
			}
			for _, w := range p.Words {
				if w.Ghost != "" || !strings.ContainsAny(w.Text, "0123456789") {
					continue
				}
				all++
				if have[plain(w.Text)]--; have[plain(w.Text)] >= 0 {
					same++
				}
			}
		}
	}
	t.Logf("%d of %d words with figures are parted alike", same, all)
	if float64(same) < 0.97*float64(all) {
		t.Errorf("only %d of %d words with figures are parted alike", same, all)
	}
}

func TestPicture(t *testing.T) {
	e := engine(t)
	c := Over(e.Do)
	src := ingest.NewSource("a.pdf", makePDF("0 0 1 rg 100 500 200 100 re f", "/Rotate 90", ""))
	b, err := c.Picture(t.Context(), src, ingest.Limits{}, 1, 72)
	if err != nil {
		t.Fatal(err)
	}
	m, err := png.Decode(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	if m.Bounds() != image.Rect(0, 0, 792, 612) {
		t.Fatalf("the picture is %v, want 792 by 612", m.Bounds())
	}
	// The page is turned clockwise: what was 500 to 600 above the lower edge is
	// so far from the left, and what was 100 to 300 from the left is so far down.
	for _, p := range []struct {
		x, y int
		blue bool
	}{{550, 200, true}, {505, 105, true}, {595, 295, true}, {490, 200, false}, {550, 310, false}, {550, 90, false}, {610, 200, false}} {
		r, g, bl, _ := m.At(p.x, p.y).RGBA()
		if blue := r < 0x2000 && g < 0x2000 && bl > 0xe000; blue != p.blue {
			t.Errorf("at %d,%d the picture has %x %x %x", p.x, p.y, r, g, bl)
		}
	}
	for _, bad := range []struct {
		page int
		dpi  float64
		code string
	}{{0, 72, "no-such-page"}, {2, 72, "no-such-page"}, {1, 5000, "too-large"}, {1, 0.01, "too-large"}} {
		if _, err := c.Picture(t.Context(), src, ingest.Limits{}, bad.page, bad.dpi); err == nil || ingest.AsReason(err).Code != bad.code {
			t.Errorf("page %d at %v: got %v, want %s", bad.page, bad.dpi, err, bad.code)
		}
	}
	scan := read(t, "../../testdata/labs/dunmere-hand-laboratory/DH-0470.pdf")
	g, dpi, err := e.Grey(t.Context(), scan, ingest.Limits{}, 1, 0)
	if err != nil || dpi != 300 || g.Rect != image.Rect(0, 0, 2550, 3300) {
		t.Errorf("a scan at 300 dots comes at %v as %v, %v", dpi, g.Rect, err)
	}
	sizes, err := c.Sizes(t.Context(), src, ingest.Limits{})
	if err != nil || len(sizes) != 1 || sizes[0] != (Size{792, 612}) {
		t.Errorf("the sizes are %v, %v", sizes, err)
	}
}

// TestCache has the engine start from a cache that is missing, damaged or of
// no use: it starts all the same.
func TestCache(t *testing.T) {
	start := time.Now()
	e := New(Options{CacheDir: cache})
	src := ingest.NewSource("a.pdf", makePDF("BT /F 12 Tf 72 700 Td (12.5) Tj ET", "", ""))
	mustRead(t, Over(e.Do), src)
	warm := time.Since(start)
	start = time.Now()
	mustRead(t, Over(e.Do), src)
	again := time.Since(start)
	e.Close()
	t.Logf("first file %d ms, next file %.1f ms", warm.Milliseconds(), float64(again.Microseconds())/1000)
	mustRead(t, Over(e.Do), src) // closed, and started anew
	e.Close()

	dir := filepath.Join(t.TempDir(), "cache")
	if compiled(dir) {
		t.Error("a folder that isn't there is taken for a cache")
	}
	found, _ := filepath.Glob(filepath.Join(cache, build, "wazero-*", "*"))
	if len(found) != 1 {
		t.Fatalf("the cache has %v", found)
	}
	b, err := os.ReadFile(found[0])
	if err != nil {
		t.Fatal(err)
	}
	rel, _ := filepath.Rel(cache, found[0])
	name := filepath.Join(dir, rel)
	os.MkdirAll(filepath.Dir(name), 0o700)
	b[len(b)/2] ^= 0xff
	if err := os.WriteFile(name, b, 0o600); err != nil {
		t.Fatal(err)
	}
	e = New(Options{CacheDir: dir})
	defer e.Close()
	start = time.Now()
	if got := allText(mustRead(t, Over(e.Do), src)); got != "12.5" {
		t.Errorf("got %q", got)
	}
	t.Logf("with a damaged cache: first file %.1f s", time.Since(start).Seconds())
	if err := Compile(t.Context(), ""); err != nil {
		t.Errorf("without a cache folder: %v", err)
	}
	file := filepath.Join(t.TempDir(), "file")
	os.WriteFile(file, nil, 0o600)
	if err := Compile(t.Context(), filepath.Join(file, "under")); err == nil {
		t.Error("a folder that can't be made was compiled into")
	}
}

// TestBuild holds the name of the cache against the versions in use: machine
// code of another version must never be loaded.
func TestBuild(t *testing.T) {
	mod, err := os.ReadFile("../../go.mod")
	if err != nil {
		t.Fatal(err)
	}
	f := strings.Split(build, "-")
	for _, want := range []string{"github.com/klippa-app/go-pdfium v" + f[1], "github.com/tetratelabs/wazero v" + f[3]} {
		if !strings.Contains(string(mod), want) {
			t.Errorf("go.mod doesn't have %s; change build with it", want)
		}
	}
}

// TestApart has the engine work in a child: all its jobs, and files that
// would harm it.
func TestApart(t *testing.T) {
	pool, err := apart.NewPool(1, Format, CacheVar+"="+cache)
	if err != nil {
		t.Fatal(err)
	}
	defer pool.Close()
	c := Over(pool.Do(Format))
	good := ingest.NewSource("good.pdf", makePDF("BT /F 12 Tf 72 700 Td (12.5) Tj ET", "", ""))
	fine := func(after string) {
		t.Helper()
		d, err := c.Read(t.Context(), good, ingest.Limits{})
		if err != nil || allText(d) != "12.5" {
			t.Errorf("after %s: %v", after, err)
		}
	}
	fine("the start")
	if g, err := c.Glyphs(t.Context(), good, ingest.Limits{}); err != nil || len(g.Pages[0].Words) != 4 || g.Source != good.Ref() {
		t.Errorf("characters: %v %v", g, err)
	}
	if b, err := c.Picture(t.Context(), good, ingest.Limits{}, 1, 50); err != nil || !bytes.HasPrefix(b, []byte("\x89PNG")) {
		t.Errorf("picture: %v", err)
	}
	if s, err := c.Sizes(t.Context(), good, ingest.Limits{}); err != nil || len(s) != 1 {
		t.Errorf("sizes: %v %v", s, err)
	}
	var bomb bytes.Buffer
	z := zlib.NewWriter(&bomb)
	z.Write([]byte("BT /F 12 Tf 72 700 Td (x) Tj ET\n"))
	for range 400 {
		z.Write(bytes.Repeat([]byte("q Q "), 1<<18))
	}
	z.Close()
	src := ingest.NewSource("bomb.pdf", makePDF(bomb.String(), "", "/Filter/FlateDecode"))
	start := time.Now()
	_, err = c.Read(t.Context(), src, ingest.Limits{Seconds: 5})
	if err == nil {
		t.Error("400 MB of content were read without a word")
	} else {
		t.Logf("400 MB in %d bytes: %s after %.1f s", len(src.Bytes), ingest.AsReason(err).Code, time.Since(start).Seconds())
	}
	fine("a bomb")
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := c.Read(ctx, good, ingest.Limits{}); err == nil || ingest.AsReason(err).Code != "stopped" {
		t.Errorf("stopped: %v", err)
	}
	fine("a stop")
	if _, _, err := pool.Do(Format)(t.Context(), []byte("{"), good, ingest.Limits{}); err == nil {
		t.Error("a job that can't be understood was done")
	}
	if _, _, err := pool.Do(Format)(t.Context(), []byte(`{"job":"dance"}`), good, ingest.Limits{}); err == nil {
		t.Error("a job that isn't known was done")
	}
	fine("odd jobs")
}

func BenchmarkGlyphs(b *testing.B) {
	c := Over(engine(b).Do)
	names, _ := filepath.Glob("../../testdata/labs/ashlar*/*.pdf")
	src := read(b, names[0])
	for b.Loop() {
		if _, err := c.Glyphs(b.Context(), src, ingest.Limits{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkCompare(b *testing.B) {
	c := Over(engine(b).Do)
	names, _ := filepath.Glob("../../testdata/labs/ashlar*/*.pdf")
	src := read(b, names[0])
	first, err := pdf.New().Read(b.Context(), src, ingest.Limits{})
	if err != nil {
		b.Fatal(err)
	}
	g, err := c.Glyphs(b.Context(), src, ingest.Limits{})
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		Compare(first, g)
	}
}

// TestOffThePage doesn't give as seen what lies beside the page.
func TestOffThePage(t *testing.T) {
	src := ingest.NewSource("a.pdf", makePDF("BT /F 12 Tf 72 700 Td (seen) Tj 2000 0 Td (99) Tj ET BT /F 12 Tf 900000 0 Td (lost) Tj ET", "", ""))
	d := mustRead(t, Over(engine(t).Do), src)
	if w := d.Pages[0].Words; len(w) != 2 || w[0].Text != "seen" || w[0].Ghost != "" || w[1].Text != "99" || w[1].Ghost == "" {
		t.Errorf("got %+v", w)
	}
}
