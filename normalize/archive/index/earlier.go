package index

import (
	"context"

	"example.org/windrow/normalize/check"
)

// Earlier gives records of other reports of a laboratory that are not held and
// have the sample's laboratory number, or its label, or the same results, and
// were reported on an earlier day; the latest first, and at most a hundred: a
// label such as "garden" stands in many reports, and the latest tell the most.
func (ix *Index) Earlier(ctx context.Context, report, lab string, s *check.Sample) (out []check.Earlier, err error) {
	last := s.Last()
	if last == "" {
		return nil, nil
	}
	var ids []string
	err = ix.each(ctx, func(scan func(...any) error) error {
		var id string
		e := check.Earlier{Lab: lab}
		err := scan(&id, &e.Report, &e.Number, &e.LabID, &e.Label, &e.Sampled, &e.Last)
		ids, out = append(ids, id), append(out, e)
		return err
	}, `SELECT c.id, r.id, r.report_no, c.lab_sample_id, c.client_sample_id, c.sampled,
CASE WHEN c.reported <> '' THEN c.reported WHEN c.received <> '' THEN c.received ELSE c.sampled END
FROM records c JOIN reports r ON r.id = c.report_id
WHERE (c.lab_sample_id = $1 OR c.client_sample_id = $2 OR c.fingerprint = $3) AND r.lab = $4 AND r.id <> $5 AND r.status <> 'held'
AND CASE WHEN c.reported <> '' THEN c.reported WHEN c.received <> '' THEN c.received ELSE c.sampled END < $6
ORDER BY 7 DESC, c.id LIMIT 100`, given(s.LabID), given(s.Label), given(check.Fingerprint(s.Earlier())), lab, report, last)
	for i := 0; i < len(out) && err == nil; i++ {
		out[i].Results, err = ix.resultsOf(ctx, ids[i])
	}
	if err != nil {
		return nil, fault("look for earlier records", ix.path, err)
	}
	return out, nil
}

// given is a text to ask for, or what nothing equals when there is none.
func given(s string) any {
	if s == "" {
		return nil
	}
	return s
}

func (ix *Index) resultsOf(ctx context.Context, record string) (out []check.EarlierResult, err error) {
	err = ix.each(ctx, func(scan func(...any) error) error {
		var x check.EarlierResult
		err := scan(&x.Analyte, &x.Detail, &x.Method, &x.Unit, &x.Value)
		out = append(out, x)
		return err
	}, `SELECT analyte, detail, method, unit, value FROM results WHERE record_id = $1 AND value <> '' ORDER BY ordinal`, record)
	return out, err
}
