package objects_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/johannesboyne/gofakes3"
	"github.com/johannesboyne/gofakes3/backend/s3mem"
	"gocloud.dev/blob"
	"gocloud.dev/blob/fileblob"
	"gocloud.dev/blob/memblob"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/archive/objects"
)

// fake starts an object store that speaks the protocol (gofakes3, which is no
// work of ours), with a layer in front that may change what passes, and gives
// the address of a bucket in it.
func fake(t testing.TB, front func(http.Handler) http.Handler) string {
	t.Helper()
	back := s3mem.New()
	if err := back.CreateBucket("soil"); err != nil {
		t.Fatal(err)
	}
	h := gofakes3.New(back).Server()
	if front != nil {
		h = front(h)
	}
	srv := httptest.NewServer(h)
	t.Cleanup(srv.Close)
	t.Setenv("AWS_ACCESS_KEY_ID", "test")
	t.Setenv("AWS_SECRET_ACCESS_KEY", "not-a-secret")
	return "s3://soil?region=us-east-1&use_path_style=true&endpoint=" + srv.URL
}

// stores opens a store of each kind, empty, with the means to open it again as
// another process would.
func stores(t *testing.T, run func(t *testing.T, again func() *objects.Store)) {
	t.Run("s3", func(t *testing.T) {
		at := fake(t, nil) + "&prefix=a/b/"
		run(t, func() *objects.Store {
			s, err := objects.Open(t.Context(), at)
			if err != nil {
				t.Fatal(err)
			}
			t.Cleanup(func() { _ = s.Close() })
			return s
		})
	})
	for name, b := range map[string]func(t *testing.T) *blob.Bucket{
		"mem": func(*testing.T) *blob.Bucket { return memblob.OpenBucket(nil) },
		"file": func(t *testing.T) *blob.Bucket {
			b, err := fileblob.OpenBucket(t.TempDir(), &fileblob.Options{Metadata: fileblob.MetadataDontWrite})
			if err != nil {
				t.Fatal(err)
			}
			return b
		},
	} {
		t.Run(name, func(t *testing.T) {
			b := b(t)
			t.Cleanup(func() { _ = b.Close() })
			run(t, func() *objects.Store {
				// The kind that keeps its objects in files looks first and then
				// writes, and is no store for several writers: it isn't probed.
				s := objects.On(b, name)
				if name == "mem" {
					if err := s.Probe(t.Context()); err != nil {
						t.Fatal(err)
					}
				}
				return s
			})
		})
	}
}

func opened(t testing.TB, s *objects.Store) *archive.Archive {
	t.Helper()
	a, err := s.Archive()
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func verified(t testing.TB, a *archive.Archive) archive.Count {
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

func reportOf(id string, original []byte, more string) []byte {
	return fmt.Appendf(nil, "{\"id\":%q,\"source\":{\"sha256\":%q},\"more\":%q}\n", id, archive.RefOf(original).SHA256(), more)
}

func idOf(n int) string { return fmt.Sprintf("R%016x", uint64(n+1)*0x9e3779b97f4a7c15) }

// fill writes a little of everything, some of it twice.
func fill(a *archive.Archive) error {
	for i := range 12 {
		orig := fmt.Appendf(nil, "original %d", i%10)
		ref, err := a.PutOriginal(orig)
		if err != nil {
			return err
		}
		id := idOf(i % 10)
		for v := range 1 + i%3 {
			if _, _, err := a.PutReport(id, reportOf(id, orig, fmt.Sprint("version ", v))); err != nil {
				return err
			}
		}
		big := strings.Repeat("x", 1<<16)
		if _, _, err := a.PutFrom(archive.Advice, id+"-1", func(w io.Writer) error { _, err := fmt.Fprintf(w, "{\"more\":%q}\n", big); return err }); err != nil {
			return err
		}
		at := time.Date(2026, 11, 1+i, 8, 0, 0, 0, time.UTC)
		if _, err := a.PutArrival(archive.Arrival{Name: "a.pdf", Channel: "folder", Time: at, SHA256: ref.SHA256(), Size: int64(len(orig)), Outcome: "ok", Report: id}); err != nil {
			return err
		}
	}
	id := "S0123456789abcdef"
	return a.PutSignOff(id, []byte("{\"id\":\""+id+"\"}\n"))
}

func folderOf(t testing.TB, dir string) map[string]string {
	t.Helper()
	m := map[string]string{}
	err := filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(p)
		rel, _ := filepath.Rel(dir, p)
		m[filepath.ToSlash(rel)] = string(b)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// everything in a store, by its own listing.
func everything(t testing.TB, s *objects.Store) map[string]string {
	t.Helper()
	m := map[string]string{}
	var walk func(dir string)
	walk = func(dir string) {
		es, err := s.ReadDir(dir)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range es {
			p := filepath.Join(dir, e.Name())
			if e.IsDir() {
				walk(p)
				continue
			}
			b, err := s.ReadFile(p)
			if err != nil {
				t.Fatal(err)
			}
			m[filepath.ToSlash(p)] = string(b)
			if i, err := s.Lstat(p); err != nil || i.Size() != int64(len(b)) || !i.Mode().IsRegular() || i.IsDir() {
				t.Errorf("%s: %v, %v", p, i, err)
			}
		}
	}
	walk(".")
	return m
}

// An archive in a store has the same names with the same bytes as one in a
// folder, and comes out of it and into it whole.
func TestStoreIsTheSameArchive(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "archive")
	local, err := archive.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	if err := fill(local); err != nil {
		t.Fatal(err)
	}
	want := folderOf(t, dir)
	if len(want) < 60 {
		t.Fatalf("only %d files", len(want))
	}
	counted := verified(t, local)
	stores(t, func(t *testing.T, again func() *objects.Store) {
		a := opened(t, again())
		if err := fill(a); err != nil {
			t.Fatal(err)
		}
		s := again()
		if got := everything(t, s); !maps.Equal(got, want) {
			for k := range want {
				if got[k] != want[k] {
					t.Errorf("%s: %q, want %q", k, got[k], want[k])
				}
			}
			t.Fatalf("%d files in the store, %d in the folder", len(got), len(want))
		}
		a = opened(t, s)
		if n := verified(t, a); n.Originals != counted.Originals || n.Arrivals != counted.Arrivals || !maps.Equal(n.Documents, counted.Documents) || n.Incoming != 0 {
			t.Errorf("verify counts %+v, in the folder %+v", n, counted)
		}
		out := filepath.Join(t.TempDir(), "out")
		if _, err := a.ExportTo(t.Context(), out); err != nil {
			t.Fatal(err)
		}
		if got := folderOf(t, out); !maps.Equal(got, want) {
			t.Errorf("exported %d files, want %d", len(got), len(want))
		}
		// What was told again is there once, and each is found by its key.
		if err := fill(a); err != nil {
			t.Fatal(err)
		}
		verified(t, a)
		h, err := a.History(archive.Reports, idOf(2))
		if err != nil || len(h) < 3 {
			t.Errorf("history %v, %v", h, err)
		}
		if _, err := a.Original(strings.Repeat("0", 64)); !errors.Is(err, archive.ErrNotFound) {
			t.Errorf("an original that isn't there: %v", err)
		}
	})
}

// Several processes write to one store at once: nothing is lost, nothing is
// there twice, and no version is overwritten by another.
func TestManyWritersOfOneStore(t *testing.T) {
	stores(t, func(t *testing.T, again func() *objects.Store) {
		const docs = 15
		writers := 4
		if again().Name() == "file" {
			writers = 1
		}
		var wg sync.WaitGroup
		errs := make(chan error, writers)
		for w := range writers {
			a := opened(t, again())
			wg.Go(func() {
				for i := range docs {
					orig := fmt.Appendf(nil, "shared %d", i)
					_, err := a.PutOriginal(orig)
					if err == nil { // the same of everybody, and then one of each
						_, _, err = a.PutReport(idOf(i), reportOf(idOf(i), orig, "the same"))
					}
					if err == nil {
						_, _, err = a.Put(archive.Rulings, idOf(i), reportOf(idOf(i), orig, fmt.Sprint("by ", w)))
					}
					if err != nil {
						errs <- err
						return
					}
				}
			})
		}
		wg.Wait()
		close(errs)
		for err := range errs {
			t.Fatal(err)
		}
		a := opened(t, again())
		n := verified(t, a)
		if n.Originals != docs || n.Documents[archive.Reports] != docs || n.Documents[archive.Rulings] != writers*docs {
			t.Errorf("%+v", n)
		}
		for i := range docs {
			var who []string
			for v := range writers {
				b, err := a.Version(archive.Rulings, idOf(i), v+1)
				if err != nil {
					t.Fatal(err)
				}
				who = append(who, string(b))
			}
			slices.Sort(who)
			if len(slices.Compact(who)) != writers {
				t.Errorf("ruling on %d: %q", i, who)
			}
		}
	})
}

// Damage in a store is found as it is in a folder, and an original that was
// changed is not given out.
func TestDamageInAStore(t *testing.T) {
	b := memblob.OpenBucket(nil)
	t.Cleanup(func() { _ = b.Close() })
	s := objects.On(b, "mem")
	a := opened(t, s)
	if err := fill(a); err != nil {
		t.Fatal(err)
	}
	ref := archive.RefOf([]byte("original 3"))
	at := "originals/" + ref.SHA256()[:2] + "/" + string(ref)
	if err := b.WriteAll(t.Context(), at, []byte("original 4"), nil); err != nil {
		t.Fatal(err)
	}
	if _, err := a.Original(ref.SHA256()); !errors.Is(err, archive.ErrDamaged) {
		t.Errorf("a changed original: %v", err)
	}
	if err := b.Delete(t.Context(), "reports/"+idOf(1)[1:3]+"/"+idOf(1)+"/0001.json"); err != nil {
		t.Fatal(err)
	}
	ps, _, err := a.Verify(t.Context(), nil)
	if err != nil {
		t.Fatal(err)
	}
	var codes []string
	for _, p := range ps {
		codes = append(codes, p.Code)
	}
	for _, c := range []string{archive.CodeDamaged, archive.CodeStray} {
		if !slices.Contains(codes, c) {
			t.Errorf("verify found %q, want %s among them", codes, c)
		}
	}
}

// A store that holds something else is no place for an archive.
func TestStoreOfSomethingElse(t *testing.T) {
	b := memblob.OpenBucket(nil)
	t.Cleanup(func() { _ = b.Close() })
	if err := b.WriteAll(t.Context(), "holiday.jpg", []byte("x"), nil); err != nil {
		t.Fatal(err)
	}
	if _, err := objects.On(b, "mem").Archive(); !errors.Is(err, archive.ErrFormat) {
		t.Errorf("opened: %v", err)
	}
}

// Stores that would lose something are refused before anything is kept there.
func TestWrongStoresAreRefused(t *testing.T) {
	for name, x := range map[string]struct {
		front func(http.Handler) http.Handler
		code  string
	}{
		"ignores conditions": {func(h http.Handler) http.Handler {
			return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
				r.Header.Del("If-None-Match")
				h.ServeHTTP(w, r)
			})
		}, objects.CodeUnsafe},
		"says yes and keeps the first": {func(h http.Handler) http.Handler {
			return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
				rec := httptest.NewRecorder()
				h.ServeHTTP(rec, r)
				if rec.Code == http.StatusPreconditionFailed {
					w.Header().Set("ETag", `"0"`)
					w.WriteHeader(http.StatusOK)
					return
				}
				pass(w, rec)
			})
		}, objects.CodeUnsafe},
		"lists nothing": {func(h http.Handler) http.Handler {
			return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
				if r.URL.Query().Has("list-type") {
					_, _ = io.WriteString(w, `<ListBucketResult xmlns="http://s3.amazonaws.com/doc/2006-03-01/"><Name>soil</Name></ListBucketResult>`)
					return
				}
				h.ServeHTTP(w, r)
			})
		}, objects.CodeUnsafe},
		"lets nobody in": {func(http.Handler) http.Handler {
			return http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
				w.WriteHeader(http.StatusForbidden)
				_, _ = io.WriteString(w, `<Error><Code>AccessDenied</Code></Error>`)
			})
		}, objects.CodeRefused},
		"does not know the keys": {func(http.Handler) http.Handler {
			return http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
				w.WriteHeader(http.StatusForbidden)
				_, _ = io.WriteString(w, `<Error><Code>SignatureDoesNotMatch</Code></Error>`)
			})
		}, objects.CodeRefused},
		"has no such bucket": {func(http.Handler) http.Handler {
			return http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
				w.WriteHeader(http.StatusNotFound)
				_, _ = io.WriteString(w, `<Error><Code>NoSuchBucket</Code></Error>`)
			})
		}, objects.CodeRefused},
	} {
		t.Run(name, func(t *testing.T) {
			s, err := objects.Open(t.Context(), fake(t, x.front))
			if err == nil {
				_ = s.Close()
				t.Fatal("it was taken")
			}
			if r := ingest.AsReason(err); x.code != "" && r.Code != x.code || !strings.Contains(r.Next, "nothing was") {
				t.Errorf("refused with %v, want %s", err, x.code)
			}
		})
	}
	for _, at := range []string{"", "bucket", "s3://who:secret@bucket", "nosuch://bucket"} {
		_, err := objects.Open(t.Context(), at)
		if r := ingest.AsReason(err); r == nil || r.Code != objects.CodeAddress || strings.Contains(err.Error(), "secret") {
			t.Errorf("address %q: %v", at, err)
		}
	}
}

func pass(w http.ResponseWriter, rec *httptest.ResponseRecorder) {
	maps.Copy(w.Header(), rec.Header())
	w.WriteHeader(rec.Code)
	_, _ = w.Write(rec.Body.Bytes())
}

// A store that gives back other bytes than it was given is found out at the
// write, which then is none; one that stops answering loses nothing, and the
// words say so.
func TestStoreThatTurnsBad(t *testing.T) {
	var mu sync.Mutex
	mood := ""
	set := func(m string) { mu.Lock(); mood = m; mu.Unlock() }
	at := fake(t, func(h http.Handler) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			mu.Lock()
			m := mood
			mu.Unlock()
			switch {
			case m == "garbles" && r.Method == http.MethodPut:
				b, _ := io.ReadAll(r.Body)
				r.Body = io.NopCloser(bytes.NewReader(bytes.ReplaceAll(b, []byte("phosphorus"), []byte("phosphorvs"))))
				for _, h := range []string{"Content-Md5", "X-Amz-Checksum-Crc32", "X-Amz-Sdk-Checksum-Algorithm"} {
					r.Header.Del(h)
				}
			case m == "down":
				w.WriteHeader(http.StatusServiceUnavailable)
				return
			case m == "no bucket":
				w.WriteHeader(http.StatusNotFound)
				_, _ = io.WriteString(w, `<?xml version="1.0" encoding="UTF-8"?><Error><Code>NoSuchBucket</Code><Message>gone</Message></Error>`)
				return
			}
			h.ServeHTTP(w, r)
		})
	})
	s, err := objects.Open(t.Context(), at)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	a := opened(t, s)
	b := []byte("phosphorus 41 ppm")
	set("garbles")
	if _, err := a.PutOriginal(b); err == nil {
		t.Error("a garbled original was reported as kept")
	} else if r := ingest.AsReason(err); r.Code != objects.CodeUnsafe {
		t.Errorf("garbled: %v", err)
	}
	set("")
	if ref, err := a.PutOriginal(b); err != nil {
		t.Error(err)
	} else if got, err := a.Original(ref.SHA256()); err != nil || !bytes.Equal(got, b) {
		t.Errorf("afterwards %q, %v", got, err)
	}
	set("no bucket")
	if ok, err := a.Has(archive.RefOf(b).SHA256()); err == nil {
		t.Errorf("without its bucket the store says %v", ok)
	}
	set("down")
	_, err = a.PutOriginal([]byte("another"))
	if r := ingest.AsReason(err); err == nil || r.Code != objects.CodeUnreachable || !strings.Contains(r.Next, "nothing was lost") {
		t.Errorf("down: %v", err)
	}
	set("")
	if _, err := a.PutOriginal([]byte("another")); err != nil {
		t.Error(err)
	}
	verified(t, a)
}

// What a person may have erased goes from a store too, and stays gone.
func TestErasureInAStore(t *testing.T) {
	stores(t, func(t *testing.T, again func() *objects.Store) {
		a := opened(t, again())
		if err := fill(a); err != nil {
			t.Fatal(err)
		}
		id, orig := idOf(4), []byte("original 4")
		sha := archive.RefOf(orig).SHA256()
		var notes []string
		if err := a.EachArrival(func(where string, n archive.Arrival) error {
			if n.SHA256 == sha {
				notes = append(notes, where)
			}
			return nil
		}); err != nil {
			t.Fatal(err)
		}
		ts, err := a.BeginErasure(archive.EraseRequest{Report: id, Kept: reportOf(id, orig, "without the person"), Originals: []string{sha}, Arrivals: notes,
			Advice: []string{id + "-1"}, By: "a clerk", Because: "asked for", On: time.Date(2026, 11, 26, 0, 0, 0, 0, time.UTC), Requested: []string{id}})
		if err != nil {
			t.Fatal(err)
		}
		if err := errors.Join(a.CarryOut(ts), a.FinishErasure(ts)); err != nil {
			t.Fatal(err)
		}
		a = opened(t, again())
		if _, err := a.Original(sha); !errors.Is(err, archive.ErrErased) {
			t.Errorf("original: %v", err)
		}
		if b, _, err := a.Latest(archive.Reports, id); err != nil || !strings.Contains(string(b), "without the person") {
			t.Errorf("report %q, %v", b, err)
		}
		verified(t, a)
	})
}

func BenchmarkPutOriginal(b *testing.B) {
	s, err := objects.Open(context.Background(), fake(b, nil))
	if err != nil {
		b.Fatal(err)
	}
	defer func() { _ = s.Close() }()
	a := opened(b, s)
	body := bytes.Repeat([]byte("x"), 100_000)
	for i := range b.N {
		if _, err := a.PutOriginal(fmt.Appendf(body, "%d", i)); err != nil {
			b.Fatal(err)
		}
	}
}
