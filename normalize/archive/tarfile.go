package archive

import (
	"archive/tar"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"example.org/windrow/ingest"
)

// WriteTar writes the archive as a tar file (POSIX.1-2001 pax where a name
// needs it), while writers may be at work in it, in such an order that nothing
// in it names anything that isn't. Where an erasure falls into the writing the
// error is an ErrErased: begin again with an empty w.
func (a *Archive) WriteTar(ctx context.Context, w io.Writer) (Transfer, error) {
	before, err := a.graves(nil)
	if err != nil {
		return Transfer{}, err
	}
	s := &tarSink{w: tar.NewWriter(w)}
	t := &transfer{ctx: ctx, src: a, to: s, skip: func(string) bool { return false }, late: before.kept}
	plain := func(name string) func() error {
		return func() error { return t.copy(name, func([]byte) error { return nil }) }
	}
	for _, d := range topDirs() {
		if _, err := a.fs.Lstat(a.path(d)); err == nil {
			if err := s.dir(d); err != nil {
				return t.n, err
			}
		}
	}
	// By format.json the folder is known for an archive: a file that is cut
	// short lacks it.
	for _, step := range []func() error{plain(readmeFile), t.arrivals, t.documents, t.originals, func() error { return t.tombstones(nil) }, t.account, plain(formatFile), s.w.Close} {
		if err := step(); err != nil {
			return t.n, err
		}
	}
	after, err := a.graves(nil)
	if err != nil {
		return t.n, err
	}
	if n := len(before.open()); n > 0 || len(after.all()) != len(before.all()) || len(after.open()) > 0 {
		return t.n, newFault(ErrErased, nil, ingest.Reason{Code: "export-erasing", What: "something is being erased from the archive, so that a copy of now would hold what it should not",
			Next: "wait until it is done, or run windrow archive erase --finish; then export again"})
	}
	return t.n, nil
}

type tarSink struct {
	mu sync.Mutex // a tar file is written one file after another
	w  *tar.Writer
}

func (s *tarSink) dir(name string) error {
	return ioFault("write a tar file", name, s.w.WriteHeader(&tar.Header{Typeflag: tar.TypeDir, Name: name + "/", Mode: 0o750}))
}

func (s *tarSink) put(place string, b []byte) (bool, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := s.w.WriteHeader(&tar.Header{Typeflag: tar.TypeReg, Name: place, Mode: 0o444, Size: int64(len(b))}); err != nil {
		return false, ioFault("write a tar file", place, err)
	}
	_, err := s.w.Write(b)
	return true, ioFault("write a tar file", place, err)
}

// OpenTar opens an archive in a tar file, to read. It may have been packed by
// any program, with or without the archive's own folder above the rest. Names
// that lead elsewhere, links, files that come twice and a file that is cut
// short are refused. Close the file when the archive is no longer used.
func OpenTar(f *os.File) (*Archive, error) {
	t := &tarFS{f: f, files: map[string]span{}, dirs: map[string]map[string]bool{".": {}}}
	if err := t.index(); err != nil {
		return nil, err
	}
	root := "."
	if _, ok := t.files[formatFile]; !ok {
		if len(t.dirs["."]) == 1 {
			for d := range t.dirs["."] {
				root = d
			}
		}
	}
	a, err := OpenExistingOn(t, root)
	if errors.Is(err, ErrFormat) {
		r := *ingest.AsReason(err)
		r.Where.File = filepath.Base(f.Name())
		return nil, newFault(ErrFormat, err, r)
	}
	return a, err
}

// A span is where a file's bytes are in the tar file.
type span struct{ at, size int64 }

// A tarFS is a tar file that can be read and not written. Names use the
// system's separator, as everywhere in FS.
type tarFS struct {
	f     *os.File
	files map[string]span
	dirs  map[string]map[string]bool
}

func (t *tarFS) index() error {
	refuse := func(what, found string) error {
		return newFault(ErrFormat, nil, ingest.Reason{Code: "tar-refused", Where: ingest.Place{File: filepath.Base(t.f.Name())},
			What: what, Found: found, Next: "pack the archive's folder anew, with windrow archive export or any program that writes plain tar files"})
	}
	end, err := t.f.Seek(0, io.SeekEnd)
	if err == nil {
		_, err = t.f.Seek(0, io.SeekStart)
	}
	if err != nil {
		return ioFault("read a tar file", t.f.Name(), err)
	}
	var last [1024]byte // a whole tar file ends with two blocks of zeros
	if _, err := t.f.ReadAt(last[:], max(0, end-int64(len(last)))); err != nil || last != [1024]byte{} {
		return refuse("this is no tar file, or it is cut short", "no mark of its end")
	}
	r := tar.NewReader(t.f)
	for {
		h, err := r.Next()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return refuse("this is no tar file, or it is cut short or damaged", err.Error())
		}
		name := path.Clean(h.Name)
		switch {
		case strings.ContainsAny(h.Name, "\\\x00:") || !filepath.IsLocal(name) && name != ".":
			return refuse("the tar file holds a name that leads out of it", fmt.Sprintf("%q", h.Name))
		case h.Typeflag == tar.TypeDir:
			t.add(name)
		case h.Typeflag != tar.TypeReg:
			return refuse("the tar file holds something that is neither a plain file nor a folder", fmt.Sprintf("%q", h.Name))
		default:
			if _, twice := t.files[name]; twice {
				return refuse("the tar file holds the same name twice", fmt.Sprintf("%q", h.Name))
			}
			at, err := t.f.Seek(0, io.SeekCurrent)
			if err != nil {
				return ioFault("read a tar file", t.f.Name(), err)
			}
			if at+h.Size > end {
				return refuse("the tar file is cut short", fmt.Sprintf("%q", h.Name))
			}
			t.add(path.Dir(name))
			if t.dirs[name] != nil {
				return refuse("the tar file holds the same name twice", fmt.Sprintf("%q", h.Name))
			}
			t.dirs[path.Dir(name)][path.Base(name)] = true
			t.files[name] = span{at, h.Size}
		}
	}
}

// add makes a folder known, with those above it.
func (t *tarFS) add(dir string) {
	if t.dirs[dir] != nil {
		return
	}
	t.dirs[dir] = map[string]bool{}
	up := path.Dir(dir)
	t.add(up)
	t.dirs[up][path.Base(dir)] = true
}

func missing(op, name string) error {
	return &fs.PathError{Op: op, Path: name, Err: fs.ErrNotExist}
}

func (t *tarFS) ReadFile(name string) ([]byte, error) {
	s, ok := t.files[filepath.ToSlash(filepath.Clean(name))]
	if !ok {
		return nil, missing("read", name)
	}
	b := make([]byte, s.size)
	_, err := t.f.ReadAt(b, s.at)
	if err != nil && !(errors.Is(err, io.EOF) && s.size == 0) {
		return nil, err
	}
	return b, nil
}

func (t *tarFS) ReadDir(name string) ([]fs.DirEntry, error) {
	d := filepath.ToSlash(filepath.Clean(name))
	in, ok := t.dirs[d]
	if !ok {
		return nil, missing("readdir", name)
	}
	var out []fs.DirEntry
	for n := range in {
		i, err := t.Lstat(path.Join(d, n))
		if err != nil {
			return nil, err
		}
		out = append(out, fs.FileInfoToDirEntry(i))
	}
	slices.SortFunc(out, func(x, y fs.DirEntry) int { return strings.Compare(x.Name(), y.Name()) })
	return out, nil
}

func (t *tarFS) Lstat(name string) (fs.FileInfo, error) {
	n := filepath.ToSlash(filepath.Clean(name))
	if s, ok := t.files[n]; ok {
		return tarInfo{path.Base(n), s.size, 0o444}, nil
	}
	if t.dirs[n] != nil {
		return tarInfo{path.Base(n), 0, fs.ModeDir | 0o555}, nil
	}
	return nil, missing("lstat", name)
}

type tarInfo struct {
	name string
	size int64
	mode fs.FileMode
}

func (i tarInfo) Name() string       { return i.name }
func (i tarInfo) Size() int64        { return i.size }
func (i tarInfo) Mode() fs.FileMode  { return i.mode }
func (i tarInfo) ModTime() time.Time { return time.Time{} }
func (i tarInfo) IsDir() bool        { return i.mode.IsDir() }
func (i tarInfo) Sys() any           { return nil }

func readOnly(op, name string) error {
	return &fs.PathError{Op: op, Path: name, Err: fs.ErrPermission}
}

func (t *tarFS) Mkdir(name string) error          { return readOnly("mkdir", name) }
func (t *tarFS) Create(name string) (File, error) { return nil, readOnly("create", name) }
func (t *tarFS) Link(_, name string) error        { return readOnly("link", name) }
func (t *tarFS) RenameNew(_, name string) error   { return readOnly("rename", name) }
func (t *tarFS) Rename(_, name string) error      { return readOnly("rename", name) }
func (t *tarFS) Remove(name string) error         { return readOnly("remove", name) }
func (t *tarFS) SyncDir(name string) error        { return readOnly("sync", name) }
