package index

import (
	"context"
	"database/sql"
	"errors"
	"io/fs"
	"net/url"
	"os"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"
)

// Examine looks at the file of an index without changing it, also while
// another process works with it: whether its structure is sound, and when the
// newest arrival in it was, zero for none. A file that isn't there is an error.
// Of a database on a server it sees whether it answers.
func Examine(ctx context.Context, path string) (newest time.Time, err error) {
	if IsServer(path) {
		return examineServer(ctx, path)
	}
	q := url.Values{"mode": {"ro"}, "_pragma": {"busy_timeout(10000)", "query_only(1)"}}
	if _, err := os.Stat(path + "-wal"); errors.Is(err, fs.ErrNotExist) {
		// Nobody has it open. Without this the database would leave a journal
		// behind, and one that belongs to whoever looked: often root, and then
		// the office could no longer write.
		q.Set("immutable", "1")
	}
	db, err := sql.Open("sqlite", (&url.URL{Scheme: "file", Opaque: (&url.URL{Path: path}).EscapedPath(), RawQuery: q.Encode()}).String())
	if err != nil {
		return newest, fault("look at the index", path, err)
	}
	ix := &Index{path: path}
	ix.db.Store(newDatabase(db, false))
	return ix.examine(ctx)
}

func examineServer(ctx context.Context, path string) (newest time.Time, err error) {
	c, err := pgx.ParseConfig(path)
	if err != nil {
		return newest, fault("look at the index", path, err)
	}
	ix := &Index{path: path, server: true}
	ix.db.Store(newDatabase(stdlib.OpenDB(*c), false))
	return ix.examine(ctx)
}

// examine looks, and closes.
func (ix *Index) examine(ctx context.Context) (newest time.Time, err error) {
	err = ix.Check(ctx)
	if err == nil {
		newest, err = ix.Newest(ctx)
	}
	if cerr := ix.Close(); err == nil {
		err = cerr
	}
	return newest, err
}

// Damaged reports whether an error of this package says that the file itself
// is damaged, so that the index has to be made anew.
func Damaged(err error) bool { return err != nil && (isDamage(err) || errors.Is(err, errUnsound)) }
