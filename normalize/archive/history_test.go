package archive_test

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"example.org/windrow/normalize/archive"
)

func TestHistory(t *testing.T) {
	a := open(t)
	if vs, err := a.History(archive.Reports, idA); err != nil || len(vs) != 0 {
		t.Errorf("of a document that isn't there: %v, %v", vs, err)
	}
	if _, err := a.History("letters", idA); !errors.Is(err, archive.ErrKey) {
		t.Errorf("of a kind that isn't: %v", err)
	}
	docs := [][]byte{report(idA, nil, "one"), report(idA, nil, "the second")}
	for _, b := range docs {
		if _, _, err := a.PutReport(idA, b); err != nil {
			t.Fatal(err)
		}
	}
	first := filepath.Join(a.Dir(), "reports", "01", idA, "0001.json")
	when := time.Date(2024, 2, 29, 12, 0, 0, 0, time.UTC)
	if err := os.Chtimes(first, when, when); err != nil {
		t.Fatal(err)
	}
	vs, err := a.History(archive.Reports, idA)
	if err != nil || len(vs) != 2 {
		t.Fatalf("%v, %v", vs, err)
	}
	for i, v := range vs {
		if v.Version != i+1 || v.Size != int64(len(docs[i])) {
			t.Errorf("%+v", v)
		}
	}
	if !vs[0].Dated.Equal(when) || vs[0].Dated.Location() != time.UTC {
		t.Errorf("dated %v", vs[0].Dated)
	}
}

// A writer that dies between a document and its checksum is found out, and to
// put the same again makes it whole.
func TestVouched(t *testing.T) {
	a := open(t)
	b := report(idA, nil, "one")
	v, _, err := a.PutReport(idA, b)
	if err != nil {
		t.Fatal(err)
	}
	want := func(want bool) {
		t.Helper()
		if got, err := a.Vouched(archive.Reports, idA, v); err != nil || got != want {
			t.Errorf("%v, %v; want %v", got, err, want)
		}
	}
	want(true)
	if err := os.Remove(filepath.Join(a.Dir(), "reports", "01", idA, "0001.json.sha256")); err != nil {
		t.Fatal(err)
	}
	want(false)
	if _, isNew, err := a.PutReport(idA, b); err != nil || isNew {
		t.Errorf("%v, %v", isNew, err)
	}
	want(true)
	if _, err := a.Vouched(archive.Reports, "x", 1); !errors.Is(err, archive.ErrKey) {
		t.Errorf("of an id that is none: %v", err)
	}
}

// What a writer that died has left is made whole at once: each document gets the
// checksum of its own bytes, and one that is no document none.
func TestVouchLeft(t *testing.T) {
	a := open(t)
	for _, b := range [][]byte{report(idA, nil, "one"), report(idA, nil, "two")} {
		if _, _, err := a.PutReport(idA, b); err != nil {
			t.Fatal(err)
		}
	}
	if _, _, err := a.PutReport(idB, report(idB, nil, "other")); err != nil {
		t.Fatal(err)
	}
	want := files(t, a.Dir())
	if n, err := a.VouchLeft(); n != 0 || err != nil {
		t.Errorf("of a whole archive: %d, %v", n, err)
	}
	at := func(id, name string) string { return filepath.Join(a.Dir(), "reports", id[1:3], id, name) }
	if err := os.Remove(at(idA, "0002.json.sha256")); err != nil {
		t.Fatal(err)
	}
	if n, err := a.VouchLeft(); n != 1 || err != nil {
		t.Errorf("of one without a checksum: %d, %v", n, err)
	}
	for name, text := range files(t, a.Dir()) {
		if text != want[name] {
			t.Errorf("%s is now %q", name, text)
		}
	}
	if err := os.Remove(at(idB, "0001.json.sha256")); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(at(idB, "0001.json"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(at(idB, "0001.json"), []byte(`{"id":`), 0o600); err != nil {
		t.Fatal(err)
	}
	if n, err := a.VouchLeft(); n != 0 || err != nil {
		t.Errorf("of a torn document: %d, %v", n, err)
	}
	if _, err := os.Stat(at(idB, "0001.json.sha256")); err == nil {
		t.Error("a torn document has a checksum")
	}
}
