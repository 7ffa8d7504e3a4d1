// Package index answers questions about an archive quickly: is this file
// known, which reports are held and why, where is this sample.
//
// Enters: the published JSON of reports, and the notes of arrivals, as they
// are put into the archive.
// Leaves: rows that say where in the archive to look.
// Never: it is not the truth. Nothing is lost when its file is deleted, a
// failure to write it is no failure to archive, and what only it knows is
// nothing. [Index.Rebuild] makes it again from the archive, row for row.
//
// The package is an implementation over archive and reads the report format
// by its own small decoder. The SQL is what SQLite and PostgreSQL share.
package index

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"

	"github.com/pressly/goose/v3"
	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"example.org/windrow/ingest"
)

//go:embed migrations/*.sql
var migrations embed.FS

// An Index is an open index. It is safe for use by several goroutines, and
// by several processes on one file of a local disk, or on one database of a
// PostgreSQL server. Close it after use.
type Index struct {
	db   atomic.Pointer[database] // Renew puts another in its place
	path string

	mu   sync.Mutex // guards the rest
	file os.FileInfo
	news string
	full bool

	server bool // the path is the address of a PostgreSQL database
}

// Open opens the index in a file and makes it where there is none. A file
// that is no index any more is set aside (its name gets .damaged-1, -2, …)
// and a new one begun. The path may be the address of a PostgreSQL database
// instead; see [IsServer]. Ask [Index.NeedsRebuild] afterwards.
func Open(ctx context.Context, path string) (*Index, error) {
	if IsServer(path) {
		return openServer(ctx, path)
	}
	ix, err := open(ctx, path)
	if err == nil || !isDamage(err) {
		return ix, err
	}
	aside, rerr := setAside(path)
	if rerr != nil {
		return nil, fault("open the index", path, errors.Join(err, rerr))
	}
	ix, err = open(ctx, path)
	if err != nil {
		return nil, err
	}
	ix.news = "the index was damaged and was set aside as " + filepath.Base(aside)
	return ix, nil
}

func open(ctx context.Context, path string) (*Index, error) {
	_, err := os.Stat(path)
	isNew := errors.Is(err, fs.ErrNotExist)
	if isNew {
		// Without its file the journal of an old index is a trap.
		_ = os.Remove(path + "-wal")
		_ = os.Remove(path + "-shm")
	}
	// Immediate transactions, since one that begins by reading can't be made
	// to wait for a writer.
	q := url.Values{"_txlock": {"immediate"},
		"_pragma": {"busy_timeout(10000)", "journal_mode(WAL)", "synchronous(NORMAL)"}}
	db, err := sql.Open("sqlite", (&url.URL{Scheme: "file", Opaque: (&url.URL{Path: path}).EscapedPath(), RawQuery: q.Encode()}).String())
	if err != nil {
		return nil, fault("open the index", path, err)
	}
	db.SetMaxOpenConns(4)
	ix := &Index{path: path}
	ix.db.Store(newDatabase(db, true))
	if err := ix.prepare(ctx); err != nil {
		_ = db.Close()
		return nil, fault("open the index", path, err)
	}
	if ix.file, err = os.Stat(path); err != nil {
		_ = db.Close()
		return nil, fault("open the index", path, err)
	}
	if isNew {
		ix.news = "there was no index"
	}
	return ix, nil
}

func (ix *Index) prepare(ctx context.Context) error {
	sub, err := fs.Sub(migrations, "migrations")
	if err != nil {
		return err
	}
	p, err := goose.NewProvider(ix.dialect(), ix.db.Load().DB, sub)
	if err != nil {
		return err
	}
	// Two processes that begin one index together get in each other's way;
	// the migrations bear being run again.
	for try := 0; ; try++ {
		_, err = p.Up(ctx)
		if err == nil || try == 5 || isDamage(err) || ctx.Err() != nil {
			break
		}
	}
	if err != nil {
		return err
	}
	have, known, err := p.GetVersions(ctx)
	if err != nil {
		return err
	}
	if have > known {
		return fmt.Errorf("it was made by a later version of Windrow (%d, this one knows %d)", have, known)
	}
	if ix.server {
		if err := ix.byBytes(ctx); err != nil {
			return err
		}
	}
	return ix.readState(ctx)
}

func (ix *Index) readState(ctx context.Context) error {
	var v string
	err := ix.db.Load().QueryRowContext(ctx, `SELECT value FROM state WHERE key = 'complete'`).Scan(&v)
	if errors.Is(err, sql.ErrNoRows) {
		err = nil
	}
	ix.mu.Lock()
	ix.full = v == "yes"
	ix.mu.Unlock()
	return err
}

// Close closes the index.
func (ix *Index) Close() error { return ix.db.Load().Close() }

// NeedsRebuild reports whether the index was begun anew, or a rebuild of it
// never ended, so that it doesn't know all that the archive holds; why says
// so in words.
func (ix *Index) NeedsRebuild() (needs bool, why string) {
	ix.mu.Lock()
	defer ix.mu.Unlock()
	if ix.full {
		return false, ""
	}
	if ix.news == "" {
		return true, "the index was never completed"
	}
	return true, ix.news
}

// Gone reports whether the file was deleted or replaced since Open, so that
// what is written goes nowhere. [Index.Renew] makes it good. A database on a server
// answers for itself, and is never gone in this way.
func (ix *Index) Gone() bool {
	if ix.server {
		return false
	}
	ix.mu.Lock()
	defer ix.mu.Unlock()
	now, err := os.Stat(ix.path)
	return err != nil || !os.SameFile(now, ix.file)
}

// errUnsound is what the database says of its own structure.
var errUnsound = errors.New("its structure is not sound")

// Check asks the database whether its own structure is sound.
// A server does that itself: of it is asked only whether it answers.
func (ix *Index) Check(ctx context.Context) error {
	if ix.server {
		return fault("check the index", ix.path, ix.db.Load().PingContext(ctx))
	}
	var s string
	err := ix.db.Load().QueryRowContext(ctx, `PRAGMA quick_check(1)`).Scan(&s)
	if err == nil && s != "ok" {
		err = fmt.Errorf("%w: %s", errUnsound, s)
	}
	return fault("check the index", ix.path, err)
}

func isDamage(err error) bool {
	code := codeOf(err)
	return code == sqlite3.SQLITE_NOTADB || code == sqlite3.SQLITE_CORRUPT
}

// codeOf is the database's code of a failure, without what extends it; -1 of
// a failure that is not the database's.
func codeOf(err error) int {
	var e *sqlite.Error
	if !errors.As(err, &e) {
		return -1
	}
	return e.Code() & 0xff
}

// Remove deletes the file of an index with its journals, so that nothing that
// was in it can be read back from them. It must not be open. The next Open
// begins a new one. Of an index on a server the tables are emptied.
func Remove(path string) error {
	if IsServer(path) {
		return emptyServer(path)
	}
	for _, s := range []string{"", "-wal", "-shm"} {
		if err := os.Remove(path + s); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return fault("remove the index", path, err)
		}
	}
	return nil
}

// setAside moves a file, with its journal, to a name that is free.
func setAside(path string) (string, error) {
	for i := 1; ; i++ {
		to := path + ".damaged-" + strconv.Itoa(i)
		if _, err := os.Lstat(to); err == nil {
			continue
		}
		if err := os.Rename(path, to); err != nil {
			return "", err
		}
		for _, s := range []string{"-wal", "-shm"} {
			if err := os.Rename(path+s, to+s); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return "", err
			}
		}
		return to, nil
	}
}

// CodeFailed is the code of the reason that an index can't be asked or written.
const CodeFailed = "index-failed"

// An indexError is a failure with its words; errors.As finds both.
type indexError struct {
	reason *ingest.Reason
	cause  error
}

func (e *indexError) Error() string   { return e.reason.Error() }
func (e *indexError) Unwrap() []error { return []error{e.reason, e.cause} }

func fault(doing, path string, err error) error {
	var have *indexError
	if err == nil || errors.As(err, &have) || errors.Is(err, context.Canceled) {
		return err
	}
	if IsServer(path) {
		return &indexError{serverReason(doing, path, err), err}
	}
	r := &ingest.Reason{Code: CodeFailed, Severity: ingest.Fail, Where: ingest.Place{File: filepath.Base(path)},
		What: "Windrow could not " + doing, Found: strings.TrimSpace(err.Error()),
		Next: "nothing is lost, since the archive holds everything: delete this file, then run windrow archive rebuild"}
	switch codeOf(err) {
	case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED:
		r.What += ", since another program keeps it locked"
		r.Next = "nothing is lost: see which other program has this file open and close it, then try again"
	case sqlite3.SQLITE_FULL:
		r.What += ", since there is no room left on its disk"
		r.Next = "nothing is lost: make room, then try again"
	case sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM, sqlite3.SQLITE_CANTOPEN:
		r.What += ", since this account may not write to it"
		r.Next = "nothing is lost: give the account that runs Windrow the right to write to this file and its folder, then try again"
	}
	return &indexError{r, err}
}
