package archive

import (
	"errors"
	"io/fs"
	"syscall"

	"example.org/windrow/ingest"
)

// The kinds of failure, for errors.Is. Each error of this package also holds
// an *ingest.Reason for people, which errors.As and [ingest.AsReason] find.
var (
	// ErrNotFound: the archive has nothing under that key.
	ErrNotFound = errors.New("not in the archive")
	// ErrErased: what the archive had under that key was erased on request. It
	// is an ErrNotFound too.
	ErrErased = errors.New("erased from the archive")
	// ErrDamaged: what the archive has doesn't agree with its checksum. The
	// bytes come with the error, so that a person can look at them.
	ErrDamaged = errors.New("damaged in the archive")
	// ErrConflict: other bytes already stand under that key.
	ErrConflict = errors.New("other content under the same key")
	// ErrKey: a kind, id or hash that the archive can't use as a name.
	ErrKey = errors.New("not usable as a key")
	// ErrFormat: the folder is no archive, or one of a later version.
	ErrFormat = errors.New("not an archive of this version")
)

// A fault is a failure with its kind, its cause and its words.
type fault struct {
	reason *ingest.Reason
	causes []error
}

func (f *fault) Error() string   { return f.reason.Error() }
func (f *fault) Unwrap() []error { return append([]error{f.reason}, f.causes...) }

func newFault(kind, cause error, r ingest.Reason) error {
	r.Severity = ingest.Fail
	f := &fault{reason: &r}
	for _, c := range []error{kind, cause} {
		if c != nil {
			f.causes = append(f.causes, c)
		}
	}
	return f
}

func notFound(what string) error {
	return newFault(ErrNotFound, fs.ErrNotExist, ingest.Reason{
		Code: "archive-not-found", What: "the archive has no " + what,
		Next: "check the number; if it should be there, run windrow archive verify"})
}

func damaged(path, want, got string) error {
	return newFault(ErrDamaged, nil, ingest.Reason{
		Code: "archive-damaged", Where: ingest.Place{File: path},
		What:     "the file in the archive is not what was put there",
		Expected: "SHA-256 " + want, Found: "SHA-256 " + got,
		Next: "bring this file back from a backup; run windrow archive verify to see whether there are others"})
}

func badKey(what, found, expected string) error {
	return newFault(ErrKey, nil, ingest.Reason{
		Code: "archive-key", What: what + " can't be a key of the archive",
		Expected: expected, Found: found, Next: "report this: it is a fault of the program and not of the file"})
}

// ioFault words a failure of the file system. path is the place in the
// archive that was being worked on.
func ioFault(doing, path string, err error) error {
	if err == nil {
		return nil
	}
	var f *fault
	if errors.As(err, &f) {
		return err
	}
	var own *ingest.Reason
	if errors.As(err, &own) { // a store that has words for it
		return newFault(nil, err, *own)
	}
	r := ingest.Reason{Code: "archive-failed", Where: ingest.Place{File: path},
		What: "the archive could not " + doing, Found: err.Error(),
		Next: "nothing was lost; check the disk and the rights of the folder, then run again"}
	switch {
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT):
		r.Code = "archive-disk-full"
		r.What = "there is no room left on the disk of the archive"
		r.Next = "nothing was lost; make room, then run again"
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		r.Code = "archive-no-rights"
		r.What = "the archive could not " + doing + ": this account may not"
		r.Next = "nothing was lost; give the account that runs Windrow the right to write to the folder, then run again"
	case errors.Is(err, fs.ErrNotExist):
		r.Code = "archive-gone"
		r.What = "the archive's folder, or a part of it, is not there"
		r.Next = "nothing was lost; if it lies on a network share, connect it again, then run again"
	}
	return newFault(nil, err, r)
}
