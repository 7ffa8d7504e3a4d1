package main

import (
	"context"

	"example.org/windrow/cmd/internal/pipeline"
)

// anew reads reports anew after a person said something of them, one after the
// other, with whatever came in the same files; and prints what came of it. told
// gets each, with the id that it was read for.
func (e *env) anew(ctx context.Context, off *pipeline.Office, ids []string, told func(id string, y *pipeline.Replayed)) error {
	return off.ReadAnew(ctx, ids, e.now(), func(id string, list []*pipeline.Replayed) {
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
	})
}
