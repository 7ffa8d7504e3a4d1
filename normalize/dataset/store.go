package dataset

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
)

// A Store is where a dataset in parts is kept: a [Folder], or a bucket of an
// object store. Names have forward slashes. A store must let one of several
// writers of one name win, and show a file whole or not at all.
type Store interface {
	// Name is what people call the store.
	Name() string
	// PutNew writes a file that must not be there; the error for one that is
	// answers to [fs.ErrExist].
	PutNew(name string, b []byte) error
	// ReadFile reads a whole file.
	ReadFile(name string) ([]byte, error)
	// Remove deletes a file.
	Remove(name string) error
	// Names are the names of all files, in order.
	Names() ([]string, error)
}

// A Folder is a Store in a folder of the operating system, which is made with
// the first file in it.
type Folder string

// unfinished begins the names of files that are being written. Hive, Spark and
// Trino pass over names that begin with a dot, and no pattern for parts fits it.
const unfinished = ".writing-"

// Name is the folder's path.
func (d Folder) Name() string { return string(d) }

func (d Folder) at(name string) string { return filepath.Join(string(d), filepath.FromSlash(name)) }

// PutNew writes a file and puts it on the disk before it has its name.
func (d Folder) PutNew(name string, b []byte) error {
	at := d.at(name)
	if err := os.MkdirAll(filepath.Dir(at), 0o755); err != nil {
		return err
	}
	f, err := os.CreateTemp(filepath.Dir(at), unfinished+"*")
	if err != nil {
		return err
	}
	tmp := f.Name()
	defer func() { _ = os.Remove(tmp) }() // it has its name, or is nothing
	_, err = f.Write(b)
	err = errors.Join(err, f.Chmod(0o644), f.Sync(), f.Close())
	if err != nil {
		return err
	}
	err = os.Link(tmp, at)
	if err != nil && !errors.Is(err, fs.ErrExist) { // a file system without links
		if _, there := os.Lstat(at); there == nil {
			return &fs.PathError{Op: "write", Path: at, Err: fs.ErrExist}
		}
		err = os.Rename(tmp, at)
	}
	if err != nil {
		return err
	}
	return syncDir(filepath.Dir(at))
}

func syncDir(dir string) error {
	if runtime.GOOS == "windows" {
		return nil // a folder can't be opened for this there
	}
	f, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// ReadFile reads a whole file.
func (d Folder) ReadFile(name string) ([]byte, error) { return os.ReadFile(d.at(name)) }

// Remove deletes a file, and the folders that are empty then.
func (d Folder) Remove(name string) error {
	if err := os.Remove(d.at(name)); err != nil {
		return err
	}
	for up := filepath.Dir(filepath.FromSlash(name)); up != "."; up = filepath.Dir(up) {
		if os.Remove(filepath.Join(string(d), up)) != nil {
			break // something else is in it
		}
	}
	return nil
}

// Names are the names of all files, in order; none where there is no folder.
func (d Folder) Names() ([]string, error) {
	var out []string
	err := filepath.WalkDir(string(d), func(path string, e fs.DirEntry, err error) error {
		if err != nil {
			if errors.Is(err, fs.ErrNotExist) && path == string(d) {
				return fs.SkipAll
			}
			return err
		}
		if e.IsDir() {
			return nil
		}
		rel, err := filepath.Rel(string(d), path)
		if err != nil {
			return err
		}
		out = append(out, filepath.ToSlash(rel))
		return nil
	})
	slices.SortFunc(out, strings.Compare)
	return out, err
}
