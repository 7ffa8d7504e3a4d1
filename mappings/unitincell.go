package mappings

import "strings"

// unitInCell takes off a number the unit that is printed behind it in its own
// cell, as by the format of a sheet's percentages, where the mapping has no form
// that reads it there. It is what the report says of this very number: it must be
// a unit of the test, and the one that the heading or the row says, if they say
// one; else the report is held for it.
func (r *reader) unitInCell(c *cell) {
	if c.test.InWords || r.isMissing(c.result) {
		return
	}
	text := normalise(c.result)
	n := 0
	for n < len(text) && strings.IndexByte("<>- 0123456789.,'", text[n]) >= 0 {
		n++
	}
	num, unit := strings.TrimSpace(text[:n]), text[n:]
	if !hasDigit(num) || unit == "" {
		return
	}
	if _, rating := r.l.mapping.Ratings[unit]; rating {
		return
	}
	if _, err := r.l.Style.parseNumber(text); err == nil {
		return
	}
	id, known := r.l.mapping.unitID(unit, r.vocab)
	if !known {
		return
	}
	c.result = num
	if said, ok := r.l.mapping.unitID(c.unit, r.vocab); ok && c.unit != "" && said == id {
		return
	}
	c.set("unit", unit, c.atoms)
}
