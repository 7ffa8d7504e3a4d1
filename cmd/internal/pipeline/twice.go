package pipeline

import (
	"context"
	"os"
	"sync"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/second"
	"example.org/windrow/mappings"
)

// secondOnly is the note of a document that only the second engine could read.
const secondOnly = "second-engine-only"

// twice has every PDF read a second time by another engine.
type twice struct {
	client *second.Client
	once   sync.Once
}

// compiled is the time to fill the second engine's cache, once in a process
// and on most machines once for ever. That it can't be filled costs time only.
func (t *twice) compiled(ctx context.Context) {
	t.once.Do(func() { _ = second.Compile(ctx, second.CacheDir()) })
}

// compare holds what a mapping read from a PDF against what the second engine
// sees in the same places. Where the two differ, the reading carries both and
// is flagged; it is not changed.
func (t *twice) compare(ctx context.Context, src *ingest.Source, doc *ingest.Document, x *mappings.Extract, lim ingest.Limits) {
	if len(x.Samples) == 0 || doc.Scanned() {
		return
	}
	if only := note(doc, secondOnly); only != nil {
		for _, s := range x.Samples {
			for i := range s.Readings {
				s.Readings[i].Doubts = append(s.Readings[i].Doubts, only)
			}
		}
		return
	}
	t.compiled(ctx)
	glyphs, err := t.client.Glyphs(ctx, src, lim)
	if err != nil {
		r := ingest.AsReason(err)
		x.Reasons = append(x.Reasons, &ingest.Reason{Code: "second-engine-failed", Severity: ingest.Flag, Where: ingest.Place{File: src.Title()}, What: "the file could not be read a second time by another program, so nothing bears out the first reading",
			Expected: "two readings of every number", Found: r.What, Next: "compare some numbers with the page"})
		return
	}
	c := second.Compare(doc, glyphs)
	for _, s := range x.Samples {
		for i := range s.Readings {
			rd := &s.Readings[i]
			for _, d := range append(c.At(rd.Place), c.At(rd.UnitPlace)...) {
				if d.Place.Page > 0 {
					rd.Doubts = append(rd.Doubts, d.Reason())
				}
			}
		}
		for _, f := range s.Fields {
			if f.Place.Box == nil {
				continue
			}
			for _, d := range c.At(f.Place) {
				x.Reasons = append(x.Reasons, d.Reason())
			}
		}
	}
	x.Reasons = distinct(x.Reasons)
}

// distinct leaves out reasons that say the same of the same place.
func distinct(in []*ingest.Reason) []*ingest.Reason {
	seen := map[string]bool{}
	var out []*ingest.Reason
	for _, r := range in {
		k := r.Code + "\x00" + r.Where.String() + "\x00" + r.What + "\x00" + r.Found
		if !seen[k] {
			seen[k] = true
			out = append(out, r)
		}
	}
	return out
}

func note(doc *ingest.Document, code string) *ingest.Reason {
	for _, n := range doc.Notes {
		if n.Code == code {
			return n
		}
	}
	return nil
}

// onlySecond are the codes for which a PDF that the first engine can't open is
// read by the second one alone: it is whole, but locked without a password or
// written in a way that the first does not know. A damaged file is not among
// them, as half of a report must not pass for one.
var onlySecond = map[string]bool{"locked": true, "not-supported": true}

// rescue reads a PDF by the second engine alone. Everything read from it is
// flagged.
func (t *twice) rescue(ctx context.Context, src *ingest.Source, lim ingest.Limits) (*ingest.Document, error) {
	t.compiled(ctx)
	return t.client.Read(ctx, src, lim)
}

// secondCache is where the second engine keeps its machine code, for the
// processes set apart.
func secondCache() string { return second.CacheVar + "=" + second.CacheDir() }

// secondEngine is the engine of a process set apart.
func secondEngine() *second.Engine {
	return second.New(second.Options{CacheDir: os.Getenv(second.CacheVar)})
}
