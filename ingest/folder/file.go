package folder

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"strings"
	"time"
	"unicode/utf8"
)

// longestName is the longest name of a file in bytes; most file systems
// allow 255, and a note's ending and a number have to fit.
const longestName = 220

// file moves a handled file to where it belongs and gives its new path.
func (w *Watcher) file(e *entry, o *Outcome) (string, error) {
	w.filing.Lock()
	defer w.filing.Unlock()
	now := w.opt.Clock.Now()
	if info, err := w.opt.FS.Stat(e.path); err != nil || info.Size() != e.size || !info.ModTime().Equal(e.modified) {
		// Someone took the file away, or put another in its place while the
		// first was in hand. The first is kept; another is a new file.
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return "", err
		}
		return "(no longer there)", nil
	}
	dir, name := e.folder.Done, now.Format("2006-01-02")+"_"+e.name
	if o.Result == Held {
		dir, name = e.folder.Held, e.name
	}
	if err := w.opt.FS.MakeDir(dir); err != nil {
		return "", err
	}
	for n := 1; n < 100_000; n++ {
		to := filepath.Join(dir, numbered(name, n))
		info, err := w.opt.FS.Stat(to)
		copied := err == nil && w.copied(e, info, to)
		if err == nil && !copied {
			continue
		}
		note := ""
		if o.Result == Held {
			note = to + whyEnd
			text := Why(Note{Name: e.name, Folder: *e.folder, Lies: to, When: now, Reasons: o.Reasons, Used: o.Used})
			if err := w.replace(note, []byte(text)); err != nil {
				return "", err
			}
		}
		if copied {
			return to, w.opt.FS.Remove(e.path)
		}
		err = w.move(e, to)
		if err == nil {
			return to, nil
		}
		if note != "" {
			_ = w.opt.FS.Remove(note)
		}
		if !errors.Is(err, fs.ErrExist) {
			return "", err
		}
	}
	return "", fmt.Errorf("no free name for %s in %s", name, dir)
}

// copied reports whether a filed one is this very file: its name, time and
// bytes. Between devices, a process that ends after the copy has its name and
// before the original is gone leaves both; filing it once more would make two
// of one.
func (w *Watcher) copied(e *entry, info fs.FileInfo, to string) bool {
	if !info.Mode().IsRegular() || info.Size() != e.size || !info.ModTime().Equal(e.modified) {
		return false
	}
	filed, _, err := w.opt.FS.Read(to, max(e.size, 1))
	if err != nil {
		return false
	}
	b, now, err := w.opt.FS.Read(e.path, max(e.size, 1))
	return err == nil && now.ModTime().Equal(e.modified) && bytes.Equal(b, filed)
}

// numbered is a name with a number before its ending, from the second on,
// cut short if it is too long.
func numbered(name string, n int) string {
	ext := filepath.Ext(name)
	if len(ext) > 20 {
		ext = ""
	}
	stem := strings.TrimSuffix(name, ext)
	for len(stem)+len(ext) > longestName {
		_, size := utf8.DecodeLastRuneInString(stem)
		stem = stem[:len(stem)-size]
	}
	if n > 1 {
		stem += fmt.Sprintf("-%d", n)
	}
	return stem + ext
}

// replace writes one of this package's own notes, whole or not at all. A note
// without its file, left by a crash, is written over.
func (w *Watcher) replace(path string, b []byte) error {
	f := w.opt.FS
	temp := filepath.Join(filepath.Dir(path), ".windrow-note.tmp")
	_ = f.Remove(temp)
	if err := f.Write(temp, b, time.Time{}); err != nil {
		return err
	}
	_ = f.Remove(path)
	if err := f.Move(temp, path); err != nil {
		_ = f.Remove(temp)
		return err
	}
	return nil
}

// move files one file. The original goes only when it is known to be whole
// in its new place.
func (w *Watcher) move(e *entry, to string) error {
	f := w.opt.FS
	err := f.Move(e.path, to)
	switch {
	case errors.Is(err, ErrOtherDevice):
		err = w.copyOver(e, to)
	case err == nil:
		// In the moment before the renaming, another file may have taken the
		// name. It has not been handled, so it goes back.
		if info, serr := f.Stat(to); serr == nil && (info.Size() != e.size || !info.ModTime().Equal(e.modified)) {
			if err = f.Move(to, e.path); err == nil {
				err = fmt.Errorf("%s was replaced while it was moved", e.name)
			}
		}
	}
	if err != nil {
		return err
	}
	// What can't be written through now is so at the latest when the system
	// does it by itself; the file has its name, so this is no failure.
	_ = f.SyncDir(filepath.Dir(to))
	_ = f.SyncDir(e.folder.Dir)
	return nil
}

func (w *Watcher) copyOver(e *entry, to string) error {
	f := w.opt.FS
	b, info, err := f.Read(e.path, max(e.size, 1))
	if err != nil {
		return err
	}
	if info.Size() != e.size || !info.ModTime().Equal(e.modified) || int64(len(b)) != e.size {
		return fmt.Errorf("%s changed while it was copied", e.name)
	}
	temp := filepath.Join(filepath.Dir(to), ".windrow-copy.part")
	_ = f.Remove(temp)
	if err := f.Write(temp, b, e.modified); err != nil {
		return err
	}
	copied, _, err := f.Read(temp, int64(len(b)))
	if err == nil && !bytes.Equal(copied, b) {
		err = fmt.Errorf("the copy of %s is not what was written", e.name)
	}
	if err == nil {
		err = f.Move(temp, to)
	}
	if err != nil {
		_ = f.Remove(temp)
		return err
	}
	if err := f.SyncDir(filepath.Dir(to)); err != nil {
		// It isn't sure that the copy would outlive a power failure: the
		// original stays, and the copy goes, so that there is one of it.
		_ = f.Remove(to)
		return err
	}
	return f.Remove(e.path)
}
