package pipeline

import (
	"context"
	"slices"
	"sync"
	"time"

	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive/index"
	"example.org/windrow/normalize/check"
)

// history is what an index knows of earlier reports, for the cross-examination.
// An index that fails is told of and knows nothing: the report is read without.
type history struct {
	ctx  context.Context //nolint:containedctx // it lives as long as the reading of one file
	ix   *index.Index
	tell func(error)
	with *underway // nil when nothing else is read at the same time
}

// underway are the reports that are being read and not yet in the index, in
// the order in which they got so far. Without it two issues of one report that
// are read at the same time would not know of each other.
type underway struct {
	mu      sync.Mutex
	reports []*coming
}

// A coming is one of them.
type coming struct {
	report string // id
	knows  *normalize.Memory
}

// Coming implements normalize.Watcher.
func (h history) Coming(rep *normalize.Report) {
	if h.with != nil {
		c := &coming{rep.ID, normalize.NewMemory(rep)}
		h.with.mu.Lock()
		h.with.reports = append(h.with.reports, c)
		h.with.mu.Unlock()
	}
}

// before are those that got so far before a report did.
func (u *underway) before(report string) []*coming {
	if u == nil {
		return nil
	}
	u.mu.Lock()
	defer u.mu.Unlock()
	n := slices.IndexFunc(u.reports, func(c *coming) bool { return c.report == report })
	return slices.Clone(u.reports[:max(0, n)])
}

// done lets go of reports that are kept, or given up.
func (u *underway) done(rds []*Reading) {
	u.mu.Lock()
	defer u.mu.Unlock()
	u.reports = slices.DeleteFunc(u.reports, func(c *coming) bool {
		return slices.ContainsFunc(rds, func(rd *Reading) bool { return rd.Report != nil && rd.Report.ID == c.report })
	})
}

// Earlier implements normalize.History.
func (h history) Earlier(report, lab string, s *check.Sample) (out []check.Earlier) {
	// Before the index: what is there no more is there by then.
	for _, c := range h.with.before(report) {
		out = append(out, c.knows.Earlier(report, lab, s)...)
	}
	kept, err := h.ix.Earlier(h.ctx, report, lab, s)
	if err != nil {
		if h.ctx.Err() == nil {
			h.tell(err)
		}
		return out
	}
	return append(out, kept...)
}

// arrived is the day by which a report's dates must have come: that of the
// file, or the office's day if that is later, since a copy may bear the time
// of its first making.
func (o *Office) arrived(a Arrival) string {
	t := a.Time
	if now := o.Today(); now.After(t) {
		t = now
	}
	return t.UTC().Format(time.DateOnly)
}
