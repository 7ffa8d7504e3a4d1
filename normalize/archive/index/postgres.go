package index

import (
	"context"
	"database/sql"
	"net/url"
	"strings"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"
	"github.com/pressly/goose/v3"

	"example.org/windrow/ingest"
)

// What the two engines don't have in common is all in this file, and in Open.
//
//   - Text is compared and ordered by its bytes, as SQLite does it: on
//     PostgreSQL every text column is given the collation "C" after the
//     migrations, whatever the database was made with. What is the same in
//     capital and small letters is folded by the program and not by lower(),
//     which knows ASCII letters alone.
//   - There is no boolean, no date and no decimal in the tables, so that none
//     can differ; an upsert is written in the form that both read.
//   - One writer at a time is what a file gives. On PostgreSQL writers of
//     different reports go beside each other, those of one report one after
//     the other, and a rebuild alone.
//   - A NUL and bytes that are no UTF-8 never reach a table, since PostgreSQL
//     takes neither.

// IsServer reports whether the place of an index is a PostgreSQL database,
// such as postgres://user@host/database, and not a file.
func IsServer(path string) bool {
	return strings.HasPrefix(path, "postgres://") || strings.HasPrefix(path, "postgresql://")
}

// Shown is the place of an index as people may see it: of a database the host
// and the name, and neither a user nor a password nor a setting.
func Shown(path string) string {
	if !IsServer(path) {
		return path
	}
	u, err := url.Parse(path)
	if err != nil {
		return "postgres://"
	}
	return (&url.URL{Scheme: u.Scheme, Host: u.Host, Path: u.Path}).String()
}

// The first part of the keys of our locks in a database, which others may use
// too. The second is 0 for the whole index, or drawn from a report's id.
const (
	lockAll = 0x77696e01
	lockOne = 0x77696e02
)

// openServer opens an index on PostgreSQL. The database must be there; the
// tables are made in it.
func openServer(ctx context.Context, path string) (*Index, error) {
	c, err := pgx.ParseConfig(path)
	if err != nil {
		return nil, fault("open the index", path, err)
	}
	db := stdlib.OpenDB(*c)
	db.SetMaxOpenConns(8)
	ix := &Index{path: path, server: true}
	ix.db.Store(newDatabase(db, false))
	if err := ix.prepareServer(ctx); err != nil {
		_ = db.Close()
		return nil, fault("open the index", path, err)
	}
	if !ix.full {
		ix.news = "the index in the database was never completed"
	}
	return ix, nil
}

// prepareServer lets one process at a time migrate.
func (ix *Index) prepareServer(ctx context.Context) error {
	conn, err := ix.db.Load().Conn(ctx)
	if err != nil {
		return err
	}
	defer func() { _ = conn.Close() }()
	// Numbered apart from lockAll: a rebuild that takes an hour must not keep
	// others from opening.
	if _, err := conn.ExecContext(ctx, `SELECT pg_advisory_lock($1, $2)`, lockAll, 1); err != nil {
		return err
	}
	defer func() {
		_, _ = conn.ExecContext(context.WithoutCancel(ctx), `SELECT pg_advisory_unlock($1, $2)`, lockAll, 1)
	}()
	return ix.prepare(ctx)
}

func (ix *Index) dialect() goose.Dialect {
	if ix.server {
		return goose.DialectPostgres
	}
	return goose.DialectSQLite3
}

// byBytes gives every text column of our tables the collation "C".
func (ix *Index) byBytes(ctx context.Context) error {
	var todo []string
	for _, tb := range append([]string{"state"}, tableNames()...) {
		err := ix.each(ctx, func(scan func(...any) error) error {
			var col string
			err := scan(&col)
			todo = append(todo, `ALTER TABLE `+tb+` ALTER COLUMN `+pgx.Identifier{col}.Sanitize()+` TYPE TEXT COLLATE "C"`)
			return err
		}, `SELECT a.attname FROM pg_attribute a JOIN pg_collation c ON c.oid = a.attcollation
WHERE a.attrelid = to_regclass($1) AND a.attnum > 0 AND NOT a.attisdropped AND c.collname <> 'C' ORDER BY a.attnum`, tb)
		if err != nil {
			return err
		}
	}
	if len(todo) == 0 {
		return nil
	}
	_, err := ix.db.Load().ExecContext(ctx, strings.Join(todo, "; "))
	return err
}

func tableNames() (out []string) {
	for _, tb := range tables {
		out = append(out, tb.name)
	}
	return out
}

// lock keeps writers apart: of key, or for "" from all others.
func (ix *Index) lock(ctx context.Context, t *sql.Tx, key string) error {
	if !ix.server {
		return nil // the transaction has the file for itself
	}
	if key == "" {
		_, err := t.ExecContext(ctx, `SELECT pg_advisory_xact_lock($1, $2)`, lockAll, 0)
		return err
	}
	if _, err := t.ExecContext(ctx, `SELECT pg_advisory_xact_lock_shared($1, $2)`, lockAll, 0); err != nil {
		return err
	}
	_, err := t.ExecContext(ctx, `SELECT pg_advisory_xact_lock($1, hashtext($2))`, lockOne, key)
	return err
}

// emptyServer is Remove of an index on PostgreSQL: the tables are emptied, and
// their files are gone with the transaction.
func emptyServer(path string) error {
	ctx := context.Background()
	ix, err := openServer(ctx, path)
	if err != nil {
		return err
	}
	defer func() { _ = ix.Close() }()
	_, err = ix.db.Load().ExecContext(ctx, `TRUNCATE state, `+strings.Join(tableNames(), ", "))
	return fault("empty the index", path, err)
}

// text is a text as both engines take it: without a NUL, and with what is no
// UTF-8 replaced byte by byte, as it is in the archive's own JSON.
func text(s string) string {
	return strings.ReplaceAll(string([]rune(s)), "\x00", "\ufffd")
}

// serverNext is what to do about an index on a server.
const serverNext = "nothing is lost, since the archive holds everything: see that the database runs and that engine.database names it; if it was damaged, run windrow archive rebuild"

func serverReason(doing, path string, err error) *ingest.Reason {
	return &ingest.Reason{Code: CodeFailed, Severity: ingest.Fail, Where: ingest.Place{File: Shown(path)},
		What: "Windrow could not " + doing, Found: strings.TrimSpace(err.Error()), Next: serverNext}
}
