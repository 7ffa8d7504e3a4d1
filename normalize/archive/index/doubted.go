package index

import "context"

// A Doubted is a record of a report that is used, of which a check flagged
// something, and which no later report on the same sample has replaced.
type Doubted struct {
	Record, Report, Lab, LabName string
	LabSampleID, ClientLabel     string
	Reported                     string // YYYY-MM-DD, "" where the report does not print it
}

// Doubted lists those records of one office, or for "" of all, the longest
// reported first.
func (ix *Index) Doubted(ctx context.Context, office string) (out []Doubted, err error) {
	err = ix.each(ctx, func(scan func(...any) error) error {
		var d Doubted
		err := scan(&d.Record, &d.Report, &d.Lab, &d.LabName, &d.LabSampleID, &d.ClientLabel, &d.Reported)
		out = append(out, d)
		return err
	}, `SELECT DISTINCT s.id, s.report_id, r.lab, r.lab_name, s.lab_sample_id, s.client_sample_id, s.reported
FROM reasons q JOIN records s ON s.id = q.record_id JOIN reports r ON r.id = s.report_id
WHERE r.status <> 'held' AND ($1 = '' OR r.office = $1) AND q.severity IN ('flag', 'hold')
AND NOT EXISTS (SELECT 1 FROM records n JOIN reports p ON p.id = n.report_id
WHERE p.status <> 'held' AND p.lab = r.lab AND n.lab_sample_id = s.lab_sample_id AND n.client_sample_id = s.client_sample_id AND n.sampled = s.sampled AND n.reported > s.reported)
ORDER BY s.reported, s.id`, office)
	return out, fault("list doubted samples", ix.path, err)
}
