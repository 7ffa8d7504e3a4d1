package index

import (
	"context"
	"database/sql"
	"errors"
	"strconv"
	"strings"
	"time"
)

// A Source is what is known of a file that arrived.
type Source struct {
	SHA256    string   `json:"sha256"`
	Name      string   `json:"name"`       // under which it first came; "" when that was never noted
	Size      int64    `json:"size"`       // bytes
	FirstSeen string   `json:"first_seen"` // YYYY-MM-DDTHH:MM:SSZ, "" when never noted
	Arrivals  int      `json:"arrivals"`   // how often it was noted to arrive
	Outcome   string   `json:"outcome"`    // worst status of its reports; without one, the outcome of its last arrival; "" when it was only kept
	Reports   []string `json:"reports"`    // ids
}

// A Report is a report in a list.
type Report struct {
	ID       string `json:"id"`
	Version  int    `json:"version"`
	Lab      string `json:"lab"`
	LabName  string `json:"lab_name"`
	ReportNo string `json:"report_no"`
	Status   string `json:"status"`
	SHA256   string `json:"sha256"`
	Name     string `json:"name"`
	Member   string `json:"member"`
	Office   string `json:"office"`
	Reported string `json:"reported"` // YYYY-MM-DD; "" when the report states no date
	Records  int    `json:"records"`
	Results  int    `json:"results"`
}

// A Reason is why a report waits, or what a check found in it.
type Reason struct {
	Record   string `json:"record,omitempty"`  // id of the record it is about, "" for the report
	Analyte  string `json:"analyte,omitempty"` // of the result it is about
	Code     string `json:"code"`
	Severity string `json:"severity"`
	What     string `json:"what"`
}

// A HeldReport is a report that waits for a person, and why: its reasons of
// severity hold and fail.
type HeldReport struct {
	Report
	Reasons []Reason `json:"reasons"`
}

// A Record is a sample in a list.
type Record struct {
	ID          string `json:"id"`
	Report      string `json:"report"` // id
	Ordinal     int    `json:"ordinal"`
	LabID       string `json:"lab_sample_id"`
	ClientLabel string `json:"client_sample_id"`
	County      string `json:"county"`
	Sampled     string `json:"date_sampled"`
	Received    string `json:"date_received"`
	Reported    string `json:"date_reported"`
	LandUse     string `json:"land_use"`
	Status      string `json:"status"`
}

// A Filter says which reports to list. A zero field lets everything through.
type Filter struct {
	Status        string // of the archive, [Waiting] or [Aside]
	Lab, Office   string
	From, To      string // dates of reporting, YYYY-MM-DD, both included; a report without date is outside any range
	Limit, Offset int
}

// Counts says how much is in the index.
type Counts struct {
	Sources  int            `json:"sources"`
	Reports  int            `json:"reports"`
	Records  int            `json:"records"`
	Results  int            `json:"results"`
	Arrivals int            `json:"arrivals"`
	Status   map[string]int `json:"status"` // reports by status
	Labs     map[string]int `json:"labs"`   // reports by laboratory
	Holds    map[string]int `json:"holds"`  // reasons of held reports with severity hold or fail, by code
}

// Known says whether a file with this SHA-256 is known, and what became of
// it.
func (ix *Index) Known(ctx context.Context, sha256hex string) (s Source, known bool, err error) {
	defer func() { err = fault("look up a file", ix.path, err) }()
	err = ix.db.Load().QueryRowContext(ctx, `SELECT sha256, name, size, first_seen, (SELECT count(*) FROM arrivals a WHERE a.sha256 = s.sha256)
FROM sources s WHERE sha256 = $1`, sha256hex).Scan(&s.SHA256, &s.Name, &s.Size, &s.FirstSeen, &s.Arrivals)
	if errors.Is(err, sql.ErrNoRows) {
		return Source{}, false, nil
	}
	if err != nil {
		return Source{}, false, err
	}
	worst := -1
	err = ix.each(ctx, func(scan func(...any) error) error {
		var id, status, name string
		if err := scan(&id, &status, &name); err != nil {
			return err
		}
		if s.Name == "" {
			s.Name = name
		}
		s.Reports = append(s.Reports, id)
		if r := rank(status); r > worst {
			worst, s.Outcome = r, status
		}
		return nil
	}, `SELECT id, status, name FROM reports WHERE sha256 = $1 ORDER BY id`, sha256hex)
	if err != nil || worst >= 0 {
		return s, err == nil, err
	}
	err = ix.db.Load().QueryRowContext(ctx, `SELECT outcome FROM arrivals WHERE sha256 = $1 AND outcome <> 'again' ORDER BY arrived DESC, place DESC LIMIT 1`, sha256hex).Scan(&s.Outcome)
	if errors.Is(err, sql.ErrNoRows) {
		err = nil
	}
	return s, err == nil, err
}

func rank(status string) int {
	switch status {
	case "ok":
		return 0
	case "flagged":
		return 1
	}
	return 2 // held; a word that is not known here is no better
}

const reportColumns = `id, version, lab, lab_name, report_no, status, sha256, name, member, office, reported, records, results`

// Reports lists reports, the latest reported first.
func (ix *Index) Reports(ctx context.Context, f Filter) ([]Report, error) {
	where, args := f.where()
	return ix.reports(ctx, where, args, f)
}

// where are the conditions of a filter, and their arguments.
func (f *Filter) where() (where []string, args []any) {
	and := func(cond, v string) {
		if v != "" {
			args = append(args, v)
			where = append(where, cond+" $"+strconv.Itoa(len(args)))
		}
	}
	switch f.Status {
	case Waiting:
		where = append(where, "status = 'held' AND NOT "+ruledAside)
	case Aside:
		where = append(where, "status = 'held' AND "+ruledAside)
	default:
		and("status =", f.Status)
	}
	and("lab =", f.Lab)
	and("office =", f.Office)
	and("reported >=", f.From)
	and("reported <=", f.To)
	if f.To != "" {
		where = append(where, "reported <> ''")
	}
	return where, args
}

// reports lists the reports that meet all conditions.
func (ix *Index) reports(ctx context.Context, where []string, args []any, f Filter) (out []Report, err error) {
	q := `SELECT ` + reportColumns + ` FROM reports`
	if len(where) > 0 {
		q += ` WHERE ` + strings.Join(where, " AND ")
	}
	q += ` ORDER BY reported DESC, id`
	if f.Limit > 0 {
		q += ` LIMIT ` + strconv.Itoa(f.Limit) + ` OFFSET ` + strconv.Itoa(max(f.Offset, 0))
	}
	err = ix.each(ctx, func(scan func(...any) error) error {
		var r Report
		err := scan(r.fields()...)
		out = append(out, r)
		return err
	}, q, args...)
	return out, fault("list reports", ix.path, err)
}

func (r *Report) fields() []any {
	return []any{&r.ID, &r.Version, &r.Lab, &r.LabName, &r.ReportNo, &r.Status, &r.SHA256, &r.Name, &r.Member, &r.Office, &r.Reported, &r.Records, &r.Results}
}

// Held lists the reports that wait for a person, with why, the latest
// reported first.
func (ix *Index) Held(ctx context.Context) ([]HeldReport, error) {
	rs, err := ix.Reports(ctx, Filter{Status: "held"})
	if err != nil {
		return nil, err
	}
	out := make([]HeldReport, len(rs))
	at := make(map[string]int, len(rs))
	for i, r := range rs {
		out[i].Report = r
		at[r.ID] = i
	}
	err = ix.each(ctx, func(scan func(...any) error) error {
		var id string
		var r Reason
		if err := scan(&id, &r.Record, &r.Analyte, &r.Code, &r.Severity, &r.What); err != nil {
			return err
		}
		if i, ok := at[id]; ok { // else it was held since the list was made
			out[i].Reasons = append(out[i].Reasons, r)
		}
		return nil
	}, `SELECT s.report_id, s.record_id, s.analyte, s.code, s.severity, s.what FROM reasons s JOIN reports r ON r.id = s.report_id
WHERE r.status = 'held' AND s.severity IN ('hold', 'fail') ORDER BY s.report_id, s.ordinal`)
	return out, fault("list what is held", ix.path, err)
}

// Reasons lists all reasons and findings of a report, of every severity.
func (ix *Index) Reasons(ctx context.Context, report string) (out []Reason, err error) {
	err = ix.each(ctx, func(scan func(...any) error) error {
		var r Reason
		err := scan(&r.Record, &r.Analyte, &r.Code, &r.Severity, &r.What)
		out = append(out, r)
		return err
	}, `SELECT record_id, analyte, code, severity, what FROM reasons WHERE report_id = $1 ORDER BY ordinal`, report)
	return out, fault("list reasons", ix.path, err)
}

// Find gives the records whose id, or whose number at the laboratory, is the
// text. Laboratories use a number again, so that there may be several; the
// latest reported comes first; of one office, or for "" of all.
func (ix *Index) Find(ctx context.Context, text, office string) (out []Record, err error) {
	err = ix.each(ctx, func(scan func(...any) error) error {
		var r Record
		err := scan(&r.ID, &r.Report, &r.Ordinal, &r.LabID, &r.ClientLabel, &r.County, &r.Sampled, &r.Received, &r.Reported, &r.LandUse, &r.Status)
		out = append(out, r)
		return err
	}, `SELECT id, report_id, ordinal, lab_sample_id, client_sample_id, county, sampled, received, reported, land_use, status
FROM records WHERE (id = $1 OR lab_sample_id = $1) AND ($2 = '' OR report_id IN (SELECT id FROM reports WHERE office = $2)) ORDER BY reported DESC, report_id, ordinal`, text, office)
	return out, fault("find a record", ix.path, err)
}

// OfficeOf is the office that a report belongs to; known is false for a report
// that is not in the index.
func (ix *Index) OfficeOf(ctx context.Context, report string) (office string, known bool, err error) {
	err = ix.db.Load().QueryRowContext(ctx, `SELECT office FROM reports WHERE id = $1`, report).Scan(&office)
	if errors.Is(err, sql.ErrNoRows) {
		return "", false, nil
	}
	return office, err == nil, fault("look up whose a report is", ix.path, err)
}

// Counts counts what is in the index.
func (ix *Index) Counts(ctx context.Context) (c Counts, err error) {
	defer func() { err = fault("count", ix.path, err) }()
	err = ix.db.Load().QueryRowContext(ctx, `SELECT (SELECT count(*) FROM sources), (SELECT count(*) FROM reports), (SELECT count(*) FROM records),
(SELECT count(*) FROM results), (SELECT count(*) FROM arrivals)`).Scan(&c.Sources, &c.Reports, &c.Records, &c.Results, &c.Arrivals)
	if err != nil {
		return c, err
	}
	group := func(to *map[string]int, q string) {
		*to = map[string]int{}
		if err == nil {
			err = ix.each(ctx, func(scan func(...any) error) error {
				var k string
				var n int
				err := scan(&k, &n)
				(*to)[k] = n
				return err
			}, q)
		}
	}
	group(&c.Status, `SELECT status, count(*) FROM reports GROUP BY status`)
	group(&c.Labs, `SELECT lab, count(*) FROM reports GROUP BY lab`)
	group(&c.Holds, `SELECT s.code, count(*) FROM reasons s JOIN reports r ON r.id = s.report_id
WHERE r.status = 'held' AND s.severity IN ('hold', 'fail') GROUP BY s.code`)
	return c, err
}

// Newest is the time of the newest arrival, which is that of its file; zero
// for none.
func (ix *Index) Newest(ctx context.Context) (t time.Time, err error) {
	defer func() { err = fault("find the newest arrival", ix.path, err) }()
	var at string
	if err = ix.db.Load().QueryRowContext(ctx, `SELECT COALESCE(MAX(arrived), '') FROM arrivals`).Scan(&at); err != nil || at == "" {
		return t, err
	}
	return time.Parse(time.RFC3339, at)
}

// each runs a query and visits its rows.
func (ix *Index) each(ctx context.Context, visit func(scan func(...any) error) error, query string, args ...any) error {
	rows, err := ix.db.Load().QueryContext(ctx, query, args...)
	if err != nil {
		return err
	}
	for rows.Next() {
		if err := visit(rows.Scan); err != nil {
			return errors.Join(err, rows.Close())
		}
	}
	return errors.Join(rows.Err(), rows.Close())
}
