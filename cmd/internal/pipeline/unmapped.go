package pipeline

import (
	"context"
	"slices"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/ingest/delimited"
)

// Documents reads every source that is in a source for somebody who writes a
// mapping: no mapping has said how a text file is cut, so it is read in each
// of the dialects that are proposed for its bytes. Each element is the
// documents of one source; the reasons say what could not be read. member is
// the one file meant in a mail or an archive, "" for all that may be reports.
func (s *Stages) Documents(ctx context.Context, src *ingest.Source, member string, dialects func([]byte) []ingest.Dialect) ([][]*ingest.Document, []*ingest.Reason) {
	p := s.unpack(src)
	reasons := p.reasons
	if member != "" {
		i := slices.IndexFunc(p.members, func(m *ingest.Source) bool { return m.Member == member })
		if i < 0 {
			var names []string
			for _, m := range p.members {
				names = append(names, m.Member)
			}
			return nil, []*ingest.Reason{{Code: "file-not-readable", Severity: ingest.Fail, Where: ingest.Place{File: src.Name}, What: "there is no such file in it", Expected: "one of " + strings.Join(names, "; "), Found: member, Next: "write the name as it stands above"}}
		}
		p.members, p.mails, reasons = p.members[i:i+1], p.mails[i:i+1], nil
	}
	var out [][]*ingest.Document
	talks := s.talks(ctx, p)
	for _, m := range p.members {
		if talks[m] {
			continue
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
			docs, why = s.documents(ctx, m, Defaults{})
		}
		if len(docs) == 0 {
			reasons = append(reasons, sameOnce(why)...)
			continue
		}
		out = append(out, docs)
	}
	return out, reasons
}

// talks are the messages among the files of a parcel that are no more than
// covering letters: without numbers that look like results, or the plain copy
// of a page that has them. Without anything attached a message may be the
// report, whatever it looks like.
func (s *Stages) talks(ctx context.Context, p parcel) map[*ingest.Source]bool {
	out := map[*ingest.Source]bool{}
	attached := slices.ContainsFunc(p.mails, func(mail string) bool { return mail == "" })
	for i, m := range p.members {
		attached = attached || p.mails[i] != "" && !isMessage(m.Member)
	}
	if !attached {
		return out
	}
	var pages []*talk
	for _, suffix := range []string{"page", "text"} { // a page says more than its plain copy
		for i, m := range p.members {
			if p.mails[i] == "" || !isMessage(m.Member) || !strings.Contains(m.Member, "message "+suffix) {
				continue
			}
			rd := &Reading{Source: m}
			if kindOf(m) == ingest.KindHTML {
				rd.Docs, _ = s.documents(ctx, m, Defaults{}) // one that can't be read is told of when its turn comes
			}
			t := talkOf(rd)
			switch {
			case t == nil:
			case t.table(nil).IsZero() || slices.ContainsFunc(pages, t.copies):
				out[m] = true
			case suffix == "page":
				pages = append(pages, t)
			}
		}
	}
	return out
}

// Picture draws a page of a PDF, from 1, as a PNG.
func (s *Stages) Picture(ctx context.Context, src *ingest.Source, page int, dpi float64) ([]byte, error) {
	s.twice.compiled(ctx)
	return s.twice.client.Picture(ctx, src, s.Limits, page, dpi)
}
