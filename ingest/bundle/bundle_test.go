package bundle

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/readertest"
)

func load(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// expand takes a zip apart twice, checks what must hold for any bytes, and
// writes what came back in a line a piece: kind, name and length of a member,
// severity, code and place of a reason.
func expand(t testing.TB, name string, b []byte, lim ingest.Limits) (string, []*ingest.Source, []*ingest.Reason) {
	t.Helper()
	src := ingest.NewSource(name, bytes.Clone(b))
	members, reasons := Expand(src, lim)
	if !bytes.Equal(src.Bytes, b) {
		t.Fatal("the zip was changed")
	}
	if len(members)+len(reasons) == 0 {
		t.Fatal("neither a member nor a reason came back")
	}
	var out strings.Builder
	seen := map[string]bool{}
	for _, m := range members {
		if m.Name != src.Name || m.Member == "" || seen[m.Member] || !utf8.ValidString(m.Member) || strings.ContainsAny(m.Member, "\\\x00\n") ||
			outside(m.Member) || m.SHA256 != ingest.NewSource("", m.Bytes).SHA256 {
			t.Fatalf("a member called %q of %q", m.Member, m.Name)
		}
		seen[m.Member] = true
		fmt.Fprintf(&out, "%s %d\n", m.Member, len(m.Bytes))
	}
	for _, r := range reasons {
		if f := readertest.ReasonFault(r); f != "" || !strings.HasPrefix(r.Where.File, src.Title()) {
			t.Fatalf("%s: %v", f, r)
		}
		fmt.Fprintf(&out, "%s %s at %s\n", r.Severity, r.Code, r.Where.File)
	}
	again, more := Expand(src, lim)
	if len(again) != len(members) || len(more) != len(reasons) {
		t.Fatal("the same zip was taken apart in two ways")
	}
	for i := range again {
		if again[i].Title() != members[i].Title() || again[i].SHA256 != members[i].SHA256 {
			t.Fatal("the same zip was taken apart in two ways")
		}
	}
	return out.String(), members, reasons
}

// file is one entry to be packed.
type file struct {
	name, body string
	mode       fs.FileMode
	store      bool
}

func pack(t testing.TB, files ...file) []byte {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, f := range files {
		h := &zip.FileHeader{Name: f.name, Method: zip.Deflate}
		if f.store {
			h.Method = zip.Store
		}
		if f.mode != 0 {
			h.SetMode(f.mode)
		}
		e, err := w.CreateHeader(h)
		if err == nil {
			_, err = e.Write([]byte(f.body))
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// directory changes a number in the n-th entry of the table of contents: size
// bytes of it at an offset of the record (APPNOTE.TXT, 4.3.12).
func directory(b []byte, n, offset, size int, v uint64) []byte {
	b = bytes.Clone(b)
	at := -1
	for range n + 1 {
		at += 1 + bytes.Index(b[at+1:], []byte("PK\x01\x02"))
	}
	var le [8]byte
	binary.LittleEndian.PutUint64(le[:], v)
	copy(b[at+offset:at+offset+size], le[:])
	return b
}

func TestLaboratoryZip(t *testing.T) {
	b := load(t, "../../testdata/labs/ashlar-reed-soil-laboratory/AR-26-2260-batch.zip")
	got, members, reasons := expand(t, "batch.zip", b, ingest.Limits{})
	if len(reasons) != 0 {
		t.Error(reasons)
	}
	var names []string
	for _, m := range members {
		if ingest.Sniff(m.Member, m.Bytes) != ingest.KindPDF {
			t.Errorf("%s is no PDF", m.Member)
		}
		names = append(names, m.Member)
	}
	want := []string{"AR-26-2260.pdf", "Finch/AR-26-2261.pdf", "AR-26-2262.pdf", "Tamarack/AR-26-2263.pdf", "AR-26-2264.pdf", "Wren/AR-26-2265.pdf", "AR-26-2266.pdf", "Finch/AR-26-2267.pdf", "AR-26-2268.pdf", "Tamarack/AR-26-2269.pdf"}
	if !slices.Equal(names, want) {
		t.Errorf("got\n%s", got)
	}
}

// As README.md of the hostile files has it: refused by what its table of
// contents says, and not unpacked to memory to find out.
func TestBomb(t *testing.T) {
	b := load(t, "../../testdata/hostile/bomb.zip")
	var before, after runtime.MemStats
	src := ingest.NewSource("bomb.zip", b)
	runtime.ReadMemStats(&before)
	members, reasons := Expand(src, ingest.Limits{Bytes: 1 << 40, Unzipped: 1 << 40})
	runtime.ReadMemStats(&after)
	if n := after.TotalAlloc - before.TotalAlloc; n > 2<<20 {
		t.Errorf("%d bytes were used to refuse it", n)
	}
	want := `bomb.zip: not read [zip-bomb] the zip file would grow beyond all measure when unpacked, so nothing was unpacked
    expected  files that grow to at most 200 times their packed size
    found     results.csv would grow from 199 KiB to 200 MiB
    next      do not open it; ask the sender what it is, and for the reports one by one`
	if len(members) != 0 || len(reasons) != 1 || reasons[0].Error() != want {
		t.Errorf("got %d members and\n%v", len(members), reasons)
	}
	if got, _, _ := expand(t, "outer.zip", pack(t, file{name: "in.zip", body: string(b), store: true}, file{name: "a.csv", body: "1"}), ingest.Limits{}); got != "fail zip-bomb at outer.zip\n" {
		t.Errorf("within another: got %s", got)
	}
}

// As README.md of the hostile files has it: bad names and the link are
// ignored and said, the one good file is handed on, and nothing is written.
func TestPathTraversal(t *testing.T) {
	dir := t.TempDir()
	t.Chdir(dir)
	before, _ := filepath.Glob("../*")
	got, members, reasons := expand(t, "path-traversal.zip", pathTraversal, ingest.Limits{})
	want := `ok/AR-26-2255.pdf 31981
flag name-points-outside at path-traversal.zip > ../../outside.csv
flag name-points-outside at path-traversal.zip > /absolute/report.csv
flag name-points-outside at path-traversal.zip > ../../windows.csv
flag not-a-file at path-traversal.zip > ok/link.pdf
`
	if got != want {
		t.Errorf("got\n%s", got)
	}
	if len(members) == 1 && members[0].SHA256 != sha255 {
		t.Error("the good file has other bytes than the report that it re-sends")
	}
	want = `path-traversal.zip > ../../outside.csv: flagged [name-points-outside] the entry's name points to a place outside of the zip file, so the entry was ignored
    found     ../../outside.csv
    next      be wary of the sender: no program for packing files makes such names by itself`
	if len(reasons) == 0 || reasons[0].Error() != want {
		t.Errorf("got\n%v", reasons)
	}
	after, _ := filepath.Glob("../*")
	inside, _ := filepath.Glob("*")
	if len(inside) != 0 || len(after) != len(before) {
		t.Errorf("files were written: %v %v", inside, after)
	}
}

var pathTraversal, sha255 = func() ([]byte, string) {
	b, err := os.ReadFile("../../testdata/hostile/path-traversal.zip")
	pdf, err2 := os.ReadFile("../../testdata/labs/ashlar-reed-soil-laboratory/AR-26-2255.pdf")
	if err != nil || err2 != nil {
		panic("the test files are missing")
	}
	return b, ingest.NewSource("", pdf).SHA256
}()

func TestEntries(t *testing.T) {
	two := pack(t, file{name: "a.csv", body: "1,2"}, file{name: "b.csv", body: "3,4"})
	stored := pack(t, file{name: "a.csv", body: "1,2", store: true}, file{name: "b.csv", body: "3,4", store: true})
	inner := string(pack(t, file{name: "c.csv", body: "5"}, file{name: "d/e.csv", body: "6"}))
	middle := string(pack(t, file{name: "in.zip", body: inner}))
	bigRun := strings.Repeat("0", 3<<20)
	for name, c := range map[string]struct {
		b    []byte
		want string
	}{
		"sound":             {two, "a.csv 3\nb.csv 3\n"},
		"encrypted":         {directory(two, 0, 8, 2, 9), "b.csv 3\nhold locked at z.zip > a.csv\n"},
		"unknown packing":   {directory(two, 1, 10, 2, 14), "a.csv 3\nhold packing-unknown at z.zip > b.csv\n"},
		"longer than said":  {directory(two, 0, 24, 4, 2), "b.csv 3\nfail damaged at z.zip > a.csv\n"},
		"shorter than said": {directory(two, 0, 24, 4, 9), "b.csv 3\nfail damaged at z.zip > a.csv\n"},
		"other checksum":    {directory(two, 1, 16, 4, uint64(crc32.ChecksumIEEE([]byte("3,5")))), "a.csv 3\nfail damaged at z.zip > b.csv\n"},
		"one stretch twice": {directory(stored, 1, 42, 4, 0), "fail zip-bomb at z.zip\n"},
		"beyond the end":    {directory(two, 0, 20, 4, 1<<20), "fail damaged at z.zip\n"},
		"cut short":         {two[:len(two)-30], "fail damaged at z.zip\n"},
		"says it is huge":   {directory(two, 0, 24, 4, 1<<31), "fail zip-bomb at z.zip\n"},
		"is huge":           {pack(t, file{name: "a.csv", body: bigRun}), "fail zip-bomb at z.zip\n"},
		"folders":           {pack(t, file{name: "x/"}, file{name: `x\y\a.csv`, body: "1"}), "x/y/a.csv 1\n"},
		"same name":         {pack(t, file{name: "a.csv", body: "1"}, file{name: "a.csv", body: "2"}), "a.csv 1\na.csv (2) 1\n"},
		"same bytes":        {pack(t, file{name: "a.csv", body: "1"}, file{name: "b.csv", body: "1"}), "a.csv 1\nnote same-bytes at z.zip > b.csv\n"},
		"empty file":        {pack(t, file{name: "a.csv"}), "fail empty-file at z.zip > a.csv\n"},
		"nothing":           {pack(t), "fail empty-file at z.zip\n"},
		"housekeeping":      {pack(t, file{name: "__MACOSX/._a.csv", body: "x"}, file{name: "a.csv", body: "1"}), "a.csv 1\nnote entry-left-out at z.zip > __MACOSX/._a.csv\n"},
		"drive":             {pack(t, file{name: `C:\a.csv`, body: "1"}), "flag name-points-outside at z.zip > C:/a.csv\n"},
		"device":            {pack(t, file{name: "a.csv", body: "1", mode: fs.ModeDevice | 0o644}), "flag not-a-file at z.zip > a.csv\n"},
		"turned name":       {pack(t, file{name: "a\u202efdp.exe", body: "1"}), "afdp.exe 1\n"},
		"old code page":     {pack(t, file{name: "Zo\x89.csv", body: "1"}), "Zoë.csv 1\n"},
		"zip within":        {pack(t, file{name: "in.zip", body: inner}, file{name: "a.csv", body: "1"}), "in.zip > c.csv 1\nin.zip > d/e.csv 1\na.csv 1\n"},
		"zip too deep":      {pack(t, file{name: "mid.zip", body: middle}, file{name: "a.csv", body: "1"}), "a.csv 1\nhold zip-too-deep at z.zip > mid.zip > in.zip\n"},
		"office within":     {pack(t, file{name: "l.docx", body: string(pack(t, file{name: "[Content_Types].xml", body: "<x/>"}))}), "l.docx 162\n"},
		"office itself":     {pack(t, file{name: "[Content_Types].xml", body: "<x/>"}), "hold office-document at z.zip\n"},
		"no zip":            {[]byte("PK\x03\x04 no more"), "fail damaged at z.zip\n"},
	} {
		got, _, _ := expand(t, "z.zip", c.b, ingest.Limits{})
		if got != c.want {
			t.Errorf("%s: got\n%swant\n%s", name, got, c.want)
		}
	}
}

func TestLimits(t *testing.T) {
	b := pack(t, file{name: "a.csv", body: strings.Repeat("1", 300)}, file{name: "b.csv", body: "2"}, file{name: "in.zip", body: string(pack(t, file{name: "c.csv", body: "33"})), store: true})
	inner := len(pack(t, file{name: "c.csv", body: "33"}))
	for name, c := range map[string]struct {
		lim  ingest.Limits
		want string
	}{
		"bytes of the zip":       {ingest.Limits{Bytes: int64(len(b)) - 1}, "fail too-large at z.zip\n"},
		"all entries":            {ingest.Limits{Unzipped: 300}, "fail too-large at z.zip\n"},
		"with those of a zip in": {ingest.Limits{Unzipped: int64(301 + inner + 1)}, "fail too-large at z.zip\n"},
		"exactly as it needs":    {ingest.Limits{Bytes: int64(len(b)), Unzipped: int64(301 + inner + 2)}, "a.csv 300\nb.csv 1\nin.zip > c.csv 2\n"},
	} {
		if got, _, _ := expand(t, "z.zip", b, c.lim); got != c.want {
			t.Errorf("%s: got\n%s", name, got)
		}
	}
	big := pack(t, file{name: "big.bin", body: strings.Repeat("ab", 5000)}, file{name: "a.csv", body: "1"})
	if got, _, _ := expand(t, "z.zip", big, ingest.Limits{Bytes: 9000}); got != "a.csv 1\nfail too-large at z.zip > big.bin\n" {
		t.Errorf("one large file: got\n%s", got)
	}
}

func TestMembersOfAMember(t *testing.T) {
	src := ingest.NewSource("may.eml", pack(t, file{name: "a.csv", body: "1"}))
	src.Member = "batch.zip"
	members, _ := Expand(src, ingest.Limits{})
	if len(members) != 1 || members[0].Title() != "may.eml > batch.zip > a.csv" {
		t.Errorf("got %v", members)
	}
}

func TestDamagedCopiesNeverPanic(t *testing.T) {
	for _, b := range [][]byte{pathTraversal, pack(t, file{name: "in.zip", body: string(pack(t, file{name: "c.csv", body: "5,6,7"}))}, file{name: "a.csv", body: "1,2"})} {
		rnd := rand.New(rand.NewPCG(5, 6))
		for range 300 {
			expand(t, "d.zip", readertest.Damage(rnd, b), ingest.Limits{})
		}
	}
}

// FuzzExpand checks beside what expand does that no more comes out than the
// limits allow.
func FuzzExpand(f *testing.F) {
	f.Add(pack(f, file{name: "a.csv", body: "1,2"}, file{name: "../b.csv", body: "3"}))
	f.Add(pack(f, file{name: "in.zip", body: string(pack(f, file{name: "c.csv", body: "5"}))}))
	f.Add(directory(pack(f, file{name: "a.csv", body: "1,2"}), 0, 8, 2, 9))
	f.Fuzz(func(t *testing.T, b []byte) {
		_, members, _ := expand(t, "f.zip", b, ingest.Limits{Unzipped: 4096})
		n := 0
		for _, m := range members {
			n += len(m.Bytes)
		}
		if n > 4096 {
			t.Errorf("%d bytes came out of a zip that may hold 4096", n)
		}
	})
}
