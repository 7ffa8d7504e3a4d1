package pipeline

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"syscall"
	"time"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/cmd/internal/metrics"
	"example.org/windrow/ingest"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/archive/index"
)

// An Office is the stages with the places where an office keeps what they
// make. It is safe for concurrent use; one process at a time has it.
type Office struct {
	Stages  *Stages
	Config  *config.Config
	Archive *archive.Archive
	Index   *index.Index
	Metrics *metrics.Metrics       // nil counts nothing
	Today   func() time.Time       // the date of advice
	Log     *slog.Logger           // what is done with each file, from its arrival to the archive, by its mark; no name of a client or a file below debug
	Tell    func(r *ingest.Reason) // told of what is amiss beside the files, such as an index that could not be written
	Moved   func(Move)             // told of each stage that a file comes to, by several goroutines at once; nil for nobody

	// One for each group of hashes, of files and of the reports in them, so
	// that the same bytes are never in two hands.
	bytes, reports [64]sync.Mutex

	register registerBook
	ruling   sync.Mutex   // one decision at a time
	deciding sync.RWMutex // files are worked on, or a decision takes effect

	newest  atomic.Int64 // when the newest report came, in seconds since 1970; 0 for never
	engine  *engine      // of a worker; nil where the archive is a folder
	distant *distant     // of an office whose work is done by a central engine
	missed  atomic.Int64 // failures of the index

	lock *os.File

	amiss   atomic.Bool  // the index failed, and may lack what the archive has
	mending sync.RWMutex // held for writing while the index is made good
}

// OpenOffice opens an office for work: its folders are made where they are
// absent, it is locked against a second process, erasures that were cut short
// are completed, and its index catches up with its archive. Close it after use.
func OpenOffice(ctx context.Context, cfg *config.Config, st *Stages) (*Office, error) {
	o := &Office{Stages: st, Config: cfg, Today: time.Now, Tell: func(*ingest.Reason) {}, Log: slog.New(slog.DiscardHandler)}
	if err := makeFolders(cfg, cfg.Done, cfg.Held, cfg.Letters, cfg.Datasets, filepath.Dir(cfg.Archive)); err != nil {
		return nil, err
	}
	var err error
	if o.lock, err = lockOffice(filepath.Join(cfg.Dir, lockName)); err != nil {
		return nil, err
	}
	if o.Archive, err = archive.Open(cfg.Archive); err != nil {
		o.unlock()
		return nil, err
	}
	// What is half erased would be taken for what is there.
	open, err := o.Archive.OpenErasures()
	if err == nil && len(open) > 0 {
		_, err = FinishErasures(cfg, o.Archive)
	}
	if err != nil {
		o.unlock()
		return nil, err
	}
	if o.Index, err = index.Open(ctx, cfg.Index); err != nil {
		o.unlock()
		return nil, err
	}
	if needs, _ := o.Index.NeedsRebuild(); needs {
		err = o.Index.Rebuild(ctx, o.Archive)
	} else if err = o.Index.CatchUp(ctx, o.Archive); err != nil {
		_, err = o.Index.Renew(ctx, o.Archive) // damaged beyond what opening it tells
	}
	if err != nil {
		err = errors.Join(err, o.Close())
		return nil, err
	}
	// Only the metrics ask for it.
	if t, err := o.Index.Newest(ctx); err == nil && !t.IsZero() {
		o.newest.Store(t.Unix())
	}
	return o, nil
}

// makeFolders makes folders of an office where they are absent, and the
// watched ones in it.
func makeFolders(cfg *config.Config, dirs ...string) error {
	for _, f := range cfg.Folders {
		// One outside the office may lie on a drive that is not connected.
		if rel, err := filepath.Rel(cfg.Dir, f.Path); err == nil && filepath.IsLocal(rel) {
			dirs = append(dirs, f.Path)
		}
	}
	for _, d := range dirs {
		if err := os.MkdirAll(d, 0o750); err != nil {
			return folderFault(d, err)
		}
	}
	return nil
}

// Close ends the work. The stages are not the office's to close.
func (o *Office) Close() error {
	var err error
	switch {
	case o.distant != nil && o.distant.opened != nil:
		err = o.distant.opened.close()
	case o.distant != nil: // it was never reached
	case o.engine != nil:
		err = o.engine.close()
	default:
		err = o.Index.Close()
	}
	o.unlock()
	return err
}

func folderFault(dir string, err error) error {
	next := "check the rights of the folder and the settings in " + config.FileName
	switch {
	case errors.Is(err, fs.ErrNotExist):
		next = "check that the drive is connected, and the settings in " + config.FileName
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT):
		next = "make room on the disk of this folder; files stay where they lie until then"
	}
	return &ingest.Reason{Code: "folder-amiss", Severity: ingest.Fail, Where: ingest.Place{File: dir}, What: "a folder of the office can't be used", Expected: "a folder that can be written to", Found: ingest.Cause(err), Next: next}
}

// lockName is the file by which a process has an office for itself. The
// system gives the lock back when the process ends, however it ends.
const lockName = ".windrow.lock"

func lockOffice(path string) (*os.File, error) {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_RDWR, 0o640)
	if err != nil {
		return nil, folderFault(filepath.Dir(path), err)
	}
	if err := tryLock(f); err != nil {
		b := make([]byte, 64)
		n, _ := f.ReadAt(b, 0) // who it is only helps the message
		_ = f.Close()
		who := "another process"
		if n > 0 {
			who += " (" + string(b[:n]) + ")"
		}
		return nil, &ingest.Reason{Code: "office-busy", Severity: ingest.Fail, Where: ingest.Place{File: filepath.Dir(path)}, What: "another windrow is at work in this office", Expected: "one at a time", Found: who,
			Next: "let it finish or stop it, then try again; a file that is dropped into a watched folder is taken by the one that watches"}
	}
	// Only for the message above; a lock without it is as good.
	if err := f.Truncate(0); err == nil {
		_, _ = f.WriteAt([]byte(fmt.Sprintf("process %d", os.Getpid())), 0)
	}
	return f, nil
}

// LockOffice locks an office against a second process, without opening it for
// work. The settings must be those of an office whose folder is there.
func LockOffice(cfg *config.Config) (unlock func(), err error) {
	f, err := lockOffice(filepath.Join(cfg.Dir, lockName))
	if err != nil {
		return nil, err
	}
	return func() { _ = f.Close() }, nil // the system lets go of the lock with the file
}

func (o *Office) unlock() {
	if o.lock != nil {
		_ = o.lock.Close() // the system lets go of the lock with the file
		o.lock = nil
	}
}
