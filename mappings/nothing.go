package mappings

import (
	"cmp"
	"fmt"
	"strings"
	"unicode"

	"example.org/windrow/ingest"
)

// numberWords are words in the heading of a column, or in the reason why it
// is not read, that say that numbers stand in it: last year's result, the
// price, a guide range. They are compared as whole words in small letters.
var numberWords = map[string]bool{
	"year": true, "previous": true, "prev": true, "earlier": true, "former": true, "prior": true, "comparison": true, "compare": true,
	"range": true, "limit": true, "limits": true, "edge": true, "lower": true, "upper": true, "minimum": true, "maximum": true, "min": true, "max": true,
	"target": true, "aim": true, "goal": true, "desired": true, "guide": true, "optimum": true, "sufficient": true, "critical": true,
	"average": true, "averages": true, "mean": true, "median": true, "uncertainty": true, "deviation": true, "percentile": true,
	"price": true, "fee": true, "cost": true, "charge": true, "advice": true, "need": true, "rate": true, "recommendation": true, "recommended": true,
	"number": true, "numbers": true, "count": true, "code": true, "weight": true, "area": true, "acres": true, "date": true, "day": true, "time": true,
}

// holdsNumbers reports whether the words about a column that is not read say
// that numbers stand in it. The key numbers: of the column outranks them.
func (c *Column) holdsNumbers() bool {
	if c.Unit != "" {
		return true
	}
	text := strings.ToLower(strings.Join(c.Heading, " ") + " " + strings.Join(c.Under, " ") + " " + c.Why)
	for _, w := range strings.FieldsFunc(text, func(r rune) bool { return !unicode.IsLetter(r) }) {
		if numberWords[w] {
			return true
		}
	}
	return false
}

// markNothing marks the cells of columns that hold no results. Where words
// are expected a bare number is no remark: a row that has lost or gained a
// cell has its last result there, and every other one under the wrong heading.
func (r *reader) markNothing(v *view, t *Table, h *heads, rw *row) {
	for i, x := range h.list {
		if !x.col.Nothing {
			continue
		}
		if as := rw.cells[i]; !x.col.Numbers && len(x.col.Only) == 0 && r.bareNumber(as) {
			r.hold("number-unaccounted", v.placeOf(as), x.col.Place, fmt.Sprintf("a number stands in the column %q of the table %q, which holds no results, so the values of its row may stand in the wrong columns", strings.Join(x.col.Heading, " "), t.Name),
				"words or nothing: "+x.col.Why, joined(as), "compare the row with its headings, and ask the laboratory for the report again if a cell has slipped; if numbers belong in this column, add numbers: yes to it in the mapping")
		}
		if as := rw.cells[i]; !x.col.Numbers && len(x.col.Only) == 0 && len(as) > 0 {
			r.remark(cmp.Or(matrixIn(x, as), joined(as)), v.placeOf(as))
		}
		use(rw.cells[i], Mark{As: "declared", Note: x.col.Why, Rule: x.col.Place})
	}
}

// bareNumber reports whether a cell is a number and nothing else, whichever
// sign it has for decimals: one by itself, with a limit's sign, or with a unit.
func (r *reader) bareNumber(as []*atom) bool {
	text := joined(as)
	if !hasDigit(text) {
		return false
	}
	if len(as) == 1 && as[0].kind() == ingest.NumberCell {
		return true
	}
	is := func(s string) bool {
		for _, st := range []Style{r.l.Style, {Decimal: ".", Thousands: ","}, {Decimal: ",", Thousands: "."}} {
			if _, err := st.parseNumber(s); err == nil && !r.isMissing(s) {
				return true
			}
		}
		return false
	}
	if is(text) {
		return true
	}
	number, unit, two := strings.Cut(text, " ")
	if !two || !is(number) {
		return false
	}
	_, known := r.l.mapping.unitID(unit, r.vocab)
	return known
}
