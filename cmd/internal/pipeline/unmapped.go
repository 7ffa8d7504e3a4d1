package pipeline

import (
	"context"
	"slices"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/delimited"
)

// Documents reads every source that is in a source for somebody who writes a
// mapping: no mapping has said how a text file is cut, so it is read in each
// of the dialects that are proposed for its bytes. Each element is the
// documents of one source; the reasons say what could not be read.
func (s *Stages) Documents(ctx context.Context, src *ingest.Source, dialects func([]byte) []ingest.Dialect) ([][]*ingest.Document, []*ingest.Reason) {
	p := s.unpack(src)
	reasons := p.reasons
	var out [][]*ingest.Document
	attached := slices.ContainsFunc(p.members, func(m *ingest.Source) bool { return !isMessage(m.Member) })
	for _, m := range p.members {
		letter := isMessage(m.Member) && attached
		if letter && kindOf(m) != ingest.KindHTML {
			continue // a covering letter; without anything attached it may be the report
		}
		var docs []*ingest.Document
		var why []*ingest.Reason
		if kindOf(m) == ingest.KindText {
			for _, d := range dialects(m.Bytes) {
				doc, err := delimited.New(d).Read(ctx, m, s.Limits)
				if err != nil {
					why = append(why, ingest.AsReason(err))
					continue
				}
				docs = append(docs, doc)
			}
		} else {
			docs, why = s.documents(ctx, m)
		}
		if letter && !slices.ContainsFunc(docs, hasWideTable) {
			continue
		}
		if len(docs) == 0 {
			reasons = append(reasons, sameOnce(why)...)
			continue
		}
		out = append(out, docs)
	}
	return out, reasons
}

// hasWideTable reports whether a message beside which something is attached
// has a table of more than labels and their values: results may stand in it.
func hasWideTable(d *ingest.Document) bool {
	return slices.ContainsFunc(d.Pages, func(p *ingest.Page) bool { return p.Cols > 3 && p.Rows > 2 })
}

// Picture draws a page of a PDF, from 1, as a PNG.
func (s *Stages) Picture(ctx context.Context, src *ingest.Source, page int, dpi float64) ([]byte, error) {
	s.twice.compiled(ctx)
	return s.twice.client.Picture(ctx, src, s.Limits, page, dpi)
}
