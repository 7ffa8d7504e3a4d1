package ingest

import (
	"errors"
	"io/fs"
	"syscall"
)

// Cause is why the system refused something, in words for a person who has
// never seen its messages. What is not known here is said in the system's own
// words, without the names of files, which a [Reason] has in its place.
func Cause(err error) string {
	for _, c := range []struct {
		is   error
		says string
	}{
		{fs.ErrNotExist, "nothing is there under this name"},
		{fs.ErrPermission, "the rights do not allow it"},
		{syscall.ENOSPC, "the disk is full"},
		{syscall.EROFS, "the disk can only be read"},
		{syscall.ENOTDIR, "a part of the path is a file, not a folder"},
		{syscall.EISDIR, "it is a folder"},
		{syscall.ENAMETOOLONG, "the name is too long"},
		{syscall.EADDRINUSE, "another program uses it already"},
		{syscall.EIO, "the disk or the network reported a fault"},
	} {
		if errors.Is(err, c.is) {
			return c.says
		}
	}
	var pe *fs.PathError
	if errors.As(err, &pe) {
		return pe.Err.Error()
	}
	return err.Error()
}
