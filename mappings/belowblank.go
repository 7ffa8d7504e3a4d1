package mappings

import (
	"strings"
	"unicode"
)

// goesOnBelow reports whether a row under a blank one is the table's all the same,
// as where a laboratory leaves a row free between two groups: it begins with a
// sample number of the form of those above, or with a test of the laboratory's
// list, or is a title that the mapping skips. Anything else, such as the results
// of last year under a title of their own, is another thing, which the
// mapping must name.
func (r *reader) goesOnBelow(t *Table, h *heads, above []*line, row []*atom) bool {
	if sk := t.skip(joined(row)); sk != nil {
		return !hasDigit(joined(row))
	}
	name := "lab_sample_id"
	if t.EachRow == "test" {
		name = "test"
	}
	key := columnReading(h, name)
	text := inColumn(h, key, row)
	if text == "" {
		return false
	}
	if t.EachRow == "test" {
		return r.l.mapping.Test(text) != nil && t.fieldRow(text) == nil
	}
	for i := len(above) - 1; i >= 0; i-- {
		if id := inColumn(h, key, above[i].atoms); id != "" {
			return hasDigit(id) && shape(id) == shape(text)
		}
	}
	return false
}

// inColumn is the text of a row of a grid in a column; "" for none.
func inColumn(h *heads, i int, row []*atom) string {
	for _, a := range row {
		if i >= 0 && columnAt(h, a.box.X0) == i {
			return a.text
		}
	}
	return ""
}

// shape is the form of a number: where it has letters, digits and signs.
func shape(text string) string {
	var b strings.Builder
	last := rune(0)
	for _, c := range text {
		switch {
		case unicode.IsDigit(c):
			c = '#'
		case unicode.IsLetter(c):
			b.WriteRune(c)
			last = c
			continue
		}
		if c != '#' || last != '#' {
			b.WriteRune(c)
		}
		last = c
	}
	return b.String()
}
