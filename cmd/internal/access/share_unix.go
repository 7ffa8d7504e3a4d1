//go:build unix

package access

import (
	"os"
	"path/filepath"
	"syscall"

	"golang.org/x/sys/unix"
)

// lockWhole waits until no other process writes, and gives what lets the next
// one. The system lets go of it when the process ends.
func lockWhole(f *os.File) (unlock func(), err error) {
	for {
		if err = unix.Flock(int(f.Fd()), unix.LOCK_EX); err != unix.EINTR {
			break
		}
	}
	if err != nil {
		return nil, err
	}
	return func() { _ = unix.Flock(int(f.Fd()), unix.LOCK_UN) }, nil
}

// ownAs gives a new file of root's to whom the file of that name belongs, or
// its folder: the program that serves is another account's, and must read it.
func ownAs(f *os.File, path string) error {
	if os.Geteuid() != 0 {
		return nil
	}
	fi, err := os.Stat(path)
	if err != nil {
		if fi, err = os.Stat(filepath.Dir(path)); err != nil {
			return err
		}
	}
	if st, ok := fi.Sys().(*syscall.Stat_t); ok && st.Uid != 0 {
		return f.Chown(int(st.Uid), int(st.Gid))
	}
	return nil
}
