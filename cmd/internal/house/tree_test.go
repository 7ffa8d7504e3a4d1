package house

import (
	"bytes"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// A source is one file of the repository; its name is relative to the top,
// with slashes.
type source struct {
	name string
	text []byte
}

// isText reports whether a person could read the file in an editor.
func (s source) isText() bool {
	return !bytes.Contains(s.text[:min(len(s.text), 8000)], []byte{0})
}

// top is the folder that holds go.mod.
func top(t *testing.T) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir
		}
		up := filepath.Dir(dir)
		if up == dir {
			t.Fatal("no go.mod above this folder")
		}
		dir = up
	}
}

// ignored are the names at the top that .gitignore keeps out of the
// repository, such as what make builds.
func ignored(t *testing.T, root string) []string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(root, ".gitignore"))
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for line := range strings.Lines(string(b)) {
		if l := strings.TrimSpace(line); strings.HasPrefix(l, "/") {
			out = append(out, strings.Trim(l, "/"))
		}
	}
	return out
}

// files are the repository's files whose name ends in one of the suffixes, or
// all of them.
func files(t *testing.T, suffixes ...string) []source {
	t.Helper()
	root := top(t)
	skip := append(ignored(t, root), ".git")
	var out []source
	err := filepath.WalkDir(root, func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(root, p)
		if err != nil {
			return err
		}
		rel = filepath.ToSlash(rel)
		if slices.Contains(skip, rel) {
			if d.IsDir() {
				return filepath.SkipDir
			}
			return nil
		}
		if !d.Type().IsRegular() || len(suffixes) > 0 && !slices.ContainsFunc(suffixes, func(s string) bool { return strings.HasSuffix(rel, s) }) {
			return nil
		}
		b, err := os.ReadFile(p)
		if err != nil {
			return err
		}
		out = append(out, source{rel, b})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// goFiles are the repository's own Go files; those under testdata are data.
func goFiles(t *testing.T) []source {
	t.Helper()
	return slices.DeleteFunc(files(t, ".go"), func(s source) bool {
		return slices.Contains(strings.Split(path.Dir(s.name), "/"), "testdata")
	})
}

// report fails the test with one line for each breach.
func report(t *testing.T, breaches []string) {
	t.Helper()
	slices.Sort(breaches)
	for _, b := range breaches {
		t.Error(b)
	}
}
