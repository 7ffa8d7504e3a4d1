// Package demo makes a demonstration office: an invented one, with a few
// reports of invented laboratories to drop into it.
//
// Enters: the path of a folder that is absent, empty, or an earlier
// demonstration. Leaves: an office in it, ready to work, and reports to give
// it. Never: it removes or changes a file that it did not make; a folder
// with anything else in it is refused.
package demo

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/ingest"
)

//go:embed testdata
var reports embed.FS

//go:embed office/register.csv
var register []byte

// counties are outlines of Calder's counties, as invented as the state.
//
//go:embed office/counties.geojson
var counties []byte

// registerName is the name of the register of samples in the office.
const registerName = "register.csv"

// A Report is one file of the demonstration.
type Report struct {
	Name  string
	Bytes []byte
}

// Reports are the files that the demonstration drops into its office, in a
// fixed order.
func Reports() []Report {
	entries, err := reports.ReadDir("testdata")
	if err != nil {
		panic("demo: " + err.Error()) // embedded: no user can meet this
	}
	var out []Report
	for _, e := range entries {
		b, err := reports.ReadFile("testdata/" + e.Name())
		if err != nil {
			panic("demo: " + err.Error()) // embedded: no user can meet this
		}
		out = append(out, Report{e.Name(), b})
	}
	return out
}

// Copy is a report that came before, under another name.
func Copy() Report {
	for _, r := range Reports() {
		if r.Name == "TG-26-01402.pdf" {
			return Report{"TG-26-01402 again.pdf", r.Bytes}
		}
	}
	panic("demo: the report to copy is missing") // embedded: no user can meet this
}

// marker is the file by which a demonstration knows an earlier one.
const marker = ".windrow-demo"

const markerText = "This folder was made by windrow demo, which may empty it and make it anew\nas long as it holds nothing else.\n"

// folders are those of the office, as its settings name them.
var folders = []string{"inbox", "done", "held", "archive", "letters", "datasets"}

// files are the others that an office has.
var files = []string{config.FileName, registerName, "counties.geojson", ".windrow-register", marker, ".windrow.lock", ".windrow-verified.json", ".windrow-exported.json", "dataset.key", "index.sqlite", "index.sqlite-wal", "index.sqlite-shm"}

// Make makes the office. An earlier demonstration that holds nothing else is
// made anew.
func Make(dir string) error {
	if err := sweep(dir); err != nil {
		return err
	}
	for _, f := range folders {
		if f == "archive" {
			continue // made by the first report
		}
		if err := os.MkdirAll(filepath.Join(dir, f), 0o750); err != nil {
			return cannot(dir, err)
		}
	}
	// The marker comes first: a demonstration that was stopped half-way must
	// know itself again.
	for _, f := range []struct {
		name string
		b    []byte
	}{{marker, []byte(markerText)}, {config.FileName, config.Template()}, {registerName, register}, {"counties.geojson", counties}} {
		if err := os.WriteFile(filepath.Join(dir, f.name), f.b, 0o640); err != nil {
			return cannot(dir, err)
		}
	}
	return nil
}

// Drop puts a report into the inbox, whole at once, as a careful program
// would.
func Drop(dir string, r Report) error {
	at := filepath.Join(dir, "inbox", r.Name)
	if err := os.WriteFile(at+".part", r.Bytes, 0o640); err != nil {
		return cannot(dir, err)
	}
	if err := os.Rename(at+".part", at); err != nil {
		return cannot(dir, err)
	}
	return nil
}

func cannot(dir string, err error) error {
	return &ingest.Reason{Code: "demo-folder", Severity: ingest.Fail, Where: ingest.Place{File: dir}, What: "the demonstration can't be made in this folder", Expected: "a folder that can be written to", Found: err.Error(), Next: "name another one with --dir"}
}

// sweep empties the folder of an earlier demonstration.
func sweep(dir string) error {
	entries, err := os.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) || err == nil && len(entries) == 0 {
		return nil
	}
	if err != nil {
		return cannot(dir, err)
	}
	if _, err := os.Lstat(filepath.Join(dir, marker)); err != nil {
		return refuse(dir, "it holds files, and no earlier demonstration made it: "+names(entries))
	}
	strange, err := strangers(dir, entries)
	if err != nil {
		return cannot(dir, err)
	}
	if strange != "" {
		return refuse(dir, "beside an earlier demonstration it holds "+strange)
	}
	for _, e := range entries {
		if e.Name() == marker {
			continue
		}
		if err := os.RemoveAll(filepath.Join(dir, e.Name())); err != nil {
			return cannot(dir, err)
		}
	}
	return nil
}

func refuse(dir, why string) error {
	return &ingest.Reason{Code: "demo-folder", Severity: ingest.Fail, Where: ingest.Place{File: dir}, What: "the demonstration is not made in a folder with anything else in it", Expected: "a folder that is absent, empty, or an earlier demonstration", Found: why, Next: "name another folder with --dir"}
}

func names(entries []fs.DirEntry) string {
	var out []string
	for _, e := range entries[:min(len(entries), 3)] {
		out = append(out, e.Name())
	}
	if len(entries) > 3 {
		out = append(out, "…")
	}
	return strings.Join(out, ", ")
}

// strangers finds something that the demonstration did not make: a report
// that someone dropped in to try, settings that were changed, a mapping that
// was written.
func strangers(dir string, entries []fs.DirEntry) (string, error) {
	ours := map[string]bool{}
	for _, r := range Reports() {
		h := sha256.Sum256(r.Bytes)
		ours[hex.EncodeToString(h[:])] = true
	}
	found := ""
	for _, e := range entries {
		if e.IsDir() && !slices.Contains(folders, e.Name()) || !e.IsDir() && !slices.Contains(files, e.Name()) {
			return e.Name(), nil
		}
	}
	if b, err := os.ReadFile(filepath.Join(dir, config.FileName)); err == nil && !bytes.Equal(b, config.Template()) {
		return "a " + config.FileName + " that was changed", nil
	}
	if b, err := os.ReadFile(filepath.Join(dir, registerName)); err == nil && !bytes.Equal(b, register) {
		return "a " + registerName + " that was changed", nil
	}
	for _, sub := range []string{"inbox", "done", "held", "archive/originals"} {
		err := filepath.WalkDir(filepath.Join(dir, filepath.FromSlash(sub)), func(at string, d fs.DirEntry, err error) error {
			if errors.Is(err, fs.ErrNotExist) {
				return nil
			}
			if err != nil || d.IsDir() || strings.HasSuffix(at, ".why.txt") || strings.HasSuffix(at, ".part") {
				return err
			}
			b, err := os.ReadFile(at)
			if err != nil {
				return err
			}
			if h := sha256.Sum256(b); !ours[hex.EncodeToString(h[:])] && found == "" {
				found, _ = filepath.Rel(dir, at) // at lies below dir
			}
			return nil
		})
		if err != nil {
			return "", err
		}
	}
	return found, nil
}
