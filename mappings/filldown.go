package mappings

// asAbove is what a mapping writes under blank means of a field that is
// printed in the first of several rows only.
const asAbove = "as above"

// fillDown gives the rows of a grid the fields that are printed once for several
// of them: in a cell that is merged over their rows, which is what a person
// sees, or in the first row alone, where the mapping says that an empty cell is
// as above. Results are never taken from another row.
func (v *view) fillDown(t *Table, h *heads, rows []*row) {
	if t.EachRow == "test" {
		return
	}
	number := columnReading(h, string(LabSampleID))
	for i, x := range h.list {
		if x.col.Nothing || !knownField(string(x.col.Field)) {
			continue
		}
		var last []*atom
		for _, r := range rows {
			if x.col.Field == ClientSampleID && len(r.cells[i]) == 0 && number >= 0 && len(r.cells[number]) > 0 && r.cells[number][0].box.Y0 == r.box.Y0 && !merged(last, r) {
				last = nil // another sample, whose name is not printed
			}
			switch {
			case len(r.cells[i]) > 0:
				last = r.cells[i]
			case last == nil:
			case x.col.Blank == asAbove || merged(last, r):
				r.cells[i] = last
			}
		}
	}
}

// merged reports whether a merged cell reaches down to a row.
func merged(as []*atom, r *row) bool {
	if len(as) == 0 || as[0].cell == nil {
		return false
	}
	c, n := as[0].cell, int(r.box.Y0)
	return c.Down > 1 && n >= c.Row && n < c.Row+c.Down
}
