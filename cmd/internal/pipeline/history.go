package pipeline

import (
	"context"
	"time"

	"example.org/windrow/normalize/archive/index"
	"example.org/windrow/normalize/check"
)

// history is what an index knows of earlier reports, for the cross-examination.
// An index that fails is told of and knows nothing: the report is read without.
type history struct {
	ctx  context.Context //nolint:containedctx // it lives as long as the reading of one file
	ix   *index.Index
	tell func(error)
}

// Earlier implements normalize.History.
func (h history) Earlier(report, lab string, s *check.Sample) []check.Earlier {
	out, err := h.ix.Earlier(h.ctx, report, lab, s)
	if err != nil {
		if h.ctx.Err() == nil {
			h.tell(err)
		}
		return nil
	}
	return out
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
