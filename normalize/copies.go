package normalize

import (
	"crypto/sha256"
	"strings"
)

// Copies knows which samples were reported more than once with the same words:
// a report that came again with another line end, or as a page and a table. So
// that nobody takes two copies for two measurements, all reports are noted
// first, and then each record that is a copy is left out. The zero value knows
// of none.
type Copies struct {
	said map[[16]byte][]statement // by a hash of what the copies of a sample have in common
}

// A statement is as much of a record as says of which sample it is.
type statement struct {
	rep *Report
	rec *Record
}

func (c *Copies) key(rep *Report, rec *Record) (out [16]byte) {
	sum := sha256.Sum256([]byte(strings.Join([]string{rep.Lab.ID, FoldedNumber(rec.Sample.LabID), rec.Sample.Reported, Said(rec)}, "\x00")))
	copy(out[:], sum[:])
	return out
}

// Note takes down the samples of a report, if it is used.
func (c *Copies) Note(rep *Report) {
	if !rep.Status.Used() {
		return
	}
	if c.said == nil {
		c.said = map[[16]byte][]statement{}
	}
	head := &Report{ID: rep.ID, Number: rep.Number, Lab: rep.Lab}
	for _, rec := range rep.Records {
		if rec.Status.Used() && rec.Sample.LabID != "" {
			k := c.key(rep, rec)
			c.said[k] = append(c.said[k], statement{head, &Record{Sample: rec.Sample, Client: rec.Client}})
		}
	}
}

// Copy reports whether a record is one of a sample that a report with a smaller
// id has in the same words. So it does not matter in what order the reports
// came.
func (c *Copies) Copy(rep *Report, rec *Record) bool {
	for _, s := range c.said[c.key(rep, rec)] {
		if s.rep.ID < rep.ID && SameSample(rep, rec, s.rep, s.rec) {
			return true
		}
	}
	return false
}

// Used reports whether something with a status counts. Only what is known to be
// sound does: a status that is not known is as good as held.
func (s Status) Used() bool { return s == OK || s == Flagged }
