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
	for i, x := range h.list {
		if x.col.Nothing || !knownField(string(x.col.Field)) {
			continue
		}
		var last []*atom
		for _, r := range rows {
			switch {
			case len(r.cells[i]) > 0:
				last = r.cells[i]
			case last == nil:
			case x.col.Blank == asAbove || covers(last[0], int(r.box.Y0)):
				r.cells[i] = last
			}
		}
	}
}

// covers reports whether a merged cell reaches down to a row.
func covers(a *atom, row int) bool {
	return a.cell != nil && a.cell.Down > 1 && row >= a.cell.Row && row < a.cell.Row+a.cell.Down
}
