package web

import (
	"context"
	"slices"
	"sync"

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/normalize/archive/index"
)

// mostNoted is how many of the latest outcomes the desk remembers.
const mostNoted = 200

// A diary is what came of the latest files, by hash, since the desk was opened.
type diary struct {
	mu    sync.Mutex
	by    map[string]pipeline.Outcome
	order []string

	within map[string][]string // the reports within files that came before, by id
}

// Note tells the desk what came of a file, so that pages say it at once.
func (d *Desk) Note(out pipeline.Outcome) {
	d.came.mu.Lock()
	if d.came.by == nil {
		d.came.by = map[string]pipeline.Outcome{}
	}
	out.Parts = slices.Clone(out.Parts)
	for i := range out.Parts {
		out.Parts[i].Report = nil // a page asks the archive
	}
	if before, have := d.came.by[out.SHA256]; have {
		if len(out.Parts) == 0 {
			out.Parts = before.Parts // what came again is not worked on again
		}
	} else {
		d.came.order = append(d.came.order, out.SHA256)
	}
	d.came.by[out.SHA256] = out
	delete(d.came.within, out.SHA256)
	if len(d.came.order) > mostNoted {
		delete(d.came.by, d.came.order[0])
		d.came.order = d.came.order[1:]
	}
	d.came.mu.Unlock()
	d.changed()
	d.ways.came(out)
}

// changed forgets what was remembered of how things stand.
func (d *Desk) changed() {
	d.counts.forget()
	d.causes.forget()
	d.waiting.forget()
	d.labs.forget()
	d.drifts.forget()
	d.towns.forget()
	d.promises.forget()
}

func (d *Desk) labsNow(ctx context.Context) ([]index.LabCount, error) {
	return d.labs.get(context.WithoutCancel(ctx), func(ctx context.Context) ([]index.LabCount, error) { return d.off.Index.LabCounts(ctx, officeOf(ctx)) })
}

func (d *Desk) countiesNow(ctx context.Context) ([]string, error) {
	return d.towns.get(context.WithoutCancel(ctx), func(ctx context.Context) ([]string, error) { return d.off.Index.Counties(ctx, officeOf(ctx)) })
}
