package mappings

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings/strict"
)

// tablesOf reads the layout's tables in a view. s is the sample of the page
// or block; nil where the table's rows or columns are the samples.
func (r *reader) tablesOf(v *view, s *SampleExtract, fields map[FieldID]Field, tables map[*Table]int, last map[*Table]*heads) {
	for _, declared := range r.l.Tables {
		t := declared.inYear(fields)
		limit := ingest.Box{Y0: -1e9, Y1: 1e9}
		if t.StartsAfter != nil {
			ls := v.findLine(t.StartsAfter)
			if len(ls) == 0 {
				continue
			}
			limit.Y0 = ls[0].box.Y1 - 0.2
			if v.grid {
				limit.Y0 = ls[0].box.Y1
			}
		}
		if t.EndsBefore != nil && t.StartsAfter != nil {
			for _, l := range v.findLine(t.EndsBefore) {
				if l.box.CenterY() > limit.Y0 {
					limit.Y1 = l.box.Y0
					break
				}
			}
		}
		if r.isOthers(v, t) {
			continue
		}
		h, reasons := v.findHeads(t, limit, r.vocab)
		if h == nil && !t.OnEachPage && last[declared] != nil && !v.grid {
			h = &heads{list: last[declared].list, band: ingest.Box{Y0: -1e9, Y1: -1e8}}
		}
		if h == nil {
			continue
		}
		tables[declared]++
		for _, x := range reasons {
			r.reason(x)
		}
		if len(reasons) > 0 {
			continue // the columns can't be relied on
		}
		last[declared] = h
		r.readTable(v, t, h, limit, fields, s)
		for v.grid && len(t.Columns) > 1 {
			if h = r.againBelow(v, t, h, limit); h == nil {
				break
			}
			r.readTable(v, t, h, limit, fields, s)
		}
	}
}

// inYear is the table with {this year} and {last year} in its headings
// replaced by the year of the report and the one before it.
func (t *Table) inYear(fields map[FieldID]Field) *Table {
	has := false
	for _, c := range t.Columns {
		has = has || strings.Contains(strings.Join(c.Heading, " "), " year}")
	}
	year := 0
	for _, id := range []FieldID{DateReported, DateReceived, DateSampled} {
		if v := fields[id].Value; len(v) >= 4 && year == 0 {
			if y, err := strconv.Atoi(v[:4]); err == nil {
				year = y
			}
		}
	}
	if !has || year == 0 {
		return t
	}
	swap := strings.NewReplacer("{this year}", fmt.Sprint(year), "{last year}", fmt.Sprint(year-1))
	out := *t
	out.Columns = nil
	for _, c := range t.Columns {
		cc := *c
		cc.Heading = nil
		for _, h := range c.Heading {
			cc.Heading = append(cc.Heading, swap.Replace(h))
		}
		out.Columns = append(out.Columns, &cc)
	}
	return &out
}

// columnReading is the index of the head whose column reads name, or -1.
func columnReading(h *heads, name string) int {
	for i, x := range h.list {
		if x.col.Reads != nil && contains(x.col.Reads.Names, name) {
			return i
		}
	}
	return -1
}

// takeCell takes a cell's text apart by its column. It gives the texts by
// name, and false when the text does not have the column's form.
//
// into does the same without maps where that is possible.
func (r *reader) takeCell(v *view, x *head, as []*atom) (map[string]string, map[string][]*atom, bool) {
	text := joined(as)
	if x.col.Field != "" {
		return map[string]string{string(x.col.Field): text}, map[string][]*atom{string(x.col.Field): as}, true
	}
	if r.isMissing(text) && contains(x.col.Reads.Names, "result") {
		return map[string]string{"result": text}, map[string][]*atom{"result": as}, true
	}
	m, ok := x.col.Reads.matchWhole(text)
	if !ok {
		return nil, nil, false
	}
	named := map[string][]*atom{}
	if hits := find(x.col.Reads, as); len(hits) > 0 {
		named = hits[0].named
	}
	for k := range m {
		if len(named[k]) == 0 {
			named[k] = as
		}
	}
	return m, named, true
}

// into takes a cell's text apart as takeCell does and fills c.
func (r *reader) into(c *cell, v *view, x *head, as []*atom) bool {
	if x.col.Field != "" {
		c.set(string(x.col.Field), joined(as), as)
		return true
	}
	if p := x.col.Reads; len(as) == 1 && p.bare() && as[0].text != "" {
		c.set(p.Names[0], as[0].text, as)
		return true
	}
	texts, named, ok := r.takeCell(v, x, as)
	if ok {
		c.fill(texts, named)
	}
	return ok
}

func (r *reader) badCell(v *view, t *Table, x *head, as []*atom) {
	r.hold("cell-differs", v.placeOf(as), x.col.Place, fmt.Sprintf("a cell in the column %q does not have the form it used to have", strings.Join(x.col.Heading, " ")), x.col.Reads.Src, joined(as), nextLayout)
	use(as, Mark{As: "declared", Note: "not understood"})
}

// isRating reports whether a text is one of the lab's rating words.
func (r *reader) isRating(text string) bool {
	_, ok := r.l.mapping.Ratings[normalise(text)]
	return ok
}

// sampleRows reads a table whose rows are samples (or the one sample of a
// page, when s is given).
func (r *reader) sampleRows(v *view, t *Table, h *heads, lines []*line, fields map[FieldID]Field, s *SampleExtract) {
	key := columnReading(h, "lab_sample_id")
	if key < 0 {
		key = columnReading(h, "client_sample_id")
	}
	if s != nil && key < 0 {
		key = 0
	}
	rows, reasons := v.rows(t, h, lines, key, keys{rating: r.isRating})
	for _, x := range reasons {
		r.reason(x)
	}
	done := 0
	for _, rw := range rows {
		if !r.admit(v, t, h, rw) {
			continue
		}
		r.markNothing(v, t, h, rw)
		first := rw.text(key)
		if w := summaryWord(first); w != "" && !hasDigit(first) {
			r.hold("row-looks-like-summary", v.placeOf(rw.cells[key]), t.Place, fmt.Sprintf("a row of the table %q looks like a summary of other rows, and the mapping does not declare it", t.Name), "a row for each sample", joined(rw.atoms()), "if it is no sample, add it under skip rows in the mapping")
			use(rw.atoms(), Mark{As: "declared", Note: "not understood"})
			continue
		}
		if i := averageIn(h, rw); i >= 0 && s == nil {
			r.hold("row-looks-like-summary", v.placeOf(rw.cells[i]), t.Place, fmt.Sprintf("a row of the table %q looks like an average of other rows, and the mapping does not declare it", t.Name), "a row for each sample", joined(rw.atoms()), "if it is no sample, add it under skip rows in the mapping")
			use(rw.atoms(), Mark{As: "declared", Note: "not understood"})
			continue
		}
		if !hasDigit(joined(rw.atoms())) && (s == nil || !r.anyMissing(h, rw)) {
			continue // words only: a title or note between rows
		}
		if s == nil && columnReading(h, "lab_sample_id") == key && !hasDigit(first) {
			r.hold("row-without-label", v.placeOf(rw.cells[key]), t.Place, fmt.Sprintf("a row of the table %q does not begin with a sample number", t.Name), "a laboratory number with digits", first, "if the row is no sample, add it under skip rows in the mapping")
			use(rw.atoms(), Mark{As: "declared", Note: "not understood"})
			continue
		}
		sm := s
		if sm == nil {
			sm = &SampleExtract{Fields: map[FieldID]Field{}, Place: v.placeOf(rw.cells[key])}
			for k, f := range fields {
				sm.Fields[k] = f
			}
		} else if done > 0 {
			r.hold("read-twice", v.placeOf(rw.atoms()), t.Place, fmt.Sprintf("the table %q has a second row for one sample", t.Name), "one row", joined(rw.atoms()), "declare the row under skip rows if it is no result")
			continue
		}
		done++
		r.rowFields(v, t, h, rw, sm)
		for i, x := range h.list {
			if x.col.Nothing || x.col.Test == nil || !contains(x.col.Reads.Names, "result") {
				continue
			}
			places := r.spotsOf(x.col.Place, x.col.Test, false)
			if len(rw.cells[i]) == 0 {
				if x.col.Blank != "" {
					sm.Readings = append(sm.Readings, r.blankReading(x.col.Test, x.col.Blank, x.col.Unit, x.label, x.col.Place, v.placeOf(rw.atoms()[:1])))
				} else {
					places.empty = append(places.empty, spot{sm, v.blankCell(x, rw)})
				}
				continue
			}
			places.filled++
			if r.spansOthers(v, t, h, x, rw.cells[i]) {
				continue
			}
			c := cell{test: x.col.Test, rule: x.col.Place, unit: x.col.Unit, unitAtoms: x.unit, label: x.label}
			if c.unit == "" && len(c.test.Units) > 0 && !c.test.Unprinted && headingHasUnit(x.col) {
				c.unit, c.unitAtoms = headingUnit(x.col), x.atoms
			}
			if !r.into(&c, v, x, rw.cells[i]) {
				r.badCell(v, t, x, rw.cells[i])
				continue
			}
			r.besideResult(v, h, rw, &c)
			if r.addReading(v, sm, &c) {
				use(rw.cells[i], Mark{As: "result", Note: x.col.Test.Label, Rule: x.col.Place})
			}
		}
		r.sideColumns(v, t, h, rw, sm)
		if s == nil {
			r.addSample(sm, origin{t.Place, v.page})
		}
	}
}

// besideResult takes what other columns of the row say of the cell's result: the
// unit, the method or the sign of a limit. A cell without the form of its
// column is told by sideColumns.
func (r *reader) besideResult(v *view, h *heads, rw *row, c *cell) {
	for i, x := range h.list {
		if !x.col.besides(c.test) {
			continue
		}
		c.methodCol = c.methodCol || contains(x.col.Reads.Names, "method")
		if len(rw.cells[i]) == 0 {
			continue
		}
		if texts, named, ok := r.takeCell(v, x, rw.cells[i]); ok {
			for _, name := range besideWords {
				c.set(name, texts[name], named[name])
			}
		}
	}
}

// besideWords are what a column may say of a result that another column gives,
// and what must be known before the result is read.
var besideWords = []string{"unit", "method", "qualifier"}

// besides reports whether the column says such a thing of a test.
func (c *Column) besides(t *Test) bool {
	if c.Nothing || c.Test == nil || c.Reads == nil || contains(c.Reads.Names, "result") {
		return false
	}
	return (c.Test == t || slices.Contains(c.Tests, t)) && slices.ContainsFunc(besideWords, func(w string) bool { return contains(c.Reads.Names, w) })
}

// sideColumns reads the columns that hold the rating or index of a test
// whose result another column has given.
func (r *reader) sideColumns(v *view, t *Table, h *heads, rw *row, s *SampleExtract) {
	for i, x := range h.list {
		if x.col.Nothing || x.col.Test == nil || contains(x.col.Reads.Names, "result") || len(rw.cells[i]) == 0 {
			continue
		}
		texts, _, ok := r.takeCell(v, x, rw.cells[i])
		if !ok {
			r.badCell(v, t, x, rw.cells[i])
			continue
		}
		use(rw.cells[i], Mark{As: "declared", Note: listWords(x.col.Reads.Names) + " of " + x.col.Test.Label, Rule: x.col.Place})
		tests := x.col.Tests
		if len(tests) == 0 {
			tests = []*Test{x.col.Test}
		}
		r.addSide(v, s, tests, texts, rw.cells[i], x.col.Place)
	}
}

// addSide sets the rating or index of the reading of one of the tests: a
// column of ratings may serve several, of which one has been run. A rating
// that could belong to two of them belongs to none.
func (r *reader) addSide(v *view, s *SampleExtract, tests []*Test, texts map[string]string, as []*atom, rule ingest.Place) {
	rating, index := texts["rating"], texts["index"]
	if r.isMissing(rating) {
		rating = ""
	}
	if r.isMissing(index) {
		index = ""
	}
	if rating == "" && index == "" {
		return
	}
	var to *Reading
	for k := range s.Readings {
		rd := &s.Readings[k]
		if rd.Missing != "" || !ofOne(rd, tests) {
			continue
		}
		if to != nil && sameTest(to, rd) {
			continue // the test again in another unit or form: a rating of the one is a rating of the other
		}
		if to != nil {
			r.hold("rating-of-two", v.placeOf(as), rule, "a rating could belong to either of two results", "one of "+listWords(testLabels(tests))+" to have been run", "both have results", "name the one test that the column rates")
			return
		}
		to = rd
	}
	if to == nil {
		r.reason(&ingest.Reason{Code: "rating-without-result", Severity: ingest.Flag, Where: v.placeOf(as), Rule: rule, What: "a rating stands beside a test that has no result", Expected: "a result of " + listWords(testLabels(tests)), Found: rating + index, Next: "look at the page; the rating was not used"})
		return
	}
	if rating != "" {
		to.Rating, to.RatingClass = rating, r.ratingClass(to, rating, v.placeOf(as), rule)
		for _, t := range tests {
			if ofOne(to, []*Test{t}) {
				to.Band = t.band(rating)
			}
		}
	}
	if index != "" {
		to.Index = index
	}
}

// ofOne reports whether a reading is of one of the tests.
func ofOne(rd *Reading, tests []*Test) bool {
	for _, t := range tests {
		if rd.Analyte == t.Analyte && rd.Detail == t.Detail && rd.Basis == t.Basis && (t.Method == "" || t.Method == rd.Method) {
			return true
		}
	}
	return false
}

// ratingClass is the lab's word in our classes; a word that the mapping does
// not list flags the reading.
func (r *reader) ratingClass(rd *Reading, word string, at, rule ingest.Place) string {
	class, known := r.l.mapping.Ratings[normalise(word)]
	if !known && hasDigit(word) {
		// The rest of a number that was broken in two, or a second result.
		r.hold("cell-differs", at, rule, "digits stand where a rating should, so the number before them may be only a part of one", orWord(listWords(ratingWords(r.l.mapping)), "a word listed under ratings"), word, "compare with the page; if the laboratory rates by figures, list them under ratings in the mapping")
		return class
	}
	if !known {
		x := &ingest.Reason{Code: "rating-unknown", Severity: ingest.Flag, Where: at, Rule: rule, What: "the rating word is not one of this laboratory's", Expected: orWord(listWords(ratingWords(r.l.mapping)), "a word listed under ratings"), Found: word, Next: "add the word under ratings in the mapping, or correct what the column reads"}
		if x.Where.File == "" {
			x.Where.File = r.doc.Source.Title()
		}
		rd.Doubts = append(rd.Doubts, x)
	}
	return class
}

// anyMissing reports whether a cell of a result says that there is no value.
func (r *reader) anyMissing(h *heads, rw *row) bool {
	for i, x := range h.list {
		if x.col.Test != nil && len(rw.cells[i]) > 0 && r.isMissing(rw.text(i)) {
			return true
		}
	}
	return false
}

func headingUnit(c *Column) string {
	h := squeeze(strings.Join(c.Heading, " "))
	for _, u := range c.Test.Units {
		if strings.Contains(h, squeeze(u)) {
			return u
		}
	}
	return ""
}

// rowFields reads the fields in a row of a sample.
func (r *reader) rowFields(v *view, t *Table, h *heads, rw *row, s *SampleExtract) {
	for i, x := range h.list {
		if x.col.Nothing || x.col.Test != nil {
			continue
		}
		texts, named, ok := r.takeCell(v, x, rw.cells[i])
		if !ok {
			r.badCell(v, t, x, rw.cells[i])
			continue
		}
		for name, text := range texts {
			if knownField(name) {
				r.setField(s.Fields, FieldID(name), text, named[name], v, x.col.Place, depthUnit(x.col))
			}
		}
		use(rw.cells[i], Mark{As: "field", Note: strings.Join(x.col.Reads.Names, ", "), Rule: x.col.Place})
	}
}

func (r *reader) addSample(s *SampleExtract, of origin) {
	r.out.Samples = append(r.out.Samples, s)
	if r.origins == nil {
		r.origins = map[*SampleExtract]origin{}
	}
	r.origins[s] = of
}

// testRows reads a table whose rows are tests, for one sample or for the
// samples across its columns.
func (r *reader) testRows(v *view, t *Table, h *heads, lines []*line, fields map[FieldID]Field, s *SampleExtract) {
	key := columnReading(h, "test")
	rows, reasons := v.rows(t, h, lines, key, keys{rating: r.isRating, known: func(label string) bool {
		return r.l.mapping.Test(label) != nil || t.fieldRow(label) != nil || t.RatingRow != "" && squeeze(label) == squeeze(t.RatingRow)
	}})
	for _, x := range reasons {
		r.reason(x)
	}
	across := map[*head]*SampleExtract{}
	for _, x := range h.list {
		if x.col.Samples {
			sm := &SampleExtract{Fields: map[FieldID]Field{}, Place: v.placeOf(x.atoms)}
			for k, f := range fields {
				sm.Fields[k] = f
			}
			r.setField(sm.Fields, LabSampleID, x.sample, x.atoms, v, x.col.Place, "")
			across[x] = sm
		}
	}
	further := furtherColumns(h)
	var above *Test
	for _, rw := range rows {
		if !r.admit(v, t, h, rw) {
			continue
		}
		r.markNothing(v, t, h, rw)
		label, more, named := r.testIn(v, h.list[key], rw.cells[key])
		if fr := t.fieldRow(label); fr != nil {
			r.fieldRow(v, t, h, rw, fr, across)
			use(rw.cells[key], Mark{As: "field", Note: "label", Rule: fr.Place})
			continue
		}
		if t.RatingRow != "" && squeeze(label) == squeeze(t.RatingRow) && above != nil {
			use(rw.cells[key], Mark{As: "heading", Note: "rating", Rule: t.Place})
			for i, x := range h.list {
				sm := across[x]
				if sm == nil {
					sm = s
				}
				if i == key || sm == nil || len(rw.cells[i]) == 0 {
					continue
				}
				use(rw.cells[i], Mark{As: "declared", Note: "rating of " + above.Label, Rule: t.Place})
				r.addSide(v, sm, []*Test{above}, map[string]string{"rating": rw.text(i)}, rw.cells[i], t.Place)
			}
			continue
		}
		test := r.l.mapping.Test(label)
		if test == nil {
			if noResult(h, rw) && !hasDigit(joined(rw.atoms())) {
				continue // a title between rows
			}
			r.hold("test-unknown", v.placeOf(rw.cells[key]), t.Place, fmt.Sprintf("the table %q has a row that is not in this laboratory's list of tests", t.Name), "a label under tests in the mapping", joined(rw.atoms()), suggest(label, r.l.mapping.labels())+"if it is new, add it under tests; if it is no result, add it under skip rows")
			use(rw.atoms(), Mark{As: "declared", Note: "not understood"})
			continue
		}
		above = test
		use(rw.cells[key], Mark{As: "heading", Note: test.Label, Rule: test.Place})
		common := cell{test: test, rule: test.Place, methodCol: columnReading(h, "method") >= 0, label: &PrintedLabel{label, v.placeOf(rw.cells[key])}}
		common.fill(more, named)
		common.section = rw.section
		for i, x := range h.list {
			if x.col.Nothing || x.col.Samples || i == key || further[x] || len(rw.cells[i]) == 0 {
				continue
			}
			if contains(x.col.Reads.Names, "result") && r.spansOthers(v, t, h, x, rw.cells[i]) {
				continue
			}
			texts, named, ok := r.takeCell(v, x, rw.cells[i])
			if !ok {
				r.badCell(v, t, x, rw.cells[i])
				continue
			}
			common.fill(texts, named)
			use(rw.cells[i], Mark{As: markOf(texts), Note: test.Label, Rule: x.col.Place})
		}
		if common.unit == "" && headingHasUnit(&Column{Heading: []string{label}, Test: test}) {
			common.unit = headingUnit(&Column{Heading: []string{label}, Test: test})
		}
		if s != nil && len(across) == 0 {
			r.testRow(v, h, rw, s, &common, further)
			r.furtherResults(v, t, h, rw, s, &common, further)
			continue
		}
		places := r.spotsOf(t.Place, test, true)
		for i, x := range h.list {
			sm := across[x]
			if sm == nil {
				continue
			}
			if len(rw.cells[i]) == 0 {
				if x.col.Blank != "" {
					sm.Readings = append(sm.Readings, r.blankReading(test, x.col.Blank, common.unit, common.label, x.col.Place, v.placeOf(rw.cells[key])))
				} else {
					places.empty = append(places.empty, spot{sm, v.blankCell(x, rw)})
				}
				continue
			}
			places.filled++
			if r.spansOthers(v, t, h, x, rw.cells[i]) {
				continue
			}
			texts, named, ok := r.takeCell(v, x, rw.cells[i])
			if !ok {
				r.badCell(v, t, x, rw.cells[i])
				continue
			}
			c := common
			c.rule = test.Place
			c.fill(texts, named)
			r.addReading(v, sm, &c)
			use(rw.cells[i], Mark{As: "result", Note: test.Label, Rule: x.col.Place})
		}
	}
	for _, x := range h.list {
		if sm := across[x]; sm != nil {
			r.addSample(sm, origin{t.Place, v.page})
		}
	}
}

// testIn is the label of a test in its cell, and what else the cell says by the
// form of its column, such as a unit in brackets. A cell of another form is a
// label as it stands.
func (r *reader) testIn(v *view, x *head, as []*atom) (label string, more map[string]string, named map[string][]*atom) {
	if !x.col.Reads.bare() {
		if texts, named, ok := r.takeCell(v, x, as); ok && texts["test"] != "" {
			label = texts["test"]
			delete(texts, "test")
			return label, texts, named
		}
	}
	return joined(as), nil, nil
}

// noResult reports whether a row has nothing in the columns of results.
func noResult(h *heads, rw *row) bool {
	for i, x := range h.list {
		if len(rw.cells[i]) > 0 && !x.col.Nothing && contains(x.col.Reads.Names, "result") {
			return false
		}
	}
	return true
}

func markOf(texts map[string]string) string {
	if _, ok := texts["result"]; ok {
		return "result"
	}
	return "declared"
}

// suggest names the nearest known word before further advice, if one is near.
func suggest(word string, known []string) string {
	if near := strict.Nearest(word, known, 1); len(near) > 0 {
		return fmt.Sprintf("did you mean %q? Otherwise: ", near[0])
	}
	return ""
}
