package archive

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"runtime"
	"syscall"
)

// An FS is the part of a file system that an archive uses. It exists so that
// tests can fill the disk, cut the power and stop the process at any call.
// Names are paths of the operating system. Errors for a name that exists or
// is absent answer to [fs.ErrExist] and [fs.ErrNotExist]; an operation that
// the file system can't do at all answers to [errors.ErrUnsupported].
type FS interface {
	// Mkdir makes one folder.
	Mkdir(name string) error
	// Create opens a new file for writing; the name must not exist.
	Create(name string) (File, error)
	// Link gives a file a second name, which must not exist.
	Link(old, name string) error
	// RenameNew moves a file to a name that must not exist.
	RenameNew(old, name string) error
	// Rename moves a file and replaces what stands there.
	Rename(old, name string) error
	// Remove deletes a file.
	Remove(name string) error
	// SyncDir puts the entries of a folder on the disk.
	SyncDir(name string) error
	// ReadFile reads a whole file.
	ReadFile(name string) ([]byte, error)
	// ReadDir lists a folder by name.
	ReadDir(name string) ([]fs.DirEntry, error)
	// Lstat describes a name without following links.
	Lstat(name string) (fs.FileInfo, error)
}

// A File is a new file that is being written.
type File interface {
	io.WriteCloser
	// ReadOnly takes the right to write from everybody, where the file
	// system knows rights.
	ReadOnly() error
	// Sync puts the bytes on the disk.
	Sync() error
}

// OS is the file system of the operating system.
func OS() FS { return osFS{} }

type osFS struct{}

type osFile struct{ *os.File }

// Folders are for the office's own account and group: an archive holds names
// and addresses.
func (osFS) Mkdir(name string) error { return os.Mkdir(name, 0o750) }

func (osFS) Create(name string) (File, error) {
	f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o640)
	if err != nil {
		return nil, err
	}
	return osFile{f}, nil
}

func (osFS) Link(old, name string) error { return unsupported(os.Link(old, name)) }

func (osFS) RenameNew(old, name string) error { return unsupported(renameNew(old, name)) }

func (osFS) Rename(old, name string) error { return os.Rename(old, name) }

func (osFS) Remove(name string) error { return os.Remove(name) }

func (osFS) SyncDir(name string) error {
	if runtime.GOOS == "windows" {
		return nil // a folder can't be opened for this there; NTFS journals its entries itself
	}
	d, err := os.Open(name)
	if err != nil {
		return err
	}
	err = d.Sync()
	if isUnsupported(err) || errors.Is(err, syscall.EINVAL) {
		err = nil // some network shares have no such call and write entries through
	}
	if c := d.Close(); err == nil {
		err = c
	}
	return err
}

func (osFS) ReadFile(name string) ([]byte, error)       { return os.ReadFile(name) }
func (osFS) ReadDir(name string) ([]fs.DirEntry, error) { return os.ReadDir(name) }
func (osFS) Lstat(name string) (fs.FileInfo, error)     { return os.Lstat(name) }

func (f osFile) ReadOnly() error {
	if err := f.Chmod(0o444); err != nil && !isUnsupported(err) {
		return err
	}
	return nil
}

// unsupported turns the several ways in which a file system says that it
// can't do something into one.
func unsupported(err error) error {
	if err != nil && !errors.Is(err, fs.ErrExist) && isUnsupported(err) {
		return errors.Join(errors.ErrUnsupported, err)
	}
	return err
}

// isUnsupported counts EPERM in, since that is what Linux answers for a hard
// link on FAT and many shares. A real lack of rights shows again at the next
// call, so nothing is hidden.
func isUnsupported(err error) bool {
	return errors.Is(err, errors.ErrUnsupported) || errors.Is(err, syscall.EPERM)
}
