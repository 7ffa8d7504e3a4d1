package index

import (
	"context"
	"strconv"
	"strings"
)

// ruledAside is true of a row of reports that a person decided not to use: it is
// held, and waits for nobody.
const ruledAside = `EXISTS (SELECT 1 FROM reasons a WHERE a.report_id = reports.id AND a.code = 'ruled-aside')`

// What a [Filter] may ask for besides the statuses of the archive.
const (
	Waiting = "waiting" // held, and not set aside
	Aside   = "aside"   // held, since a person decided that it is not used
)

// mostAsked is how many values one query is asked for at most.
const mostAsked = 200

// eachOf asks a query for many values, some at a time. Its place for them is
// written (?), and its other arguments come first.
func (ix *Index) eachOf(ctx context.Context, query string, values []string, visit func(scan func(...any) error) error, first ...any) error {
	for len(values) > 0 {
		now := values[:min(len(values), mostAsked)]
		values = values[len(now):]
		args := append([]any(nil), first...)
		var places []string
		for _, v := range now {
			args = append(args, v)
			places = append(places, "$"+strconv.Itoa(len(args)))
		}
		if err := ix.each(ctx, visit, strings.Replace(query, "(?)", "("+strings.Join(places, ", ")+")", 1), args...); err != nil {
			return err
		}
	}
	return nil
}

// SetAside says of which of some reports, by their ids, a person decided that
// they are not used.
func (ix *Index) SetAside(ctx context.Context, reports []string) (map[string]bool, error) {
	out := map[string]bool{}
	err := ix.eachOf(ctx, `SELECT report_id FROM reasons WHERE code = 'ruled-aside' AND report_id IN (?)`, reports, func(scan func(...any) error) error {
		var id string
		err := scan(&id)
		out[id] = true
		return err
	})
	return out, fault("look up what was set aside", ix.path, err)
}

// A Holding is the reports that one file holds, as they stand now.
type Holding struct {
	All   int      // how many
	First []Report // of them, by id; no more than were asked for
}

// Holding tells of some files, by their SHA-256, what reports they hold; of
// each file no more than most are listed. office is whose reports are meant, ""
// for all. A file without a report is not in the answer.
func (ix *Index) Holding(ctx context.Context, files []string, most int, office string) (map[string]Holding, error) {
	out := map[string]Holding{}
	err := ix.eachOf(ctx, `SELECT `+reportColumns+`, every FROM (SELECT `+reportColumns+`, count(*) OVER (PARTITION BY sha256) AS every, row_number() OVER (PARTITION BY sha256 ORDER BY id) AS place
FROM reports WHERE ($1 = '' OR office = $1) AND sha256 IN (?)) AS held WHERE place <= $2 ORDER BY sha256, id`, files, func(scan func(...any) error) error {
		var r Report
		var all int
		if err := scan(append(r.fields(), &all)...); err != nil {
			return err
		}
		h := out[r.SHA256]
		h.All, h.First = all, append(h.First, r)
		out[r.SHA256] = h
		return nil
	}, office, most)
	return out, fault("look up what files hold", ix.path, err)
}
