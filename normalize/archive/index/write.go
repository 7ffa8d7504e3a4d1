package index

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"time"

	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/check"
)

// tables lists the tables that hold what the archive holds, with the columns
// that order them.
var tables = []struct{ name, order string }{
	{"sources", "sha256"}, {"reports", "id"}, {"records", "id"}, {"results", "record_id, ordinal"},
	{"reasons", "report_id, ordinal"}, {"arrivals", "place"}, {"terms", "term, report_id"},
}

// AddOriginal notes that an original is in the archive; size is in bytes.
func (ix *Index) AddOriginal(ctx context.Context, sha256hex string, size int64) error {
	return ix.inTx(ctx, "note an original", sha256hex, func(t *tx) error { return t.source(sha256hex, "", size, "") })
}

// AddReport takes in one version of a report, as it is in the archive. What
// was known of earlier versions goes; a version that is older than the one
// already known changes nothing.
func (ix *Index) AddReport(ctx context.Context, id string, version int, b []byte) error {
	return ix.inTx(ctx, "note a report", id, func(t *tx) error { return t.report(id, version, b) })
}

// AddReportFrom is AddReport of a document that is written piece by piece and
// need not be held at once.
func (ix *Index) AddReportFrom(ctx context.Context, id string, version int, write func(io.Writer) error) error {
	r, w := io.Pipe()
	go func() { _ = w.CloseWithError(write(w)) }() // never fails
	d, err := decodeFrom(id, r)
	_ = r.Close() // so that who writes does not wait for ever; never fails
	if err != nil {
		return fault("note a report", ix.path, err)
	}
	return ix.inTx(ctx, "note a report", id, func(t *tx) error { return t.addDocument(d, version) })
}

// AddArrival takes in the note of an arrival; where is its place in the
// archive.
func (ix *Index) AddArrival(ctx context.Context, where string, n archive.Arrival) error {
	return ix.inTx(ctx, "note an arrival", where, func(t *tx) error { return t.arrival(where, n) })
}

// Rebuild empties the index and reads the whole archive into it, in one
// transaction: until it ends, others see what was there before. Documents
// that are damaged are left out and returned, joined, as the error, and the
// index then stays in need of a rebuild.
func (ix *Index) Rebuild(ctx context.Context, a *archive.Archive) error {
	var skipped []error
	err := ix.inTx(ctx, "rebuild the index", "", func(t *tx) error {
		for _, tb := range tables {
			if _, err := t.ExecContext(ctx, `DELETE FROM `+tb.name); err != nil {
				return err
			}
		}
		if _, err := t.ExecContext(ctx, `DELETE FROM state WHERE key = 'complete'`); err != nil {
			return err
		}
		var err error
		if skipped, err = t.fill(a, nil, nil, nil); err != nil || len(skipped) > 0 {
			return err
		}
		_, err = t.ExecContext(ctx, `INSERT INTO state (key, value) VALUES ('complete', 'yes')`)
		return err
	})
	if err != nil {
		return err
	}
	if err := ix.readState(ctx); err != nil {
		return fault("rebuild the index", ix.path, err)
	}
	return errors.Join(skipped...)
}

// CatchUp adds what the archive holds and the index doesn't, as after a crash
// between the two. It lists the archive and reads only what is new.
func (ix *Index) CatchUp(ctx context.Context, a *archive.Archive) error {
	var skipped []error
	err := ix.inTx(ctx, "catch up with the archive", "", func(t *tx) error {
		sources, err := t.have(`SELECT sha256, 1 FROM sources`)
		if err != nil {
			return err
		}
		reports, err := t.have(`SELECT id, version FROM reports`)
		if err != nil {
			return err
		}
		arrivals, err := t.have(`SELECT place, 1 FROM arrivals`)
		if err != nil {
			return err
		}
		skipped, err = t.fill(a, sources, reports, arrivals)
		return err
	})
	if err != nil {
		return err
	}
	return errors.Join(skipped...)
}

// Dump writes every row as text, in order, to compare two indexes by.
func (ix *Index) Dump(ctx context.Context, w io.Writer) error {
	for _, tb := range tables {
		rows, err := ix.db.Load().QueryContext(ctx, `SELECT * FROM `+tb.name+` ORDER BY `+tb.order)
		if err != nil {
			return fault("read the index", ix.path, err)
		}
		cols, err := rows.Columns()
		for err == nil && rows.Next() {
			vals := make([]any, len(cols))
			for i := range vals {
				vals[i] = new(string)
			}
			if err = rows.Scan(vals...); err != nil {
				break
			}
			line := tb.name
			for i, c := range cols {
				line += fmt.Sprintf(" %s=%q", c, *vals[i].(*string))
			}
			_, err = io.WriteString(w, line+"\n")
		}
		if err = errors.Join(err, rows.Err(), rows.Close()); err != nil {
			return fault("read the index", ix.path, err)
		}
	}
	return nil
}

// A tx is a transaction whose statements are prepared once.
type tx struct {
	*sql.Tx
	ctx   context.Context
	db    *database
	stmts map[string]*sql.Stmt
}

// inTx does something in one transaction, apart from others that write about
// the same key; "" is apart from all.
func (ix *Index) inTx(ctx context.Context, doing, key string, do func(*tx) error) error {
	db := ix.db.Load()
	db.ready(ctx)
	t, err := db.BeginTx(ctx, nil)
	if err != nil {
		return fault(doing, ix.path, err)
	}
	if err = ix.lock(ctx, t, key); err != nil {
		_ = t.Rollback()
		return fault(doing, ix.path, err)
	}
	if err = do(&tx{t, ctx, db, map[string]*sql.Stmt{}}); err != nil {
		_ = t.Rollback()
		return fault(doing, ix.path, err)
	}
	return fault(doing, ix.path, t.Commit())
}

func (t *tx) exec(query string, args ...any) error {
	s := t.stmts[query]
	if s == nil {
		var err error
		if s, err = t.db.in(t.ctx, t.Tx, query); err != nil {
			return err
		}
		t.stmts[query] = s // closed with the transaction
	}
	_, err := s.ExecContext(t.ctx, args...)
	return err
}

func (t *tx) have(query string) (map[string]int, error) {
	m := map[string]int{}
	rows, err := t.QueryContext(t.ctx, query)
	if err != nil {
		return nil, err
	}
	for rows.Next() {
		var k string
		var v int
		if err := rows.Scan(&k, &v); err != nil {
			return nil, errors.Join(err, rows.Close())
		}
		m[k] = v
	}
	return m, errors.Join(rows.Err(), rows.Close())
}

// fill reads what of the archive is not among what is known already.
func (t *tx) fill(a *archive.Archive, sources, reports, arrivals map[string]int) (skipped []error, err error) {
	skip := func(err error) error {
		// A damaged or unreadable document must not keep all others out of
		// sight; a failing database or a cancelled context must.
		if cerr := t.ctx.Err(); cerr != nil {
			return cerr
		}
		skipped = append(skipped, err)
		return nil
	}
	err = a.EachOriginal(func(r archive.Ref, size int64) error {
		if _, known := sources[r.SHA256()]; known {
			return nil
		}
		return t.source(r.SHA256(), "", size, "")
	})
	if err != nil {
		return skipped, err
	}
	err = a.EachID(archive.Reports, func(id string) error {
		vs, err := a.Versions(archive.Reports, id)
		if err != nil || len(vs) == 0 || reports[id] >= vs[len(vs)-1] {
			return err
		}
		b, v, err := a.Latest(archive.Reports, id)
		if err != nil {
			return skip(err)
		}
		d, err := decode(id, b)
		if err != nil {
			return skip(err)
		}
		return t.addDocument(d, v)
	})
	if err != nil {
		return skipped, err
	}
	err = a.EachArrivalPlace(func(where string) error {
		if _, known := arrivals[where]; known {
			return nil
		}
		n, err := a.Arrival(where)
		if errors.Is(err, archive.ErrNotFound) {
			return nil // a name that was taken and never filled
		}
		if err != nil {
			return skip(err)
		}
		return t.arrival(where, n)
	})
	return skipped, err
}

// source notes an original. Whatever the order in which arrivals, reports and
// originals are told, the row ends the same: with the name and time of the
// first arrival, if any.
func (t *tx) source(hash, name string, size int64, seen string) error {
	const earlier = `excluded.first_seen <> '' AND (sources.first_seen = '' OR excluded.first_seen < sources.first_seen
OR (excluded.first_seen = sources.first_seen AND excluded.name < sources.name))`
	return t.exec(`INSERT INTO sources (sha256, name, size, first_seen) VALUES ($1, $2, $3, $4)
ON CONFLICT (sha256) DO UPDATE SET
name = CASE WHEN `+earlier+` THEN excluded.name ELSE sources.name END,
first_seen = CASE WHEN `+earlier+` THEN excluded.first_seen ELSE sources.first_seen END,
size = CASE WHEN excluded.size > sources.size THEN excluded.size ELSE sources.size END`, hash, name, size, seen)
}

func (t *tx) arrival(where string, n archive.Arrival) error {
	at := n.Time.UTC().Truncate(time.Second).Format(time.RFC3339)
	name := text(n.Name)
	if err := t.source(n.SHA256, name, n.Size, at); err != nil {
		return err
	}
	return t.exec(`INSERT INTO arrivals (place, arrived, name, member, channel, office, sha256, size, outcome, report_id)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10) ON CONFLICT (place) DO NOTHING`,
		where, at, name, text(n.Member), text(n.Channel), text(n.Office), n.SHA256, n.Size, n.Outcome, n.Report)
}

func (t *tx) report(id string, version int, b []byte) error {
	d, err := decode(id, b)
	if err != nil {
		return err
	}
	return t.addDocument(d, version)
}

func (t *tx) addDocument(d *document, version int) error {
	var known int
	err := t.QueryRowContext(t.ctx, `SELECT version FROM reports WHERE id = $1`, d.ID).Scan(&known)
	switch {
	case errors.Is(err, sql.ErrNoRows):
	case err != nil:
		return err
	case known > version:
		return nil
	default:
		for _, q := range []string{
			`DELETE FROM results WHERE record_id IN (SELECT id FROM records WHERE report_id = $1)`,
			`DELETE FROM records WHERE report_id = $1`, `DELETE FROM reasons WHERE report_id = $1`, `DELETE FROM terms WHERE report_id = $1`, `DELETE FROM reports WHERE id = $1`} {
			if err := t.exec(q, d.ID); err != nil {
				return err
			}
		}
	}
	results := 0
	for _, r := range d.Records {
		results += len(r.Results)
	}
	if err := t.source(d.Source.SHA256, "", d.Source.Size, ""); err != nil {
		return err
	}
	if err := t.exec(`INSERT INTO reports (id, version, lab, lab_name, report_no, status, sha256, name, member, mapping, layout, mapping_sha256, software, office, reported, records, results, contradicted)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18)`,
		d.ID, version, d.Lab.ID, d.Lab.Name, d.ReportNo, d.Status, d.Source.SHA256, d.Source.Name, d.Source.Member, d.Mapping.ID, d.Mapping.Layout, d.Mapping.SHA256,
		d.Software, d.Office, d.reported(), len(d.Records), results, d.contradicted()); err != nil {
		return err
	}
	for _, term := range d.terms() {
		if err := t.exec(`INSERT INTO terms (term, report_id) VALUES ($1, $2)`, term, d.ID); err != nil {
			return err
		}
	}
	ordinal := 0
	reason := func(record, analyte, code, severity, what, expected, found string) error {
		ordinal++
		return t.exec(`INSERT INTO reasons (report_id, ordinal, record_id, analyte, code, severity, what, expected, found) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`,
			d.ID, ordinal, record, analyte, code, severity, what, expected, found)
	}
	for _, r := range d.Reasons {
		expected, found := seenAs(r.Code, r.Expected, r.Found)
		if err := reason("", "", r.Code, r.Severity, r.What, expected, found); err != nil {
			return err
		}
	}
	for i, r := range d.Records {
		s := r.Sample
		if err := t.exec(`INSERT INTO records (id, report_id, ordinal, lab_sample_id, client_sample_id, county, sampled, received, reported, land_use, status, fingerprint, said, lab_sample_folded, client)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15)`,
			r.ID, d.ID, i+1, s.LabID, s.ClientLabel, s.County, s.Sampled, s.Received, s.Reported, s.LandUse, r.Status, d.fingerprint(i), d.said(i), check.Folded(s.LabID), r.family()); err != nil {
			return err
		}
		for _, f := range r.Checks {
			if err := reason(r.ID, "", f.Check, f.Severity, f.What, "", ""); err != nil {
				return err
			}
		}
		for j, x := range r.Results {
			value := x.Value
			if x.Restates || s.DepthTopIn != "" {
				value = "" // what is looked for by value is found once, and is of the top layer
			}
			if err := t.exec(`INSERT INTO results (record_id, ordinal, analyte, detail, method, value, unit, censored, status, rating)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)`, r.ID, j+1, x.Analyte, x.Detail, x.Method, value, x.Unit, x.Censored, x.Status, x.Printed.Class); err != nil {
				return err
			}
			for _, f := range x.Findings {
				if err := reason(r.ID, x.Analyte, f.Check, f.Severity, f.What, "", ""); err != nil {
					return err
				}
			}
		}
	}
	return nil
}
