package draft

import (
	"slices"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// keep takes what an old mapping still reads in a report into a layout that
// is drafted anew: its sentences, and fields inside sentences. Neither a
// sentence of results that the steward once wrote nor its number may become
// a remark because the rest of the report has changed.
func (d *drafter) keep(old *mappings.Mapping, l *layoutDraft, doc *ingest.Document) {
	for _, o := range old.Layouts {
		if o.Format != l.format {
			continue
		}
		for _, st := range o.Sentences {
			if st.Test != nil && !mappings.PlaceOf(st.Text.Src, doc).IsZero() {
				d.keepSentence(l, st)
			}
		}
		n := len(l.report) + len(l.sample)
		l.report = keepFields(l, l.report, o.Report, doc)
		l.sample = keepFields(l, l.sample, o.Sample, doc)
		if len(l.report)+len(l.sample) > n && len(l.keptDates) == 0 {
			l.keptDates = o.Style.Dates
		}
	}
}

func (d *drafter) keepSentence(l *layoutDraft, st *mappings.Sentence) {
	before, _, _ := strings.Cut(st.Text.Src, "{result}")
	before = strings.TrimSpace(before)
	label := func(f foundLabel) bool { return before != "" && strings.HasSuffix(before, f.label) }
	if slices.ContainsFunc(l.labels, label) || slices.ContainsFunc(l.sentences, func(f foundSentence) bool { return f.kept && f.text == st.Text.Src }) {
		return // its label reads it
	}
	l.sentences = slices.DeleteFunc(l.sentences, func(f foundSentence) bool {
		own, _, _ := strings.Cut(f.text, "{result}")
		own = strings.TrimSpace(own)
		return !f.kept && own != "" && (strings.HasSuffix(before, own) || strings.HasSuffix(own, before))
	})
	t := st.Test
	l.sentences = append(l.sentences, foundSentence{text: st.Text.Src, label: t.Label, kept: true, m: meaning{analyte: t.Analyte, detail: t.Detail, basis: t.Basis, conf: 0.95}})
	if d.tests.find(t.Label) == nil {
		e := d.tests.add(t.Label, meaning{analyte: t.Analyte, detail: t.Detail, basis: t.Basis, conf: 0.95})
		switch {
		case t.Unprinted && len(t.Units) > 0:
			e.unprinted = t.Units[0]
		default:
			e.units = slices.Clone(t.Units)
		}
	}
}

// keepFields adds the old fields that stand inside a sentence of the report
// and that the layout does not read by itself.
func keepFields(l *layoutDraft, into []foundField, rules []*mappings.FieldRule, doc *ingest.Document) []foundField {
	has := func(id mappings.FieldID) bool {
		in := func(f foundField) bool { return slices.Contains(f.ids, id) }
		if slices.ContainsFunc(l.report, in) || slices.ContainsFunc(l.sample, in) || slices.ContainsFunc(into, in) {
			return true
		}
		return slices.ContainsFunc(l.tables, func(t *foundTable) bool { return t.reads()[id] })
	}
	for _, f := range rules {
		if f.Text == nil || len(f.Fields) == 0 || slices.ContainsFunc(f.Fields, has) || mappings.PlaceOf(f.Text.Src, doc).IsZero() {
			continue
		}
		into = append(into, foundField{ids: f.Fields, how: "text", label: f.Text.Src, conf: 0.95, optional: f.Optional})
	}
	return into
}

// oldReads are the places of a report that an old mapping reads as results or
// fields.
func (d *drafter) oldReads(doc *ingest.Document) []ingest.Place {
	if d.old == nil {
		return nil
	}
	if p, ok := d.oldPlaces[doc]; ok {
		return p
	}
	out := []ingest.Place{}
	for _, t := range mappings.TryMapping(d.old, []*ingest.Document{doc}, d.v) {
		if t.Extract == nil {
			continue
		}
		for _, m := range t.Extract.Marks {
			if m.As == "result" || m.As == "field" {
				out = append(out, m.Place)
			}
		}
	}
	if d.oldPlaces == nil {
		d.oldPlaces = map[*ingest.Document][]ingest.Place{}
	}
	d.oldPlaces[doc] = out
	return out
}

// oldReadsAny reports whether an old mapping reads something on the lines of
// a sheet between two.
func (d *drafter) oldReadsAny(doc *ingest.Document, s *sheet, from, to int) bool {
	places := d.oldReads(doc)
	if len(places) == 0 {
		return false
	}
	for i := from; i < to; i++ {
		if holds(&s.lines[i], places) {
			return true
		}
	}
	return false
}
