package main

import (
	"context"

	"example.org/windrow/cmd/internal/config"
	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/normalize/archive"
)

// anew reads reports anew after a person said something of them, one after the
// other, with whatever came in the same files; and prints what came of it. told
// gets each, with the id that it was read for.
func (e *env) anew(ctx context.Context, cfg *config.Config, off *pipeline.Office, a *archive.Archive, ids []string, told func(id string, y *pipeline.Replayed)) error {
	for _, id := range ids {
		r, err := pipeline.PlanReplay(ctx, cfg, off.Stages, a, pipeline.ReplayFilter{IDs: []string{id}, Beside: true})
		if err != nil {
			return err
		}
		r.Office, r.Index, r.Register, r.Today, r.Tell = off, off.Index, off.Register(ctx), e.now().Format("2006-01-02"), e.reason
		for i := range r.Len() {
			list, err := r.Do(context.WithoutCancel(ctx), i)
			if err != nil {
				return err
			}
			for _, y := range list {
				for _, to := range y.Moved {
					e.say("windrow: the file of %s waits no more and lies here now: %s", y.ID, to)
				}
				if y.ID != id && !y.Differs() {
					continue
				}
				putf(e.stdout, "  %s  %-8s  %s: %s made, %s put aside\n", y.ID, y.Status, y.Name, plural(len(y.Letters), "letter"), plural(len(y.Kept), "letter"))
				told(id, y)
			}
		}
	}
	return nil
}
