package archive_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize/archive"
)

const (
	idA = "R0123456789abcdef"
	idB = "Rfedcba9876543210"
)

// report is a document that refers to an original, as reports do.
func report(id string, original []byte, more string) []byte {
	h := sha256.Sum256(original)
	return fmt.Appendf(nil, "{\"id\":%q,\"source\":{\"sha256\":\"%x\"},\"more\":%q}\n", id, h, more)
}

func open(t testing.TB) *archive.Archive {
	t.Helper()
	a, err := archive.Open(filepath.Join(t.TempDir(), "archive"))
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// files is everything in a folder: path to content, without what is under
// incoming.
func files(t testing.TB, dir string) map[string]string {
	t.Helper()
	m := map[string]string{}
	err := filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			return nil
		}
		b, err := os.ReadFile(p)
		rel, _ := filepath.Rel(dir, p)
		if !strings.HasPrefix(rel, "incoming"+string(filepath.Separator)) {
			m[filepath.ToSlash(rel)] = string(b)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// clean fails the test unless Verify finds nothing.
func clean(t testing.TB, a *archive.Archive) archive.Count {
	t.Helper()
	ps, n, err := a.Verify(t.Context(), nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range ps {
		t.Errorf("verify: %v", p)
	}
	return n
}

func TestOriginal(t *testing.T) {
	a := open(t)
	// SHA-256 of "abc": FIPS 180-4, example in NIST's SHA256.pdf (value from memory, and checked by sha256sum).
	const abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
	for range 2 {
		r, err := a.PutOriginal([]byte("abc"))
		if err != nil || r != "sha256-"+abc || r.SHA256() != abc {
			t.Fatalf("PutOriginal: %v, %v", r, err)
		}
	}
	p := filepath.Join(a.Dir(), "originals", "ba", "sha256-"+abc)
	if i, err := os.Stat(p); err != nil || i.Mode().Perm() != 0o444 {
		t.Fatalf("original: %v, %v, want rights 0444", i, err)
	}
	if b, err := a.Original(abc); err != nil || string(b) != "abc" {
		t.Errorf("Original: %q, %v", b, err)
	}
	if ok, err := a.Has(abc); !ok || err != nil {
		t.Errorf("Has: %v, %v", ok, err)
	}
	none := strings.Repeat("0", 64)
	if ok, err := a.Has(none); ok || err != nil {
		t.Errorf("Has of none: %v, %v", ok, err)
	}
	if _, err := a.Original(none); !errors.Is(err, archive.ErrNotFound) || !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("Original of none: %v", err)
	}
	for _, bad := range []string{"", "abc", strings.ToUpper(abc), "../" + abc[3:], abc + "0"} {
		if _, err := a.Original(bad); !errors.Is(err, archive.ErrKey) {
			t.Errorf("Original(%q): %v", bad, err)
		}
	}
	if _, err := a.PutOriginal(nil); err != nil {
		t.Errorf("an empty file is an original too: %v", err)
	}
	if n := clean(t, a); n.Originals != 2 {
		t.Errorf("%d originals, want 2", n.Originals)
	}
}

func TestOriginalDamaged(t *testing.T) {
	a := open(t)
	good := []byte("K 212 ppm")
	r, err := a.PutOriginal(good)
	if err != nil {
		t.Fatal(err)
	}
	overwrite(t, filepath.Join(a.Dir(), "originals", r.SHA256()[:2], string(r)), "K 112 ppm")
	b, err := a.Original(r.SHA256())
	if !errors.Is(err, archive.ErrDamaged) || string(b) != "K 112 ppm" {
		t.Errorf("Original: %q, %v; want the damaged bytes with ErrDamaged", b, err)
	}
	// Putting the good bytes again must not look like success, nor replace.
	if _, err := a.PutOriginal(good); !errors.Is(err, archive.ErrDamaged) {
		t.Errorf("PutOriginal over a damaged one: %v", err)
	}
	if b, _ := a.Original(r.SHA256()); string(b) != "K 112 ppm" {
		t.Error("the file in the archive was replaced")
	}
	var reason *ingest.Reason
	if !errors.As(err, &reason) || reason.Code != "archive-damaged" || reason.Next == "" || reason.Severity != ingest.Fail {
		t.Errorf("reason: %+v", reason)
	}
}

func overwrite(t testing.TB, path, content string) {
	t.Helper()
	if err := os.Chmod(path, 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(content), 0o644); err != nil {
		t.Fatal(err)
	}
}

func TestVersions(t *testing.T) {
	a := open(t)
	src := []byte("source")
	if _, err := a.PutOriginal(src); err != nil {
		t.Fatal(err)
	}
	v1, v2 := report(idA, src, "one <0.5"), report(idA, src, "two")
	for _, step := range []struct {
		b     []byte
		want  int
		isNew bool
	}{{v1, 1, true}, {v1, 1, false}, {v2, 2, true}, {v2, 2, false}, {v1, 3, true}} {
		got, isNew, err := a.PutReport(idA, step.b)
		if err != nil || got != step.want || isNew != step.isNew {
			t.Fatalf("PutReport: %d, %v, %v; want %d, %v", got, isNew, err, step.want, step.isNew)
		}
	}
	if b, v, err := a.Latest(archive.Reports, idA); err != nil || v != 3 || !bytes.Equal(b, v1) {
		t.Errorf("Latest: %q, %d, %v", b, v, err)
	}
	if b, err := a.Version(archive.Reports, idA, 2); err != nil || !bytes.Equal(b, v2) {
		t.Errorf("Version 2: %q, %v", b, err)
	}
	if vs, err := a.Versions(archive.Reports, idA); err != nil || !slices.Equal(vs, []int{1, 2, 3}) {
		t.Errorf("Versions: %v, %v", vs, err)
	}
	if _, _, err := a.Latest(archive.Reports, idB); !errors.Is(err, archive.ErrNotFound) {
		t.Errorf("Latest of none: %v", err)
	}
	if _, _, err := a.Latest(archive.Advice, idA); !errors.Is(err, archive.ErrNotFound) {
		t.Errorf("Latest of another kind: %v", err)
	}
	if _, _, err := a.PutAdvice(idA+"-1-vegetable_garden", []byte(`{"say":"lime"}`)); err != nil {
		t.Error(err)
	}
	h := sha256.Sum256(v1)
	got := files(t, a.Dir())
	if want := hex.EncodeToString(h[:]) + "  0001.json\n"; got["reports/01/"+idA+"/0001.json.sha256"] != want {
		t.Errorf("checksum file %q, want %q", got["reports/01/"+idA+"/0001.json.sha256"], want)
	}
	if n := clean(t, a); n.Documents[archive.Reports] != 3 || n.Documents[archive.Advice] != 1 {
		t.Errorf("count %+v", n)
	}
}

func TestDamagedDocument(t *testing.T) {
	a := open(t)
	src := []byte("source")
	_, _ = a.PutOriginal(src)
	doc := report(idA, src, "K 212")
	if _, _, err := a.PutReport(idA, doc); err != nil {
		t.Fatal(err)
	}
	overwrite(t, filepath.Join(a.Dir(), "reports/01", idA, "0001.json"), strings.Replace(string(doc), "212", "112", 1))
	b, _, err := a.Latest(archive.Reports, idA)
	if !errors.Is(err, archive.ErrDamaged) || !bytes.Contains(b, []byte("112")) {
		t.Errorf("Latest: %q, %v", b, err)
	}
	if err := a.Each(archive.Reports, func(string, int, []byte) error { return nil }); !errors.Is(err, archive.ErrDamaged) {
		t.Errorf("Each over damage: %v", err)
	}
	// A good one can still be put beside it.
	if v, isNew, err := a.PutReport(idA, doc); v != 2 || !isNew || err != nil {
		t.Errorf("PutReport: %d, %v, %v", v, isNew, err)
	}
	if b, _, err := a.Latest(archive.Reports, idA); err != nil || !bytes.Equal(b, doc) {
		t.Errorf("Latest: %q, %v", b, err)
	}
}

func TestKeys(t *testing.T) {
	a := open(t)
	for _, id := range []string{"", "R", "R01", "r0123", "RAB12", "R01/../../x", "R01x/y", "R01\x00x", "R01X", "R01x.", "R01" + strings.Repeat("a", 98), `R01\x`, "R01:x"} {
		if _, _, err := a.PutReport(id, []byte("{}")); !errors.Is(err, archive.ErrKey) {
			t.Errorf("PutReport(%q): %v", id, err)
		}
		if _, _, err := a.Latest(archive.Reports, id); !errors.Is(err, archive.ErrKey) {
			t.Errorf("Latest(%q): %v", id, err)
		}
	}
	for _, kind := range []string{"", "originals", "arrivals", "../reports", "verdicts"} {
		if _, _, err := a.Put(kind, idA, []byte("{}")); !errors.Is(err, archive.ErrKey) {
			t.Errorf("Put(%q): %v", kind, err)
		}
	}
	for _, doc := range []string{"", "{", "{}{}"} {
		if _, _, err := a.PutReport(idA, []byte(doc)); err == nil {
			t.Errorf("PutReport of %q succeeded", doc)
		}
	}
	if n := clean(t, a); n.Documents[archive.Reports] != 0 {
		t.Errorf("count %+v", n)
	}
}

func TestEachInOrder(t *testing.T) {
	a := open(t)
	src := []byte("source")
	_, _ = a.PutOriginal(src)
	ids := []string{"R0f00000000000001", "R0000000000000002", "Rff00000000000000", "R0000000000000001"}
	for _, id := range ids {
		for _, s := range []string{"old", "new"} {
			if _, _, err := a.PutReport(id, report(id, src, s)); err != nil {
				t.Fatal(err)
			}
		}
	}
	var got []string
	if err := a.Each(archive.Reports, func(id string, v int, b []byte) error {
		if v != 2 || !bytes.Contains(b, []byte("new")) {
			t.Errorf("%s: version %d, %s", id, v, b)
		}
		got = append(got, id)
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	slices.Sort(ids)
	if !slices.Equal(got, ids) {
		t.Errorf("Each visited %v, want %v", got, ids)
	}
	stop := errors.New("enough")
	n := 0
	if err := a.Each(archive.Reports, func(string, int, []byte) error { n++; return stop }); !errors.Is(err, stop) || n != 1 {
		t.Errorf("Each went on after an error: %d, %v", n, err)
	}
	n = 0
	if err := a.EachOriginal(func(r archive.Ref, size int64) error {
		n++
		if size != int64(len(src)) || r != archive.RefOf(src) {
			t.Errorf("EachOriginal: %v, %d", r, size)
		}
		return nil
	}); err != nil || n != 1 {
		t.Errorf("EachOriginal: %d, %v", n, err)
	}
}

func TestArrivals(t *testing.T) {
	a := open(t)
	src := []byte("source")
	r, err := a.PutOriginal(src)
	if err != nil {
		t.Fatal(err)
	}
	at := time.Date(2026, 11, 25, 15, 39, 11, 123456, time.FixedZone("", 3600))
	n := archive.Arrival{Name: "april <1>.csv", Channel: "folder", Office: "Finch County", Time: at, SHA256: r.SHA256(), Size: 6, Outcome: "held"}
	base := "arrivals/2026/11/20261125T143911Z-" + r.SHA256()[:8]
	for _, want := range []string{"-1.json", "-1.json"} {
		if got, err := a.PutArrival(n); err != nil || got != base+want {
			t.Fatalf("PutArrival: %s, %v, want %s", got, err, base+want)
		}
	}
	n.Outcome = "again"
	if got, err := a.PutArrival(n); err != nil || got != base+"-2.json" {
		t.Fatalf("PutArrival: %s, %v", got, err)
	}
	var got []string
	if err := a.EachArrival(func(where string, x archive.Arrival) error {
		got = append(got, where+" "+x.Outcome)
		if x.Name != n.Name || !x.Time.Equal(at.Truncate(time.Second)) || x.Office != n.Office {
			t.Errorf("%s: %+v", where, x)
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	if want := []string{base + "-1.json held", base + "-2.json again"}; !slices.Equal(got, want) {
		t.Errorf("EachArrival: %q, want %q", got, want)
	}
	for _, bad := range []archive.Arrival{{SHA256: "x", Time: at}, {SHA256: r.SHA256()}} {
		if _, err := a.PutArrival(bad); !errors.Is(err, archive.ErrKey) {
			t.Errorf("PutArrival(%+v): %v", bad, err)
		}
	}
	for _, bad := range []string{"format.json", "arrivals/2026/11/../../../format.json", "arrivals/2026/10/20261125T143911Z-abcdef01-1.json"} {
		if _, err := a.Arrival(bad); !errors.Is(err, archive.ErrKey) {
			t.Errorf("Arrival(%q): %v", bad, err)
		}
	}
	if c := clean(t, a); c.Arrivals != 2 {
		t.Errorf("count %+v", c)
	}
}

func TestOpen(t *testing.T) {
	dir := t.TempDir()
	full := filepath.Join(dir, "full")
	_ = os.Mkdir(full, 0o755)
	_ = os.WriteFile(filepath.Join(full, "letter.txt"), nil, 0o644)
	if _, err := archive.Open(full); !errors.Is(err, archive.ErrFormat) {
		t.Errorf("Open of a folder with other things: %v", err)
	}
	if es, _ := os.ReadDir(full); len(es) != 1 {
		t.Errorf("the folder was changed: %v", es)
	}
	if _, err := archive.OpenExisting(filepath.Join(dir, "none")); !errors.Is(err, archive.ErrFormat) {
		t.Errorf("OpenExisting of none: %v", err)
	}
	a, err := archive.Open(filepath.Join(dir, "a"))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range []string{"FORMAT.md", "format.json"} {
		if b, err := os.ReadFile(filepath.Join(a.Dir(), f)); err != nil || !bytes.Contains(b, []byte("SHA-256")) {
			t.Errorf("%s: %q, %v", f, b, err)
		}
	}
	if _, err := archive.OpenExisting(a.Dir()); err != nil {
		t.Error(err)
	}
	overwrite(t, filepath.Join(a.Dir(), "format.json"), `{"format":"windrow-archive/2"}`)
	if _, err := archive.Open(a.Dir()); !errors.Is(err, archive.ErrFormat) {
		t.Errorf("Open of a later version: %v", err)
	}
}

// A share that is not connected leaves an empty folder, or none. Nothing may
// be written there, and nothing be said not to exist.
func TestShareGone(t *testing.T) {
	a := open(t)
	if _, err := a.PutOriginal([]byte("one")); err != nil {
		t.Fatal(err)
	}
	away := a.Dir() + "-away"
	if err := os.Rename(a.Dir(), away); err != nil {
		t.Fatal(err)
	}
	for _, emptyFolder := range []bool{false, true} {
		if emptyFolder {
			if err := os.Mkdir(a.Dir(), 0o755); err != nil {
				t.Fatal(err)
			}
		}
		for _, s := range []string{"one", "two"} {
			if _, err := a.PutOriginal([]byte(s)); err == nil {
				t.Errorf("PutOriginal(%s) into a folder that is gone succeeded", s)
			} else if r := ingest.AsReason(err); r.Code != "archive-gone" {
				t.Errorf("reason: %v", err)
			}
			if ok, err := a.Has(archive.RefOf([]byte(s)).SHA256()); err == nil {
				t.Errorf("Has(%s) = %v without the archive", s, ok)
			}
		}
		if _, _, err := a.PutReport(idA, []byte("{}")); err == nil {
			t.Error("PutReport into a folder that is gone succeeded")
		}
	}
	if es, _ := os.ReadDir(a.Dir()); len(es) != 0 {
		t.Errorf("something was written to the empty folder: %v", es)
	}
	_ = os.Remove(a.Dir())
	if err := os.Rename(away, a.Dir()); err != nil {
		t.Fatal(err)
	}
	if _, err := a.PutOriginal([]byte("two")); err != nil {
		t.Errorf("after the share is back: %v", err)
	}
	if n := clean(t, a); n.Originals != 2 {
		t.Errorf("count %+v", n)
	}
}

func TestSweep(t *testing.T) {
	a := open(t)
	in := filepath.Join(a.Dir(), "incoming")
	for name, age := range map[string]time.Duration{"old": 61 * time.Minute, "young": 59 * time.Minute} {
		p := filepath.Join(in, name)
		_ = os.WriteFile(p, []byte("half"), 0o444)
		at := time.Now().Add(-age)
		if err := os.Chtimes(p, at, at); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := archive.Open(a.Dir()); err != nil {
		t.Fatal(err)
	}
	es, err := os.ReadDir(in)
	if err != nil || len(es) != 1 || es[0].Name() != "young" {
		t.Errorf("after the sweep: %v, %v; want only the young one", es, err)
	}
	if n := clean(t, a); n.Incoming != 1 {
		t.Errorf("count %+v", n)
	}
}

func TestPutFromIsPut(t *testing.T) {
	one, two := open(t), open(t)
	write := func(b []byte) func(io.Writer) error {
		return func(w io.Writer) error { _, err := w.Write(b); return err }
	}
	for i, more := range []string{"first", "first", "second", "first"} {
		b := report(idA, nil, more)
		v1, new1, err1 := one.PutReport(idA, b)
		v2, new2, err2 := two.PutFrom(archive.Reports, idA, write(b))
		if err1 != nil || err2 != nil || v1 != v2 || new1 != new2 {
			t.Fatalf("document %d: version %d, new %v, %v; piece by piece %d, %v, %v", i, v1, new1, err1, v2, new2, err2)
		}
	}
	if a, b := files(t, one.Dir()), files(t, two.Dir()); len(a) < 6 || !maps.Equal(a, b) {
		t.Errorf("the archives differ: %d files, piece by piece %d", len(a), len(b))
	}
	broken := errors.New("broken off")
	if _, _, err := two.PutFrom(archive.Reports, idB, func(w io.Writer) error {
		_, _ = w.Write([]byte(`{"id":`))
		return broken
	}); !errors.Is(err, broken) {
		t.Errorf("a writer that fails gives %v", err)
	}
	if vs, err := two.Versions(archive.Reports, idB); err != nil || len(vs) != 0 {
		t.Errorf("what broke off left versions %v, %v", vs, err)
	}
	if es, err := os.ReadDir(filepath.Join(two.Dir(), "incoming")); err != nil || len(es) != 0 {
		t.Errorf("%d temporary files are left, %v", len(es), err)
	}
}
