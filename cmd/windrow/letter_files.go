package main

import (
	"io/fs"
	"os"
	"strings"
)

// onlyLetters is the letters of a folder as a file system: pages that end in
// .html, their PDFs and nothing else, and no lists of folders.
type onlyLetters struct{ dir string }

// Open implements fs.FS.
func (o onlyLetters) Open(name string) (fs.File, error) {
	if !strings.HasSuffix(name, ".html") && !strings.HasSuffix(name, ".pdf") || strings.HasPrefix(name, ".") || strings.Contains(name, "/.") {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
	}
	return os.DirFS(o.dir).Open(name)
}
