package archive_test

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.org/windrow/normalize/archive"
)

const signID = "S0123456789abcdef"

func signOff(id string) []byte { return []byte(`{"id":"` + id + `","name":"Ilse Marrow"}`) }

// A sign-off is written once: again the same changes nothing, another is
// refused, and one that somebody slipped in beside it is found.
func TestSignOffIsWrittenOnce(t *testing.T) {
	a := open(t)
	for range 2 {
		if err := a.PutSignOff(signID, signOff(signID)); err != nil {
			t.Fatal(err)
		}
	}
	if err := a.PutSignOff(signID, []byte(`{"id":"`+signID+`","name":"Somebody Else"}`)); !errors.Is(err, archive.ErrConflict) {
		t.Errorf("another sign-off under the same id: %v", err)
	}
	if n := clean(t, a); n.Documents[archive.SignOffs] != 1 {
		t.Errorf("%d sign-offs", n.Documents[archive.SignOffs])
	}
	if _, _, err := a.Put(archive.SignOffs, signID, signOff(signID+"0")); err != nil {
		t.Fatal(err)
	}
	found, _, err := a.Verify(t.Context(), nil)
	if err != nil {
		t.Fatal(err)
	}
	var codes []string
	for _, p := range found {
		codes = append(codes, p.Code)
	}
	if got := strings.Join(codes, " "); got != archive.CodeName+" "+archive.CodeSecond && got != archive.CodeSecond+" "+archive.CodeName {
		t.Errorf("verify told %v", found)
	}
}

// An archive that was made before there were sign-offs is whole without a
// folder for them, and gets one from whoever opens it to write.
func TestAnEarlierArchiveHasNoSignOffs(t *testing.T) {
	a := open(t)
	format := filepath.Join(a.Dir(), "format.json")
	b, err := os.ReadFile(format)
	if err != nil {
		t.Fatal(err)
	}
	was := strings.Replace(string(b), ",\n    \"signoffs\"", "", 1)
	if was == string(b) {
		t.Fatalf("format.json does not name sign-offs: %s", b)
	}
	folder := filepath.Join(a.Dir(), archive.SignOffs)
	if err := os.Remove(folder); err != nil {
		t.Fatal(err)
	}
	if _, err := a.Versions(archive.SignOffs, signID); err == nil {
		t.Error("a folder that format.json names and that is gone is no error")
	}
	overwrite(t, format, was)
	old, err := archive.OpenExisting(a.Dir())
	if err != nil {
		t.Fatal(err)
	}
	if err := old.EachID(archive.SignOffs, func(string) error { return errors.New("one") }); err != nil {
		t.Error(err)
	}
	if _, _, err := old.Latest(archive.SignOffs, signID); !errors.Is(err, archive.ErrNotFound) {
		t.Error(err)
	}
	clean(t, old)
	opened, err := archive.Open(a.Dir())
	if err != nil {
		t.Fatal(err)
	}
	if err := opened.PutSignOff(signID, signOff(signID)); err != nil {
		t.Fatal(err)
	}
	clean(t, opened)
}
