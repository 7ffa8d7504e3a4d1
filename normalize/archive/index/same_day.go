package index

import (
	"context"

	"example.org/windrow/normalize/check"
)

// SameDay gives the ids of the other reports of a laboratory that have a
// sample of that laboratory number, in capital or small letters, which was
// reported on the same day, YYYY-MM-DD, or on no day where reported is "", and says something else than
// said does, which is the sample's normalize.Said. Held reports are among them:
// why one is held is for the archive to say. The ids are in order, each once.
func (ix *Index) SameDay(ctx context.Context, report, lab, labID, reported, said string) (ids []string, err error) {
	if lab == "" || labID == "" {
		return nil, nil
	}
	err = ix.each(ctx, func(scan func(...any) error) error {
		var id string
		err := scan(&id)
		ids = append(ids, id)
		return err
	}, `SELECT DISTINCT c.report_id FROM records c JOIN reports r ON r.id = c.report_id
WHERE c.lab_sample_folded = $1 AND c.reported = $2 AND r.lab = $3 AND r.id <> $4 AND c.said <> $5 ORDER BY c.report_id`, check.Folded(labID), reported, lab, report, said)
	return ids, fault("look for reports of the same day", ix.path, err)
}
