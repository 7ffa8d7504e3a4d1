package mappings

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"example.org/windrow/ingest"
)

// fieldRow is the rule for a row that holds a field of each sample.
func (t *Table) fieldRow(label string) *FieldRow {
	for _, f := range t.FieldRows {
		if squeeze(f.Label) == squeeze(label) {
			return f
		}
	}
	return nil
}

func (r *reader) fieldRow(v *view, t *Table, h *heads, rw *row, fr *FieldRow, across map[*head]*SampleExtract) {
	unit, printed := fr.Unit, ""
	if i := columnReading(h, "unit"); i >= 0 && slices.Contains(fr.Fields, Depth) && len(rw.cells[i]) > 0 {
		unit = r.printedDepthUnit(v, rw.cells[i], unit, fr.Place)
		if !r.isMissing(rw.text(i)) {
			printed = unit
		}
	}
	for i, x := range h.list {
		sm := across[x]
		if sm == nil || len(rw.cells[i]) == 0 {
			continue
		}
		as := rw.cells[i]
		text := joined(as)
		if own := depthUnitIn(text); own != "" && printed != "" && own != printed {
			r.hold("unit-differs", v.placeOf(as), fr.Place, "a depth is printed with another unit than its row has", printed, text, "ask the laboratory which of the two is meant")
		}
		m, ok := fr.Reads.matchWhole(text)
		if !ok && !r.isMissing(text) {
			r.hold("field-differs", v.placeOf(as), fr.Place, fmt.Sprintf("a text in the row %q of the table %q does not have the form it used to have", fr.Label, t.Name), fr.Reads.Src, text, nextLayout)
			continue
		}
		for _, id := range fr.Fields {
			if knownField(string(id)) {
				r.setField(sm.Fields, id, m[string(id)], as, v, fr.Place, unit)
			}
		}
		use(as, Mark{As: "field", Note: fr.Label, Rule: fr.Place})
	}
}

// printedDepthUnit is the unit of a depth that the report prints in a cell of
// its own. One that is not the mapping's holds the report: six centimetres
// must never pass for six inches.
func (r *reader) printedDepthUnit(v *view, as []*atom, stated string, rule ingest.Place) string {
	text := joined(as)
	if r.isMissing(text) {
		return stated
	}
	u := depthUnitIn(text)
	switch {
	case u == "":
		r.hold("unit-differs", v.placeOf(as), rule, "the unit printed beside the depth is not one that is known", orWord(stated, "in or cm"), text, "if the text is no unit, correct the columns of the mapping; otherwise ask the laboratory")
	case stated != "" && u != stated:
		r.hold("unit-differs", v.placeOf(as), rule, "the unit printed beside the depth is not the one in the mapping", stated, text, "compare with the report; if the laboratory prints the unit of every depth, take unit: out of the rule in the mapping")
	}
	use(as, Mark{As: "field", Note: "unit of the depth", Rule: rule})
	return u
}

// depthUnit is the unit of depth that a column's own heading names.
func depthUnit(c *Column) string {
	return depthUnitIn(strings.Join(c.Heading, " ") + " " + c.Unit)
}

// depthUnitIn is the unit of depth, "in" or "cm", that a text names, or "".
func depthUnitIn(text string) string {
	if t := strings.TrimSpace(text); t == "\"" || t == "″" {
		return "in"
	}
	words := strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return !unicode.IsLetter(r) })
	for _, w := range words {
		switch w {
		case "cm", "centimetres", "centimeters":
			return "cm"
		case "in", "inch", "inches":
			return "in"
		}
	}
	return ""
}
