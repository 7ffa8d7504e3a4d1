package draft

// withoutMethod reports whether a layout reads a test where no method can be
// printed beside it: in a column or beside a label of its own. A method that
// another layout prints says nothing there.
func (d *drafter) withoutMethod(e *testEntry) bool {
	for _, l := range d.layouts {
		for _, t := range l.tables {
			if t.kind != "sample" {
				continue
			}
			for _, c := range t.cols {
				if c.role == "result" && c.m.analyte != "" && d.entryOf(c) == e {
					return true
				}
			}
		}
	}
	return false
}

// entryOf is the catalogue entry of a column, or nil.
func (d *drafter) entryOf(c *column) *testEntry {
	if c.test != "" {
		return d.tests.find(c.test)
	}
	if e := d.tests.find(c.title()); e != nil {
		return e
	}
	return d.tests.find(c.heading[0])
}
