package draft

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// compoundField are the fields of a label such as "Growing / depth".
func compoundField(label string) []mappings.FieldID {
	for _, sep := range []string{"/", ",", " and ", "&"} {
		parts := strings.Split(label, sep)
		if len(parts) != 2 {
			continue
		}
		a, b := fieldOf(parts[0]), fieldOf(parts[1])
		if a != "" && b != "" && a != b {
			return []mappings.FieldID{a, b}
		}
	}
	return nil
}

// share is the part of the filled cells for which ok holds.
func share(cells []string, ok func(string) bool) float64 {
	n, k := 0, 0
	for _, c := range cells {
		if c == "" {
			continue
		}
		n++
		if ok(c) {
			k++
		}
	}
	if n == 0 {
		return 0
	}
	return float64(k) / float64(n)
}

func numeric(c *column) bool {
	return share(c.cells, isValue) >= 0.6 && share(c.cells, hasDigit) > 0 || share(c.cells, isNumber) >= 0.5
}

func (d *drafter) understood(t string) bool {
	m, ok := d.understand(t)
	return ok && m.conf >= 0.5
}

// decide says what a table's columns are. It reports whether the table holds
// results at all.
func (d *drafter) decide(s *sheet, t *foundTable) bool {
	testCol := -1
	best := 0.0
	named := 0 // columns whose own headings are tests
	for _, c := range t.cols {
		if m, ok := d.understand(c.heading[0]); ok && m.conf >= 0.6 && columnOf(c.title()) == "" && numeric(c) {
			named++
		}
	}
	for i, c := range t.cols {
		if numeric(c) {
			continue
		}
		if m, ok := d.understand(c.title()); columnOf(c.title()) != "test" && (named >= 2 || ok && m.analyte == "texture") {
			continue // the columns are the tests
		}
		labels := c.filled()
		n := 0
		for _, l := range labels {
			if d.understood(l) {
				n++
			}
		}
		f := share(c.cells, d.understood)
		if n >= 3 && f >= 0.45 || n >= 2 && f >= 0.6 || columnOf(c.title()) == "test" && n >= 1 {
			if columnOf(c.title()) == "test" {
				f += 1
			}
			if columnOf(c.title()) == "method" || columnOf(c.title()) == "unit" {
				f -= 1
			}
			if f > best {
				testCol, best = i, f
			}
		}
	}
	if testCol >= 0 && d.decideTests(s, t, testCol) {
		return true
	}
	return d.decideSamples(s, t)
}

// decideSamples reads a table whose columns are tests.
func (d *drafter) decideSamples(s *sheet, t *foundTable) bool {
	t.kind = "sample"
	tests, ids := 0, 0
	for _, c := range t.cols {
		d.sampleColumn(c)
	}
	t.guessNumber()
	for _, c := range t.cols {
		switch {
		case c.role == "result":
			tests++
		case c.role == string(mappings.LabSampleID) || c.role == string(mappings.ClientSampleID):
			ids++
		}
	}
	if ids == 0 && !s.grid && len(t.rows) == 1 && d.unitsInRow(t) {
		return false // labels over their values, each a result of its own
	}
	return tests >= 2 || tests >= 1 && ids >= 1
}

// unitsInRow reports whether a table's only row has numbers with units, as
// cards have and columns of results have not.
func (d *drafter) unitsInRow(t *foundTable) bool {
	n := 0
	for _, c := range t.cols {
		for _, x := range c.filled() {
			if d.hasValue(x) {
				n++
			}
		}
	}
	return n > 0 && n*3 >= len(t.cols)
}

// sampleColumn decides one column of a table whose rows are samples.
func (d *drafter) sampleColumn(c *column) {
	title := c.title()
	ctx := append(append([]string{}, c.under...), c.heading[1:]...)
	if c.unit != "" {
		ctx = append(ctx, c.unit)
	}
	if comparison(title) || numeric(c) && d.comparisonAtEnd(title) {
		c.role, c.why, c.conf = "nothing", "an earlier result, for comparison", 0.85
		return
	}
	isField := fieldOf(title)
	if fold(title) == "date" && len(c.under) > 0 {
		for _, u := range c.under {
			if id := fieldOf(u); strings.HasPrefix(string(id), "date_") {
				isField = id
			}
		}
	}
	if isField == "" {
		isField = fieldOf(c.heading[0])
	}
	if isField != "" {
		d.fieldColumn(c, isField)
		return
	}
	if d.partColumn(c, title) {
		return
	}
	m, ok := d.understand(title, ctx...)
	if !ok || m.unknown > 0 || m.conf < 0.5 {
		// The first line alone may be the label, and the rest its method.
		if m2, ok2 := d.understand(c.heading[0], ctx...); ok2 && (!ok || m2.unknown < m.unknown || m2.conf > m.conf) {
			m, ok = m2, true
		}
	}
	if side, base := sideOf(title); side != "" {
		if bm, okb := d.understand(base); okb && !numericOnly(c) {
			c.role, c.m, c.conf = side, bm, 0.85
			return
		}
	}
	words := share(c.cells, func(x string) bool { return !hasDigit(x) && !isMissing(x) })
	switch {
	case ok && (numeric(c) || m.analyte == "texture" || len(c.filled()) == 0):
		c.role, c.m, c.conf, c.ask = "result", m, m.conf, m.ask
		c.because = "the heading names " + m.analyte
		if c.far && strings.HasPrefix(m.analyte, "base_sat") && !percentUnit(d.v, c.unit) && !strings.Contains(title, "%") {
			c.ask = append(c.ask, "does "+quoted(title)+" stand under "+quoted(c.under[len(c.under)-1])+"?")
			c.conf = min(c.conf, 0.5)
		}
		d.cellForm(c)
	case columnOf(title) == "reference" || columnOf(title) == "previous":
		c.role, c.why, c.conf = "nothing", "for comparison, not a result of this sample", 0.8
	case ok && words > 0.6:
		if share(c.cells, d.ratingWord) > 0.6 {
			c.role, c.m, c.conf = "rating", m, 0.7
			return
		}
		c.role, c.why, c.conf = "nothing", "words, not results", 0.6
		c.ask = append(c.ask, "the heading names "+m.analyte+", but the cells hold words")
	case share(c.cells, hasDigit) > 0:
		c.role, c.why, c.conf = "nothing", "not understood", 0.2
		c.ask = append(c.ask, "what is the column "+quoted(title)+firstCells(c)+"? If it is a result, enter its test under tests and write test: and its name in place of reads: nothing and why")
	case ok && len(c.filled()) == 0:
		c.role, c.why, c.conf = "nothing", "not understood", 0.3
		c.ask = append(c.ask, "what is the column "+quoted(title)+"? Its heading names "+m.analyte+" and more, and nothing stands under it in these reports")
	default:
		c.role, c.why, c.conf = "nothing", "a column of words", 0.6
	}
}

// firstCells are some of a column's texts in brackets, to know it by.
func firstCells(c *column) string {
	var some []string
	for _, x := range c.filled() {
		if len(some) < 3 && len(x) <= 20 {
			some = append(some, x)
		}
	}
	if len(some) == 0 {
		return ""
	}
	return " (" + strings.Join(some, ", ") + ")"
}

func numericOnly(c *column) bool { return share(c.cells, isNumber) > 0.6 }

// sideOf tells the rating or index column of a test, such as "P word".
func sideOf(title string) (role, base string) {
	f := strings.Fields(title)
	if len(f) < 2 {
		return "", ""
	}
	last := strings.ToLower(f[len(f)-1])
	base = strings.Join(f[:len(f)-1], " ")
	switch last {
	case "word", "words", "rating", "level", "status", "class", "interpretation", "rank", "category":
		return "rating", base
	}
	return "", ""
}

func (d *drafter) ratingWord(t string) bool {
	if d.letters[t] != "" {
		return true // a note explains it
	}
	_, ok := d.v.Resolve(mappings.RatingWord, t)
	if !ok {
		if i := strings.Index(t, " "); i > 0 && isNumber(t[:i]) {
			_, ok = d.v.Resolve(mappings.RatingWord, t[i+1:])
		}
	}
	return ok
}

func hasLetter(t string) bool { return strings.ContainsFunc(t, unicode.IsLetter) }

// fieldColumn checks a column that a field's name stands over.
func (d *drafter) fieldColumn(c *column, id mappings.FieldID) {
	c.role, c.conf = string(id), 0.9
	c.because = "the heading names it"
	filled := c.filled()
	bad := func(why string) {
		c.role, c.why, c.conf = "nothing", "not understood", 0.3
		c.ask = append(c.ask, why)
	}
	if fold(c.heading[0]) == "date" && id == mappings.DateReported {
		c.conf = 0.5
		c.ask = append(c.ask, "which date is this? Write reads: date_sampled, date_received or date_reported")
	}
	switch id {
	case mappings.DateSampled, mappings.DateReceived, mappings.DateReported:
		for i, t := range c.cells {
			if t == "" || isMissing(t) || c.kinds[i] == ingest.DateCell {
				continue
			}
			d.dateSeen(t)
		}
		if share(c.cells, func(t string) bool { return isMissing(t) || hasDate(t) || serial(t) }) < 0.8 && len(filled) > 0 && c.kinds[0] != ingest.DateCell && !anyDateCell(c) {
			bad("the heading " + quoted(c.title()) + " names a date, but the cells are not dates of a known form")
		}
	case mappings.LabSampleID:
		if share(c.cells, hasDigit) < 0.6 && len(filled) > 0 {
			bad("is " + quoted(c.title()) + " the laboratory's sample number? It has no digits")
		}
	case mappings.Depth:
		unit := ""
		h := strings.ToLower(c.title() + " " + c.unit)
		if strings.Contains(h, "cm") {
			unit = "cm"
		} else if strings.Contains(h, "in") {
			unit = "in"
		}
		if share(c.cells, func(t string) bool { return isMissing(t) || mappings.IsDepth(t, unit) }) < 0.9 && len(filled) > 0 {
			bad("in which unit is the depth " + quoted(filled[0]) + " given?")
		}
	case mappings.County:
		if share(c.cells, hasDigit) > 0.2 {
			bad("is " + quoted(c.title()) + " a county? It has digits")
		}
	}
}

func anyDateCell(c *column) bool {
	for _, k := range c.kinds {
		if k == ingest.DateCell {
			return true
		}
	}
	return false
}

// cellForm finds what stands in the cells of a result beside the number.
func (d *drafter) cellForm(c *column) {
	n, rated, united := 0, 0, 0
	for _, t := range c.filled() {
		f := strings.Fields(t)
		if isMissing(t) || !hasDigit(t) {
			continue
		}
		n++
		if len(f) < 2 || !isNumber(f[0]) {
			continue
		}
		rest := strings.Join(f[1:], " ")
		if _, _, ok := unitOf(d.v, rest); ok {
			united++
			continue
		}
		if d.ratingWord(rest) || len(rest) <= 2 && !hasDigit(rest) {
			rated++
			d.rating(rest)
		}
	}
	switch {
	case n == 0:
	case united*2 > n:
		c.reads = "{result} {unit}"
	case rated > 0:
		c.reads = "{result} {rating?}"
		c.conf = min(c.conf, 0.85)
	}
}

// rating notes a rating word that was seen.
func (d *drafter) rating(w string) {
	if w != "" && (!isMissing(w) || d.letters[w] != "") {
		d.ratings[mappings.Normalise(w)] = true
	}
}

// decideTests reads a table whose rows are tests: which column is the
// result, and which are not.
func (d *drafter) decideTests(s *sheet, t *foundTable, testCol int) bool {
	t.kind = "test"
	t.cols[testCol].role, t.cols[testCol].conf = "test", 0.9
	t.cols[testCol].because = "its cells name tests"
	var results, maybe, samples, years []*column
	hasID := false
	for i, c := range t.cols {
		if i == testCol {
			continue
		}
		title := c.title()
		role := columnOf(title)
		id := fieldOf(title)
		switch {
		case t.across && sampleNumber(title) && columnOf(title) == "":
			c.role, c.conf = "samples", 0.9
			samples = append(samples, c)
		case yearOfHeading(title) != "":
			years = append(years, c)
		case role == "result":
			results = append(results, c)
		case role == "unit" || role == "" && share(c.cells, func(x string) bool { _, _, ok := unitOf(d.v, x); return ok }) > 0.6:
			c.role, c.conf = "unit", 0.95
			if role == "" {
				c.conf = 0.8
			}
		case role == "method":
			c.role, c.conf = "method", 0.9
		case statusTitle(title) && share(c.cells, d.ratingWord) < 0.3:
			d.statusColumn(t, c)
		case (role == "rating" || role == "qualifier" && share(c.cells, d.ratingWord) > 0.6) && !numericOnly(c):
			c.role, c.conf = "rating", 0.85
			for _, x := range c.filled() {
				d.rating(x)
			}
		case role == "index":
			c.role, c.conf = "index", 0.9
		case role == "qualifier":
			c.role, c.conf = "qualifier", 0.9
			if own := ownSigns(c); len(own) > 0 {
				c.conf = 0.6
				c.ask = append(c.ask, "what do the signs "+strings.Join(own, ", ")+" mean for the number beside them? Write each at the top, such as qualifiers: {"+own[0]+": less than}; the guide has more meanings")
			}
		case role == "previous":
			c.role, c.why, c.conf = "nothing", "an earlier result, for comparison", 0.9
		case role == "reference":
			c.role, c.why, c.conf = "nothing", "for comparison, not a result", 0.85
		case id != "":
			d.fieldColumn(c, id)
			hasID = hasID || c.role == string(mappings.LabSampleID)
		case numeric(c):
			maybe = append(maybe, c)
		case share(c.cells, d.ratingWord) > 0.6:
			c.role, c.conf = "rating", 0.7
			for _, x := range c.filled() {
				d.rating(x)
			}
		default:
			c.role, c.why, c.conf = "nothing", "no results", 0.6
			if share(c.cells, hasDigit) > 0.2 {
				c.conf = 0.4
				c.ask = append(c.ask, "is "+quoted(title)+" rightly left out?")
			}
		}
	}
	if len(samples) > 0 {
		for _, c := range append(append(results, maybe...), years...) {
			c.role, c.why, c.conf = "nothing", "not understood", 0.3
			c.ask = append(c.ask, "the samples stand in columns of their own; what is "+quoted(c.title())+"?")
		}
		d.rowsOfTests(t, testCol)
		return true
	}
	d.yearColumns(t, years, &results)
	all := results
	if len(all) == 0 {
		all = maybe
		for _, c := range all {
			c.ask = append(c.ask, "no heading says which column is the result; is it "+quoted(c.title())+"?")
			c.conf = 0.5
		}
		maybe = nil
	}
	if len(all) == 0 {
		return false
	}
	for _, c := range maybe {
		c.role, c.why, c.conf = "nothing", "not understood", 0.3
		c.ask = append(c.ask, "what is the column "+quoted(c.title())+firstCells(c)+"? It is not read; if it is the result, write reads: result here and take it from the other column")
	}
	for i, c := range all {
		if i == 0 {
			c.role = "result"
			if c.conf == 0 {
				c.conf, c.because = 0.95, "the heading says so"
			}
			d.cellForm(c)
			continue
		}
		c.role, c.why, c.conf = "nothing", "not understood", 0.3
		c.ask = append(c.ask, "two columns could be the result: "+quoted(all[0].title())+" is read, "+quoted(c.title())+" is not")
	}
	if len(all) > 1 {
		all[0].conf = 0.5
		all[0].ask = append(all[0].ask, "two columns could be the result: "+quoted(all[0].title())+" or "+quoted(all[1].title())+"?")
	}
	if hasID || t.repeats(testCol) {
		t.kind = "reading"
	}
	d.rowsOfTests(t, testCol)
	return true
}

// repeats reports whether the same tests come again under another sample's
// number or name: then each row is a reading of a long list.
func (t *foundTable) repeats(testCol int) bool {
	id := -1
	for i, c := range t.cols {
		if c.role == string(mappings.ClientSampleID) && id < 0 {
			id = i
		}
	}
	if id < 0 {
		return false
	}
	seen := map[string]bool{}
	again, ids := false, map[string]bool{}
	for i, label := range t.cols[testCol].cells {
		if label == "" {
			continue
		}
		again = again || seen[label]
		seen[label] = true
		ids[t.cols[id].cells[i]] = true
	}
	return again || len(ids) > 1 || len(t.rows) > 1 && len(ids) == 1 && !ids[""]
}

// yearOfHeading is the year that a heading names and nothing else but that
// it is a result, or "".
func yearOfHeading(title string) string {
	y := yearIn.FindString(title)
	rest := strings.TrimSpace(strings.Trim(strings.Replace(title, y, "", 1), " ()-"))
	if y == "" || rest != "" && columnOf(rest) != "result" {
		return ""
	}
	return y
}

// yearColumns settles columns headed by years: the year of the report is the
// result, an earlier one is for comparison, and it is always asked.
func (d *drafter) yearColumns(t *foundTable, years []*column, results *[]*column) {
	if len(years) == 0 {
		return
	}
	newest := years[0]
	for _, c := range years {
		if yearOfHeading(c.title()) > yearOfHeading(newest.title()) {
			newest = c
		}
	}
	if !numeric(newest) && len(newest.filled()) > 0 {
		newest.conf = 0.4
	}
	for _, c := range years {
		if c != newest || len(*results) > 0 {
			c.role, c.why, c.conf = "nothing", "a result of another year, for comparison", 0.9
			if last := fmt.Sprint(d.year - 1); d.year > 0 && yearOfHeading(c.title()) == last && len(c.heading) == 1 {
				c.heading = []string{strings.Replace(c.heading[0], last, "{last year}", 1)}
			}
		}
	}
	if len(*results) > 0 {
		return
	}
	newest.conf, newest.because = 0.85, "it is the newest year"
	if this := fmt.Sprint(d.year); d.year > 0 && yearOfHeading(newest.title()) == this && len(newest.heading) == 1 {
		newest.heading = []string{strings.Replace(newest.heading[0], this, "{this year}", 1)}
	}
	newest.ask = append(newest.ask, "is the column of the report's own year the result, and the other year only for comparison?")
	*results = append(*results, newest)
}

// ownSigns are the signs of a column of qualifiers that are the laboratory's own,
// as they stand in a mapping.
func ownSigns(c *column) []string {
	var out []string
	for _, x := range c.filled() {
		if q := strconv.Quote(x); strings.Trim(x, "<>") != "" && !isMissing(x) && !slices.Contains(out, q) {
			out = append(out, q)
		}
	}
	return out
}
