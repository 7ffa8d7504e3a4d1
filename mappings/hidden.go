package mappings

import (
	"fmt"
	"slices"
	"strings"

	"example.org/windrow/ingest"
)

// reach takes note of the rows of a sheet that a table has been found in:
// from its heading to its last row, and hidden rows that follow it.
func (v *view) reach(h *heads, lines []*line) {
	if !v.grid {
		return
	}
	from, to := int(h.band.Y0), int(h.band.Y1)
	for _, x := range h.list {
		for _, a := range x.atoms {
			from = min(from, int(a.box.Y0))
		}
	}
	for _, l := range lines {
		to = max(to, int(l.box.Y0)+1)
	}
	for v.hiddenRow(to) {
		to++
	}
	v.reached = append(v.reached, [2]int{from, to})
}

// hiddenRow reports whether a row of a sheet has cells, and all of them are
// hidden.
func (v *view) hiddenRow(row int) bool { return len(v.off) > 0 && v.offRows[row] && !v.shownRows[row] }

// onlyHidden reports whether all rows between two rows of a sheet are hidden.
// Such rows don't end a table.
func (v *view) onlyHidden(after, before int) bool {
	for row := after + 1; row < before; row++ {
		if !v.hiddenRow(row) {
			return false
		}
	}
	return true
}

// hiddenCells tells of what a sheet has in its hidden rows and columns. They
// are not read, since nobody who looks at the sheet sees them. Numbers in the
// rows of a table may be a whole sample or test, so that they flag the report;
// anything else is worth a remark.
func (r *reader) hiddenCells(v *view) {
	if !v.grid || len(v.off) == 0 {
		return
	}
	type part struct {
		what  string
		atoms []*atom
	}
	shown := map[float64]bool{} // columns
	for _, a := range v.atoms {
		shown[a.box.X0] = true
	}
	parts := map[string]*part{}
	var order []string
	var rest []*atom
	for _, a := range v.off {
		row := int(a.box.Y0)
		in := slices.ContainsFunc(v.reached, func(t [2]int) bool { return row >= t[0] && row < t[1] })
		if !in {
			rest = append(rest, a)
			continue
		}
		what := "column " + strings.TrimRight(ingest.CellName(1, int(a.box.X0)), "1")
		switch {
		case v.hiddenRow(row):
			what = fmt.Sprintf("row %d", row)
		case r.declaredHidden(v, a.box.X0):
			continue
		case shown[a.box.X0]:
			what = "cell " + ingest.CellName(row, int(a.box.X0)) // under a merged one
		}
		if parts[what] == nil {
			parts[what] = &part{what: what}
			order = append(order, what)
		}
		parts[what].atoms = append(parts[what].atoms, a)
	}
	for _, k := range order {
		p := parts[k]
		if !hasDigit(joined(p.atoms)) {
			continue
		}
		r.reason(&ingest.Reason{Code: "hidden-numbers", Severity: ingest.Flag, Where: v.placeOf(p.atoms[:1]), What: p.what + " is hidden in the workbook and has numbers beside those of a table; it was not read",
			Expected: "every sample and test where a reader can see it", Found: shorten(joined(p.atoms)), Next: "show the " + strings.Fields(p.what)[0] + " in the workbook: if it is a sample or a test of the report, save it so and drop the file in again, or ask the laboratory why it is hidden; a column that is always hidden may be declared: reads: nothing, optional: yes, and why"})
	}
	for _, a := range rest {
		if r.doc.Format == ingest.HTML && hasDigit(a.text) && r.beginsAsTest(a.text) {
			r.reason(&ingest.Reason{Code: "hidden-numbers", Severity: ingest.Flag, Where: v.placeOf([]*atom{a}), What: "a text that the page does not show begins with a test and has numbers; it was not read",
				Expected: "every test where a reader can see it", Found: shorten(a.text), Next: "look at the source of the page, and ask the laboratory why it is hidden"})
		}
	}
	if hasDigit(joined(rest)) {
		r.unseen(v, rest)
	}
}

// declaredHidden reports whether a hidden column has the heading of one that the
// mapping says it reads nothing from.
func (r *reader) declaredHidden(v *view, x float64) bool {
	for _, t := range r.l.Tables {
		for _, c := range t.Columns {
			if c.Nothing && slices.ContainsFunc(v.off, func(a *atom) bool { return a.box.X0 == x && tight(a) == squeeze(c.Heading[0]) }) {
				return true
			}
		}
	}
	return false
}

// hiddenSheet flags a report with a hidden sheet that has the headings of
// results, unless the mapping says that none are on it; of any other hidden
// sheet it reports false.
func (r *reader) hiddenSheet(v *view) bool {
	all := append(slices.Clone(v.atoms), v.off...)
	if !hasDigit(joined(all)) || !slices.ContainsFunc(all, r.namesResult) || slices.ContainsFunc(r.l.NotSheets, func(p *Pattern) bool { _, ok := p.matchWhole(v.page.Name); return ok }) {
		return false
	}
	r.reason(&ingest.Reason{Code: "hidden-numbers", Severity: ingest.Flag, Where: v.here(), What: "a sheet that is hidden in the workbook has headings of results; it was not read",
		Expected: "every sample where a reader can see it", Found: shorten(joined(all)), Next: "show the sheet in the workbook: if it is a part of the report, save it so and drop the file in again, or ask the laboratory why it is hidden"})
	return true
}

// namesResult reports whether a text is the name of a test, or the heading of
// one, by the mapping.
func (r *reader) namesResult(a *atom) bool {
	if r.l.mapping.Test(a.text) != nil {
		return true
	}
	text := tight(a)
	for _, t := range r.l.Tables {
		for _, c := range t.Columns {
			if c.Test != nil && slices.ContainsFunc(c.Heading, func(h string) bool { return squeeze(h) == text }) {
				return true
			}
		}
	}
	return false
}

// beginsAsTest reports whether a text begins with the name of a test. What
// stands in the cells of a hidden row may follow without a space.
func (r *reader) beginsAsTest(text string) bool {
	return slices.ContainsFunc(r.l.mapping.labels(), func(label string) bool {
		rest, ok := strings.CutPrefix(text, label)
		return ok && len(label) > 1 && (len(label) > 3 || rest == "" || !isLetter(rest[0]))
	})
}

func isLetter(c byte) bool { return c|0x20 >= 'a' && c|0x20 <= 'z' }

// unseen remarks on text that a reader of the page doesn't see.
func (r *reader) unseen(v *view, as []*atom) {
	r.reason(&ingest.Reason{Code: "hidden-text", Severity: ingest.Note, Where: v.here(), What: "some text can't be seen on the page or stands in hidden columns; it was not read", Expected: "text that a reader can see", Found: shorten(joined(as)), Next: "nothing, unless you miss a result"})
}

// blankFormats holds a report with a cell in a table that stores a number and
// shows nothing: its number format hides it, and whether it is meant to be
// read only the laboratory knows.
func (r *reader) blankFormats(v *view) {
	for _, c := range v.empty {
		in := slices.ContainsFunc(v.reached, func(t [2]int) bool { return c.Row >= t[0] && c.Row < t[1] })
		severity := ingest.Hold
		if !in || strings.Trim(c.Raw, "0.") == "" {
			severity = ingest.Flag // beside the tables, or a nought that the sheet is set not to show
		}
		r.reason(&ingest.Reason{Code: "cell-shows-another-number", Severity: severity, Where: v.page.PlaceOfCell(c).In(v.doc.Source.Title()), What: "a cell holds a number and shows nothing, as its number format hides it",
			Expected: "a cell that shows what it holds", Found: c.Raw + " as stored", Next: "open the workbook, look at the cell, and ask the laboratory whether the number holds"})
	}
}
