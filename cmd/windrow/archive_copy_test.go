package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

const csvOfMarrow = "../../testdata/labs/marrow-brook-land-water-testing/MB26-0712-export.csv"

// An office that lost its archive has it again by an import, from a folder or
// a tar file: to the byte, and with an index that knows it.
func TestArchiveExportAndImport(t *testing.T) {
	dir := officeWith(t, exitDone, csvOfMarrow)
	want := tree(t, filepath.Join(dir, "archive"))
	out := t.TempDir()
	folder, file := filepath.Join(out, "copy"), filepath.Join(out, "copy.tar")
	for _, to := range []string{folder, file} {
		if said := must(t, exitDone, "archive", "export", "--office", dir, to); !strings.HasPrefix(said, "1 original, ") {
			t.Error(said)
		}
	}
	if said := must(t, exitDone, "archive", "export", "--office", dir, folder); !strings.Contains(said, "; 0 files new") {
		t.Error(said)
	}
	if _, errs, exit := toldBy(t, "archive", "export", "--office", dir, file); exit != exitFailed || !strings.Contains(errs, "replaces nothing") {
		t.Errorf("%d: %s", exit, errs)
	}
	if _, errs, exit := toldBy(t, "archive", "export", "--office", dir, filepath.Join(dir, "archive", "copy")); exit != exitUsage || !strings.Contains(errs, "in the archive itself") {
		t.Errorf("%d: %s", exit, errs)
	}
	for _, from := range []string{folder, file} {
		other := t.TempDir()
		if err := makeOffice(other); err != nil {
			t.Fatal(err)
		}
		for range 2 {
			must(t, exitDone, "archive", "import", "--office", other, from)
		}
		sameTree(t, tree(t, filepath.Join(other, "archive")), want)
		if said := must(t, exitDone, "archive", "verify", "--office", other); !strings.Contains(said, "all is well") {
			t.Error(said)
		}
		if said := must(t, exitDone, "run", "--office", other, csvOfMarrow); !strings.Contains(said, "came before") && !strings.Contains(said, "already") {
			t.Errorf("the same file again: %s", said)
		}
	}
	// One that is damaged is refused, with the place.
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	bad := filepath.Join(out, "bad.tar")
	if err := os.WriteFile(bad, []byte(strings.Replace(string(b), "506,5", "507,5", 1)), 0o600); err != nil {
		t.Fatal(err)
	}
	other := t.TempDir()
	if err := makeOffice(other); err != nil {
		t.Fatal(err)
	}
	said, errs, exit := toldBy(t, "archive", "import", "--office", other, bad)
	if exit != exitFailed || !strings.Contains(said, "[damaged]") || !strings.Contains(errs, "not sound, so that nothing of it was") {
		t.Errorf("%d: %s%s", exit, said, errs)
	}
	if _, errs, exit := toldBy(t, "archive", "import", "--office", dir, filepath.Join(dir, "archive")); exit != exitUsage || !strings.Contains(errs, "this office itself") {
		t.Errorf("%d: %s", exit, errs)
	}
}
