package pipeline

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"slices"

	"example.org/windrow/interpret"
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
	// Behind says that the sample was advised on with another row, or with
	// what the row said before.
	Behind bool `json:"advice_behind,omitempty"`
}

// A Compared is a register compared with an archive.
type Compared struct {
	Register *register.Register
	Taken    map[*register.Row][]Taken  // by row, in the order of the records' ids
	Perhaps  map[*register.Row][]string // ids of records that fit the row and another one equally well
	Times    *register.Times            // how long laboratories usually take

	st *Stages // nil where nobody asks whether advice is behind
	a  *archive.Archive
}

// CompareRegister finds the archived records of each row of a register, and
// how long laboratories usually take. Of the archive it reads those reports
// alone that have a sample of a label of the register; the index tells which.
// With stages it is also seen whether the advice on them is as the register is
// now; without, st is nil. Usual are the spans of the index ([KnownSpans]).
func CompareRegister(ctx context.Context, a *archive.Archive, ix *index.Index, reg *register.Register, st *Stages, usual []register.Span) (*Compared, error) {
	c := &Compared{st: st, a: a, Register: reg, Taken: map[*register.Row][]Taken{}, Perhaps: map[*register.Row][]string{}}
	var ids []string
	err := ix.Labelled(ctx, reg.From(), func(l index.Labelled) {
		if n := len(ids); n > 0 && ids[n-1] == l.Report {
			return
		}
		if reg.Could(normalize.Lab{ID: l.Lab, Name: l.LabName}, &normalize.Sample{ClientLabel: l.ClientLabel, Sampled: l.Sampled, Received: l.Received, Reported: l.Reported}) {
			ids = append(ids, l.Report)
		}
	})
	if err != nil {
		return nil, err
	}
	spans := slices.Clone(usual)
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
		more, err := c.add(b)
		if err != nil {
			return nil, fmt.Errorf("report %s in the archive: %w", id, err)
		}
		spans = append(spans, more...)
	}
	c.Times = register.UsualTimes(spans)
	return c, nil
}

// KnownSpans are from when to when laboratories had samples, of all reports in
// the index that print both days.
func KnownSpans(ctx context.Context, ix *index.Index) ([]register.Span, error) {
	known, err := ix.Spans(ctx)
	out := make([]register.Span, len(known))
	for i, s := range known {
		out[i] = register.Span{Lab: normalize.Lab{ID: s.Lab, Name: s.LabName}, From: s.Received, Reported: s.Reported, Reports: s.Reports}
	}
	return out, err
}

// add notes what rows were taken for the samples of a report. It gives how
// long the laboratory had those whose day of receipt the report doesn't print.
func (c *Compared) add(b []byte) (spans []register.Span, err error) {
	rep, err := samplesOf(b)
	if err != nil {
		return nil, err
	}
	var whole *normalize.Report // once it is asked for
	seen := map[string]bool{}
	for i, m := range c.Register.Match(rep) {
		s := &rep.Records[i].Sample
		for _, x := range m.Among {
			c.Perhaps[x] = append(c.Perhaps[x], m.Record)
		}
		if m.Row == nil {
			continue
		}
		t := Taken{Record: m.Record, Lab: rep.Lab.Name, Status: rep.Status, Reported: s.Reported, Confidence: m.Confidence, Why: m.Why}
		if c.st != nil && rep.Status != normalize.Held {
			if whole == nil {
				if err := json.Unmarshal(b, &whole); err != nil {
					return nil, err
				}
			}
			if t.Behind, err = c.behind(whole, whole.Records[i], m); err != nil {
				return nil, err
			}
		}
		c.Taken[m.Row] = append(c.Taken[m.Row], t)
		if s.Received == "" && s.Reported != "" && m.Row.Sent != "" && rep.Status != normalize.Held && !seen[m.Row.Sent+s.Reported] {
			seen[m.Row.Sent+s.Reported] = true
			spans = append(spans, register.Span{Lab: rep.Lab, From: m.Row.Sent, Reported: s.Reported, Reports: 1})
		}
	}
	return spans, nil
}

// samplesOf is an archived report without its results, which are most of it.
func samplesOf(b []byte) (*normalize.Report, error) {
	var d struct {
		ID      string           `json:"id"`
		Status  normalize.Status `json:"status"`
		Lab     normalize.Lab    `json:"lab"`
		Records []struct {
			ID     string            `json:"id"`
			Sample normalize.Sample  `json:"sample"`
			Client *normalize.Client `json:"client"`
		} `json:"records"`
	}
	if err := json.Unmarshal(b, &d); err != nil {
		return nil, err
	}
	rep := &normalize.Report{ID: d.ID, Status: d.Status, Lab: d.Lab}
	for _, r := range d.Records {
		rep.Records = append(rep.Records, &normalize.Record{ID: r.ID, Sample: r.Sample, Client: r.Client})
	}
	return rep, nil
}

// behind reports whether the latest advice on a record took something else from
// the register than it would today, or its county is another.
func (c *Compared) behind(rep *normalize.Report, rec *normalize.Record, m register.Match) (bool, error) {
	if s := rec.Sample; m.Row.County != "" && s.County != m.Row.County && (s.County == "" || slices.Contains(s.DefaultsUsed, register.CountyUsed)) {
		return true, nil
	}
	b, _, err := c.a.Latest(archive.Advice, rec.ID)
	if errors.Is(err, archive.ErrNotFound) {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	var was interpret.Advice
	if err := json.Unmarshal(b, &was); err != nil {
		return false, fmt.Errorf("advice on %s in the archive: %w", rec.ID, err)
	}
	now := c.st.Advise(rep, rec, interpret.Ask{On: was.On, Register: Registered(m)})
	return !reflect.DeepEqual(was.Register, now.Register) || was.AreaSqFt != now.AreaSqFt || was.LandUse.Said != now.LandUse.Said, nil
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
