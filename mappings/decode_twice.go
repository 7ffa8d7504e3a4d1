package mappings

import (
	"fmt"
	"slices"
	"strings"
)

// checkTwice tells each column of a table of tests or readings that reads what
// another column of it reads already: of a row only one of the two would be
// kept. Two columns of results are two units of one test, if the further one
// says its unit; columns that may both be absent stand for each other.
func (d *decoder) checkTwice(t *Table) {
	parts := t.parts()
	for _, part := range parts {
		d.checkPart(part, len(parts) > 1)
	}
}

// checkPart tells it of a table, or of one of the parts that stand beside each
// other in it.
func (d *decoder) checkPart(columns []*Column, ofMany bool) {
	type seen struct {
		col  *Column
		unit string
	}
	first := map[string][]seen{}
	for _, c := range columns {
		if c.Nothing || c.Samples || c.Reads == nil {
			continue
		}
		for _, name := range c.Reads.Names {
			if name == "any" || name == "nothing" {
				continue
			}
			unit := ""
			if name == "result" && c.Unit != "" {
				unit, _ = d.unit(c.Unit)
			}
			for _, o := range first[name] {
				if c.Optional && o.col.Optional || name == "result" && unit != o.unit {
					continue
				}
				expected, next := "one column that reads "+name, "correct what one of them reads; a column that is not read has reads: nothing and why:"
				if name == "result" {
					expected, next = "one column that reads result, and for each further unit of the same tests a column with its unit:", "give the second its unit:, such as {heading: lb/acre, reads: result, unit: lb/acre}; if its numbers are something else, write reads: nothing and why:"
				}
				c.at.Complain(fmt.Sprintf("two columns of one row read the same: %s", name), expected, fmt.Sprintf("%q and %q", strings.Join(o.col.Heading, " "), strings.Join(c.Heading, " ")), next)
				break
			}
			first[name] = append(first[name], seen{c, unit})
		}
	}
	if ofMany && len(first["test"]) > 0 && len(first["result"]) == 0 && !slices.ContainsFunc(columns, func(c *Column) bool { return c.Samples }) {
		c := first["test"][0].col
		c.at.Complain(fmt.Sprintf("the tests in the column %q have no results", strings.Join(c.Heading, " ")), "a column that reads result beside each column of tests", "none before the next column of tests", "add it, or say reads: nothing and why: for a column that only repeats names")
	}
}
