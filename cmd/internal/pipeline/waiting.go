package pipeline

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"

	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/archive/index"
	"example.org/windrow/normalize/register"
)

// A Taken is a record that a row of the register was taken for.
type Taken struct {
	Record     string              `json:"record"`
	Lab        string              `json:"lab"`
	Status     normalize.Status    `json:"status"` // of its report
	Reported   string              `json:"date_reported,omitempty"`
	Confidence register.Confidence `json:"confidence"`
	Why        string              `json:"why"`
}

// A Compared is a register compared with an archive.
type Compared struct {
	Register *register.Register
	Taken    map[*register.Row][]Taken  // by row, in the order of the records' ids
	Perhaps  map[*register.Row][]string // ids of records that fit the row and another one equally well
	Times    *register.Times            // how long laboratories usually take
}

// CompareRegister finds the archived records of each row of a register, and
// how long laboratories usually take. Of the archive it reads those reports
// alone that have a sample of a label of the register; the index tells which.
func CompareRegister(ctx context.Context, a *archive.Archive, ix *index.Index, reg *register.Register) (*Compared, error) {
	c := &Compared{Register: reg, Taken: map[*register.Row][]Taken{}, Perhaps: map[*register.Row][]string{}}
	var ids []string
	err := ix.Labelled(ctx, reg.From(), func(l index.Labelled) {
		if n := len(ids); reg.Has(l.ClientLabel) && (n == 0 || ids[n-1] != l.Report) {
			ids = append(ids, l.Report)
		}
	})
	if err != nil {
		return nil, err
	}
	var spans []register.Span
	for _, id := range ids {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		b, _, err := a.Latest(archive.Reports, id)
		if errors.Is(err, archive.ErrNotFound) {
			continue // the index knows more than the archive has: windrow archive verify tells
		}
		if err != nil {
			return nil, err
		}
		rep := &normalize.Report{}
		if err := json.Unmarshal(b, rep); err != nil {
			return nil, fmt.Errorf("report %s in the archive: %w", id, err)
		}
		spans = append(spans, c.add(rep)...)
	}
	known, err := ix.Spans(ctx)
	if err != nil {
		return nil, err
	}
	for _, s := range known {
		spans = append(spans, register.Span{Lab: normalize.Lab{ID: s.Lab, Name: s.LabName}, From: s.Received, Reported: s.Reported, Reports: s.Reports})
	}
	c.Times = register.UsualTimes(spans)
	return c, nil
}

// add notes what rows were taken for the samples of a report. It gives how
// long the laboratory had those whose day of receipt the report doesn't print.
func (c *Compared) add(rep *normalize.Report) (spans []register.Span) {
	seen := map[string]bool{}
	for i, m := range c.Register.Match(rep) {
		s := &rep.Records[i].Sample
		for _, x := range m.Among {
			c.Perhaps[x] = append(c.Perhaps[x], m.Record)
		}
		if m.Row == nil {
			continue
		}
		c.Taken[m.Row] = append(c.Taken[m.Row], Taken{m.Record, rep.Lab.Name, rep.Status, s.Reported, m.Confidence, m.Why})
		if s.Received == "" && s.Reported != "" && m.Row.Sent != "" && rep.Status != normalize.Held && !seen[m.Row.Sent+s.Reported] {
			seen[m.Row.Sent+s.Reported] = true
			spans = append(spans, register.Span{Lab: rep.Lab, From: m.Row.Sent, Reported: s.Reported, Reports: 1})
		}
	}
	return spans
}

// Waiting lists the samples of which there is no report on a day, YYYY-MM-DD.
// One whose report has come and is held is not among them.
func (c *Compared) Waiting(on string, overdue int) []register.Wait {
	list := c.Register.Waiting(on, func(x *register.Row) bool { return len(c.Taken[x]) > 0 }, c.Times, overdue)
	for i := range list {
		if p := c.Perhaps[list[i].Row]; len(p) > 0 {
			list[i].Perhaps = p[0]
		}
	}
	return list
}
