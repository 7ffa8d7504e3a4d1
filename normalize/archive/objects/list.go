package objects

import (
	"context"
	"errors"
	"io"
	"io/fs"
	"path"
	"slices"
	"strings"
	"time"

	"gocloud.dev/blob"

	"example.org/windrow/normalize/archive"
)

// own are the folders that every archive has, right below its root.
func own() []string {
	return append([]string{"arrivals", "incoming", "originals"}, archive.Kinds()...)
}

// ended reports whether a list has come to its end. A connection that the store
// cuts ends with an io.EOF too, inside an error that says so: taken for the end
// of the list, it would make an archive seem to hold less than it does.
func ended(err error) bool { return err == io.EOF } //nolint:errorlint // only the end itself is io.EOF and nothing else

// list gives what lies right below a prefix, which ends with a slash or is
// empty, in order; only narrows it to the keys that begin so.
func (s *Store) list(ctx context.Context, prefix, only string) ([]fs.DirEntry, error) {
	if only == "" {
		only = prefix
	}
	var out []fs.DirEntry
	for it := s.bucket.List(&blob.ListOptions{Prefix: only, Delimiter: "/"}); ; {
		o, err := it.Next(ctx)
		if ended(err) {
			break
		}
		if err != nil {
			return nil, s.wrong("list", prefix, err)
		}
		i := info{name: path.Base(o.Key), size: o.Size, mode: 0o444, mod: o.ModTime}
		if o.IsDir {
			i.mode, i.size = fs.ModeDir|0o555, 0
		} else if o.Key == prefix {
			continue // other programs write such a key to show an empty folder
		}
		out = append(out, fs.FileInfoToDirEntry(i))
	}
	slices.SortFunc(out, func(x, y fs.DirEntry) int { return strings.Compare(x.Name(), y.Name()) })
	return out, nil
}

// Names lists all files, in order.
func (s *Store) Names() ([]string, error) {
	ctx, cancel := s.call()
	defer cancel()
	var out []string
	for it := s.bucket.List(nil); ; {
		o, err := it.Next(ctx)
		if ended(err) {
			slices.Sort(out)
			return out, nil
		}
		if err != nil {
			return nil, s.wrong("list", ".", err)
		}
		out = append(out, o.Key)
	}
}

// ReadDir lists a folder by name. A folder without anything in it is not
// there, except the archive's own.
func (s *Store) ReadDir(name string) ([]fs.DirEntry, error) {
	ctx, cancel := s.call()
	defer cancel()
	k := key(name)
	prefix := k + "/"
	if k == "." {
		prefix = ""
	}
	es, err := s.list(ctx, prefix, "")
	if err != nil {
		return nil, err
	}
	switch {
	case k == "." && slices.ContainsFunc(es, func(e fs.DirEntry) bool { return e.Name() == "format.json" }):
		for _, d := range own() {
			if !slices.ContainsFunc(es, func(e fs.DirEntry) bool { return e.Name() == d }) {
				es = append(es, fs.FileInfoToDirEntry(info{name: d, mode: fs.ModeDir | 0o555}))
			}
		}
		slices.SortFunc(es, func(x, y fs.DirEntry) int { return strings.Compare(x.Name(), y.Name()) })
	case k == ".", len(es) > 0, slices.Contains(own(), k):
	default:
		return nil, &fs.PathError{Op: "readdir", Path: name, Err: fs.ErrNotExist}
	}
	return es, nil
}

// Lstat describes a name.
func (s *Store) Lstat(name string) (fs.FileInfo, error) {
	k := key(name)
	dir := info{name: path.Base(k), mode: fs.ModeDir | 0o555}
	if k == "." || slices.Contains(own(), k) {
		return dir, nil
	}
	ctx, cancel := s.call()
	defer cancel()
	at, err := s.bucket.Attributes(ctx, k)
	if err == nil {
		return info{path.Base(k), at.Size, 0o444, at.ModTime}, nil
	}
	if err := s.wrong("lstat", k, err); !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	_, err = s.bucket.List(&blob.ListOptions{Prefix: k + "/"}).Next(ctx)
	if ended(err) {
		return nil, &fs.PathError{Op: "lstat", Path: name, Err: fs.ErrNotExist}
	}
	if err != nil {
		return nil, s.wrong("lstat", k, err)
	}
	return dir, nil
}

// An info describes an object, or a folder, which only the names in it make.
type info struct {
	name string
	size int64
	mode fs.FileMode
	mod  time.Time
}

// Name implements fs.FileInfo.
func (i info) Name() string { return i.name }

// Size implements fs.FileInfo.
func (i info) Size() int64 { return i.size }

// Mode implements fs.FileInfo.
func (i info) Mode() fs.FileMode { return i.mode }

// ModTime implements fs.FileInfo.
func (i info) ModTime() time.Time { return i.mod }

// IsDir implements fs.FileInfo.
func (i info) IsDir() bool { return i.mode.IsDir() }

// Sys implements fs.FileInfo.
func (info) Sys() any { return nil }
