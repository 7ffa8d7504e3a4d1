package main

import (
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"example.org/windrow/ingest/folder"
)

// gather lists the files that the arguments mean, in the order given and
// each once: files as they are, folders with all that is below them. Hidden
// files, temporary ones and our own notes are passed over, unless named. Links
// and the like in a folder are told of, and hidden files with the name of a
// report; left reports whether there are any.
func (e *env) gather(paths []string) (out []string, left bool, err error) {
	seen := map[string]bool{}
	add := func(p string) {
		if abs, err := filepath.Abs(p); err == nil && !seen[abs] {
			seen[abs] = true
			out = append(out, p)
		}
	}
	for _, p := range paths {
		fi, err := os.Stat(p)
		if err != nil {
			return nil, false, notThere(p, err)
		}
		if !fi.IsDir() {
			add(p)
			continue
		}
		err = filepath.WalkDir(p, func(at string, d fs.DirEntry, err error) error {
			switch {
			case err != nil:
				return notThere(at, err)
			case at != p && strings.HasPrefix(d.Name(), "."):
				if d.IsDir() {
					return filepath.SkipDir
				}
				if r := folder.HiddenReport(at); r != nil && d.Type().IsRegular() {
					left = true
					e.reason(r)
				}
			case d.IsDir() || passedOver(d.Name()):
			case d.Type().IsRegular():
				add(at)
			default:
				left = true
				e.reason(folder.NotTaken(at, d.Type()))
			}
			return nil
		})
		if err != nil {
			return nil, false, err
		}
	}
	return out, left, nil
}

// passedOver knows the names that the watched folders pass over, too.
func passedOver(name string) bool {
	low := strings.ToLower(name)
	for _, end := range []string{".part", ".tmp", ".crdownload", ".swp", "~", ".why.txt"} {
		if strings.HasSuffix(low, end) {
			return true
		}
	}
	return strings.HasPrefix(name, "~$")
}
