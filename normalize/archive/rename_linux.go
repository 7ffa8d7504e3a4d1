package archive

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// renameNew moves a file to a name that must not exist, in one step.
func renameNew(old, name string) error {
	err := unix.Renameat2(unix.AT_FDCWD, old, unix.AT_FDCWD, name, unix.RENAME_NOREPLACE)
	if errors.Is(err, unix.EINVAL) { // the kernel's word for a file system without it
		return errors.ErrUnsupported
	}
	if err != nil {
		return &os.LinkError{Op: "renameat2", Old: old, New: name, Err: err}
	}
	return nil
}
