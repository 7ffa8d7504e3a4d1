package folder

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"time"
)

// An FS is what a watcher needs of a file system. Errors are those of os;
// errors.Is with fs.ErrExist and ErrOtherDevice must work.
type FS interface {
	// List gives the entries of a folder without following links.
	List(dir string) ([]fs.FileInfo, error)
	// Read reads a plain file whole, and gives its size and time as they
	// were after reading. More than limit bytes is an error.
	Read(path string, limit int64) ([]byte, fs.FileInfo, error)
	Stat(path string) (fs.FileInfo, error) // without following a link
	MakeDir(dir string) error
	// Move renames a file and fails with fs.ErrExist where the new name is
	// taken, and with ErrOtherDevice where renaming is not possible.
	Move(from, to string) error
	// Write makes a new file, written through to the disk. It bears a time of
	// change where one is given.
	Write(path string, b []byte, modified time.Time) error
	Remove(path string) error
	SyncDir(dir string) error
}

// ErrOtherDevice says that a file can't be renamed, only copied.
var ErrOtherDevice = errors.New("the folders are on different devices")

// Disk is the FS of the machine.
type Disk struct{}

var _ FS = Disk{}

// List implements [FS]. A file that goes while it is listed is left out.
func (Disk) List(dir string) ([]fs.FileInfo, error) {
	names, err := os.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	out := make([]fs.FileInfo, 0, len(names))
	for _, n := range names {
		info, err := n.Info()
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return nil, err
		}
		out = append(out, info)
	}
	return out, nil
}

// Read implements [FS].
func (Disk) Read(path string, limit int64) ([]byte, fs.FileInfo, error) {
	before, err := os.Lstat(path)
	if err != nil {
		return nil, nil, err
	}
	if !before.Mode().IsRegular() {
		return nil, nil, fmt.Errorf("%s is not a plain file", filepath.Base(path))
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, nil, err
	}
	defer f.Close()
	if opened, err := f.Stat(); err != nil || !os.SameFile(before, opened) {
		return nil, nil, fmt.Errorf("%s was replaced while it was opened", filepath.Base(path))
	}
	// One more than the size, so that a file that grew is noticed.
	b := make([]byte, 0, min(before.Size(), limit)+1)
	for {
		n, err := f.Read(b[len(b):cap(b)])
		b = b[:len(b)+n]
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, nil, err
		}
		if int64(len(b)) > limit {
			return nil, nil, fmt.Errorf("%s grew beyond %d bytes while it was read", filepath.Base(path), limit)
		}
		if len(b) == cap(b) {
			b = append(b, 0)[:len(b)]
		}
	}
	after, err := f.Stat()
	return b, after, err
}

// Stat implements [FS].
func (Disk) Stat(path string) (fs.FileInfo, error) { return os.Lstat(path) }

// MakeDir implements [FS].
func (Disk) MakeDir(dir string) error { return os.MkdirAll(dir, 0o750) }

// Move implements [FS].
func (Disk) Move(from, to string) error {
	err := moveNoReplace(from, to)
	if isOtherDevice(err) {
		return fmt.Errorf("%w: %w", ErrOtherDevice, err)
	}
	return err
}

// moveReserving renames where the system can't refuse to overwrite by itself:
// the new name is taken with an empty file first, and then replaced.
func moveReserving(from, to string) error {
	f, err := os.OpenFile(to, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o640)
	if err != nil {
		return err
	}
	_ = f.Close()
	if err := os.Rename(from, to); err != nil {
		_ = os.Remove(to) // the empty file made above
		return err
	}
	return nil
}

// Write implements [FS].
func (Disk) Write(path string, b []byte, modified time.Time) error {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o640)
	if err != nil {
		return err
	}
	_, err = f.Write(b)
	err = errors.Join(err, f.Sync(), f.Close())
	if err == nil && !modified.IsZero() {
		err = os.Chtimes(path, time.Time{}, modified)
	}
	if err != nil {
		_ = os.Remove(path)
	}
	return err
}

// Remove implements [FS].
func (Disk) Remove(path string) error { return os.Remove(path) }

// SyncDir implements [FS]. Not every system can write a folder through; there
// the file's own fsync has to do.
func (Disk) SyncDir(dir string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	err = d.Sync()
	_ = d.Close()
	if err != nil && !notSupported(err) {
		return err
	}
	return nil
}
