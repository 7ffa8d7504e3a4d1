package archive_test

import (
	"archive/tar"
	"bytes"
	"context"
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize/archive"
)

// packed is an archive as a tar file, opened.
func packed(t *testing.T, a *archive.Archive) *archive.Archive {
	t.Helper()
	p := filepath.Join(t.TempDir(), "a.tar")
	f, err := os.Create(p)
	if err == nil {
		_, err = a.WriteTar(t.Context(), f)
	}
	if err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	return unpacked(t, p)
}

func unpacked(t *testing.T, p string) *archive.Archive {
	t.Helper()
	f, err := os.Open(p)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = f.Close() })
	a, err := archive.OpenTar(f)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func carry(t *testing.T, from, to *archive.Archive) archive.Transfer {
	t.Helper()
	n, ps, err := to.ImportFrom(t.Context(), from, nil)
	if err != nil {
		t.Fatal(err, ps)
	}
	return n
}

// An archive that went through a folder, or a tar file, is the same archive;
// a second time nothing is new, and what came since is all that is.
func TestExportAndImport(t *testing.T) {
	a := open(t)
	fill(t, a)
	want := files(t, a.Dir())
	dir := filepath.Join(t.TempDir(), "copy")
	for i := range 2 {
		n, err := a.ExportTo(t.Context(), dir)
		if err != nil || (n.New == 0) != (i == 1) || n.Originals != 2 || n.Documents != 8 || n.Arrivals != 2 {
			t.Fatalf("%+v, %v", n, err)
		}
	}
	if got := files(t, dir); !maps.Equal(got, want) {
		t.Errorf("the copy differs: %s", unlike(got, want))
	}
	there, err := archive.OpenExisting(dir)
	if err != nil {
		t.Fatal(err)
	}
	for name, from := range map[string]*archive.Archive{"folder": there, "tar": packed(t, a)} {
		b := open(t)
		clean(t, from)
		for i := range 2 {
			if n := carry(t, from, b); (n.New == 0) != (i == 1) || n.Unvouched != 0 {
				t.Fatalf("%s: %+v", name, n)
			}
		}
		if got := files(t, b.Dir()); !maps.Equal(got, want) {
			t.Errorf("%s: %s", name, unlike(got, want))
		}
	}
	if _, _, err := a.PutReport(idB, report(idB, otherSource, "read again")); err != nil {
		t.Fatal(err)
	}
	if n, err := a.ExportTo(t.Context(), dir); err != nil || n.New != 2 { // with its checksum
		t.Errorf("%+v, %v", n, err)
	}
	clean(t, there)
}

// What GNU tar packs of a copy is read too, with the folder's name in front
// and without.
func TestImportFromOrdinaryTar(t *testing.T) {
	if _, err := exec.LookPath("tar"); err != nil {
		t.Skipf("this test needs tar: %v", err)
	}
	a := open(t)
	fill(t, a)
	for _, args := range [][]string{{"-C", filepath.Dir(a.Dir()), filepath.Base(a.Dir())}, {"-C", a.Dir(), "."}, {"--format=ustar", "-C", filepath.Dir(a.Dir()), "./" + filepath.Base(a.Dir())}} {
		p := filepath.Join(t.TempDir(), "x.tar")
		if out, err := exec.Command("tar", append([]string{"-cf", p}, args...)...).CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		b := open(t)
		carry(t, unpacked(t, p), b)
		if got, want := files(t, b.Dir()), files(t, a.Dir()); !maps.Equal(got, want) {
			t.Errorf("%v: %s", args, unlike(got, want))
		}
	}
}

// An import that is not sound, or contradicts what is here, changes nothing.
func TestImportRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		spoil func(t *testing.T, from, to *archive.Archive)
		kind  error
		code  string
	}{
		"damaged original": {func(t *testing.T, from, _ *archive.Archive) {
			r := archive.RefOf(otherSource)
			overwrite(t, filepath.Join(from.Dir(), "originals", r.SHA256()[:2], string(r)), "x")
		}, archive.ErrDamaged, "import-not-sound"},
		"damaged report": {func(t *testing.T, from, _ *archive.Archive) {
			overwrite(t, filepath.Join(from.Dir(), "reports", idB[1:3], idB, "0001.json"), string(personReport))
		}, archive.ErrDamaged, "import-not-sound"},
		"missing original": {func(t *testing.T, from, _ *archive.Archive) {
			r := archive.RefOf(otherSource)
			remove(t, filepath.Join(from.Dir(), "originals", r.SHA256()[:2], string(r)))
		}, archive.ErrDamaged, "import-not-sound"},
		"stray": {func(t *testing.T, from, _ *archive.Archive) {
			write(t, filepath.Join(from.Dir(), "reports", "notes.txt"))
		}, archive.ErrDamaged, "import-not-sound"},
		"other version": {func(t *testing.T, _, to *archive.Archive) {
			if _, err := to.PutOriginal(otherSource); err != nil {
				t.Fatal(err)
			}
			if _, _, err := to.PutReport(idB, report(idB, otherSource, "read elsewhere")); err != nil {
				t.Fatal(err)
			}
		}, archive.ErrConflict, "import-conflict"},
	} {
		t.Run(name, func(t *testing.T) {
			from, to := open(t), open(t)
			fill(t, from)
			c.spoil(t, from, to)
			before := files(t, to.Dir())
			_, ps, err := to.ImportFrom(t.Context(), from, nil)
			if !errors.Is(err, c.kind) || (len(ps) > 0) != (c.code == "import-not-sound") {
				t.Fatalf("%v, %v", err, ps)
			}
			if r := ingest.AsReason(err); r.Code != c.code || r.Next == "" || !strings.Contains(r.What, "nothing") {
				t.Errorf("%v", err)
			}
			if got := files(t, to.Dir()); !maps.Equal(got, before) {
				t.Errorf("something was written: %s", unlike(got, before))
			}
		})
	}
	// A copy refuses to be poured into that of another archive.
	a, b := open(t), open(t)
	fill(t, a)
	if _, _, err := b.PutReport("R1111111111111111", []byte("{}")); err != nil {
		t.Fatal(err)
	}
	if _, err := a.ExportTo(t.Context(), b.Dir()); !errors.Is(err, archive.ErrConflict) || ingest.AsReason(err).Code != "export-elsewhere" {
		t.Error(err)
	}
	// A source that is damaged is not copied as if it were sound.
	r := archive.RefOf(otherSource)
	overwrite(t, filepath.Join(a.Dir(), "originals", r.SHA256()[:2], string(r)), "x")
	if _, err := a.ExportTo(t.Context(), filepath.Join(t.TempDir(), "x")); !errors.Is(err, archive.ErrDamaged) {
		t.Error(err)
	}
}

// Tar files of others are hostile until read.
func TestTarIsRefused(t *testing.T) {
	format := files(t, open(t).Dir())["format.json"]
	for name, hs := range map[string][]tar.Header{
		"leads out":  {{Name: "../format.json"}},
		"absolute":   {{Name: "/format.json"}},
		"backslash":  {{Name: `a\b`}},
		"link":       {{Name: "originals", Typeflag: tar.TypeSymlink, Linkname: "/etc"}},
		"hard link":  {{Name: "x", Typeflag: tar.TypeLink, Linkname: "/etc/passwd"}},
		"device":     {{Name: "x", Typeflag: tar.TypeChar}},
		"twice":      {{Name: "format.json"}, {Name: "./format.json"}},
		"no archive": {{Name: "letter.txt"}},
		"empty":      {},
	} {
		var b bytes.Buffer
		w := tar.NewWriter(&b)
		for _, h := range hs {
			if h.Typeflag == 0 {
				h.Typeflag, h.Size = tar.TypeReg, int64(len(format))
			}
			h.Mode = 0o644
			if err := w.WriteHeader(&h); err != nil {
				t.Fatal(err)
			}
			if h.Size > 0 {
				_, _ = w.Write([]byte(format))
			}
		}
		_ = w.Close()
		refuseTar(t, name, b.Bytes())
	}
	refuseTar(t, "no tar", bytes.Repeat([]byte("PK\x03\x04 this is a zip"), 100))
	a := open(t)
	fill(t, a)
	var b bytes.Buffer
	if _, err := a.WriteTar(t.Context(), &b); err != nil {
		t.Fatal(err)
	}
	for n := 0; n < b.Len(); n += 512 {
		p := filepath.Join(t.TempDir(), "cut.tar")
		overwriteNew(t, p, b.Bytes()[:n])
		f, err := os.Open(p)
		if err != nil {
			t.Fatal(err)
		}
		if x, err := archive.OpenTar(f); err == nil {
			to := open(t)
			if _, _, err := to.ImportFrom(t.Context(), x, nil); err == nil && n < b.Len()-1024 {
				t.Errorf("cut at %d of %d and imported", n, b.Len())
			}
		}
		_ = f.Close()
	}
}

func overwriteNew(t *testing.T, p string, b []byte) {
	t.Helper()
	if err := os.WriteFile(p, b, 0o600); err != nil {
		t.Fatal(err)
	}
}

func refuseTar(t *testing.T, name string, b []byte) {
	t.Helper()
	p := filepath.Join(t.TempDir(), "x.tar")
	overwriteNew(t, p, b)
	f, err := os.Open(p)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if _, err := archive.OpenTar(f); !errors.Is(err, archive.ErrFormat) || ingest.AsReason(err).Next == "" || ingest.AsReason(err).Where.File != "x.tar" {
		t.Errorf("%s: %v", name, err)
	}
}

// What was erased is erased in the copies by their next run, does not come
// back from an old one, and an erasure there is one here.
func TestErasureReachesCopies(t *testing.T) {
	a := open(t)
	note := fill(t, a)
	old := packed(t, a) // a backup of before
	dir := filepath.Join(t.TempDir(), "copy")
	if _, err := a.ExportTo(t.Context(), dir); err != nil {
		t.Fatal(err)
	}
	early := open(t)
	carry(t, old, early)
	if err := erase(a, note); err != nil {
		t.Fatal(err)
	}
	want := files(t, a.Dir())
	if n, err := a.ExportTo(t.Context(), dir); err != nil || n.Erasures != 1 {
		t.Fatalf("%+v, %v", n, err)
	}
	if got := files(t, dir); !maps.Equal(got, want) {
		t.Errorf("the copy after its next run: %s", unlike(got, want))
	}
	for _, from := range []*archive.Archive{packed(t, a), a} {
		clean(t, from)
		carry(t, from, early)
		if got := files(t, early.Dir()); !maps.Equal(got, want) {
			t.Errorf("imported: %s", unlike(got, want))
		}
	}
	if n := carry(t, old, a); n.Skipped != 7 || n.New != 0 {
		t.Errorf("the old backup brought back: %+v", n)
	}
	if got := files(t, a.Dir()); !maps.Equal(got, want) {
		t.Errorf("the old backup brought back: %s", unlike(got, want))
	}
	clean(t, a)
	// A tar file must not be written of what is half erased.
	b := open(t)
	if _, err := b.BeginErasure(request(fill(t, b))); err != nil {
		t.Fatal(err)
	}
	if _, err := b.WriteTar(t.Context(), &bytes.Buffer{}); !errors.Is(err, archive.ErrErased) || !strings.Contains(err.Error(), "--finish") {
		t.Error(err)
	}
}

// A copy that is taken while reports are being archived is sound.
func TestExportWhileWriting(t *testing.T) {
	a := open(t)
	fill(t, a)
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan error)
	go func() {
		defer close(done)
		for i := 0; ctx.Err() == nil && i < 60; i++ {
			src := fmt.Appendf(nil, "file %d", i)
			r, err := a.PutOriginal(src)
			if err == nil {
				_, _, err = a.PutReport(idOf(i), report(idOf(i), src, "x"))
			}
			if err == nil {
				_, err = a.PutArrival(archive.Arrival{Name: "x", Time: jobTime.Add(time.Duration(i) * time.Second), SHA256: r.SHA256(), Outcome: "ok", Report: idOf(i)})
			}
			if err != nil {
				done <- err
				return
			}
		}
	}()
	for range 3 {
		dir := filepath.Join(t.TempDir(), "copy")
		if _, err := a.ExportTo(t.Context(), dir); err != nil {
			t.Fatal(err)
		}
		there, err := archive.OpenExisting(dir)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range []*archive.Archive{there, packed(t, a)} {
			ps, _, err := c.Verify(t.Context(), nil)
			for _, p := range ps {
				if p.Code != archive.CodeNoSum { // of what was being written
					t.Errorf("%v", p)
				}
			}
			if err != nil {
				t.Error(err)
			}
			carry(t, c, open(t))
		}
	}
	stop()
	if err := <-done; err != nil {
		t.Fatal(err)
	}
}

// The process stops at its n-th call while it imports, for every n, into an
// archive that still has what was erased in the other: in between nothing
// names what is not there, and imported again it is the other archive.
func TestStopAtEveryCallOfImport(t *testing.T) {
	src := open(t)
	note := fill(t, src)
	if err := erase(src, note); err != nil {
		t.Fatal(err)
	}
	run := func(fsys archive.FS) error {
		a, err := archive.OpenOn(fsys, memDir)
		if err == nil {
			_, _, err = a.ImportFrom(t.Context(), src, nil)
		}
		return err
	}
	start := func() *memFS {
		m := newMemFS()
		m.mayRemove = true
		a, err := archive.OpenOn(m, memDir)
		if err != nil {
			t.Fatal(err)
		}
		fill(t, a)
		return m
	}
	whole := start()
	if err := run(whole); err != nil {
		t.Fatal(err)
	}
	stops := 0
	for _, end := range []string{"killed", "power", "some"} {
		for n := 1; ; n++ {
			m := start()
			err := run(&faultFS{FS: m, at: n, cause: errDead, dead: true, torn: true})
			switch end {
			case "power":
				m.powerCut(nil)
			case "some":
				m.powerCut(rand.New(rand.NewPCG(2, uint64(n))))
			}
			m.now = m.now.Add(2 * time.Hour)
			between, oerr := archive.OpenOn(m, memDir)
			if oerr != nil {
				t.Fatal(oerr)
			}
			ps, _, verr := between.Verify(t.Context(), nil)
			for _, p := range ps {
				if verr != nil || p.Code != archive.CodeErasing && p.Code != archive.CodeNoSum {
					t.Fatalf("%s, call %d: %v, %v", end, n, p, verr)
				}
			}
			if err := run(m); err != nil {
				t.Fatalf("%s, call %d: importing again: %v", end, n, err)
			}
			m.powerCut(nil)
			if got := m.files(); !maps.Equal(got, whole.files()) {
				t.Fatalf("%s, call %d: the archive differs: %s", end, n, unlike(got, whole.files()))
			}
			if err == nil {
				break
			}
			stops++
		}
	}
	if stops < 100 {
		t.Errorf("only %d stops", stops)
	}
	t.Logf("%d stops", stops)
}
