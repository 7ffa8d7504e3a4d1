package mappings

// A table of tests or of readings may print each result twice, in two units
// side by side. One column of results goes with the column of units; every
// further one says under its heading, or in it, which unit its numbers are in.

// furtherColumns are the columns of results that have a unit of their own, of a
// table with more than one column of results. Where there is but one, the unit
// under its heading only confirms the heading.
func furtherColumns(h *heads) map[*head]bool {
	further, all := map[*head]bool{}, 0
	for _, x := range h.list {
		if x.col.Nothing || x.col.Samples || x.col.Reads == nil || !contains(x.col.Reads.Names, "result") {
			continue
		}
		all++
		if x.col.Unit != "" {
			further[x] = true
		}
	}
	if all < 2 {
		return nil
	}
	return further
}

// testRow adds the result of a row that is one test of one sample: that in the
// column of results that has no unit of its own.
func (r *reader) testRow(v *view, h *heads, rw *row, s *SampleExtract, c *cell, further map[*head]bool) {
	places := r.spotsOf(c.rule, c.test, true)
	rows := r.rowsUnder(h, s)
	if r.addReading(v, s, c) {
		places.filled++
		rows.to = len(s.Readings)
		return
	}
	if c.rating != "" && r.isRating(c.rating) {
		rows.rated = append(rows.rated, c)
	}
	for _, x := range h.list {
		if x.col.Reads == nil || !contains(x.col.Reads.Names, "result") || further[x] {
			continue
		}
		if x.col.Blank != "" {
			s.Readings = append(s.Readings, r.blankReading(c.test, x.col.Blank, c.unit, c.label, x.col.Place, v.placeOf(rw.atoms()[:1])))
		} else {
			places.empty = append(places.empty, spot{s, v.blankCell(x, rw)})
		}
		return
	}
}

// furtherResults adds what the further columns of results say of a row's test,
// each in its own unit, and reports whether they say anything. The row's rating
// stays with the result that stands in the unit of the row. An empty cell is a
// place where a result may have been lost where the test is printed in that
// unit, and other rows of the test have one.
func (r *reader) furtherResults(v *view, t *Table, h *heads, rw *row, s *SampleExtract, common *cell, further map[*head]bool) bool {
	any := false
	for i, x := range h.list {
		if !further[x] {
			continue
		}
		places := r.spotsOf(x.col.Place, common.test, false)
		if len(rw.cells[i]) == 0 {
			if contains(common.test.Units, x.col.Unit) && x.col.Blank == "" {
				places.empty = append(places.empty, spot{s, v.blankCell(x, rw)})
			}
			continue
		}
		places.filled++
		if r.spansOthers(v, t, h, x, rw.cells[i]) {
			continue
		}
		c := cell{test: common.test, rule: x.col.Place, unit: x.col.Unit, unitAtoms: x.unit, method: common.method, methodCol: common.methodCol, label: common.label}
		if common.result == "" && !any {
			c.rating = common.rating
		}
		if !r.into(&c, v, x, rw.cells[i]) {
			r.badCell(v, t, x, rw.cells[i])
			continue
		}
		any = r.addReading(v, s, &c) || any
		use(rw.cells[i], Mark{As: "result", Note: common.test.Label, Rule: x.col.Place})
	}
	return any
}
