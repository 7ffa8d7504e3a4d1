package web

import (
	"io/fs"
	"net/http"
	"os"
	"strings"
)

// letters serves the folder of letters, as the office sends them.
func (d *Desk) letters() {
	files := http.StripPrefix("/letters/", http.FileServerFS(onlyLetters{d.off.Config.Letters}))
	d.mux.HandleFunc("GET /letters/", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Security-Policy", letterPolicy)
		files.ServeHTTP(w, r)
	})
	d.mux.HandleFunc("GET /letters/{$}", func(w http.ResponseWriter, r *http.Request) {
		b, err := d.off.ListPage(r.Context())
		if err != nil {
			d.fail(w, r, err)
			return
		}
		w.Header().Set("Content-Security-Policy", letterPolicy)
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		_, _ = w.Write(b) // the one who asked has gone: there is nobody to tell
	})
}

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
