package web

import (
	"context"

	"example.org/windrow/normalize/archive/index"
)

// holdingNow tells of files, by hash, what reports they hold, as they stand now.
// Those of a mail or a zip have bytes of their own: the desk remembers them since
// the file was worked on, or looks them up once by its name.
func (d *Desk) holdingNow(ctx context.Context, files []string) (map[string]index.Holding, error) {
	holding, err := d.off.Index.Holding(ctx, files, mostParts, officeOf(ctx))
	if err != nil {
		return nil, err
	}
	parts := map[string][]string{}
	var unknown, ids []string
	for _, f := range files {
		if _, have := holding[f]; have {
			continue
		}
		list, known := d.came.parts(f)
		if !known {
			unknown = append(unknown, f)
		}
		parts[f] = list
	}
	if len(unknown) > 0 {
		within, err := d.off.Index.Within(ctx, unknown)
		if err != nil {
			return nil, err
		}
		for _, f := range unknown {
			parts[f] = within[f]
			d.came.keep(f, within[f])
		}
	}
	for _, list := range parts {
		ids = append(ids, list...)
	}
	now, err := d.off.Index.ReportsOf(ctx, ids, officeOf(ctx))
	if err != nil {
		return nil, err
	}
	for f, list := range parts {
		var h index.Holding
		for _, id := range list {
			if r, have := now[id]; have {
				if h.All++; len(h.First) < mostParts {
					h.First = append(h.First, r)
				}
			}
		}
		if h.All > 0 {
			holding[f] = h
		}
	}
	for _, h := range holding {
		if err := d.standingNow(ctx, h.First); err != nil {
			return nil, err
		}
	}
	return holding, nil
}

// worstOf is how a file stands that holds several reports: it waits while one of
// them does.
func worstOf(list []index.Report) string {
	worst := index.Aside
	for _, status := range []string{"ok", "flagged", "held"} {
		for _, r := range list {
			if r.Status == status {
				worst = status
			}
		}
	}
	return worst
}

// parts are the reports that came within a file, by id; known is false where
// nobody has said or looked.
func (c *diary) parts(file string) (ids []string, known bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if out, worked := c.by[file]; worked && len(out.Parts) > 0 {
		for _, p := range out.Parts {
			ids = append(ids, p.ID)
		}
		return ids, true
	}
	ids, known = c.within[file]
	return ids, known
}

// keep remembers what was looked up of a file.
func (c *diary) keep(file string, ids []string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.within == nil || len(c.within) >= mostNoted {
		c.within = map[string][]string{}
	}
	c.within[file] = ids
}
