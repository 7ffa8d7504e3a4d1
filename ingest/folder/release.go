package folder

import (
	"io/fs"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"example.org/windrow/ingest"
)

// A Shelf is a folder of held files as it lies there now. It is looked
// through once, when first asked. It is safe for concurrent use.
type Shelf struct {
	dir    string
	fs     FS
	once   sync.Once
	mu     sync.Mutex
	byHash map[string][]string // SHA-256 of the bytes -> paths
}

// NewShelf is the folder of held files at dir. A nil disk is that of the
// machine.
func NewShelf(dir string, disk FS) *Shelf {
	if disk == nil {
		disk = Disk{}
	}
	return &Shelf{dir: dir, fs: disk}
}

// Has reports whether the folder holds a file of these bytes.
func (s *Shelf) Has(hash string) bool {
	s.once.Do(s.look)
	s.mu.Lock()
	defer s.mu.Unlock()
	return len(s.byHash[hash]) > 0
}

// Release moves the files of these bytes, which a person's decision or a
// repaired mapping has released, to the handled ones in done, as if they had
// been taken at once, and throws away their notes, which are not so any more.
// It gives where the files lie now. What can't be moved is told by the error,
// and stays with its note.
func (s *Shelf) Release(hash, done string, now time.Time) (moved []string, err error) {
	s.once.Do(s.look)
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, path := range s.byHash[hash] {
		info, serr := s.fs.Stat(path)
		if serr != nil {
			continue // someone took it away
		}
		w := &Watcher{opt: Options{FS: s.fs, Clock: stopped(now)}}
		e := &entry{folder: &Settings{Dir: s.dir, Done: done}, name: filepath.Base(path), path: path, size: info.Size(), modified: info.ModTime()}
		to, merr := w.file(e, &Outcome{Result: Done})
		if merr != nil {
			return moved, &ingest.Reason{Code: "not-filed", Severity: ingest.Flag, Where: ingest.Place{File: path}, What: "the report is used now, but its file can't be moved out of the folder of held ones",
				Found: ingest.Cause(merr), Next: "see whether the disk is full and whether Windrow may write to " + done + "; or move the file there yourself, and throw its note away"}
		}
		if info, serr := s.fs.Stat(path + whyEnd); serr == nil && info.Mode().IsRegular() {
			_ = s.fs.Remove(path + whyEnd)
		}
		moved = append(moved, to)
	}
	delete(s.byHash, hash)
	return moved, nil
}

// look hashes what lies in the folder. What can't be read isn't known here.
func (s *Shelf) look() {
	s.byHash = map[string][]string{}
	list, err := s.fs.List(s.dir)
	if err != nil {
		return
	}
	for _, info := range list {
		if info.Mode()&fs.ModeType != 0 || strings.HasSuffix(info.Name(), whyEnd) || strings.HasPrefix(info.Name(), ".") {
			continue
		}
		path := filepath.Join(s.dir, info.Name())
		b, _, err := s.fs.Read(path, info.Size())
		if err != nil {
			continue
		}
		h := ingest.NewSource(info.Name(), b).SHA256
		s.byHash[h] = append(s.byHash[h], path)
	}
}

// stopped is a clock that stands still.
type stopped time.Time

func (s stopped) Now() time.Time                         { return time.Time(s) }
func (s stopped) After(d time.Duration) <-chan time.Time { return time.After(d) }
