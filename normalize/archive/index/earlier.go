package index

import (
	"context"

	"example.org/windrow/normalize/check"
)

// The records of a laboratory that have one thing in common with a sample and
// were reported on an earlier day or the same, the latest first. At most
// twenty: a label such as "garden" stands in many reports, and the latest tell
// the most. Each is answered from an index in that order, however large the
// archive.
//
// Of two reports of one day the one whose file came first is the earlier one,
// and of files of one second the one with the lesser id: whichever is read
// first, and however often, the same one is found to be the second. As long
// as nothing is known of when one of them came, as of one that is being read
// for the first time, the other is its earlier one.
const (
	earlierFrom  = `c.id, r.id, r.report_no, c.lab_sample_id, c.client_sample_id, c.sampled, c.received, c.reported FROM records c JOIN reports r ON r.id = c.report_id WHERE `
	earlierWhere = ` = $1 AND c.reported <= $2 AND r.lab = $3 AND r.id <> $4 AND r.status <> 'held'
AND (c.reported < $2 OR NOT EXISTS (SELECT 1 FROM reports m JOIN sources ms ON ms.sha256 = m.sha256 JOIN sources rs ON rs.sha256 = r.sha256
WHERE m.id = $4 AND ms.first_seen <> '' AND (ms.first_seen < rs.first_seen OR ms.first_seen = rs.first_seen AND m.id < r.id))) ORDER BY c.reported DESC, c.id LIMIT 20`
	earlierByNumber  = `SELECT ` + earlierFrom + `c.lab_sample_id` + earlierWhere
	earlierByLabel   = `SELECT ` + earlierFrom + `c.client_sample_id` + earlierWhere
	earlierByResults = `SELECT ` + earlierFrom + `c.fingerprint` + earlierWhere
)

// Earlier gives records of other reports of a laboratory that are not held and
// have the sample's laboratory number, or its label, or the same results, and
// were reported on an earlier day, or on the same and came before; at most
// twenty for each.
func (ix *Index) Earlier(ctx context.Context, report, lab string, s *check.Sample) (out []check.Earlier, err error) {
	last := s.Last() // "" sorts before every day: without a date there are those without one
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
			if !given[id] && e.Last <= last {
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
