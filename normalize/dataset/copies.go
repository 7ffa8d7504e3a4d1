package dataset

import (
	"strings"

	"example.org/windrow/normalize"
)

// copies knows which samples were reported more than once with the same words:
// a report that came again with another line end, or as a page and a table.
// Each counts once, so that nobody takes two copies for two measurements.
type copies map[string][]statement

// A statement is as much of a record as says of which sample it is.
type statement struct {
	rep *normalize.Report
	rec *normalize.Record
}

// key is what the copies of a sample have in common.
func (c copies) key(rep *normalize.Report, rec *normalize.Record) string {
	return strings.Join([]string{rep.Lab.ID, normalize.FoldedNumber(rec.Sample.LabID), rec.Sample.Reported, normalize.Said(rec)}, "\x00")
}

// note takes down the samples of a report that is used.
func (c copies) note(rep *normalize.Report) {
	if !used(rep.Status) {
		return
	}
	head := &normalize.Report{ID: rep.ID, Number: rep.Number, Lab: rep.Lab}
	for _, rec := range rep.Records {
		if used(rec.Status) && rec.Sample.LabID != "" {
			k := c.key(rep, rec)
			c[k] = append(c[k], statement{head, &normalize.Record{Sample: rec.Sample, Client: rec.Client}})
		}
	}
}

// copy reports whether a record is one of a sample that a report with a
// smaller id has in the same words. So it does not matter in what order the
// reports come.
func (c copies) copy(rep *normalize.Report, rec *normalize.Record) bool {
	for _, s := range c[c.key(rep, rec)] {
		if s.rep.ID < rep.ID && normalize.SameSample(rep, rec, s.rep, s.rec) {
			return true
		}
	}
	return false
}

// used reports whether something with a status goes out. Only what is known to
// be sound does: a status that is not known here is as good as held.
func used(s normalize.Status) bool { return s == normalize.OK || s == normalize.Flagged }
