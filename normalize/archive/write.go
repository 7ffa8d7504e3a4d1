package archive

import (
	"bytes"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"path/filepath"
	"strings"

	"example.org/windrow/ingest"
)

// rel is a path as people are shown it: from the archive's folder, with
// forward slashes.
func (a *Archive) rel(path string) string {
	r, err := filepath.Rel(a.dir, path)
	if err != nil {
		return path
	}
	return filepath.ToSlash(r)
}

// ensure makes the folders top/elem... and puts their entries on the disk.
// It makes neither the root nor the folders right below it: if those are
// gone, a share is not connected, and writing would go to the wrong place.
func (a *Archive) ensure(top string, elem ...string) (string, error) {
	parent, dir := a.dir, a.path(top)
	for i := 0; ; i++ {
		a.mu.Lock()
		done := a.rooted[dir]
		a.mu.Unlock()
		if !done {
			if i > 0 {
				if err := a.fs.Mkdir(dir); err != nil && !errors.Is(err, fs.ErrExist) {
					return "", ioFault("make a folder", a.rel(dir), err)
				}
			}
			// Also when it exists: who made it may have died before this.
			if err := a.fs.SyncDir(parent); err != nil {
				return "", ioFault("make a folder", a.rel(dir), err)
			}
			a.mu.Lock()
			a.rooted[dir] = true
			a.mu.Unlock()
		}
		if i == len(elem) {
			return dir, nil
		}
		parent, dir = dir, filepath.Join(dir, elem[i])
	}
}

// forget drops what is believed about folders, after one has turned out to
// be missing.
func (a *Archive) forget() {
	a.mu.Lock()
	clear(a.rooted)
	a.mu.Unlock()
}

// put writes a file once under the archive's root, making folders as needed.
// It reports whether this call was the one that wrote it. Other bytes under
// that name give ErrConflict. When it returns without error the bytes and
// the names that lead to them are on the disk.
func (a *Archive) put(b []byte, name, top string, elem ...string) (isNew bool, err error) {
	for try := 0; ; try++ {
		dir, err := a.ensure(top, elem...)
		if err == nil {
			isNew, err = a.writeNew(dir, name, b)
		}
		if err == nil || try > 0 || !errors.Is(err, fs.ErrNotExist) {
			return isNew, err
		}
		a.forget() // the folder was there when we last looked
	}
}

// writeNew writes dir/name once: a temporary file on the disk before it gets
// its name, and the name without replacing anything.
func (a *Archive) writeNew(dir, name string, b []byte) (bool, error) {
	path := filepath.Join(dir, name)
	switch state, err := a.compare(path, b); {
	case err != nil:
		return false, err
	case state == same:
		return false, a.settle(dir)
	}
	tmp, err := a.writeTemp(b)
	if err != nil {
		return false, err
	}
	won, err := a.name(tmp, path, b)
	if err != nil {
		_ = a.fs.Remove(tmp) // if this fails too, the next sweep has it
		return false, ioFault("keep a file", a.rel(path), err)
	}
	return won, a.settle(dir)
}

// settle puts the entries of a folder on the disk. It is also called when
// the file was already there, since the process that wrote it may have died
// before doing this, and our caller is about to rely on it.
func (a *Archive) settle(dir string) error {
	return ioFault("put a folder on the disk", a.rel(dir), a.fs.SyncDir(dir))
}

type state int

const (
	absent   state = iota
	same           // stands there with these bytes
	reserved       // an empty file: a name taken by a writer that hasn't finished, or died
)

// compare says how a name stands to the bytes that should be under it.
func (a *Archive) compare(path string, b []byte) (state, error) {
	have, err := a.fs.ReadFile(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return absent, nil
	case err != nil:
		return absent, ioFault("read a file", a.rel(path), err)
	case bytes.Equal(have, b):
		return same, nil
	case len(have) == 0:
		return reserved, nil
	}
	return absent, newFault(ErrConflict, nil, ingest.Reason{Code: "archive-conflict", Where: ingest.Place{File: a.rel(path)},
		What: "the archive already has other content under this name, and replaces nothing",
		Next: "run windrow archive verify: the file that stands there may be damaged"})
}

// writeTemp writes b to a temporary file; see writeTempFrom.
func (a *Archive) writeTemp(b []byte) (tmp string, err error) {
	return a.writeTempFrom(func(w io.Writer) error {
		_, err := w.Write(b)
		return err
	})
}

// A wholeWriter makes a write that came short an error, also for those who
// look at the error alone.
type wholeWriter struct{ w io.Writer }

func (w wholeWriter) Write(b []byte) (int, error) {
	n, err := w.w.Write(b)
	if err == nil && n != len(b) {
		err = io.ErrShortWrite
	}
	return n, err
}

// writeTempFrom makes a temporary file, read-only and on the disk. All are in
// one folder of the archive, so on its disk, and so that looking for those
// that a crash has left costs nothing however large the archive has grown.
func (a *Archive) writeTempFrom(write func(io.Writer) error) (tmp string, err error) {
	var r [8]byte
	_, _ = rand.Read(r[:]) // never fails
	tmp = a.path(incomingDir, hex.EncodeToString(r[:]))
	f, err := a.fs.Create(tmp)
	if err != nil {
		return "", ioFault("make a file", a.rel(tmp), err)
	}
	err = write(wholeWriter{f})
	if err == nil {
		err = f.ReadOnly()
	}
	if err == nil {
		err = f.Sync()
	}
	if c := f.Close(); err == nil {
		err = c
	}
	if err != nil {
		_ = a.fs.Remove(tmp)
		return "", ioFault("write a file", a.rel(tmp), err)
	}
	return tmp, nil
}

// name gives a finished temporary file its name without replacing anything,
// and reports whether it was this call that did. There are three ways, since
// not every file system has the better ones: a hard link; a move that refuses
// to replace; and an empty file that reserves the name and that only its
// maker replaces.
func (a *Archive) name(tmp, path string, b []byte) (bool, error) {
	err := a.fs.Link(tmp, path)
	if err == nil {
		_ = a.fs.Remove(tmp) // the file stands; the next sweep has a leftover
		return true, nil
	}
	if errors.Is(err, errors.ErrUnsupported) {
		err = a.fs.RenameNew(tmp, path)
		if err == nil {
			return true, nil
		}
	}
	if errors.Is(err, errors.ErrUnsupported) {
		var f File
		if f, err = a.fs.Create(path); err == nil {
			if err = f.Close(); err != nil {
				return false, err
			}
			return true, a.fs.Rename(tmp, path)
		}
	}
	if !errors.Is(err, fs.ErrExist) {
		return false, err
	}
	switch state, err := a.compare(path, b); {
	case err != nil:
		return false, err
	case state == same:
		_ = a.fs.Remove(tmp)
		return false, nil
	case state == reserved && determined(filepath.Base(path)):
		return true, a.fs.Rename(tmp, path)
	}
	return false, newFault(ErrConflict, nil, ingest.Reason{Code: "archive-conflict", Where: ingest.Place{File: a.rel(path)},
		What: "another writer has taken this name and not finished", Next: "run again"})
}

// determined reports whether the name of a file leaves only one content for
// it, so that finishing what another writer began under it is safe.
func determined(name string) bool {
	return isOriginal(name) || strings.HasSuffix(name, sumSuffix) || name == formatFile || name == readmeFile
}

// sweep removes temporary files that no living process can be writing. Age
// is measured against a file made just now on the same disk, so that neither
// our clock nor a file server's needs to be right.
func (a *Archive) sweep() error {
	es, err := a.fs.ReadDir(a.path(incomingDir))
	if err != nil || len(es) == 0 {
		return err
	}
	probe, err := a.writeTemp([]byte("probe\n"))
	if err != nil {
		return err
	}
	defer func() { _ = a.fs.Remove(probe) }()
	now, err := a.fs.Lstat(probe)
	if err != nil {
		return err
	}
	for _, e := range es {
		i, err := e.Info()
		if err != nil || !i.Mode().IsRegular() || now.ModTime().Sub(i.ModTime()) <= staleTemp {
			continue // gone meanwhile, not ours, or perhaps still being written
		}
		if err := a.fs.Remove(a.path(incomingDir, e.Name())); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	return nil
}

// walk visits everything under a folder that is not itself a folder, in
// order of names.
func (a *Archive) walk(dir string, visit func(path string, e fs.DirEntry) error) error {
	es, err := a.fs.ReadDir(dir)
	if err != nil {
		return ioFault("list a folder", a.rel(dir), err)
	}
	for _, e := range es {
		p := filepath.Join(dir, e.Name())
		if e.IsDir() {
			err = a.walk(p, visit)
		} else {
			err = visit(p, e)
		}
		if err != nil {
			return err
		}
	}
	return nil
}
