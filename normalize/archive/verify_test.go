package archive_test

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"example.org/windrow/normalize/archive"
)

// Each kind of damage is planted in a sound archive. Verify must find it
// where it is, and nothing else.
func TestVerifyFindsPlantedDamage(t *testing.T) {
	src, other := []byte("P 31 ppm"), []byte("K 212 ppm")
	ref, otherRef := archive.RefOf(src), archive.RefOf(other)
	orig := "originals/" + ref.SHA256()[:2] + "/" + string(ref)
	doc := "reports/01/" + idA + "/0002.json"
	note := "arrivals/2026/11/20261125T120000Z-" + ref.SHA256()[:8] + "-1.json"

	cases := []struct {
		name  string
		plant func(t *testing.T, at func(string) string)
		want  []string // code and path
	}{
		{"nothing", func(*testing.T, func(string) string) {}, nil},
		{"a flipped bit in an original", func(t *testing.T, at func(string) string) {
			b, _ := os.ReadFile(at(orig))
			b[2] ^= 1
			overwrite(t, at(orig), string(b))
		}, []string{"damaged " + orig}},
		{"a truncated original", func(t *testing.T, at func(string) string) { overwrite(t, at(orig), string(src[:4])) },
			[]string{"damaged " + orig}},
		{"an emptied original", func(t *testing.T, at func(string) string) { overwrite(t, at(orig), "") },
			[]string{"empty " + orig, "missing-original " + note, "missing-original reports/01/" + idA + "/0001.json", "missing-original " + doc}},
		{"a longer original", func(t *testing.T, at func(string) string) { overwrite(t, at(orig), string(src)+"\n") },
			[]string{"damaged " + orig}},
		{"a missing original", func(t *testing.T, at func(string) string) { remove(t, at(orig)) },
			[]string{"missing-original " + note, "missing-original reports/01/" + idA + "/0001.json", "missing-original " + doc}},
		{"an original in the wrong folder", func(t *testing.T, at func(string) string) {
			move(t, at("originals/"+otherRef.SHA256()[:2]+"/"+string(otherRef)), at("originals/00/"+string(otherRef)))
		}, []string{"wrong-name originals/00/" + string(otherRef), "missing-original reports/fe/" + idB + "/0001.json"}},
		{"an original under another's name", func(t *testing.T, at func(string) string) {
			p := at("originals/00/sha256-" + strings.Repeat("0", 64))
			_ = os.MkdirAll(filepath.Dir(p), 0o755)
			_ = os.WriteFile(p, src, 0o444)
		}, []string{"damaged originals/00/sha256-" + strings.Repeat("0", 64)}},
		{"a stray file among originals", func(t *testing.T, at func(string) string) { write(t, at("originals/letter.pdf")) },
			[]string{"stray originals/letter.pdf"}},
		{"a stray file at the top", func(t *testing.T, at func(string) string) { write(t, at("Thumbs.db")) },
			[]string{"stray Thumbs.db"}},
		{"a stray folder at the top", func(t *testing.T, at func(string) string) { write(t, at("backup/x")) },
			[]string{"stray backup"}},
		{"a stray file among reports", func(t *testing.T, at func(string) string) { write(t, at("reports/01/"+idA+"/0002 (copy).json")) },
			[]string{"stray reports/01/" + idA + "/0002 (copy).json"}},
		{"a link in place of an original", func(t *testing.T, at func(string) string) {
			move(t, at(orig), at("incoming/x"))
			if err := os.Symlink(at("incoming/x"), at(orig)); err != nil {
				t.Fatal(err)
			}
		}, []string{"stray " + orig, "missing-original " + note, "missing-original reports/01/" + idA + "/0001.json", "missing-original " + doc}},
		{"a changed digit in a report", func(t *testing.T, at func(string) string) {
			b, _ := os.ReadFile(at(doc))
			overwrite(t, at(doc), strings.Replace(string(b), "31", "37", 1))
		}, []string{"damaged " + doc}},
		{"a truncated report", func(t *testing.T, at func(string) string) {
			b, _ := os.ReadFile(at(doc))
			overwrite(t, at(doc), string(b[:len(b)/2]))
		}, []string{"damaged " + doc, "not-json " + doc}},
		{"an emptied report", func(t *testing.T, at func(string) string) { overwrite(t, at(doc), "") }, []string{"empty " + doc}},
		{"a report without checksum", func(t *testing.T, at func(string) string) { remove(t, at(doc+".sha256")) },
			[]string{"no-checksum " + doc}},
		{"a changed checksum", func(t *testing.T, at func(string) string) { overwrite(t, at(doc+".sha256"), "0") },
			[]string{"damaged " + doc}},
		{"a checksum without report", func(t *testing.T, at func(string) string) { remove(t, at(doc)) },
			[]string{"stray " + doc + ".sha256"}},
		{"a lost version", func(t *testing.T, at func(string) string) {
			p := strings.Replace(doc, "0002", "0001", 1)
			remove(t, at(p))
			remove(t, at(p+".sha256"))
		}, []string{"gap reports/01/" + idA + "/0001.json"}},
		{"a report in another's folder", func(t *testing.T, at func(string) string) {
			move(t, at("reports/01/"+idA), at("reports/01/R0100000000000000"))
		}, []string{"missing-report " + note, "wrong-name reports/01/R0100000000000000/0001.json", "wrong-name reports/01/R0100000000000000/0002.json"}},
		{"a report in the wrong shard", func(t *testing.T, at func(string) string) {
			move(t, at("reports/fe/"+idB), at("reports/ff/"+idB))
		}, []string{"wrong-name reports/ff/" + idB + "/0001.json"}},
		{"a report that the schema refuses, with a right checksum", func(t *testing.T, at func(string) string) {
			a, _ := archive.Open(at(""))
			if _, _, err := a.PutReport("R0200000000000000", report("R0200000000000000", src, "INVALID")); err != nil {
				t.Fatal(err)
			}
		}, []string{"not-valid reports/02/R0200000000000000/0001.json"}},
		{"a lost folder", func(t *testing.T, at func(string) string) { _ = os.RemoveAll(at("advice")) }, []string{"missing-folder advice"}},
		{"a truncated note", func(t *testing.T, at func(string) string) { overwrite(t, at(note), "{") }, []string{"not-json " + note}},
		{"an emptied note", func(t *testing.T, at func(string) string) { overwrite(t, at(note), "") }, []string{"empty " + note}},
		{"a note with another time", func(t *testing.T, at func(string) string) {
			b, _ := os.ReadFile(at(note))
			overwrite(t, at(note), strings.Replace(string(b), "12:00:00", "12:00:01", 1))
		}, []string{"wrong-name " + note}},
		{"a note in the wrong month", func(t *testing.T, at func(string) string) {
			move(t, at(note), at("arrivals/2026/10/"+filepath.Base(note)))
		}, []string{"stray arrivals/2026/10/" + filepath.Base(note)}},
	}
	seen := map[string]bool{}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			a := open(t)
			for _, b := range [][]byte{src, other} {
				if _, err := a.PutOriginal(b); err != nil {
					t.Fatal(err)
				}
			}
			put := func(id string, b []byte) {
				if _, _, err := a.PutReport(id, b); err != nil {
					t.Fatal(err)
				}
			}
			put(idA, report(idA, src, "P 30"))
			put(idA, report(idA, src, "P 31"))
			put(idB, report(idB, other, "K 212"))
			if _, _, err := a.PutAdvice(idA+"-1", []byte(`{"say":"nothing"}`)); err != nil {
				t.Fatal(err)
			}
			if _, err := a.PutArrival(archive.Arrival{Name: "x", Time: jobTime, SHA256: ref.SHA256(), Outcome: "ok", Report: idA}); err != nil {
				t.Fatal(err)
			}
			c.plant(t, func(rel string) string { return filepath.Join(a.Dir(), filepath.FromSlash(rel)) })
			ps, _, err := a.Verify(t.Context(), func(kind string, b []byte) error {
				if bytes.Contains(b, []byte("INVALID")) {
					return errors.New("refused")
				}
				return nil
			})
			if err != nil {
				t.Fatal(err)
			}
			var got []string
			for _, p := range ps {
				got = append(got, p.Code+" "+p.Path)
				seen[p.Code] = true
				if p.What == "" || p.Next == "" {
					t.Errorf("a problem without words: %+v", p)
				}
			}
			want := slices.Clone(c.want)
			slices.Sort(want)
			slices.Sort(got)
			if !slices.Equal(got, want) {
				t.Errorf("found\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
			}
		})
	}
	for _, code := range []string{archive.CodeDamaged, archive.CodeEmpty, archive.CodeMissing, archive.CodeNoReport, archive.CodeStray, archive.CodeName,
		archive.CodeJSON, archive.CodeSchema, archive.CodeGap, archive.CodeNoSum, archive.CodeFolder} {
		if !seen[code] {
			t.Errorf("no case plants %s", code)
		}
	}
}

// Every single bit of an original and of a report is flipped in turn.
func TestVerifyFindsEveryFlippedBit(t *testing.T) {
	a := open(t)
	src := []byte("pH 6.5")
	r, _ := a.PutOriginal(src)
	if _, _, err := a.PutReport(idA, report(idA, src, "6.5")); err != nil {
		t.Fatal(err)
	}
	clean(t, a)
	for _, rel := range []string{"originals/" + r.SHA256()[:2] + "/" + string(r), "reports/01/" + idA + "/0001.json"} {
		p := filepath.Join(a.Dir(), rel)
		good, err := os.ReadFile(p)
		if err != nil {
			t.Fatal(err)
		}
		for i := range len(good) * 8 {
			bad := bytes.Clone(good)
			bad[i/8] ^= 1 << (i % 8)
			overwrite(t, p, string(bad))
			ps, _, err := a.Verify(t.Context(), nil)
			if err != nil || !slices.ContainsFunc(ps, func(p archive.Problem) bool { return p.Code == archive.CodeDamaged && p.Path == rel }) {
				t.Fatalf("%s, bit %d: not found: %v, %v", rel, i, ps, err)
			}
		}
		overwrite(t, p, string(good))
	}
	clean(t, a)
}

func TestVerifyCancelled(t *testing.T) {
	a := open(t)
	_, _ = a.PutOriginal([]byte("x"))
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, _, err := a.Verify(ctx, nil); !errors.Is(err, context.Canceled) {
		t.Errorf("Verify: %v", err)
	}
}

func TestVerifyUnreadable(t *testing.T) {
	m := newMemFS()
	prepare(t, m)
	whole := &faultFS{FS: m, at: -1, cause: errors.New("a bad sector")}
	a, err := archive.OpenOn(whole, memDir)
	if err != nil {
		t.Fatal(err)
	}
	whole.n = 0
	if ps, _, err := a.Verify(t.Context(), nil); err != nil || len(ps) != 0 {
		t.Fatalf("%v, %v", ps, err)
	}
	calls := whole.n
	for n := 1; n <= calls; n++ {
		whole.n, whole.at = 0, n
		ps, _, err := a.Verify(t.Context(), nil)
		if err == nil && len(ps) == 0 {
			t.Errorf("call %d of %d failed and Verify found nothing wrong", n, calls)
		}
	}
}

func write(t *testing.T, p string) {
	t.Helper()
	_ = os.MkdirAll(filepath.Dir(p), 0o755)
	if err := os.WriteFile(p, []byte("x"), 0o644); err != nil {
		t.Fatal(err)
	}
}

func remove(t *testing.T, p string) {
	t.Helper()
	if err := os.Remove(p); err != nil {
		t.Fatal(err)
	}
}

func move(t *testing.T, from, to string) {
	t.Helper()
	_ = os.MkdirAll(filepath.Dir(to), 0o755)
	if err := os.Rename(from, to); err != nil {
		t.Fatal(err)
	}
}
