package draft

import (
	"slices"
	"strings"

	"example.org/windrow/mappings"
)

// rowsOfTests enters the tests of a table's rows into the catalogue, and
// declares the rows that are none.
func (d *drafter) rowsOfTests(t *foundTable, testCol int) {
	var unitCol, methodCol, resultCol *column
	var samples []*column
	for _, c := range t.cols {
		switch c.role {
		case "unit":
			unitCol = c
		case "method":
			methodCol = c
		case "result":
			resultCol = c
		case "samples":
			samples = append(samples, c)
		}
	}
	at := func(c *column, i int) string {
		if c == nil {
			return ""
		}
		return c.cells[i]
	}
	colUnit := ""
	if resultCol != nil {
		if _, _, ok := unitOf(d.v, resultCol.title()); ok {
			colUnit = resultCol.title()
		} else {
			colUnit = unitInHeading(d, resultCol.title())
		}
	}
	count := map[string]int{}
	tests := false // whether a row of a test was met
	for i := range t.cols[testCol].cells {
		label := t.cols[testCol].cells[i]
		if label == "" {
			continue
		}
		unit, method := at(unitCol, i), at(methodCol, i)
		value := at(resultCol, i)
		for _, c := range samples {
			if value == "" || isMissing(value) {
				value = at(c, i)
			}
		}
		for _, c := range samples {
			if _, u, ok := d.withUnit(at(c, i)); ok && unit == "" {
				unit = u
			}
		}
		if resultCol != nil && resultCol.reads == "{result} {unit}" {
			if f := strings.Fields(value); len(f) > 1 {
				unit = strings.Join(f[1:], " ")
			}
		}
		if id := fieldOf(label); id != "" && len(samples) > 0 {
			t.fields = addFieldRow(t.fields, fieldRow{row: label, reads: string(id), conf: 0.9})
			continue
		}
		if ids := compoundField(label); ids != nil && len(samples) > 0 {
			t.fields = addFieldRow(t.fields, fieldRow{row: label, reads: "{" + string(ids[0]) + "}, {" + string(ids[1]) + "}", conf: 0.8})
			continue
		}
		if len(samples) > 0 && !d.understood(label) && value != "" && (d.ratingWord(value) || isMissing(value)) {
			count[label]++
			for _, c := range samples {
				if x := at(c, i); d.ratingWord(x) {
					d.rating(x)
				}
			}
			continue
		}
		if unit != "" && isMissing(unit) {
			unit = ""
		}
		if len(samples) > 0 && !tests && unit == "" && method == "" && hasLetter(value) && !hasDigit(label) && !d.understood(label) && !isMissing(value) && !t.readsRow(mappings.ClientSampleID) {
			t.fields = addFieldRow(t.fields, fieldRow{row: label, reads: string(mappings.ClientSampleID), conf: 0.5, ask: "are the words in the row " + quoted(label) + " the clients' names for the samples? If not, say what they are, or declare the row under skip rows"})
			continue
		}
		if !hasDigit(value) && !isMissing(value) && !d.understood(label) {
			continue // a title, or words that go on
		}
		tests = true
		d.testRow(t, label, unit, method, value)
		if e := d.tests.find(label); e != nil && unit != "" && unitCol == nil {
			for _, c := range samples {
				e.bare = e.bare || hasDigit(at(c, i)) && !d.hasValue(at(c, i))
			}
		}
		if e := d.tests.find(label); e != nil && colUnit != "" && unitCol == nil && len(e.units) == 0 && e.m.unit == "" && e.unprinted == "" && !selfUnit(e.m.analyte) {
			if id, _, _ := unitOf(d.v, colUnit); suits(e.m.analyte, id) {
				e.unprinted = colUnit
				e.ask = append(e.ask, "the unit stands at the head of the column; does it hold for this test too?")
			}
		}
	}
	for label, n := range count {
		if n > 1 && (t.rating == "" || n > count[t.rating]) {
			t.rating = label
		}
	}
	for _, label := range sorted(count) {
		if label != t.rating {
			t.addSkip(label, "words and no result", "is the row "+quoted(label)+" rightly left out?")
		}
	}
	if methodCol != nil {
		d.methodColumn(methodCol)
	}
	for _, c := range samples {
		d.cellForm(c)
		if c.reads == "{result} {unit}" || share(c.cells, d.hasValue) > 0 {
			c.reads = "{result} {unit?}"
		}
	}
}

func addFieldRow(rows []fieldRow, r fieldRow) []fieldRow {
	for _, o := range rows {
		if o.row == r.row {
			return rows
		}
	}
	return append(rows, r)
}

// askSkip is the question about a row with numbers that is left out: it could
// be a client's sample or a test that happens to be called so.
func askSkip(begins string) string {
	return "is the row that begins " + quoted(begins) + " no result of a client?"
}

func (t *foundTable) addSkip(begins, why, ask string) {
	for _, s := range t.skips {
		if s.begins == begins && s.column == "" {
			return
		}
	}
	t.skips = append(t.skips, skipRow{begins: begins, why: why, ask: ask})
}

// readsRow reports whether a row of the table is read as a field.
func (t *foundTable) readsRow(id mappings.FieldID) bool {
	return slices.ContainsFunc(t.fields, func(f fieldRow) bool { return strings.Contains(f.reads, string(id)) })
}

// statusTitle reports whether a heading is that of the state of a row.
func statusTitle(title string) bool {
	switch fold(title) {
	case "status", "state", "resultstatus", "teststatus", "recordstatus", "rowstatus", "recordtype", "rowtype":
		return true
	}
	return false
}

// statusColumn leaves out the rows whose state is another than that of most
// rows, with a question for each.
func (d *drafter) statusColumn(t *foundTable, c *column) {
	c.role, c.why, c.conf = "nothing", "the state of the row", 0.7
	count := map[string]int{}
	most := ""
	for _, x := range c.filled() {
		if count[x]++; most == "" || count[x] > count[most] || count[x] == count[most] && x < most {
			most = x
		}
	}
	if len(count) > 12 {
		c.ask = append(c.ask, "is "+quoted(c.title())+" rightly left out?")
		return
	}
	c.only = most // a state that no report had yet holds the report that brings it
	for _, x := range sorted(count) {
		if x != most {
			t.skips = append(t.skips, skipRow{begins: x, column: c.heading[0], why: "its state is another than " + most, ask: "are rows with " + x + " under " + quoted(c.title()) + " no results to keep?"})
		}
	}
}

func (t *foundTable) wonder(q string) {
	if !slices.Contains(t.ask, q) {
		t.ask = append(t.ask, q)
	}
}

// testRow enters one row of a test.
func (d *drafter) testRow(t *foundTable, label, unit, method, value string) {
	if e := d.tests.find(label); e != nil {
		e.addUnit(d, unit)
		return
	}
	m, ok := d.understand(label, unit)
	if method != "" {
		if w, _, known := methodOf(d.v, method); known {
			id, _ := d.v.Resolve(mappings.MethodWord, w)
			if m.analyte == "pH" && words().Implied[id] == "buffer_pH" {
				m.analyte = "buffer_pH"
			}
		}
	}
	if !ok || m.conf < 0.4 || m.analyte == "" {
		first, _, _ := strings.Cut(label, " ")
		_, ref := words().refRow[fold(first)]
		switch {
		case mappings.SummaryWord(label) != "" || ref:
			t.addSkip(label, "a summary or a value for comparison, no test", askSkip(label))
		case !hasDigit(value) && !hasDigit(label):
			t.addSkip(label, "words and no result", "")
		default:
			t.wonder("what does the row " + quoted(label) + " measure? It holds the report until it stands under tests or under skip rows")
		}
		return
	}
	e := d.tests.add(label, m)
	e.addUnit(d, unit)
	if method != "" {
		// The report prints the method: the catalogue leaves it out, and the
		// label's own words only if they agree.
		e.own, e.m.method = e.m.method, ""
		if w, _, known := methodOf(d.v, method); known && !d.leavesStrengthOpen(w) {
			e.row = w
		}
		e.methodPrinted = true
	}
	if m.analyte == "texture" && !hasDigit(value) {
		e.words = true
	}
}

// leavesStrengthOpen reports whether the words of a method could mean
// several strengths of one extract.
func (d *drafter) leavesStrengthOpen(method string) bool {
	id, _ := d.v.Resolve(mappings.MethodWord, method)
	return strings.HasPrefix(id, "kcl-") && !hasDigit(method)
}

// methodColumn makes sure that each method of a column can be read.
func (d *drafter) methodColumn(c *column) {
	unknown := ""
	for _, text := range c.filled() {
		if isMissing(text) || d.methodWords[text] != "" {
			continue
		}
		if d.methodKeys[text] != "" {
			continue // the report's own key explains it
		}
		w, loosely, ok := methodOf(d.v, text)
		switch {
		case !ok && unknown == "":
			unknown = text
		case ok && loosely:
			d.methodWords[text] = w
		}
	}
	if unknown != "" {
		// The column is not read: what it says of a test goes to the test.
		for _, e := range d.tests.list {
			if e.methodPrinted {
				e.methodPrinted, e.m.method = false, e.own
				if e.own == "" {
					e.m.method = e.row
				}
			}
		}
		c.role, c.why, c.conf = "nothing", "its words are not all known", 0.3
		c.ask = append(c.ask, "which method is "+quoted(unknown)+"? Add it under method words and write reads: method here")
	}
}

func sorted(m map[string]int) []string {
	var out []string
	for k := range m {
		out = append(out, k)
	}
	sortStrings(out)
	return out
}
