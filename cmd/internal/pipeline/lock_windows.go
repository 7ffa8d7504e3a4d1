package pipeline

import (
	"os"

	"golang.org/x/sys/windows"
)

// tryLock takes the lock of an open file, or fails at once. The locked byte
// lies beyond the text, which others may then still read.
func tryLock(f *os.File) error {
	return windows.LockFileEx(windows.Handle(f.Fd()), windows.LOCKFILE_EXCLUSIVE_LOCK|windows.LOCKFILE_FAIL_IMMEDIATELY, 0, 1, 0, &windows.Overlapped{Offset: 1 << 20})
}
