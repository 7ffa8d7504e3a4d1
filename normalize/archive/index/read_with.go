package index

import (
	"context"
	"database/sql"
	"errors"
)

// A ReadWith counts the released reports that were read with the same bytes of
// a mapping.
type ReadWith struct {
	Mapping string // id
	SHA256  string // of the mapping file, "" where the report does not say
	Reports int    // that are not held, in their latest version
}

// ReadWith tells with which bytes of which mappings the released reports were
// read, by mapping. An index answers it without a look at the reports.
func (ix *Index) ReadWith(ctx context.Context) (out []ReadWith, err error) {
	err = ix.each(ctx, func(scan func(...any) error) error {
		var r ReadWith
		err := scan(&r.Mapping, &r.SHA256, &r.Reports)
		out = append(out, r)
		return err
	}, `SELECT mapping, mapping_sha256, count(*) FROM reports WHERE status <> 'held' AND mapping <> '' GROUP BY mapping, mapping_sha256 ORDER BY mapping, mapping_sha256`)
	return out, fault("count reports by mapping", ix.path, err)
}

// seenPrefix begins the keys under which the state has the bytes of a mapping
// that somebody has compared the archive with.
const seenPrefix = "seen-mapping:"

// Seen is the SHA-256 of the bytes of a mapping with which the archive was last
// compared, "" for none.
func (ix *Index) Seen(ctx context.Context, mapping string) (sha256hex string, err error) {
	err = ix.db.Load().QueryRowContext(ctx, `SELECT value FROM state WHERE key = $1`, seenPrefix+mapping).Scan(&sha256hex)
	if errors.Is(err, sql.ErrNoRows) {
		err = nil
	}
	return sha256hex, fault("look up a mapping", ix.path, err)
}

// SetSeen notes that the archive was compared with these bytes of a mapping.
// An index that is made anew has forgotten it.
func (ix *Index) SetSeen(ctx context.Context, mapping, sha256hex string) error {
	return ix.inTx(ctx, "note a mapping", seenPrefix+mapping, func(t *tx) error {
		if err := t.exec(`DELETE FROM state WHERE key = $1`, seenPrefix+mapping); err != nil {
			return err
		}
		return t.exec(`INSERT INTO state (key, value) VALUES ($1, $2)`, seenPrefix+mapping, sha256hex)
	})
}
