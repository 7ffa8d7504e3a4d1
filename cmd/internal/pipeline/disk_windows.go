package pipeline

import (
	"os"

	"golang.org/x/sys/windows"
)

// DiskOf asks the file system of a path how many bytes may still be written to
// it, and how many it has; not known where it can't be asked.
func DiskOf(path string) (free, size uint64, known bool) {
	p, err := windows.UTF16PtrFromString(path)
	if err != nil {
		return 0, 0, false
	}
	err = windows.GetDiskFreeSpaceEx(p, &free, &size, nil)
	return free, size, err == nil
}

// Writable is nil for a folder in which this program may make and remove
// files, as far as can be told without making one.
func Writable(dir string) error {
	f, err := os.Open(dir)
	if err != nil {
		return err
	}
	return f.Close()
}
