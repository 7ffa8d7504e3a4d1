package folder

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// moveNoReplace renames in one step that fails where the name is taken.
func moveNoReplace(from, to string) error {
	err := unix.Renameat2(unix.AT_FDCWD, from, unix.AT_FDCWD, to, unix.RENAME_NOREPLACE)
	switch {
	case err == nil:
		return nil
	case errors.Is(err, unix.EINVAL), errors.Is(err, unix.ENOSYS), errors.Is(err, unix.EOPNOTSUPP):
		return moveReserving(from, to) // some network file systems
	}
	return &os.LinkError{Op: "rename", Old: from, New: to, Err: err}
}

func isOtherDevice(err error) bool { return errors.Is(err, unix.EXDEV) }

func notSupported(err error) bool {
	return errors.Is(err, unix.EINVAL) || errors.Is(err, unix.EOPNOTSUPP)
}
