package dataset

import (
	"crypto/sha256"
	"strings"

	"example.org/windrow/normalize"
)

// copies knows which samples were reported more than once with the same words:
// a report that came again with another line end, or as a page and a table.
// Each counts once, so that nobody takes two copies for two measurements.
//
// Of most samples there is no copy: of them it holds a hash of the words alone.
type copies struct {
	said map[saying]bool // whether more than one record says so
	by   map[saying][]statement
}

// A saying is a hash of what the copies of a sample have in common.
type saying [16]byte

// A statement is as much of a record as says of which sample it is.
type statement struct {
	rep *normalize.Report
	rec *normalize.Record
}

func newCopies() *copies { return &copies{map[saying]bool{}, map[saying][]statement{}} }

func sayingOf(rep *normalize.Report, rec *normalize.Record) saying {
	h := sha256.Sum256([]byte(strings.Join([]string{rep.Lab.ID, normalize.FoldedNumber(rec.Sample.LabID), rec.Sample.Reported, normalize.Said(rec)}, "\x00")))
	return saying(h[:16])
}

// eachNumbered visits the records of a report that may have copies.
func eachNumbered(rep *normalize.Report, visit func(*normalize.Record, saying)) {
	if !used(rep.Status) {
		return
	}
	for _, rec := range rep.Records {
		if used(rec.Status) && rec.Sample.LabID != "" {
			visit(rec, sayingOf(rep, rec))
		}
	}
}

// note takes down what the samples of a report that is used say.
func (c *copies) note(rep *normalize.Report) {
	eachNumbered(rep, func(_ *normalize.Record, k saying) {
		_, before := c.said[k]
		c.said[k] = before
	})
}

// any reports whether some words came more than once.
func (c *copies) any() bool {
	for k, more := range c.said {
		if !more {
			delete(c.said, k)
		}
	}
	return len(c.said) > 0
}

// gather takes down whose the words are that came more than once; any is to be
// asked before.
func (c *copies) gather(rep *normalize.Report) {
	head := &normalize.Report{ID: rep.ID, Number: rep.Number, Lab: rep.Lab}
	eachNumbered(rep, func(rec *normalize.Record, k saying) {
		if c.said[k] {
			c.by[k] = append(c.by[k], statement{head, &normalize.Record{Sample: rec.Sample, Client: rec.Client}})
		}
	})
}

// copy reports whether a record is one of a sample that a report with a
// smaller id has in the same words. So it does not matter in what order the
// reports come.
func (c *copies) copy(rep *normalize.Report, rec *normalize.Record) bool {
	if len(c.by) == 0 {
		return false
	}
	for _, s := range c.by[sayingOf(rep, rec)] {
		if s.rep.ID < rep.ID && normalize.SameSample(rep, rec, s.rep, s.rec) {
			return true
		}
	}
	return false
}

// used reports whether something with a status goes out. Only what is known to
// be sound does: a status that is not known here is as good as held.
func used(s normalize.Status) bool { return s == normalize.OK || s == normalize.Flagged }
