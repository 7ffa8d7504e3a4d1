//go:build unix

package pipeline

import (
	"os"

	"golang.org/x/sys/unix"
)

// tryLock takes the lock of an open file, or fails at once.
func tryLock(f *os.File) error { return unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB) }
