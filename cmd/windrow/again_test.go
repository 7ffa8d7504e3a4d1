package main

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestHeldIsReadAgain gives an office a mapping that does not know a
// laboratory's reports, has one held, mends the mapping, and wants the same
// file to become a second version of the same report; and, given again, no
// third.
func TestHeldIsReadAgain(t *testing.T) {
	dir := t.TempDir()
	if err := makeOffice(dir); err != nil {
		t.Fatal(err)
	}
	good, err := os.ReadFile("../../mappings/labs/oxbow.yaml")
	if err != nil {
		t.Fatal(err)
	}
	const was, wrong = "Oxbow & Tansy Agronomy Laboratory", "Oxbow and Tansy Laboratory of Agronomy"
	if !strings.Contains(string(good), was) {
		t.Fatalf("the mapping has no %q to change", was)
	}
	if err := os.Mkdir(filepath.Join(dir, "mappings"), 0o750); err != nil {
		t.Fatal(err)
	}
	own := filepath.Join(dir, "mappings", "oxbow.yaml")
	if err := os.WriteFile(own, []byte(strings.ReplaceAll(string(good), was, wrong)), 0o600); err != nil {
		t.Fatal(err)
	}
	file := "../../testdata/labs/oxbow-tansy-agronomy-laboratory/OT-26-0612.pdf"
	versions := func() (out []string) {
		for p := range tree(t, filepath.Join(dir, "archive", "reports")) {
			if strings.HasSuffix(p, ".json") {
				out = append(out, p)
			}
		}
		return out
	}
	must(t, exitHeld, "run", "-q", "--office", dir, file)
	must(t, exitHeld, "run", "-q", "--office", dir, file)
	if v := versions(); len(v) != 1 {
		t.Fatalf("held twice for the same reason: versions %v", v)
	}
	if err := os.Remove(own); err != nil {
		t.Fatal(err)
	}
	if out := must(t, exitDone, "run", "-q", "--office", dir, file); !strings.HasPrefix(out, "ok ") {
		t.Errorf("with a mended mapping: %s", out)
	}
	if v := versions(); len(v) != 2 {
		t.Errorf("versions %v, want two", v)
	}
	if out := must(t, exitDone, "run", "-q", "--office", dir, file); !strings.HasPrefix(out, "duplicate ") {
		t.Errorf("given again: %s", out)
	}
	if v := versions(); len(v) != 2 {
		t.Errorf("versions %v, want two", v)
	}
	must(t, exitDone, "archive", "verify", "--office", dir)
}

// TestSameReportInAnotherFile gives a report alone and in zip files, in either
// order, and wants it archived and written to the client once.
func TestSameReportInAnotherFile(t *testing.T) {
	const one, two = "TG-26-01180.pdf", "TG-26-01217.pdf"
	labs := "../../testdata/labs/thrushgate-garden-soil-desk/"
	bytesOf := func(name string) []byte {
		b, err := os.ReadFile(labs + name)
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	zipped := func(name string, members ...string) string {
		var b bytes.Buffer
		z := zip.NewWriter(&b)
		for _, m := range members {
			w, err := z.Create(m)
			if err == nil {
				_, err = w.Write(bytesOf(m))
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		if err := z.Close(); err != nil {
			t.Fatal(err)
		}
		p := filepath.Join(t.TempDir(), name)
		if err := os.WriteFile(p, b.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
		return p
	}
	dir := t.TempDir()
	if err := makeOffice(dir); err != nil {
		t.Fatal(err)
	}
	letters := func() (n int) {
		for p := range tree(t, filepath.Join(dir, "letters")) {
			if strings.HasSuffix(p, ".html") && p != "index.html" {
				n++
			}
		}
		return n
	}
	must(t, exitDone, "run", "-q", "--office", dir, labs+one)
	if n := letters(); n != 1 {
		t.Fatalf("%d letters of one report", n)
	}
	if out := must(t, exitDone, "run", "-q", "--office", dir, zipped("again.zip", one)); !strings.HasPrefix(out, "duplicate ") || !strings.Contains(out, one) {
		t.Errorf("in a zip: %s", out)
	}
	if out := must(t, exitDone, "run", "-q", "--office", dir, zipped("more.zip", one, two)); !strings.HasPrefix(out, "ok ") || !strings.Contains(out, "1 sample,") {
		t.Errorf("in a zip beside another: %s", out)
	}
	if out := must(t, exitDone, "run", "-q", "--office", dir, labs+two); !strings.HasPrefix(out, "duplicate ") || !strings.Contains(out, "more.zip") {
		t.Errorf("out of the zip: %s", out)
	}
	if n := letters(); n != 2 {
		t.Errorf("%d letters of two reports", n)
	}
	must(t, exitDone, "archive", "verify", "--office", dir)
}

// TestBrokenArchive stands a file where an original would go, as a full disk
// or a lost share would be in the way, and wants the report left in its folder
// and told, and taken when the way is free.
func TestBrokenArchive(t *testing.T) {
	dir := t.TempDir()
	if err := makeOffice(dir); err != nil {
		t.Fatal(err)
	}
	must(t, exitDone, "run", "-q", "--office", dir)
	reportsOf(t, filepath.Join(dir, "inbox"), 0, 1)
	b, err := os.ReadFile(filepath.Join(dir, "inbox", "MB27-0000.csv"))
	if err != nil {
		t.Fatal(err)
	}
	h := sha256.Sum256(b)
	block := filepath.Join(dir, "archive", "originals", hex.EncodeToString(h[:1]))
	if err := os.WriteFile(block, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if out := must(t, exitFailed, "run", "-q", "--office", dir); !strings.HasPrefix(out, "failed ") {
		t.Errorf("with something in the way: %s", out)
	}
	if n := names(t, filepath.Join(dir, "inbox")); len(n) != 1 {
		t.Errorf("the inbox holds %v", n)
	}
	if err := os.Remove(block); err != nil {
		t.Fatal(err)
	}
	if out := must(t, exitDone, "run", "-q", "--office", dir); !strings.HasPrefix(out, "ok ") {
		t.Errorf("with the way free: %s", out)
	}
	must(t, exitDone, "archive", "verify", "--office", dir)
}

// TestReleasedWithAnOlderMapping has an office release a report, changes the
// mapping, and wants the next run to say how many reports were read with the
// older one, until the mapping is as it was or somebody has looked.
func TestReleasedWithAnOlderMapping(t *testing.T) {
	dir := t.TempDir()
	if err := makeOffice(dir); err != nil {
		t.Fatal(err)
	}
	told := func() string {
		t.Helper()
		cmd := program(t, "run", "--office", dir)
		var errs bytes.Buffer
		cmd.Stderr = &errs
		if err := cmd.Run(); err != nil {
			t.Fatalf("%v\n%s", err, errs.String())
		}
		return errs.String()
	}
	const oxbow = "../../testdata/labs/oxbow-tansy-agronomy-laboratory/"
	must(t, exitDone, "run", "-q", "--office", dir, oxbow+"OT-26-0612.pdf", oxbow+"OT-26-0533.pdf", "../../testdata/labs/thrushgate-garden-soil-desk/TG-26-01180.pdf")
	if s := told(); strings.Contains(s, "older version") {
		t.Errorf("nothing has changed, and it is told:\n%s", s)
	}
	good, err := os.ReadFile("../../mappings/labs/oxbow.yaml")
	if err != nil {
		t.Fatal(err)
	}
	own := filepath.Join(dir, "mappings", "oxbow.yaml")
	if err := os.Mkdir(filepath.Dir(own), 0o750); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(own, append(good, "# corrected\n"...), 0o600); err != nil {
		t.Fatal(err)
	}
	const want = `windrow: 2 released reports were read with an older version of the mapping of Oxbow & Tansy Agronomy Laboratory; "windrow replay" shows what would change`
	if s := told(); strings.Count(s, want) != 1 {
		t.Errorf("a changed mapping: it is told\n%s", s)
	}
	// A replay that only shows changes nothing; one that writes settles it, even
	// where no value is another.
	must(t, exitDone, "replay", "-q", "--office", dir)
	if s := told(); strings.Count(s, want) != 1 {
		t.Errorf("after a look: it is told\n%s", s)
	}
	must(t, exitDone, "replay", "-q", "--apply", "--office", dir)
	if s := told(); strings.Contains(s, "older version") {
		t.Errorf("after it was applied it is told:\n%s", s)
	}
	// An index that is made anew knows of the reports, and not that somebody
	// looked.
	if err := os.Remove(filepath.Join(dir, "index.sqlite")); err != nil {
		t.Fatal(err)
	}
	if s := told(); strings.Count(s, want) != 1 {
		t.Errorf("with a new index it is told\n%s", s)
	}
	if err := os.Remove(own); err != nil {
		t.Fatal(err)
	}
	if s := told(); strings.Contains(s, "older version") {
		t.Errorf("the mapping is as it was, and it is told:\n%s", s)
	}
}
