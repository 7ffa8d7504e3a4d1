package index

import (
	"context"
	"slices"
	"strings"
)

// A Came counts the files that came on one day with one outcome.
type Came struct {
	Day     string // YYYY-MM-DD, universal time
	Outcome string // ok, flagged, held, again, …
	Files   int
}

// Came counts what came from a day on, YYYY-MM-DD, by day and outcome, the
// latest day first; of one office, or for "" of all.
func (ix *Index) Came(ctx context.Context, from, office string) (out []Came, err error) {
	err = ix.each(ctx, func(scan func(...any) error) error {
		var c Came
		err := scan(&c.Day, &c.Outcome, &c.Files)
		out = append(out, c)
		return err
	}, `SELECT substr(arrived, 1, 10), outcome, count(*) FROM arrivals WHERE arrived >= $1 AND ($2 = '' OR office = $2)
GROUP BY substr(arrived, 1, 10), outcome ORDER BY substr(arrived, 1, 10) DESC, outcome`, from, office)
	return out, fault("count what came", ix.path, err)
}

// An Arrived is the note of a file that came.
type Arrived struct {
	At, Name, Channel, SHA256, Outcome string // At is YYYY-MM-DDTHH:MM:SSZ
	Report                             string // id; "" where the file holds several reports or none
}

// Latest lists the files that came last, the latest first; of one office, or
// for "" of all.
func (ix *Index) Latest(ctx context.Context, most int, office string) (out []Arrived, err error) {
	err = ix.each(ctx, func(scan func(...any) error) error {
		var a Arrived
		err := scan(&a.At, &a.Name, &a.Channel, &a.SHA256, &a.Outcome, &a.Report)
		out = append(out, a)
		return err
	}, `SELECT arrived, name, channel, sha256, outcome, report_id FROM arrivals WHERE ($2 = '' OR office = $2) ORDER BY arrived DESC, place DESC LIMIT $1`, most, office)
	return out, fault("list what came", ix.path, err)
}

// A Queued is a held report with what a person sorts the held ones by.
type Queued struct {
	HeldReport
	Layout string // of the mapping that recognised it; "" when none did
	Since  string // when its file first came, YYYY-MM-DDTHH:MM:SSZ; of a file within a mail, when that came; "" when it was never noted
}

// Queue lists the reports that wait for a person, those that have waited
// longest first. What a person decided not to use is not among them.
func (ix *Index) Queue(ctx context.Context) ([]Queued, error) {
	held, err := ix.Held(ctx)
	if err != nil {
		return nil, err
	}
	at := make(map[string]HeldReport, len(held))
	for _, h := range held {
		at[h.ID] = h
	}
	var out []Queued
	err = ix.each(ctx, func(scan func(...any) error) error {
		var id string
		var q Queued
		if err := scan(&id, &q.Layout, &q.Since); err != nil {
			return err
		}
		if h, ok := at[id]; ok { // else it was held since the list was made
			q.HeldReport = h
			out = append(out, q)
		}
		return nil
	}, `SELECT reports.id, reports.layout, s.first_seen FROM reports JOIN sources s ON s.sha256 = reports.sha256
WHERE reports.status = 'held' AND NOT `+ruledAside+` ORDER BY s.first_seen, reports.id`)
	if err == nil {
		err = ix.sinceTheirMail(ctx, out)
	}
	return out, fault("list what is held", ix.path, err)
}

// sinceTheirMail says of files within a mail or a zip, whose coming nobody noted,
// that they wait since a file of its name first came.
func (ix *Index) sinceTheirMail(ctx context.Context, list []Queued) error {
	var names []string
	for _, q := range list {
		if q.Since == "" && q.Member != "" && q.Name != "" && !slices.Contains(names, q.Name) {
			names = append(names, q.Name)
		}
	}
	if len(names) == 0 {
		return nil
	}
	since := map[string]string{}
	err := ix.eachOf(ctx, `SELECT name, MIN(first_seen) FROM sources WHERE first_seen <> '' AND name IN (?) GROUP BY name`, names, func(scan func(...any) error) error {
		var name, at string
		err := scan(&name, &at)
		since[name] = at
		return err
	})
	for i, q := range list {
		if q.Since == "" && q.Member != "" {
			list[i].Since = since[q.Name]
		}
	}
	slices.SortStableFunc(list, func(a, b Queued) int { return strings.Compare(a.Since, b.Since) })
	return err
}

// A LabCount says how much came from a laboratory.
type LabCount struct {
	Lab, Name                     string // "" for reports of which it is not known
	Reports, Held, Records, Flags int    // Held are reports that wait for a person; Flags are reports of which some result carries a finding
	Read, Contradicted            int    // reports that are used, and those of them that contradict themselves
	Last                          string // date of the latest report, "" where none has one
}

// LabCounts lists the laboratories by name, with what came of them to one
// office, or for "" to all.
func (ix *Index) LabCounts(ctx context.Context, office string) (out []LabCount, err error) {
	err = ix.each(ctx, func(scan func(...any) error) error {
		var c LabCount
		err := scan(&c.Lab, &c.Name, &c.Reports, &c.Held, &c.Flags, &c.Records, &c.Read, &c.Contradicted, &c.Last)
		out = append(out, c)
		return err
	}, `SELECT lab, max(lab_name), count(*), sum(CASE WHEN status = 'held' AND NOT `+ruledAside+` THEN 1 ELSE 0 END), sum(CASE WHEN status = 'flagged' THEN 1 ELSE 0 END), sum(records), sum(CASE WHEN records > 0 AND status <> 'held' THEN 1 ELSE 0 END), sum(CASE WHEN contradicted > 0 AND status <> 'held' THEN 1 ELSE 0 END), max(reported)
FROM reports WHERE ($1 = '' OR office = $1) GROUP BY lab ORDER BY max(lab_name), lab`, office)
	return out, fault("count laboratories", ix.path, err)
}
