package folder

import (
	"cmp"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/fsnotify/fsnotify"

	"example.org/windrow/ingest"
)

// emptyTimes is how many times longer than others an empty file has to wait.
const emptyTimes = 15

// passedOver reports whether a name is that of a file that is still being
// made, or of one that this package makes.
func passedOver(name string) bool {
	low := strings.ToLower(name)
	if strings.HasPrefix(low, ".") || strings.HasPrefix(low, "~$") {
		return true
	}
	for _, end := range []string{".part", ".tmp", ".crdownload", ".swp", "~", whyEnd} {
		if strings.HasSuffix(low, end) {
			return true
		}
	}
	return false
}

// CodeNotTaken marks something that lies where reports are dropped, and is not
// a file: it stays there, and a person has to be told.
const CodeNotTaken = "not-taken"

// CodeNotOpened marks a file that can't be opened, now or for want of rights: it
// stays where it lies, and a person has to be told.
const CodeNotOpened = "not-opened"

// NotTaken is the reason why something that is not a plain file is left where
// it lies: a folder, a link, or a thing of the system such as a pipe.
func NotTaken(path string, mode fs.FileMode) *ingest.Reason {
	r := &ingest.Reason{Code: CodeNotTaken, Severity: ingest.Fail, Where: ingest.Place{File: path}, Expected: "files, each a report"}
	switch {
	case mode.IsDir():
		r.What, r.Found = "this is a folder, and what is in it was not read", "a folder"
		r.Next = "take the files out of it and drop them in by themselves, or make a zip of it"
	case mode&fs.ModeSymlink != 0:
		r.What, r.Found = "this is a link to another place, and was not followed", "a link (shortcut)"
		r.Next = "put a copy of the file itself in its place"
	default:
		r.What, r.Found = "this is not an ordinary file, and was not read", "a pipe, a device or the like"
		r.Next = "take it away, and put the file itself in its place"
	}
	return r
}

// hiddenKinds are the endings of the files that laboratories send. What
// systems and programs hide in a folder has others, or none.
var hiddenKinds = []string{".csv", ".tsv", ".txt", ".pdf", ".xls", ".xlsx", ".xlsm", ".ods", ".eml", ".msg", ".htm", ".html", ".zip", ".docx", ".png", ".jpg", ".jpeg", ".tif", ".tiff"}

// HiddenReport is the reason why a file is left where it lies whose name
// begins with a dot, as names do that are hidden from people, and otherwise is
// like that of a report. Nil for any other name: of what systems keep in a
// folder for themselves nobody need be told.
func HiddenReport(path string) *ingest.Reason {
	name := strings.ToLower(filepath.Base(path))
	if !strings.HasPrefix(name, ".") || strings.HasPrefix(name, "._") || strings.HasPrefix(name, ".~") || !slices.Contains(hiddenKinds, filepath.Ext(name)) {
		return nil
	}
	return &ingest.Reason{Code: CodeNotTaken, Severity: ingest.Fail, Where: ingest.Place{File: path}, What: "the name of this file begins with a dot, as those of hidden and half-written files do, and it was not read",
		Expected: "files, each a report", Found: "a hidden file", Next: "if it is a report, give it a name without the dot; if not, take it away"}
}

// look lists every folder once, brings what is known of each file up to
// date, and queues those that are ready. It returns when to look again.
func (w *Watcher) look() time.Duration {
	next := w.opt.Every
	var ready []*entry
	for i := range w.folders {
		f := &w.folders[i]
		files, err := w.opt.FS.List(f.Dir)
		if w.changedSight(f.Dir, err) {
			if err != nil {
				r := goneReason(f.Dir)
				r.Found = ingest.Cause(err)
				w.report(r)
			} else {
				w.report(&ingest.Reason{Code: "folder-back", Severity: ingest.Note, Where: ingest.Place{File: f.Dir}, What: "the folder can be looked into again"})
			}
		}
		now := w.opt.Clock.Now()
		var left []*ingest.Reason // what lies there and is no file
		w.mu.Lock()
		present := make(map[string]bool, len(files))
		for _, info := range files {
			path := filepath.Join(f.Dir, info.Name())
			if passedOver(info.Name()) {
				if r := HiddenReport(path); r != nil && info.Mode().IsRegular() {
					present[path] = true
					if !w.told[path] && now.Sub(info.ModTime()).Abs() >= w.opt.Settle { // also of a time to come, by a clock that was set back
						w.told[path] = true
						left = append(left, r)
					}
				}
				continue
			}
			present[path] = true
			if !info.Mode().IsRegular() {
				if !w.told[path] && !w.ours[path] {
					w.told[path] = true
					left = append(left, NotTaken(path, info.Mode()))
				}
				continue
			}
			e := w.seen[path]
			if e == nil {
				e = &entry{folder: f, name: info.Name(), path: path, first: now, since: now, size: info.Size(), modified: info.ModTime()}
				w.seen[path] = e
			}
			if e.inHand {
				continue
			}
			if now.Before(e.since) { // the clock was set back: wait as from now, and not until it has caught up
				e.first, e.since, e.notYet = now, now, time.Time{}
			}
			if e.size != info.Size() || !e.modified.Equal(info.ModTime()) {
				// Another file by the same name, or the same one grown: what
				// is known of the earlier one counts no more.
				e.size, e.modified, e.since = info.Size(), info.ModTime(), now
				e.tries, e.notYet, e.finished = 0, time.Time{}, nil
			}
			if wait := e.due(w.opt.Settle).Sub(now); wait > 0 {
				next = min(next, wait)
				continue
			}
			ready = append(ready, e)
		}
		for path, e := range w.seen {
			if e.folder == f && !present[path] && !e.inHand {
				delete(w.seen, path)
			}
		}
		for path := range w.told {
			if filepath.Dir(path) == f.Dir && !present[path] && err == nil {
				delete(w.told, path)
			}
		}
		w.mu.Unlock()
		for _, r := range left {
			w.report(r)
		}
	}
	slices.SortFunc(ready, func(a, b *entry) int { return cmp.Or(a.first.Compare(b.first), cmp.Compare(a.path, b.path)) })
	w.mu.Lock()
	defer w.mu.Unlock()
	// A worker may have taken one of them, or filed it, since it was listed.
	w.queue = slices.DeleteFunc(ready, func(e *entry) bool {
		return e.inHand || w.seen[e.path] != e || e.due(w.opt.Settle).After(w.opt.Clock.Now())
	})
	return next
}

// due is when a file may be taken if it doesn't change until then.
func (e *entry) due(settle time.Duration) time.Time {
	if e.size == 0 {
		settle *= emptyTimes
	}
	due := e.since.Add(settle)
	if e.notYet.After(due) {
		return e.notYet
	}
	return due
}

// changedSight notes whether a folder could be listed, and reports whether
// that is new.
func (w *Watcher) changedSight(dir string, err error) bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	changed := w.gone[dir] != (err != nil)
	w.gone[dir] = err != nil
	return changed
}

// A bell rings when the file system says that something changed. It may be
// silent for ever; polling doesn't need it.
type bell struct {
	watcher *fsnotify.Watcher
	ring    chan struct{}
	stop    chan struct{}
}

// quiet is how long a bell waits after a change before it rings, so that a
// file that is written in many pieces rings it a few times a second at most.
const quiet = 100 * time.Millisecond

func (w *Watcher) listen() *bell {
	b := &bell{ring: make(chan struct{}, 1), stop: make(chan struct{})}
	if w.opt.PollOnly {
		return b
	}
	fw, err := fsnotify.NewWatcher()
	if err != nil {
		w.opt.Log.Info("no notifications from the file system, polling alone", "cause", err.Error())
		return b
	}
	b.watcher = fw
	go func() {
		for {
			select {
			case _, ok := <-fw.Events:
				if !ok {
					return
				}
				select {
				case <-w.opt.Clock.After(quiet):
				case <-b.stop:
					return
				}
				for drained := false; !drained; {
					select {
					case _, ok := <-fw.Events:
						drained = !ok
					default:
						drained = true
					}
				}
				select {
				case b.ring <- struct{}{}:
				default:
				}
			case _, ok := <-fw.Errors:
				if !ok {
					return
				}
			}
		}
	}()
	return b
}

// follow watches the folders that can be watched; one that was gone and came
// back is watched anew. Adding a folder twice does nothing.
func (b *bell) follow(folders []Settings) {
	if b.watcher == nil {
		return
	}
	for _, f := range folders {
		_ = b.watcher.Add(f.Dir) // a folder that can't be watched is polled
	}
}

func (b *bell) rings() <-chan struct{} { return b.ring }

func (b *bell) close() {
	close(b.stop)
	if b.watcher != nil {
		_ = b.watcher.Close()
	}
}
