package index

import (
	"context"

	"example.org/windrow/normalize/check"
)

// The records of a laboratory that have one thing in common with a sample and
// were reported on an earlier day, the latest first. At most twenty: a label
// such as "garden" stands in many reports, and the latest tell the most. Each
// is answered from an index in that order, however large the archive.
const (
	earlierByNumber = `SELECT c.id, r.id, r.report_no, c.lab_sample_id, c.client_sample_id, c.sampled, c.received, c.reported FROM records c JOIN reports r ON r.id = c.report_id
WHERE c.lab_sample_id = $1 AND c.reported < $2 AND r.lab = $3 AND r.id <> $4 AND r.status <> 'held' ORDER BY c.reported DESC, c.id LIMIT 20`
	earlierByLabel = `SELECT c.id, r.id, r.report_no, c.lab_sample_id, c.client_sample_id, c.sampled, c.received, c.reported FROM records c JOIN reports r ON r.id = c.report_id
WHERE c.client_sample_id = $1 AND c.reported < $2 AND r.lab = $3 AND r.id <> $4 AND r.status <> 'held' ORDER BY c.reported DESC, c.id LIMIT 20`
	earlierByResults = `SELECT c.id, r.id, r.report_no, c.lab_sample_id, c.client_sample_id, c.sampled, c.received, c.reported FROM records c JOIN reports r ON r.id = c.report_id
WHERE c.fingerprint = $1 AND c.reported < $2 AND r.lab = $3 AND r.id <> $4 AND r.status <> 'held' ORDER BY c.reported DESC, c.id LIMIT 20`
)

// Earlier gives records of other reports of a laboratory that are not held and
// have the sample's laboratory number, or its label, or the same results, and
// were reported on an earlier day; at most twenty for each.
func (ix *Index) Earlier(ctx context.Context, report, lab string, s *check.Sample) (out []check.Earlier, err error) {
	last := s.Last()
	if last == "" {
		return nil, nil
	}
	given := map[string]bool{}
	for _, by := range []struct{ query, value string }{{earlierByNumber, s.LabID}, {earlierByLabel, s.Label}, {earlierByResults, check.Fingerprint(s.Earlier())}} {
		if by.value == "" || err != nil {
			continue
		}
		var ids []string
		first := len(out)
		err = ix.each(ctx, func(scan func(...any) error) error {
			var id string
			var was check.Sample
			e := check.Earlier{Lab: lab}
			if err := scan(&id, &e.Report, &e.Number, &e.LabID, &e.Label, &was.Sampled, &was.Received, &was.Reported); err != nil {
				return err
			}
			e.Sampled, e.Last = was.Sampled, was.Last()
			if !given[id] && e.Last < last {
				given[id] = true
				ids, out = append(ids, id), append(out, e)
			}
			return nil
		}, by.query, by.value, last, lab, report)
		for i := 0; i < len(ids) && err == nil; i++ {
			out[first+i].Results, err = ix.resultsOf(ctx, ids[i])
		}
	}
	if err != nil {
		return nil, fault("look for earlier records", ix.path, err)
	}
	return out, nil
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
