package index

import (
	"context"
	"database/sql"
	"sync"
)

// A database keeps the statements that are used again and again: to parse
// them anew for every report takes SQLite longer than to do what they say. A
// server's driver does so itself.
type database struct {
	*sql.DB
	keeps bool

	mu    sync.Mutex
	stmts map[string]*sql.Stmt // nil for one that was used once
}

func newDatabase(db *sql.DB, keeps bool) *database {
	return &database{DB: db, keeps: keeps, stmts: map[string]*sql.Stmt{}}
}

// mostStatements bounds how many are kept: what is put together for one
// question need not be.
const mostStatements = 100

// kept is the statement of a query that was used before, nil for any other and
// where it can't be prepared: then the query itself tells why. It must not be
// called with a connection in hand, since it may need one.
func (d *database) kept(ctx context.Context, query string) *sql.Stmt {
	if !d.keeps {
		return nil
	}
	d.mu.Lock()
	s, used := d.stmts[query]
	d.note(query)
	d.mu.Unlock()
	if s != nil || !used {
		return s
	}
	// Not with the lock held: who has the connection that this waits for may
	// be waiting for the lock.
	s, err := d.PrepareContext(ctx, query)
	if err != nil {
		return nil
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	if other := d.stmts[query]; other != nil {
		_ = s.Close() // another was faster
		return other
	}
	d.stmts[query] = s // closed with the database
	return s
}

// note remembers that a query was used. Call it with the lock held.
func (d *database) note(query string) {
	if _, used := d.stmts[query]; !used && len(d.stmts) < mostStatements {
		d.stmts[query] = nil
	}
}

// in is the statement of a query within a transaction.
func (d *database) in(ctx context.Context, t *sql.Tx, query string) (*sql.Stmt, error) {
	d.mu.Lock()
	s := d.stmts[query]
	if d.keeps {
		d.note(query)
	}
	d.mu.Unlock()
	if s != nil {
		return t.StmtContext(ctx, s), nil
	}
	return t.PrepareContext(ctx, query)
}

// ready prepares what transactions used, while there is none.
func (d *database) ready(ctx context.Context) {
	d.mu.Lock()
	var todo []string
	for q, s := range d.stmts {
		if s == nil {
			todo = append(todo, q)
		}
	}
	d.mu.Unlock()
	for _, q := range todo {
		d.kept(ctx, q)
	}
}

// QueryContext is that of the database, by the statement kept for the query.
func (d *database) QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error) {
	if s := d.kept(ctx, query); s != nil {
		return s.QueryContext(ctx, args...)
	}
	return d.DB.QueryContext(ctx, query, args...)
}

// QueryRowContext is that of the database, by the statement kept for the query.
func (d *database) QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row {
	if s := d.kept(ctx, query); s != nil {
		return s.QueryRowContext(ctx, args...)
	}
	return d.DB.QueryRowContext(ctx, query, args...)
}
