package scan

import (
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/apart"
	"example.org/windrow/ingest/readertest"
	"example.org/windrow/ingest/second"
)

var record = flag.Bool("record", false, "write what tesseract answers about the samples to testdata/answers.json.gz")

const answersFile = "testdata/answers.json.gz"

var cache string

func TestMain(m *testing.M) {
	if code, yes := second.Compiling(); yes {
		os.Exit(code)
	}
	if apart.Child(nil, apart.Workers{Format: NewWorker(second.New(second.Options{CacheDir: os.Getenv(second.CacheVar)}))}) {
		return
	}
	code := m.Run()
	if cache != "" {
		os.RemoveAll(filepath.Dir(cache))
	}
	os.Exit(code)
}

var compileOnce sync.Once

// compiledEngine is the folder of the engine's machine code, which takes
// seconds to make; fuzzing does without.
func compiledEngine(t testing.TB) string {
	t.Helper()
	compileOnce.Do(func() {
		dir, err := os.MkdirTemp("", "scan")
		if err != nil {
			t.Fatal(err)
		}
		cache = filepath.Join(dir, "cache")
		if err := second.Compile(context.Background(), cache); err != nil {
			t.Fatal(err)
		}
	})
	return cache
}

func worker(t testing.TB) *Worker {
	t.Helper()
	e := second.New(second.Options{CacheDir: compiledEngine(t)})
	t.Cleanup(func() { e.Close() })
	return NewWorker(e)
}

func installed() bool {
	_, err := exec.LookPath("tesseract")
	return err == nil
}

// answers is a recogniser that answers what the program answered when it was
// recorded. Asked about another picture it says so.
type answers struct {
	mu    sync.Mutex
	Table map[string]string // by the sum of the picture and the way
}

func key(pgm []byte, dpi float64, psm int) string {
	h := sha256.New()
	fmt.Fprintf(h, "%d ", psm)
	h.Write(pgm)
	return hex.EncodeToString(h.Sum(nil)[:12])
}

var errNotRecorded = errors.New("this picture was not recorded")

func (a *answers) recognise(_ context.Context, pgm []byte, dpi float64, psm int) ([]byte, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	s, ok := a.Table[key(pgm, dpi, psm)]
	if !ok {
		return nil, errNotRecorded
	}
	return []byte(s), nil
}

// recogniser is the program where it is installed, and otherwise what it
// answered once.
func recogniser(t testing.TB) Recogniser {
	t.Helper()
	a := &answers{Table: map[string]string{}}
	if installed() {
		run := tesseract("tesseract", "eng")
		if !*record {
			return run
		}
		if f, err := os.Open(answersFile); err == nil {
			if z, err := gzip.NewReader(f); err == nil {
				json.NewDecoder(z).Decode(&a.Table)
			}
			f.Close()
		}
		t.Cleanup(func() {
			os.MkdirAll("testdata", 0o755)
			f, err := os.Create(answersFile)
			if err != nil {
				t.Fatal(err)
			}
			z := gzip.NewWriter(f)
			json.NewEncoder(z).Encode(a.Table)
			if err := errors.Join(z.Close(), f.Close()); err != nil {
				t.Fatal(err)
			}
		})
		return func(ctx context.Context, pgm []byte, dpi float64, psm int) ([]byte, error) {
			b, err := run(ctx, pgm, dpi, psm)
			a.mu.Lock()
			defer a.mu.Unlock()
			a.Table[key(pgm, dpi, psm)] = string(b)
			return b, err
		}
	}
	f, err := os.Open(answersFile)
	if err != nil {
		t.Skipf("tesseract is not installed (apt-get install tesseract-ocr), and there are no recorded answers: %v", err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.NewDecoder(z).Decode(&a.Table); err != nil {
		t.Fatal(err)
	}
	return a.recognise
}

func load(t testing.TB, name string) *ingest.Source {
	t.Helper()
	b, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return ingest.NewSource(filepath.Base(name), b)
}

const (
	dunmere = "../../testdata/labs/dunmere-hand-laboratory/"
	hostile = "../../testdata/hostile/"
)

// asPrinted are the numbers on the letters of the samples that are no results:
// the address, depth, good ranges and advice.
var asPrinted = regexp.MustCompile(`^(5|00119|6|2/3|40|1000|6\.0,?|2|2,000,000|2026|20-0-10|25|27|1|7|3/27|8)[.,]?$`)

// TestSamples reads the sample scans and holds them against what is printed on
// them. No number may be wrong that both readings agree on.
func TestSamples(t *testing.T) {
	rec := recogniser(t)
	r := New(Options{Prepare: worker(t).Do, Recognise: rec})
	files := map[string]string{hostile + "photo-of-report.pdf": hostile + "truth/", hostile + "upside-down-scan.pdf": hostile + "truth/", dunmere + "revised/DH-0900.pdf": dunmere + "revised/truth/"}
	names := []string{hostile + "photo-of-report.pdf", hostile + "upside-down-scan.pdf", dunmere + "revised/DH-0900.pdf"}
	more, _ := filepath.Glob(dunmere + "*.pdf")
	for _, n := range more {
		files[n] = dunmere + "truth/"
	}
	names = append(more, names...)
	var all, present, agreed, pages int
	start := time.Now()
	for _, n := range names {
		src := load(t, n)
		d, err := r.Read(t.Context(), src, ingest.Limits{})
		if err != nil {
			if strings.Contains(err.Error(), errNotRecorded.Error()) {
				t.Skip("tesseract is not installed (apt-get install tesseract-ocr), and the recorded answers are of another version of the preparation or another processor")
			}
			t.Errorf("%s: %v", n, err)
			continue
		}
		if p := readertest.DocumentFault(src, d); p != "" {
			t.Errorf("%s: %s", n, p)
		}
		var truth struct {
			Samples []struct {
				Results []struct {
					Printed string
					Missing *string
				}
			}
		}
		b, err := os.ReadFile(files[n] + filepath.Base(n) + ".json")
		if err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(b, &truth); err != nil {
			t.Fatal(err)
		}
		have, sure, real := map[string]int{}, map[string]int{}, map[string]bool{}
		for _, s := range truth.Samples {
			for _, x := range s.Results {
				real[x.Printed] = true
			}
		}
		for _, p := range d.Pages {
			pages++
			for _, w := range p.Words {
				have[w.Text]++
				if w.OCR == nil {
					t.Fatalf("%s: a word doesn't say how it was read: %+v", n, w)
				}
				if !w.OCR.Agree {
					continue
				}
				sure[w.Text]++
				if plain(w.Text) != plain(w.OCR.Second) {
					t.Errorf("%s: %q and %q are said to agree", n, w.Text, w.OCR.Second)
				}
				if isNumber(w.Text) && !real[strings.TrimRight(w.Text, "%")] && !asPrinted.MatchString(w.Text) {
					t.Errorf("%s: both readings have %q, which is not on the page", n, w.Text)
				}
			}
		}
		for _, s := range truth.Samples {
			for _, x := range s.Results {
				if x.Missing != nil || x.Printed == "" {
					continue
				}
				all++
				if have[x.Printed]--; have[x.Printed] >= 0 {
					present++
				}
				if sure[x.Printed]--; sure[x.Printed] >= 0 {
					agreed++
				}
			}
		}
		if filepath.Base(n) == "upside-down-scan.pdf" {
			if d.Pages[0].Scan.Turn != 180 || !noted(d, "page-turned") {
				t.Errorf("%s: turned by %d, notes %v", n, d.Pages[0].Scan.Turn, d.Notes)
			}
		} else if d.Pages[0].Scan.Turn != 0 {
			t.Errorf("%s: turned by %d", n, d.Pages[0].Scan.Turn)
		}
		if !noted(d, "read-by-ocr") {
			t.Errorf("%s: the document doesn't say that it was read from a picture", n)
		}
	}
	t.Logf("%d printed numbers: %d read (%.1f %%), %d of them alike in both readings (%.1f %%); %.1f s a page", all, present, 100*float64(present)/float64(all), agreed, 100*float64(agreed)/float64(all), time.Since(start).Seconds()/float64(pages))
	if all < 200 || present*100 < all*98 || agreed*100 < all*95 {
		t.Errorf("of %d numbers %d were read and %d agreed", all, present, agreed)
	}
}

func noted(d *ingest.Document, code string) bool {
	for _, n := range d.Notes {
		if n.Code == code {
			return true
		}
	}
	return false
}

// small is a slip of paper, 4 by 3 inches, as a picture of the kind.
func small(t testing.TB, kind string) []byte {
	t.Helper()
	page := white(400, 300)
	for i, l := range []string{"Soil pH 6.45", "Phosphorus 12.5 ppm", "Potassium 210 ppm"} {
		put(page, l, 30, 50+30*i, 1)
	}
	var b bytes.Buffer
	switch kind {
	case "jpeg":
		if err := jpeg.Encode(&b, page, nil); err != nil {
			t.Fatal(err)
		}
		// The encoder doesn't say how large the picture is: 100 dots an inch.
		return append([]byte("\xff\xd8\xff\xe0\x00\x10JFIF\x00\x01\x01\x01\x00\x64\x00\x64\x00\x00"), b.Bytes()[2:]...)
	case "png":
		if err := png.Encode(&b, page); err != nil {
			t.Fatal(err)
		}
		return withSize(b.Bytes(), 3937)
	case "tiff":
		b.Write(tiffOf(page, page))
	}
	return b.Bytes()
}

// table is an answer of the recogniser: a word a line, at its place.
func table(words ...string) []byte {
	var b strings.Builder
	b.WriteString("level\tpage_num\tblock_num\tpar_num\tline_num\tword_num\tleft\ttop\twidth\theight\tconf\ttext\n1\t1\t0\t0\t0\t0\t0\t0\t2550\t3300\t-1\t\n")
	for i, w := range words {
		fmt.Fprintf(&b, "5\t1\t1\t1\t%d\t1\t%d\t%d\t%d\t%d\t91.5\t%s\n", i+1, 300, 300+i*60, 20*len(w), 30, w)
	}
	return []byte(b.String())
}

func fake(words ...string) Recogniser {
	return func(_ context.Context, pgm []byte, dpi float64, psm int) ([]byte, error) {
		if _, ok := parsePGM(pgm); !ok {
			return nil, errors.New("not a picture")
		}
		return table(words...), nil
	}
}

var letter = []string{"Dunmere", "Laboratory", "Phosphorus", "Potassium", "Magnesium", "Calcium", "12.5"}

func TestContract(t *testing.T) {
	r := New(Options{Prepare: NewWorker(nil).Do, Recognise: fake(letter...)})
	readertest.Run(t, r, []readertest.Sample{
		{Name: "a.jpg", Bytes: small(t, "jpeg")}, {Name: "a.pdf", Bytes: small(t, "png")},
		{Name: "empty.png", Code: "empty-file"}, {Name: "a.txt", Bytes: []byte("pH 6.45"), Code: "wrong-kind"},
		{Name: "cut.png", Bytes: small(t, "png")[:300], Code: "damaged"},
	})
}

// TestNoProgram holds a scan, in words that help, when nothing can read it.
func TestNoProgram(t *testing.T) {
	src := ingest.NewSource("scan.jpg", small(t, "jpeg"))
	_, err := New(Options{Program: filepath.Join(t.TempDir(), "none"), Prepare: NewWorker(nil).Do}).Read(t.Context(), src, ingest.Limits{})
	r := ingest.AsReason(err)
	if err == nil || r.Code != "scan-no-ocr" || r.Severity != ingest.Hold || !strings.Contains(r.Next, "tesseract-ocr") || !strings.Contains(r.Next, "laboratory") {
		t.Errorf("without the program: %v", err)
	}
	if !installed() {
		t.Skip("tesseract is not installed (apt-get install tesseract-ocr): what it says of a missing language was not tried")
	}
	_, err = New(Options{Language: "zzz", Prepare: NewWorker(nil).Do}).Read(t.Context(), src, ingest.Limits{})
	if err == nil || ingest.AsReason(err).Code != "scan-no-ocr" || !strings.Contains(err.Error(), "tesseract-ocr-zzz") {
		t.Errorf("without the language: %v", err)
	}
}

// TestProgram has programs in the recogniser's place that do what it may do.
func TestProgram(t *testing.T) {
	if _, err := exec.LookPath("sh"); err != nil {
		t.Skip("there is no sh to stand in for the program")
	}
	src := ingest.NewSource("scan.jpg", small(t, "jpeg"))
	for _, c := range []struct{ script, code string }{
		{"sleep 60", "too-slow"}, {"while :; do echo x; done", "too-slow"}, {"exit 3", "ocr-failed"}, {"echo oh dear >&2; exit 1", "ocr-failed"}, {"kill -9 $$", "ocr-failed"},
		{"cat >/dev/null; printf '5\\t1\\n5\\t2\\n'", "ocr-failed"}, {"cat >/dev/null", "scan-unreadable"},
	} {
		program := filepath.Join(t.TempDir(), "program")
		if err := os.WriteFile(program, []byte("#!/bin/sh\n"+c.script+"\n"), 0o755); err != nil {
			t.Fatal(err)
		}
		start := time.Now()
		_, err := New(Options{Program: program, Prepare: NewWorker(nil).Do}).Read(t.Context(), src, ingest.Limits{Seconds: map[bool]int{true: 2, false: 30}[c.code == "too-slow"]})
		if err == nil || ingest.AsReason(err).Code != c.code {
			t.Errorf("%s: got %v, want %s", c.script, err, c.code)
		}
		if took := time.Since(start); took > 30*time.Second {
			t.Errorf("%s: took %v", c.script, took)
		}
	}
}

// TestTurnTried turns a page that reads badly, and leaves one that reads
// badly whichever way it lies.
func TestTurnTried(t *testing.T) {
	page := small(t, "png")
	m, err := png.Decode(bytes.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	for _, right := range []int{0, 90, 180, 270, -1} {
		lying := m.(*image.Gray)
		if right > 0 {
			lying = quarter(lying, 360-right)
		}
		var b bytes.Buffer
		if err := png.Encode(&b, lying); err != nil {
			t.Fatal(err)
		}
		// A page is upright when its ink is at the upper left.
		rec := func(_ context.Context, pgm []byte, dpi float64, psm int) ([]byte, error) {
			g, _ := parsePGM(pgm)
			x, y := darkest(g)
			if right >= 0 && x < float64(g.Rect.Dx())/2 && y < float64(g.Rect.Dy())/2 && g.Rect.Dx() > g.Rect.Dy() {
				return table(letter...), nil
			}
			return table("~i", "q1", "l;"), nil
		}
		d, err := New(Options{Prepare: NewWorker(nil).Do, Recognise: rec}).Read(t.Context(), ingest.NewSource("a.png", b.Bytes()), ingest.Limits{})
		if err != nil {
			t.Errorf("%d: %v", right, err)
			continue
		}
		want := max(0, right)
		p := d.Pages[0]
		if p.Scan.Turn != want || noted(d, "page-turned") != (want != 0) || p.Width < p.Height {
			t.Errorf("a page to be turned by %d was turned by %d, and is %v by %v; notes %v", right, p.Scan.Turn, p.Width, p.Height, d.Notes)
		}
	}
}

// TestApart has the pictures prepared in a child, with the same outcome.
func TestApart(t *testing.T) {
	pool, err := apart.NewPool(1, Format, second.CacheVar+"="+compiledEngine(t))
	if err != nil {
		t.Fatal(err)
	}
	defer pool.Close()
	src := load(t, dunmere+"DH-0475.pdf")
	here, err := New(Options{Prepare: worker(t).Do, Recognise: fake(letter...)}).Read(t.Context(), src, ingest.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	there, err := New(Options{Prepare: pool.Do(Format), Recognise: fake(letter...)}).Read(t.Context(), src, ingest.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	a, _ := json.Marshal(here)
	b, _ := json.Marshal(there)
	if !bytes.Equal(a, b) {
		t.Errorf("here %s\nthere %s", a, b)
	}
	// A PDF that is locked, and one that is no picture at all.
	r := New(Options{Prepare: pool.Do(Format), Recognise: fake(letter...)})
	if _, err := r.Read(t.Context(), load(t, hostile+"password-protected.pdf"), ingest.Limits{}); err == nil || ingest.AsReason(err).Code != "locked" {
		t.Errorf("locked: %v", err)
	}
	r = New(Options{Prepare: pool.Do(Format), Recognise: fake(letter...), Passwords: []string{"furrow-slice-667"}})
	if _, err := r.Read(t.Context(), load(t, hostile+"password-protected.pdf"), ingest.Limits{}); err != nil {
		t.Errorf("with its password: %v", err)
	}
	if _, err := r.Read(t.Context(), load(t, hostile+"truncated.pdf"), ingest.Limits{}); err != nil && ingest.AsReason(err).Code == "parser-crashed" {
		t.Errorf("truncated: %v", err)
	}
}

// TestUnpack takes answers of a child that can't be trusted.
func TestUnpack(t *testing.T) {
	good := func() []byte {
		args, _ := json.Marshal(job{Page: 1, Ways: []int{0}})
		_, b, err := NewWorker(nil).Do(t.Context(), args, ingest.NewSource("a.png", small(t, "png")), ingest.Limits{})
		if err != nil {
			t.Fatal(err)
		}
		return b
	}()
	if p, err := unpack(good); err != nil || len(p.images) != 1 || p.Pages != 1 {
		t.Fatalf("a good answer: %v", err)
	}
	for n := range 200 {
		if _, err := unpack(good[:n]); err == nil {
			t.Errorf("%d bytes of an answer were taken", n)
		}
	}
	for _, head := range []string{`{}`, `{"width":1,"height":1,"sizes":[-1],"scale":[1]}`, `{"width":1,"height":1,"sizes":[99],"scale":[1]}`, `{"width":1,"height":1,"sizes":[0],"scale":[0]}`, `{"width":1,"height":1,"sizes":[0]}`} {
		b := append([]byte{0, 0, 0, byte(len(head))}, head...)
		if _, err := unpack(b); err == nil {
			t.Errorf("%s was taken", head)
		}
	}
}
