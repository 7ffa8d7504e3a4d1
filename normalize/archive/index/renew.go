package index

import (
	"context"
	"errors"
	"path/filepath"

	sqlite3 "modernc.org/sqlite/lib"

	"example.org/windrow/normalize/archive"
)

// Renew makes an index good that failed, or whose file was deleted, replaced
// or damaged, while it is open. What the archive holds and the index doesn't
// is added; where the database is no sound one any more, it is set aside and
// made anew from the archive, and anew says so in words. A lock of another
// process, a full disk and a lack of rights are no damage: then the file is
// left alone and the failure returned.
//
// A database on a server is never made anew: it catches up, or the failure is
// returned.
//
// Questions asked meanwhile are answered from what was there before, or fail;
// nobody may write to the index meanwhile.
func (ix *Index) Renew(ctx context.Context, a *archive.Archive) (anew string, err error) {
	why := "its file was deleted or replaced"
	if !ix.Gone() {
		if err = ix.Check(ctx); err == nil {
			if err = ix.CatchUp(ctx, a); err == nil {
				return "", nil
			}
		}
		if ix.server || !replaceable(ctx, err) {
			return "", err
		}
		why = "its file was damaged"
		// Others may have it open, so it is moved and not changed.
		aside, err := setAside(ix.path)
		if err != nil {
			return "", fault("set the damaged index aside", ix.path, err)
		}
		why += ", and was set aside as " + filepath.Base(aside)
	}
	next, err := Open(ctx, ix.path)
	if err != nil {
		return "", err
	}
	if needs, _ := next.NeedsRebuild(); needs {
		err = next.Rebuild(ctx, a)
	} else {
		err = next.CatchUp(ctx, a)
	}
	if err != nil {
		return "", errors.Join(err, next.Close())
	}
	ix.mu.Lock()
	ix.file, ix.news, ix.full = next.file, next.news, next.full
	ix.mu.Unlock()
	_ = ix.db.Swap(next.db.Load()).Close() // of a file that is gone or damaged
	return why, nil
}

// replaceable reports whether a failure is one that a new file cures: one of
// the database's own that no lock, full disk or lack of rights explains. An
// error about a document of the archive is not.
func replaceable(ctx context.Context, err error) bool {
	switch {
	case ctx.Err() != nil:
		return false
	case errors.Is(err, errUnsound):
		return true
	}
	switch codeOf(err) {
	case -1, sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED, sqlite3.SQLITE_FULL, sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_NOMEM, sqlite3.SQLITE_INTERRUPT:
		return false
	}
	return true
}
