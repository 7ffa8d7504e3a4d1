package normalize

import (
	"crypto/sha256"
	"strings"
)

// Copies knows which samples were reported more than once with the same words:
// a report that came again with another line end, or as a page and a table.
// Each counts once, so that nobody takes two copies for two measurements. All
// reports are noted first; where there is Any copy they are gathered; then each
// record that is a Copy is left out.
//
// Of most samples there is no copy: of them it holds a hash of the words alone.
type Copies struct {
	said map[saying]bool // whether more than one record says so
	by   map[saying][]statement
}

// A saying is a hash of what the copies of a sample have in common.
type saying [16]byte

// A statement is as much of a record as says of which sample it is.
type statement struct {
	rep *Report
	rec *Record
}

// NewCopies knows of none yet.
func NewCopies() *Copies { return &Copies{map[saying]bool{}, map[saying][]statement{}} }

func sayingOf(rep *Report, rec *Record) saying {
	h := sha256.Sum256([]byte(strings.Join([]string{rep.Lab.ID, FoldedNumber(rec.Sample.LabID), rec.Sample.Reported, Said(rec)}, "\x00")))
	return saying(h[:16])
}

// eachNumbered visits the records of a report that may have copies.
func eachNumbered(rep *Report, visit func(*Record, saying)) {
	if !rep.Status.Used() {
		return
	}
	for _, rec := range rep.Records {
		if rec.Status.Used() && rec.Sample.LabID != "" {
			visit(rec, sayingOf(rep, rec))
		}
	}
}

// Note takes down what the samples of a report that is used say.
func (c *Copies) Note(rep *Report) {
	eachNumbered(rep, func(_ *Record, k saying) {
		_, before := c.said[k]
		c.said[k] = before
	})
}

// Any reports whether some words came more than once.
func (c *Copies) Any() bool {
	more := map[saying]bool{}
	for k, yes := range c.said {
		if yes {
			more[k] = true
		}
	}
	c.said = more // a map doesn't shrink by what is deleted
	return len(c.said) > 0
}

// Gather takes down whose the words are that came more than once; Any is to be
// asked before.
func (c *Copies) Gather(rep *Report) {
	head := &Report{ID: rep.ID, Number: rep.Number, Lab: rep.Lab}
	eachNumbered(rep, func(rec *Record, k saying) {
		if c.said[k] {
			c.by[k] = append(c.by[k], statement{head, &Record{Sample: rec.Sample, Client: rec.Client}})
		}
	})
}

// Copy reports whether a record is one of a sample that a report with a
// smaller id has in the same words. So it does not matter in what order the
// reports come.
func (c *Copies) Copy(rep *Report, rec *Record) bool {
	if len(c.by) == 0 {
		return false
	}
	for _, s := range c.by[sayingOf(rep, rec)] {
		if s.rep.ID < rep.ID && SameSample(rep, rec, s.rep, s.rec) {
			return true
		}
	}
	return false
}

// Used reports whether something with a status counts. Only what is known to be
// sound does: a status that is not known is as good as held.
func (s Status) Used() bool { return s == OK || s == Flagged }
