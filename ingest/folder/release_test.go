package folder

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"example.org/windrow/ingest"
)

// TestShelfReleases moves what has the asked bytes, under any name, and its
// note; neither other files nor a note alone; never over a file that is there.
func TestShelfReleases(t *testing.T) {
	held, done := t.TempDir(), t.TempDir()
	now := time.Date(2026, 3, 9, 8, 0, 0, 0, time.UTC)
	write := func(dir, name, text string) {
		t.Helper()
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	write(held, "a.csv", "one")
	write(held, "a.csv.why.txt", "note")
	write(held, "again.csv", "one")
	write(held, "b.csv", "two")
	write(held, "b.csv.why.txt", "note")
	write(done, "2026-03-09_a.csv", "another one")
	s := NewShelf(held, nil)
	one := ingest.NewSource("", []byte("one")).SHA256
	if !s.Has(one) || s.Has(ingest.NewSource("", []byte("note")).SHA256) || s.Has("") {
		t.Error("it knows other files than lie there")
	}
	moved, err := s.Release(one, done, now)
	if err != nil || len(moved) != 2 || s.Has(one) {
		t.Fatalf("%v, %v", moved, err)
	}
	for dir, want := range map[string]map[string]string{
		held: {"b.csv": "two", "b.csv.why.txt": "note"},
		done: {"2026-03-09_a.csv": "another one", "2026-03-09_a-2.csv": "one", "2026-03-09_again.csv": "one"},
	} {
		list, err := os.ReadDir(dir)
		if err != nil || len(list) != len(want) {
			t.Errorf("%v, %v", list, err)
		}
		for name, text := range want {
			if b, err := os.ReadFile(filepath.Join(dir, name)); err != nil || string(b) != text {
				t.Errorf("%s: %q, %v", name, b, err)
			}
		}
	}
	if moved, err := NewShelf(filepath.Join(held, "none"), nil).Release(one, done, now); len(moved) > 0 || err != nil {
		t.Errorf("of no folder: %v, %v", moved, err)
	}

	// What can't be moved stays, with its note.
	two := ingest.NewSource("", []byte("two")).SHA256
	write(held, "nowhere", "no folder")
	moved, err = NewShelf(held, nil).Release(two, filepath.Join(held, "nowhere"), now)
	if r := ingest.AsReason(err); err == nil || r.Code != "not-filed" || len(moved) > 0 {
		t.Errorf("%v, %v", moved, err)
	}
	for _, name := range []string{"b.csv", "b.csv.why.txt"} {
		if _, err := os.Stat(filepath.Join(held, name)); err != nil {
			t.Error(err)
		}
	}
}
