package mappings

import (
	"fmt"
	"strings"
)

// readingRows reads a long list: a row for each reading of each sample.
func (r *reader) readingRows(v *view, t *Table, h *heads, lines []*line, fields map[FieldID]Field) {
	key := columnReading(h, "lab_sample_id")
	tcol := columnReading(h, "test")
	rows, reasons := v.rows(t, h, lines, key, keys{rating: r.isRating})
	for _, x := range reasons {
		r.reason(x)
	}
	marks := make([]*Mark, len(h.list)) // one for all cells of a column
	for i, x := range h.list {
		if !x.col.Nothing {
			marks[i] = &Mark{As: readingMark(x), Note: strings.Join(x.col.Reads.Names, ", "), Rule: x.col.Place}
		}
	}
	ids := []int{columnReading(h, string(ReportNo)), columnReading(h, string(LabSampleID)), columnReading(h, string(Depth)), columnReading(h, string(DepthTop))}
	further := furtherColumns(h)
	for _, rw := range rows {
		if !r.admit(v, t, h, rw) {
			continue
		}
		r.markNothing(v, t, h, rw)
		s := r.sampleOfRow(v, h, rw, ids, fields)
		label, more, named := r.testIn(v, h.list[tcol], rw.cells[tcol])
		test := r.l.mapping.Test(label)
		if test == nil {
			found := label
			if found == "" {
				found = "no test in this row: " + joined(rw.atoms())
			}
			r.hold("test-unknown", v.placeOf(rw.atoms()), t.Place, "a row's test is not in this laboratory's list of tests", "a label under tests in the mapping", found, suggest(label, r.l.mapping.labels())+"if it is new, add it under tests")
			use(rw.atoms(), Mark{As: "declared", Note: "not understood"})
			continue
		}
		c := cell{test: test, rule: test.Place, methodCol: columnReading(h, "method") >= 0, label: &PrintedLabel{label, v.placeOf(rw.cells[tcol])}}
		c.fill(more, named)
		for i, x := range h.list {
			if x.col.Nothing || i == tcol || further[x] || len(rw.cells[i]) == 0 {
				continue
			}
			if !r.into(&c, v, x, rw.cells[i]) {
				r.badCell(v, t, x, rw.cells[i])
			}
		}
		use(rw.cells[tcol], Mark{As: "heading", Note: test.Label, Rule: test.Place})
		read := r.addReading(v, s, &c)
		read = r.furtherResults(v, t, h, rw, s, &c, further) || read
		if !read && c.qualifier != "" && r.isMissing(c.qualifier) {
			c.result, c.qualifier, c.atoms = c.qualifier, "", c.signAtoms // ND beside an empty place
			read = r.addReading(v, s, &c)
		}
		if !read {
			r.hold("result-empty", v.placeOf(rw.atoms()), test.Place, fmt.Sprintf("the row of %s has no result", test.Label), "a number or a word such as ND", "nothing", "ask the laboratory, or declare what an empty result means")
		}
		for i, m := range marks {
			if m != nil {
				useShared(rw.cells[i], m)
			}
		}
	}
}

func readingMark(x *head) string {
	switch {
	case contains(x.col.Reads.Names, "result"):
		return "result"
	case knownField(string(x.col.Field)):
		return "field"
	}
	return "declared"
}

// sampleOfRow finds or makes the sample that a row of a long list belongs to.
// Rows of one sample must agree about it; ids are the columns that tell the
// samples apart, -1 for one that is not there.
func (r *reader) sampleOfRow(v *view, h *heads, rw *row, ids []int, fields map[FieldID]Field) *SampleExtract {
	k := v.page.Name
	for _, i := range ids {
		if i >= 0 {
			k += "\x00" + rw.text(i)
		}
	}
	s := r.byKey[k]
	isNew := s == nil
	if isNew {
		s = &SampleExtract{Fields: map[FieldID]Field{}, Place: v.placeOf(rw.atoms())}
		for id, f := range fields {
			s.Fields[id] = f
		}
		r.byKey[k] = s
	}
	for i, x := range h.list {
		if x.col.Nothing || !knownField(string(x.col.Field)) {
			continue
		}
		text := rw.text(i)
		if isNew {
			r.setField(s.Fields, x.col.Field, text, rw.cells[i], v, x.col.Place, depthUnit(x.col))
		} else if old := s.Fields[x.col.Field]; old.Printed != text {
			r.hold("rows-disagree", v.placeOf(rw.atoms()), x.col.Place, fmt.Sprintf("two rows of sample %s differ in %s", sampleKey(s), fieldWords(x.col.Field)), old.Printed+" as in "+old.Place.Inside(), orWord(text, "nothing"), "ask the laboratory which is right")
		}
	}
	if isNew {
		r.addSample(s, origin{})
	}
	return s
}
