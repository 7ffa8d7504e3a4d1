package main

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.org/windrow/interpret"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
)

// An earlierArchive says what is in an archive of an earlier version.
type earlierArchive struct {
	Files, Reports, Records, Results, Erasures int
	Held                                       []string
	Values                                     []struct {
		Report                           string
		Version                          int
		Analyte, Text, Value, Volumetric string
	}
}

// Archives that earlier versions wrote are sound, and are read, indexed and
// worked on by this one. See testdata/archives/README.md.
func TestArchivesOfEarlierVersions(t *testing.T) {
	all, err := filepath.Glob("../../testdata/archives/*.tar.gz")
	if err != nil || len(all) == 0 {
		t.Fatalf("%v, %v", all, err)
	}
	kinds := map[string]int{}
	for _, p := range all {
		name := strings.TrimSuffix(filepath.Base(p), ".tar.gz")
		t.Run(name, func(t *testing.T) {
			var want earlierArchive
			b, err := os.ReadFile(filepath.Join(filepath.Dir(p), name+".json"))
			if err == nil {
				err = json.Unmarshal(b, &want)
			}
			if err != nil || want.Reports == 0 || len(want.Values) == 0 {
				t.Fatalf("what should be in it: %+v, %v", want, err)
			}
			file := filepath.Join(t.TempDir(), name+".tar")
			gunzip(t, p, file)
			dir := t.TempDir()
			if err := makeOffice(dir); err != nil {
				t.Fatal(err)
			}
			counts := fmt.Sprintf("%s, %s, %s, %s\n", plural(want.Files, "file"), plural(want.Reports, "report"), plural(want.Records, "sample"), plural(want.Results, "result"))
			if out := must(t, exitDone, "archive", "import", "--office", dir, file); !strings.HasSuffix(out, counts) {
				t.Errorf("import: %s, want %s", out, counts)
			}
			if out := must(t, exitDone, "archive", "rebuild", "--office", dir); out != counts {
				t.Errorf("rebuild: %s, want %s", out, counts)
			}
			if out := must(t, exitDone, "archive", "verify", "--office", dir); !strings.Contains(out, "all is well") {
				t.Error(out)
			}
			a, err := archive.OpenExisting(filepath.Join(dir, "archive"))
			if err != nil {
				t.Fatal(err)
			}
			readEarlier(t, a, want, kinds)
			for _, args := range [][]string{{"audit", "-q"}, {"replay"}, {"dataset", "--out", filepath.Join(t.TempDir(), "d")}} {
				if out, errs, exit := toldBy(t, append(args, "--office", dir)...); exit != exitDone && exit != exitHeld {
					t.Errorf("%v: %d: %s%s", args, exit, out, errs)
				}
			}
			err = a.EachID(archive.Reports, func(id string) error {
				must(t, exitDone, "versions", "--office", dir, id)
				if _, errs, exit := toldBy(t, "trace", "--office", dir, id); exit != exitDone && exit != exitHeld {
					t.Errorf("trace %s: %d: %s", id, exit, errs)
				}
				return nil
			})
			if err != nil {
				t.Error(err)
			}
		})
	}
	for _, k := range archive.Kinds() {
		if kinds[k] == 0 {
			t.Errorf("no archive of an earlier version has %s: put one of this version beside them", k)
		}
	}
}

// readEarlier reads every document into the types of today, and compares the
// values that were copied by eye.
func readEarlier(t *testing.T, a *archive.Archive, want earlierArchive, kinds map[string]int) {
	t.Helper()
	for _, kind := range archive.Kinds() {
		err := a.EachID(kind, func(id string) error {
			vs, err := a.Versions(kind, id)
			for _, v := range vs {
				b, rerr := a.Version(kind, id, v)
				if rerr != nil {
					return rerr
				}
				kinds[kind]++
				if err := validDocument(kind, b); err != nil {
					t.Errorf("%s/%s, version %d: %v", kind, id, v, err)
				}
				if kind == archive.Advice {
					var adv interpret.Advice
					if err := json.Unmarshal(b, &adv); err != nil || adv.Schema != interpret.AdviceSchema {
						t.Errorf("%s: %q, %v", id, adv.Schema, err)
					}
				}
				// The one way of writing JSON that the archive's own page tells of.
				var canon bytes.Buffer
				if err := json.Indent(&canon, bytes.TrimSuffix(b, []byte("\n")), "", "  "); err != nil || canon.String()+"\n" != string(b) {
					t.Errorf("%s/%s, version %d is written otherwise than FORMAT.md says: %v", kind, id, v, err)
				}
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	for _, w := range want.Values {
		b, err := a.Version(archive.Reports, w.Report, w.Version)
		var rep normalize.Report
		if err == nil {
			err = json.Unmarshal(b, &rep)
		}
		if err != nil {
			t.Fatal(err)
		}
		found := false
		for _, rec := range rep.Records {
			for _, res := range rec.Results {
				vol := ""
				if res.Volumetric != nil {
					vol = string(res.Volumetric.Value)
				}
				found = found || res.Analyte == w.Analyte && res.Printed.Text == w.Text && string(res.Value) == w.Value && vol == w.Volumetric
			}
		}
		if !found {
			t.Errorf("not in the archive as it was: %+v", w)
		}
	}
	for _, id := range want.Held {
		b, _, err := a.Latest(archive.Reports, id)
		if err != nil || !bytes.Contains(b, []byte(`"status": "held"`)) {
			t.Errorf("%s is not held: %v", id, err)
		}
	}
	n := 0
	if err := a.EachTombstone(func(*archive.Tombstone) error { n++; return nil }); err != nil || n != want.Erasures {
		t.Errorf("%d erasures, want %d: %v", n, want.Erasures, err)
	}
}

func gunzip(t *testing.T, from, to string) {
	t.Helper()
	f, err := os.Open(from)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	b, err := io.ReadAll(z)
	if err == nil {
		err = os.WriteFile(to, b, 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
}
