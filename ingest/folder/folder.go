package folder

import (
	"context"
	"fmt"
	"log/slog"
	"path/filepath"
	"runtime/debug"
	"sync"
	"time"

	"example.org/windrow/ingest"
)

// Settings are those of one watched folder.
type Settings struct {
	Dir     string // the folder
	Done    string // where handled files go; "" is the subfolder done
	Held    string // where held files go; "" is the subfolder held
	Office  string // handed on with each file, as are the next two
	County  string // default county
	LandUse string // default land use
}

// A Taken is one file, read once and as a whole.
type Taken struct {
	Folder   Settings
	Name     string // base name
	Bytes    []byte
	Modified time.Time // as the file system has it
	Seen     time.Time // when it was first noticed
}

// A Result says what became of a file.
type Result string

// The results of handling a file.
const (
	Done  Result = "done"  // kept and worked on
	Held  Result = "held"  // kept, and waits for a person
	Again Result = "again" // not kept, for a passing cause such as a full disk
)

// An Outcome is what Handle says of a file.
type Outcome struct {
	Result  Result
	Reasons []*ingest.Reason // why it is held, or why it has to wait
	Used    []string         // of a held file: the files in it whose numbers are used all the same
	Mark    string           // names the file in the log, by its content; "" for none
}

// A Handle keeps and works on one file. The bytes must be safe when it
// returns Done or Held. It is called by several goroutines at once, but never
// twice at once for one file, and may meet the same file again after a crash.
// Its context is not cancelled when watching stops, but Options.Grace later:
// the file in hand is finished.
type Handle func(ctx context.Context, t Taken) Outcome

// Options of a Watcher. The zero value is fine.
type Options struct {
	Settle   time.Duration        // how long a file must not have changed; 2 s
	Every    time.Duration        // longest time between two looks; 1 s
	Workers  int                  // files handled at once; 2
	MaxBytes int64                // larger files are held unread; ingest.DefaultLimits().Bytes
	First    time.Duration        // wait before the second try of a file; 5 s, doubled with each try
	Longest  time.Duration        // longest wait between tries; 5 min
	Grace    time.Duration        // how long a file in hand may still take once watching stops; 0 is until it is finished
	PollOnly bool                 // don't ask the file system for notifications
	Report   func(*ingest.Reason) // told of what goes on beside the files' own outcomes; by several goroutines
	Log      *slog.Logger
	Clock    Clock // the real one if nil
	FS       FS    // the real one if nil
}

// A Clock is what a watcher needs of time.
type Clock interface {
	Now() time.Time
	After(time.Duration) <-chan time.Time
}

type realClock struct{}

func (realClock) Now() time.Time                         { return time.Now() }
func (realClock) After(d time.Duration) <-chan time.Time { return time.After(d) }

// A Watcher watches folders. Make one with New; Once and Run must not run at
// the same time.
type Watcher struct {
	folders []Settings
	handle  Handle
	opt     Options

	mu     sync.Mutex
	seen   map[string]*entry // by path
	gone   map[string]bool   // folders that can't be listed, by Dir
	told   map[string]bool   // what is no file and was told of, by path
	ours   map[string]bool   // where files are filed, which may lie in a watched folder
	queue  []*entry          // ready, oldest first
	active int
	pass   Pass
	wg     sync.WaitGroup
	filing sync.Mutex // one name is chosen and taken at a time
}

// An entry is a file that was seen in a folder.
type entry struct {
	folder   *Settings
	name     string
	path     string
	size     int64
	modified time.Time
	first    time.Time // first noticed
	since    time.Time // unchanged since
	inHand   bool
	tries    int
	notYet   time.Time // not before, after a failed try
	finished *Outcome  // handled, but not yet moved
}

// A Pass counts what one pass over the folders came to.
type Pass struct {
	Done, Held, Again int
	Waiting           int // seen, but still being written or to be tried again
}

// New makes a watcher of folders. Folders must differ, and none may be where
// files of any folder are filed.
func New(folders []Settings, handle Handle, opt Options) (*Watcher, error) {
	if len(folders) == 0 || handle == nil {
		return nil, &ingest.Reason{Code: "no-folder", Severity: ingest.Fail, What: "there is no folder to watch", Next: "name at least one folder in the settings"}
	}
	def := func(d *time.Duration, to time.Duration) {
		if *d <= 0 {
			*d = to
		}
	}
	def(&opt.Settle, 2*time.Second)
	def(&opt.Every, time.Second)
	def(&opt.First, 5*time.Second)
	def(&opt.Longest, 5*time.Minute)
	if opt.Workers <= 0 {
		opt.Workers = 2
	}
	if opt.MaxBytes <= 0 {
		opt.MaxBytes = ingest.DefaultLimits().Bytes
	}
	if opt.Clock == nil {
		opt.Clock = realClock{}
	}
	if opt.FS == nil {
		opt.FS = Disk{}
	}
	if opt.Log == nil {
		opt.Log = slog.New(slog.DiscardHandler)
	}
	w := &Watcher{handle: handle, opt: opt, seen: map[string]*entry{}, gone: map[string]bool{}, told: map[string]bool{}, ours: map[string]bool{}}
	watched := map[string]bool{}
	for _, f := range folders {
		for _, p := range []*string{&f.Dir, &f.Done, &f.Held} {
			if *p == "" && p != &f.Dir {
				*p = filepath.Join(f.Dir, map[bool]string{true: "done", false: "held"}[p == &f.Done])
			}
			abs, err := filepath.Abs(*p)
			if err != nil {
				return nil, &ingest.Reason{Code: "folder-amiss", Severity: ingest.Fail, What: "a folder of the settings has no full path", Found: err.Error(), Next: "write its full path into the settings"}
			}
			*p = abs
		}
		if watched[f.Dir] {
			return nil, &ingest.Reason{Code: "folder-twice", Severity: ingest.Fail, What: "a folder is listed twice", Found: f.Dir, Next: "list it once in the settings"}
		}
		watched[f.Dir] = true
		w.folders = append(w.folders, f)
	}
	for _, f := range w.folders {
		w.ours[f.Done], w.ours[f.Held] = true, true
		for _, to := range []string{f.Done, f.Held} {
			if watched[to] {
				return nil, &ingest.Reason{Code: "folder-loops", Severity: ingest.Fail, What: "files would be filed in a folder that is watched, and taken again",
					Found: to, Next: "file them in a folder that is not watched"}
			}
		}
		if f.Done == f.Held {
			return nil, &ingest.Reason{Code: "folder-loops", Severity: ingest.Fail, What: "done and held files would lie in the same folder", Found: f.Done, Next: "name two folders in the settings"}
		}
	}
	return w, nil
}

// Oldest is how long the file that has waited longest has been seen in its
// folder, whatever it waits for; 0 when none waits.
func (w *Watcher) Oldest() time.Duration {
	w.mu.Lock()
	defer w.mu.Unlock()
	now, oldest := w.opt.Clock.Now(), time.Duration(0)
	for _, e := range w.seen {
		oldest = max(oldest, now.Sub(e.first))
	}
	return oldest
}

// Waiting is the number of files that were seen and are not filed yet.
func (w *Watcher) Waiting() int {
	w.mu.Lock()
	defer w.mu.Unlock()
	return len(w.seen)
}

// Empty reports whether empty files were seen and not taken yet, and how long
// it is until all of them may be, if they stay as they are.
func (w *Watcher) Empty() (wait time.Duration, some bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	now := w.opt.Clock.Now()
	for _, e := range w.seen {
		if e.size == 0 {
			wait, some = max(wait, e.due(w.opt.Settle).Sub(now)), true
		}
	}
	return wait, some
}

// Once looks, waits as long as files must not change, looks again, and
// handles what is ready. It returns the reason why a folder could not be
// listed, after handling the files of the others. A context that is over
// ends it after the files in hand.
func (w *Watcher) Once(ctx context.Context) (Pass, error) {
	w.mu.Lock()
	w.pass = Pass{}
	w.mu.Unlock()
	w.look()
	if w.Waiting() > 0 {
		select {
		case <-ctx.Done():
		case <-w.opt.Clock.After(w.opt.Settle):
		}
		w.look()
		w.start(ctx)
		w.wg.Wait()
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	p := w.pass
	p.Waiting = len(w.seen)
	for _, f := range w.folders {
		if w.gone[f.Dir] {
			return p, goneReason(f.Dir)
		}
	}
	return p, nil
}

// lookShare is how many times as long as a look at the folders took the next
// one waits at least: where tens of thousands of files lie, and each that is
// filed rings the bell, looking would else take a processor for itself.
const lookShare = 10

// Run watches until the context is over, finishes the files in hand, and
// returns nil.
func (w *Watcher) Run(ctx context.Context) error {
	bell := w.listen()
	defer bell.close()
	for ctx.Err() == nil {
		begun := w.opt.Clock.Now()
		next := w.look()
		rest := lookShare * w.opt.Clock.Now().Sub(begun)
		bell.follow(w.folders)
		w.start(ctx)
		select {
		case <-ctx.Done():
		case <-w.opt.Clock.After(max(next, rest)):
		case <-bell.rings():
			select {
			case <-ctx.Done():
			case <-w.opt.Clock.After(rest):
			}
		}
	}
	w.mu.Lock()
	w.queue = nil
	w.mu.Unlock()
	w.wg.Wait()
	return nil
}

func (w *Watcher) report(r *ingest.Reason) {
	if w.opt.Report == nil {
		w.opt.Log.Info("folder", "code", r.Code, "where", r.Where.String(), "what", r.What, "found", r.Found)
		return
	}
	w.opt.Log.Debug("folder", "code", r.Code, "where", r.Where.String(), "what", r.What, "found", r.Found) // who is told reads it once
	w.opt.Report(r)
}

// CodeGone marks a watched folder that can't be looked into.
const CodeGone = "folder-gone"

func goneReason(dir string) *ingest.Reason {
	return &ingest.Reason{Code: CodeGone, Severity: ingest.Flag, Where: ingest.Place{File: dir}, What: "the folder can't be looked into, so nothing that is dropped there is read",
		Expected: "a folder that exists and may be read", Next: "see whether the folder was moved or renamed, and whether the drive that it lies on is connected; \"windrow watch\" goes on by itself when it is back"}
}

// work handles files until none is left.
func (w *Watcher) work(ctx context.Context, e *entry) {
	defer w.wg.Done()
	for e != nil {
		w.one(ctx, e)
		w.mu.Lock()
		e.inHand = false
		if e = w.take(ctx); e == nil {
			w.active--
		}
		w.mu.Unlock()
	}
}

// take gives the next file to handle. w.mu is held.
func (w *Watcher) take(ctx context.Context) *entry {
	if len(w.queue) == 0 || ctx.Err() != nil {
		return nil
	}
	e := w.queue[0]
	w.queue = w.queue[1:]
	e.inHand = true
	return e
}

// start sets free workers to work.
func (w *Watcher) start(ctx context.Context) {
	w.mu.Lock()
	defer w.mu.Unlock()
	for w.active < w.opt.Workers {
		e := w.take(ctx)
		if e == nil {
			return
		}
		w.active++
		w.wg.Add(1)
		go w.work(ctx, e)
	}
}

// one takes a file, has it handled, and files it.
func (w *Watcher) one(ctx context.Context, e *entry) {
	out := e.finished
	if out == nil {
		o, ready := w.handled(ctx, e)
		if !ready {
			return
		}
		if o.Result == Again {
			w.later(e, o.Reasons)
			return
		}
		out = &o
	}
	to, err := w.file(e, out)
	if err != nil {
		e.finished = out
		w.later(e, []*ingest.Reason{{Code: "not-filed", Severity: ingest.Flag, Where: ingest.Place{File: e.name},
			What: "the report was read and kept, but the file can't be moved out of the folder", Found: ingest.Cause(err),
			Next: "see whether the disk is full and whether Windrow may write to the folder; it tries again by itself"}})
		return
	}
	// A name may be a client's: who runs the office doesn't read it by the way.
	w.opt.Log.Info("filed", "source", out.Mark, "result", out.Result)
	w.opt.Log.Debug("filed", "source", out.Mark, "file", e.name, "as", to)
	w.mu.Lock()
	defer w.mu.Unlock()
	delete(w.seen, e.path)
	if out.Result == Done {
		w.pass.Done++
	} else {
		w.pass.Held++
	}
}

// handled reads the file and calls Handle; false when the file is not ready
// after all.
func (w *Watcher) handled(ctx context.Context, e *entry) (o Outcome, ready bool) {
	if e.size > w.opt.MaxBytes {
		return Outcome{Result: Held, Reasons: []*ingest.Reason{{Code: "too-large", Severity: ingest.Fail, Where: ingest.Place{File: e.name},
			What: "the file is larger than a file may be, so it was not read", Expected: fmt.Sprintf("at most %d MiB", w.opt.MaxBytes>>20), Found: fmt.Sprintf("%d MiB", e.size>>20),
			Next: "see whether it is really one report; if it is, raise the limit of bytes in the settings"}}}, true
	}
	b, info, err := w.opt.FS.Read(e.path, w.opt.MaxBytes)
	if err != nil {
		w.later(e, []*ingest.Reason{{Code: CodeNotOpened, Severity: ingest.Flag, Where: ingest.Place{File: e.name}, What: "the file can't be opened, and so was not read", Expected: "a file that Windrow may read",
			Found: ingest.Cause(err), Next: "close it if it is open in another program, and see that you may read it; \"windrow watch\" tries again by itself, and so does the next \"windrow run\""}})
		return o, false
	}
	if info.Size() != e.size || !info.ModTime().Equal(e.modified) || int64(len(b)) != e.size {
		w.mu.Lock()
		e.since = w.opt.Clock.Now()
		e.size, e.modified = info.Size(), info.ModTime()
		w.mu.Unlock()
		return o, false
	}
	defer func() {
		if p := recover(); p != nil {
			w.opt.Log.Error("handling failed, by a mistake in the program", "bytes", e.size)
			w.opt.Log.Debug("handling failed", "file", e.name, "cause", fmt.Sprint(p), "stack", string(debug.Stack()))
			o, ready = Outcome{Result: Again, Reasons: []*ingest.Reason{ingest.AsReason(fmt.Errorf("an error inside Windrow, which its log describes")).In(e.name)}}, true
		}
	}()
	within, done := w.grace(ctx)
	defer done()
	o = w.handle(within, Taken{Folder: *e.folder, Name: e.name, Bytes: b, Modified: e.modified, Seen: e.first})
	if o.Result != Done && o.Result != Held {
		o.Result = Again
	}
	return o, true
}

// grace is the context of a file in hand: it ends Grace after watching has
// stopped.
func (w *Watcher) grace(ctx context.Context) (context.Context, func()) {
	within := context.WithoutCancel(ctx)
	if w.opt.Grace <= 0 {
		return within, func() {}
	}
	within, cancel := context.WithCancel(within)
	stop := context.AfterFunc(ctx, func() {
		select {
		case <-w.opt.Clock.After(w.opt.Grace):
			w.opt.Log.Warn("a file in hand takes too long, and is left for the next start", "grace", w.opt.Grace.String())
			cancel()
		case <-within.Done():
		}
	})
	return within, func() {
		stop()
		cancel()
	}
}

// later puts a file off, for longer each time.
func (w *Watcher) later(e *entry, why []*ingest.Reason) {
	w.mu.Lock()
	wait := w.opt.Longest
	if e.tries < 30 {
		wait = min(wait, w.opt.First<<e.tries)
	}
	e.tries++
	e.notYet = w.opt.Clock.Now().Add(wait)
	w.pass.Again++
	w.mu.Unlock()
	for _, r := range why {
		w.report(r)
	}
}
