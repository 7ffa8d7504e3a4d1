package index

import (
	"context"
	"strings"
)

// markPrefix begins the keys of marks in the state.
const markPrefix = "mark:"

// Mark notes that something was begun that changes archive and index, under a
// name, until [Index.Unmark]. An index that is emptied with Remove has forgotten
// it; one that is rebuilt has not.
func (ix *Index) Mark(ctx context.Context, name string) error {
	return ix.inTx(ctx, "mark the index", markPrefix+name, func(t *tx) error {
		return t.exec(`INSERT INTO state (key, value) VALUES ($1, 'yes') ON CONFLICT (key) DO NOTHING`, markPrefix+name)
	})
}

// Unmark notes that what [Index.Mark] noted is over.
func (ix *Index) Unmark(ctx context.Context, name string) error {
	return ix.inTx(ctx, "unmark the index", markPrefix+name, func(t *tx) error {
		return t.exec(`DELETE FROM state WHERE key = $1`, markPrefix+name)
	})
}

// Marked reports whether something of this name was begun and is not over.
func (ix *Index) Marked(ctx context.Context, name string) (bool, error) {
	n := 0
	err := ix.db.Load().QueryRowContext(ctx, `SELECT count(*) FROM state WHERE key = $1`, markPrefix+name).Scan(&n)
	return n > 0, fault("look for a mark", ix.path, err)
}

// Sweep has a database on a server let go of the rows that were deleted, which
// else lie in its files until it tidies up by itself. Its log of changes and
// its copies keep them for as long as its owner has set. Of an index in a file
// it does nothing.
func (ix *Index) Sweep(ctx context.Context) error {
	if !ix.server {
		return nil
	}
	_, err := ix.db.Load().ExecContext(ctx, `VACUUM `+strings.Join(tableNames(), ", "))
	return fault("tidy the index", ix.path, err)
}
