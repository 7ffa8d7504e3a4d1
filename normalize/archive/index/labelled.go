package index

import "context"

// A Labelled is a record that bears a client's label, with what a register of
// samples is compared with.
type Labelled struct {
	Report       string // id
	Lab, LabName string
	ClientLabel  string
	// YYYY-MM-DD, "" where the report does not print it.
	Sampled, Received, Reported string
}

// Labelled visits the records that bear a client's label and were reported on
// the day from or later, YYYY-MM-DD, or on a day that is not known.
func (ix *Index) Labelled(ctx context.Context, from string, visit func(Labelled)) error {
	err := ix.each(ctx, func(scan func(...any) error) error {
		var l Labelled
		err := scan(&l.Report, &l.Lab, &l.LabName, &l.ClientLabel, &l.Sampled, &l.Received, &l.Reported)
		visit(l)
		return err
	}, `SELECT report_id, lab, lab_name, client_sample_id, sampled, received, reported FROM (
SELECT s.report_id, r.lab, r.lab_name, s.client_sample_id, s.sampled, s.received, s.reported, s.ordinal FROM records s JOIN reports r ON r.id = s.report_id
WHERE s.client_sample_id <> '' AND s.reported >= $1
UNION ALL
SELECT s.report_id, r.lab, r.lab_name, s.client_sample_id, s.sampled, s.received, s.reported, s.ordinal FROM records s JOIN reports r ON r.id = s.report_id
WHERE s.client_sample_id <> '' AND s.reported = '' AND $1 > '') x ORDER BY report_id, ordinal`, from)
	return fault("list labelled samples", ix.path, err)
}

// A Span is from when to when a laboratory had the samples of a report.
type Span struct {
	Lab, LabName string
	Received     string // YYYY-MM-DD
	Reported     string // YYYY-MM-DD
	Reports      int    // so many reports have these two dates
}

// Spans lists how long laboratories had samples, of released reports that
// print both dates. Each report counts once for each pair of dates in it.
func (ix *Index) Spans(ctx context.Context) (out []Span, err error) {
	err = ix.each(ctx, func(scan func(...any) error) error {
		var s Span
		err := scan(&s.Lab, &s.LabName, &s.Received, &s.Reported, &s.Reports)
		out = append(out, s)
		return err
	}, `SELECT r.lab, r.lab_name, s.received, s.reported, count(*)
FROM (SELECT DISTINCT report_id, received, reported FROM records WHERE received <> '' AND reported <> '') s JOIN reports r ON r.id = s.report_id
WHERE r.status <> 'held' GROUP BY r.lab, r.lab_name, s.received, s.reported ORDER BY r.lab, r.lab_name, s.received, s.reported`)
	return out, fault("list how long laboratories take", ix.path, err)
}
