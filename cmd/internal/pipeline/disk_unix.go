//go:build unix

package pipeline

import "golang.org/x/sys/unix"

// DiskOf asks the file system of a path how many bytes may still be written to
// it, and how many it has; not known where it can't be asked.
func DiskOf(path string) (free, size uint64, known bool) {
	var s unix.Statfs_t
	if err := unix.Statfs(path, &s); err != nil || s.Bsize <= 0 {
		return 0, 0, false
	}
	block := uint64(s.Bsize)
	return uint64(s.Bavail) * block, uint64(s.Blocks) * block, true //nolint:unconvert // it is signed on some systems
}

// Writable is nil for a folder in which this program may make and remove
// files. It makes none: it may be asked every few seconds.
func Writable(dir string) error {
	return unix.Access(dir, unix.R_OK|unix.W_OK|unix.X_OK)
}
