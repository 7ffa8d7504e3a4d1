package pipeline

import (
	"context"
	"time"
)

// ReadAnew reads reports anew after a decision on one of them, as replay does,
// and writes what comes of it; those of [Office.Rule], in their order, since
// what the others are depends on the first. tell is told of what came of each
// with the files it came in. No file is worked on meanwhile.
func (o *Office) ReadAnew(ctx context.Context, ids []string, on time.Time, tell func(id string, list []*Replayed)) error {
	return o.Sole(ctx, func(ctx context.Context) error { return o.readAnew(ctx, ids, on, tell) })
}

func (o *Office) readAnew(ctx context.Context, ids []string, on time.Time, tell func(id string, list []*Replayed)) error {
	for _, id := range ids {
		r, err := PlanReplay(ctx, o.Config, o.Stages, o.Archive, ReplayFilter{IDs: []string{id}, Beside: true, Offices: o.Offices()})
		if err != nil {
			return err
		}
		r.Office, r.Index, r.Register, r.Today, r.Tell = o, o.Index, o.Register(ctx), on.Format(time.DateOnly), o.Tell
		for i := range r.Len() {
			list, err := r.Do(context.WithoutCancel(ctx), i) // half a decision would be none
			if err != nil {
				return err
			}
			tell(id, list)
		}
	}
	return nil
}
