package mappings

import (
	"slices"

	"example.org/windrow/ingest"
)

// againBelow are the headings of a table of a sheet that stand there once more
// further down, as where more samples go across than a page is wide; nil for
// none. Right above them stands nothing but what was read: words of their own
// would be a title, such as that of last year's results, and then the numbers
// under it are for the mapping to name.
func (r *reader) againBelow(v *view, t *Table, h *heads, limit ingest.Box) *heads {
	limit.Y0 = max(limit.Y0, h.band.Y1)
	var above *line
	found := false
	for _, l := range v.lines {
		if l.box.CenterY() < limit.Y0 || l.box.CenterY() >= limit.Y1 || len(l.atoms) == 0 {
			continue
		}
		if t.EndsBefore != nil && len(find(t.EndsBefore, l.atoms)) > 0 {
			return nil
		}
		if found = t.headedBy(l); found {
			break
		}
		above = l
	}
	if !found || above == nil || len(free(above.atoms)) > 0 {
		return nil
	}
	below := *t
	below.HeadingRow = 0
	next, reasons := v.findHeads(&below, limit, r.vocab)
	if len(reasons) > 0 {
		return nil // its numbers are told as not accounted for
	}
	return next
}

// readTable reads what stands under a table's headings.
func (r *reader) readTable(v *view, t *Table, h *heads, limit ingest.Box, fields map[FieldID]Field, s *SampleExtract) {
	h.fits = r.fits
	r.headed = append(r.headed, headed{v.page, h})
	lines := r.bodyLines(v, t, h, limit)
	v.reach(h, lines)
	switch t.EachRow {
	case "sample":
		r.sampleRows(v, t, h, lines, fields, s)
	case "test":
		parts, reasons := v.partsOf(t, h, lines)
		for _, x := range reasons {
			r.reason(x)
		}
		for _, p := range parts {
			r.testRows(v, t, p.heads, p.lines, fields, s)
		}
	case "reading":
		r.readingRows(v, t, h, lines, fields)
	}
}

// headedBy reports whether a line of a grid has all headings of a table, and
// nothing has read them.
func (t *Table) headedBy(l *line) bool {
	return !slices.ContainsFunc(t.Columns, func(c *Column) bool {
		return !c.Samples && !c.Optional && !slices.ContainsFunc(l.atoms, func(a *atom) bool { return a.mark == nil && tight(a) == squeeze(c.Heading[0]) })
	})
}
