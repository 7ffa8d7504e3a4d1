package index

import (
	"context"
	"slices"
	"strings"

	"example.org/windrow/mappings"
	"example.org/windrow/normalize/check"
)

// contradicting are the checks by which a report contradicts itself, and changes
// the reasons for which one is held that does not look as its mapping says.
var contradicting, changes = check.Across(), mappings.ChangeCodes()

// contradicted is of how many samples of a report such a check found something.
func (d *document) contradicted() int {
	n := 0
	odd := func(f finding) bool {
		return (f.Severity == "flag" || f.Severity == "hold") && slices.Contains(contradicting, f.Check)
	}
	for _, r := range d.Records {
		is := slices.ContainsFunc(r.Checks, odd)
		for i := 0; i < len(r.Results) && !is; i++ {
			is = slices.ContainsFunc(r.Results[i].Findings, odd)
		}
		if is {
			n++
		}
	}
	return n
}

// seenAs is what of a reason's expected and found is kept: nothing where it may
// be text of the client's, as beside a label or in a cell.
func seenAs(code, expected, found string) (string, string) {
	switch code {
	case "layout-changed", "unit-differs", "method-differs", "basis-differs":
		return expected, found
	}
	return "", ""
}

// A Cause is why reports of a laboratory are held, and how many are. A report
// with several causes counts for each.
type Cause struct {
	Lab, Code string
	What      string // in words; of several that differ, the first by letter
	Wordings  int    // in how many words it is said
	Reports   int
	Since     string // when the first file of them came, YYYY-MM-DDTHH:MM:SSZ; "" when that was never noted
}

// Causes lists why reports are held now, by laboratory, those of most reports
// first; of one office and laboratory, or for "" of all.
func (ix *Index) Causes(ctx context.Context, office, lab string) (out []Cause, err error) {
	err = ix.each(ctx, func(scan func(...any) error) error {
		var c Cause
		err := scan(&c.Lab, &c.Code, &c.What, &c.Wordings, &c.Reports, &c.Since)
		out = append(out, c)
		return err
	}, `SELECT r.lab, q.code, min(q.what), count(DISTINCT q.what), count(DISTINCT r.id), coalesce(min(nullif(s.first_seen, '')), '')
FROM reports r JOIN reasons q ON q.report_id = r.id JOIN sources s ON s.sha256 = r.sha256
WHERE r.status = 'held' AND q.severity IN ('hold', 'fail') AND ($1 = '' OR r.office = $1) AND ($2 = '' OR r.lab = $2)
GROUP BY r.lab, q.code ORDER BY r.lab, count(DISTINCT r.id) DESC, q.code`, office, lab)
	return out, fault("list why reports are held", ix.path, err)
}

// A Drift is one way in which reports that are held do not look as their
// laboratory's mapping says.
type Drift struct {
	Lab, Layout, Code, What string
	Expected, Found         string // what the mapping relied on, and what stood there; "" where it may be a client's text
	Reports                 int
	Since                   string // as of a Cause
	Report                  string // id of one of them
}

// Drifts lists how reports that are held now differ from their mapping, by
// laboratory, those first that began first; of one office and laboratory, or
// for "" of all.
func (ix *Index) Drifts(ctx context.Context, office, lab string) (out []Drift, err error) {
	err = ix.each(ctx, func(scan func(...any) error) error {
		var d Drift
		err := scan(&d.Lab, &d.Layout, &d.Code, &d.What, &d.Expected, &d.Found, &d.Reports, &d.Since, &d.Report)
		if slices.Contains(changes, d.Code) {
			out = append(out, d)
		}
		return err
	}, `SELECT r.lab, r.layout, q.code, q.what, q.expected, q.found, count(DISTINCT r.id), coalesce(min(nullif(s.first_seen, '')), ''), min(r.id)
FROM reports r JOIN reasons q ON q.report_id = r.id JOIN sources s ON s.sha256 = r.sha256
WHERE r.status = 'held' AND q.severity IN ('hold', 'fail') AND ($1 = '' OR r.office = $1) AND ($2 = '' OR r.lab = $2)
GROUP BY r.lab, r.layout, q.code, q.what, q.expected, q.found
ORDER BY r.lab, coalesce(min(nullif(s.first_seen, '')), ''), q.code, q.what, q.expected, q.found, r.layout`, office, lab)
	return out, fault("list what looks otherwise", ix.path, err)
}

// A Tally counts the reports of a laboratory of one year that are used, and
// those of them that contradict themselves. Of one that is held it is not known
// yet whether it was read right.
type Tally struct {
	Year                  string // of the report's date; "" where it states none
	Reports, Contradicted int
	Records, OddRecords   int // samples, and those of which a check across the report found something
}

// Tallies counts, by year, the reports of a laboratory that contradict
// themselves; of one office, or for "" of all.
func (ix *Index) Tallies(ctx context.Context, office, lab string) (out []Tally, err error) {
	err = ix.each(ctx, func(scan func(...any) error) error {
		var t Tally
		err := scan(&t.Year, &t.Reports, &t.Contradicted, &t.Records, &t.OddRecords)
		out = append(out, t)
		return err
	}, `SELECT substr(reported, 1, 4), count(*), sum(CASE WHEN contradicted > 0 THEN 1 ELSE 0 END), sum(records), sum(contradicted)
FROM reports WHERE lab = $2 AND status <> 'held' AND records > 0 AND ($1 = '' OR office = $1) GROUP BY substr(reported, 1, 4) ORDER BY substr(reported, 1, 4)`, office, lab)
	return out, fault("count what contradicts itself", ix.path, err)
}

// A Contradiction is a check by which reports of a laboratory contradict
// themselves.
type Contradiction struct {
	Check            string
	Reports, Records int
	Report           string // id of one of them, the latest
}

// Contradictions lists by which checks the used reports of a laboratory
// contradict themselves, those of most reports first; of one office, or for "" of all.
func (ix *Index) Contradictions(ctx context.Context, office, lab string) (out []Contradiction, err error) {
	err = ix.each(ctx, func(scan func(...any) error) error {
		var c Contradiction
		var key string
		err := scan(&c.Check, &c.Reports, &c.Records, &key)
		_, c.Report, _ = strings.Cut(key, " ")
		if slices.Contains(contradicting, c.Check) {
			out = append(out, c)
		}
		return err
	}, `SELECT q.code, count(DISTINCT r.id), count(DISTINCT q.record_id), max(r.reported || ' ' || r.id)
FROM reports r JOIN reasons q ON q.report_id = r.id WHERE r.lab = $2 AND r.contradicted > 0 AND r.status <> 'held' AND ($1 = '' OR r.office = $1)
AND q.severity IN ('flag', 'hold') GROUP BY q.code ORDER BY count(DISTINCT r.id) DESC, q.code`, office, lab)
	return out, fault("list what contradicts itself", ix.path, err)
}
