package mappings

import (
	"fmt"
	"slices"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings/strict"
)

func (d *decoder) layout(n strict.Node) *Layout {
	l := &Layout{Place: n.Place(), mapping: d.m}
	l.Name = d.need(n, "name", "what the laboratory or the office calls this layout")
	if v := n.Get("as in"); v.Has() {
		d.asIn(l, v)
	}
	format := n.Get("format").OneOf("pdf", "workbook", "delimited", "html")
	switch format {
	case "pdf":
		l.Format = ingest.PDF
	case "workbook":
		l.Format = ingest.XLSX
	case "delimited":
		l.Format = ingest.CSV
	case "html":
		l.Format = ingest.HTML
	default:
		if !n.Get("format").Has() {
			n.Complain("the layout does not say what kind of file it is", "format: pdf, workbook, delimited or html", "none", "add the line")
		}
	}
	date := func(key string) string {
		v := n.Get(key)
		if !v.Has() {
			return ""
		}
		t, ok := parseDate("YYYY-MM-DD", v.Text())
		if !ok {
			v.Complain("this is not a date", "year-month-day, such as 2026-08-31", v.Text(), "write it so")
		}
		return t
	}
	l.From, l.To = date("from"), date("until")
	if v := n.Get("recognise"); v.Has() {
		l.Recognise = d.patterns(v, false)
	}
	if v := n.Get("relies on"); v.Has() {
		l.ReliesOn = d.patterns(v, false)
	}
	l.Style = d.style(n, d.m.Style)
	if format == "delimited" {
		l.Dialect = d.dialect(n)
	}
	l.Sheets = d.patterns(n.Get("sheets"), false)
	l.NotSheets = d.patterns(n.Get("sheets without results"), false)
	if l.OneEach == "" {
		l.OneEach = "table"
	}
	if v := n.Get("one sample each"); v.Has() {
		l.OneEach = v.OneOf("page", "sheet", "block", "row", "column")
		if l.OneEach == "row" || l.OneEach == "column" {
			l.OneEach = "table"
		}
		if l.OneEach == "sheet" {
			l.OneEach = "page"
		}
	} else if !n.Get("as in").Has() {
		n.Complain("the layout does not say what holds one sample", "one sample each: page, block, row or column", "none", "add the line")
	}
	if b := n.Get("block"); b.Has() {
		l.Block = &Block{Begins: d.pattern(b.Get("begins"), true), Ends: d.pattern(b.Get("ends before"), false), Place: b.Place()}
		if l.Block.Begins == nil {
			b.Complain("a block needs its first words", "begins: the words with which each sample begins", "none", "add the line")
		}
		b.Done()
	}
	l.Continues = d.pattern(n.Get("sample continues on"), true)
	if l.Continues != nil && l.OneEach != "page" {
		n.Get("sample continues on").Complain("only a sample that has a page of its own continues on another page", "one sample each: page", "one sample each: "+l.OneEach, "a table goes on over pages by itself")
	}
	if (l.OneEach == "block") != (l.Block != nil) {
		n.Complain("blocks and one sample each: block go together", "both or neither", "one of them", "add block: with begins:, or say page or row")
	}
	for _, c := range n.Get("report").Items() {
		l.Report = append(l.Report, d.fieldRule(c))
	}
	for _, c := range n.Get("sample").Items() {
		l.Sample = append(l.Sample, d.fieldRule(c))
	}
	if l.OneEach == "table" && len(l.Sample) > 0 {
		l.Sample[0].complain(n, "where each row or column is a sample, its fields are columns of the table")
	}
	for _, c := range n.Get("tables").Items() {
		l.Tables = append(l.Tables, d.table(c, l))
	}
	for _, c := range n.Get("labels").Items() {
		l.Labels = append(l.Labels, d.label(c)...)
	}
	if l.OneEach == "table" && len(l.Labels)+len(n.Get("sentences").Items()) > 0 {
		n.Complain("labels and sentences belong to one sample", "one sample each: page or block", "one sample each: row or column", "read the results with a table, or say page or block")
	}
	for _, c := range n.Get("sentences").Items() {
		l.Sentences = append(l.Sentences, d.sentence(c))
	}
	for _, c := range n.Get("not results").Items() {
		l.NotResult = append(l.NotResult, d.notResult(c))
	}
	if len(l.Tables)+len(l.Sentences)+len(l.Labels) == 0 {
		n.Complain("the layout reads no result", "tables, labels or sentences", "none of them", "say where the results stand")
	}
	n.Done()
	return l
}

// asIn takes everything but name, format and style from an earlier layout,
// for a laboratory that sends the same columns in two kinds of file. What the
// layout says itself comes on top.
func (d *decoder) asIn(l *Layout, v strict.Node) {
	var names []string
	for _, o := range d.m.Layouts {
		if o.Name == v.Text() {
			l.Recognise, l.ReliesOn, l.OneEach, l.Block, l.Continues = o.Recognise, o.ReliesOn, o.OneEach, o.Block, o.Continues
			l.Report, l.Sample, l.Tables, l.Labels, l.Sentences, l.NotResult = o.Report, o.Sample, o.Tables, o.Labels, o.Sentences, o.NotResult
			l.Sheets, l.NotSheets = o.Sheets, o.NotSheets
			return
		}
		names = append(names, o.Name)
	}
	v.Complain(fmt.Sprintf("there is no layout %q above this one", v.Text()), "the name of an earlier layout", v.Text(), strict.DidYouMean(v.Text(), names))
}

func (f *FieldRule) complain(n strict.Node, what string) {
	n.Get("sample").Complain(what, "no sample: list", "a sample: list", "move them into columns, or under report: if they hold for the whole report")
}

func (d *decoder) dialect(n strict.Node) *ingest.Dialect {
	dl := &ingest.Dialect{}
	switch n.Get("separator").OneOf("comma", "semicolon", "tab", "bar") {
	case "comma":
		dl.Delimiter = ","
	case "semicolon":
		dl.Delimiter = ";"
	case "tab":
		dl.Delimiter = "\t"
	case "bar":
		dl.Delimiter = "|"
	default:
		n.Complain("a delimited file needs its separator", "separator: comma, semicolon, tab or bar", "none", "add the line")
	}
	dl.Encoding = n.Get("encoding").OneOf("utf-8", "windows-1252", "iso-8859-1", "utf-16le", "utf-16be")
	if dl.Encoding == "" {
		n.Complain("a delimited file needs its encoding", "encoding: utf-8, windows-1252, iso-8859-1, utf-16le or utf-16be", "none", "add the line; utf-8 is usual today")
	}
	return dl
}

// readsOf decodes a reads: value, which is one field or a pattern with
// fields in braces.
func (d *decoder) readsOf(n strict.Node, allowed map[string]bool) (*Pattern, []FieldID) {
	t := n.Text()
	if t == "" {
		return nil, nil
	}
	if !strings.Contains(t, "{") {
		t = "{" + t + "}"
	}
	p, err := newPattern(t, n.Place())
	if err != nil {
		n.Complain("this can't be read", "a field, or text with {field} in it", err.Error(), "correct it")
		return nil, nil
	}
	var ids []FieldID
	for _, name := range p.Names {
		if name == "" {
			continue
		}
		if !knownField(name) && !allowed[name] && name != "any" {
			known := append([]string{}, sortedKeys(allowed)...)
			for _, f := range fieldIDs {
				known = append(known, string(f))
			}
			n.Complain(fmt.Sprintf("%q is not something that can be read here", name), strings.Join(known, ", "), name, strict.DidYouMean(name, known))
		}
		ids = append(ids, FieldID(name))
	}
	return p, ids
}

func (d *decoder) fieldRule(n strict.Node) *FieldRule {
	r := &FieldRule{Place: n.Place()}
	r.After = d.pattern(n.Get("after"), false)
	r.Below = d.pattern(n.Get("below"), false)
	r.Text = d.pattern(n.Get("text"), true)
	r.Always = n.Get("always").Text()
	r.Optional = n.Get("optional").Bool()
	r.Unit = n.Get("unit").OneOf("in", "cm")
	ways := 0
	for _, have := range []bool{r.After != nil, r.Below != nil, r.Text != nil, r.Always != ""} {
		if have {
			ways++
		}
	}
	if ways != 1 {
		n.Complain("a field is found in exactly one way", "one of after, below, text, always", fmt.Sprintf("%d of them", ways), "keep one")
	}
	if v := n.Get("reads"); v.Has() {
		r.Reads, r.Fields = d.readsOf(v, nil)
	}
	if r.Text != nil {
		for _, name := range r.Text.Names {
			if name == "" {
				continue
			}
			if !knownField(name) && name != "any" {
				n.Get("text").Complain(fmt.Sprintf("%q is not a field", name), joinFields(), name, strict.DidYouMean(name, fieldNames()))
			}
			r.Fields = append(r.Fields, FieldID(name))
		}
	}
	if len(r.Fields) == 0 {
		n.Complain("nothing says which field this is", "reads: one of "+joinFields(), "no reads", "add it")
	}
	n.Done()
	return r
}

func fieldNames() []string { return strings.Split(joinFields(), ", ") }

// cellWords are what a column can read besides fields.
var cellWords = map[string]bool{"result": true, "test": true, "unit": true, "method": true, "rating": true, "qualifier": true, "index": true, "nothing": true}

func (d *decoder) table(n strict.Node, l *Layout) *Table {
	t := &Table{Place: n.Place()}
	t.Name = d.need(n, "name", "what to call this table in messages")
	switch n.Get("each row").OneOf("a sample", "a test", "a reading") {
	case "a sample":
		t.EachRow = "sample"
	case "a test":
		t.EachRow = "test"
	case "a reading":
		t.EachRow = "reading"
	default:
		n.Complain("the table does not say what a row is", "each row: a sample, a test or a reading", "none", "add the line")
	}
	t.StartsAfter = d.pattern(n.Get("starts after"), false)
	t.EndsBefore = d.pattern(n.Get("ends before"), false)
	t.HeadingRow = n.Get("heading row").Int()
	t.Optional = n.Get("optional").Bool()
	t.OnEachPage = true
	if v := n.Get("heading on each page"); v.Has() {
		t.OnEachPage = v.Bool()
	}
	for _, c := range n.Get("columns").Items() {
		t.Columns = append(t.Columns, d.column(c, t))
	}
	if len(t.Columns) == 0 {
		n.Complain("the table has no columns", "columns: one line a column, from left to right as printed", "none", "list them")
	}
	for _, c := range n.Get("skip rows").Items() {
		s := &SkipRow{Begins: d.pattern(c.Get("begins"), false), Column: c.Get("column").Text(), Says: d.pattern(c.Get("says"), false), Why: c.Get("why").Text(), Place: c.Place()}
		if (s.Begins == nil) == (s.Says == nil) || (s.Says == nil) != (s.Column == "") || s.Why == "" {
			c.Complain("a skipped row needs its first words, or a column and what it says, and a reason", "{begins: Mean, why: a row of averages} or {column: Status, says: SUPERSEDED, why: an old result}", "something is missing, or too much", "write one of the two forms")
		}
		if v := c.Get("method"); v.Has() {
			id, ok := d.vocab.Resolve(MethodWord, v.Text())
			if s.Method = id; !ok {
				d.unknown(v, MethodWord, v.Text())
			}
			if s.Begins == nil || t.EachRow != "test" {
				v.Complain("only a title between rows of tests names the method of those below it", "begins: its first words, in a table with each row: a test", "method: "+v.Text(), "take the line out")
			}
		}
		c.Done()
		t.SkipRows = append(t.SkipRows, s)
	}
	t.RatingRow = n.Get("rating row").Text()
	for _, c := range n.Get("field rows").Items() {
		r := &FieldRow{Label: c.Get("row").Text(), Place: c.Place()}
		if v := c.Get("reads"); v.Has() {
			r.Reads, r.Fields = d.readsOf(v, map[string]bool{"nothing": true})
		}
		r.Unit = c.Get("unit").OneOf("in", "cm")
		if r.Label == "" || r.Reads == nil {
			c.Complain("a field row needs its label and what it reads", "{row: Your sample, reads: client_sample_id}", "one of them is missing", "add it")
		}
		c.Done()
		t.FieldRows = append(t.FieldRows, r)
	}
	n.Done()
	d.checkTable(n, t, l)
	return t
}

func (d *decoder) column(n strict.Node, t *Table) *Column {
	c := &Column{Place: n.Place()}
	c.Heading = n.Get("heading").Texts()
	if v := n.Get("samples"); v.Has() {
		c.Samples, c.Heading = true, []string{v.Text()}
		if p, err := newPattern(v.Text(), v.Place()); err != nil || p.reads() {
			v.Complain("this is not a pattern of sample numbers", "such as AR####.##", v.Text(), "use # for a digit and * for any text")
		}
	}
	if len(c.Heading) == 0 {
		n.Complain("a column is known by its heading", "heading: the text as printed", "none", "add it; for a heading of two lines with different meaning write a list")
	}
	c.Under = n.Get("under").Texts()
	if b := n.Get("blank means"); b.Has() {
		c.Blank = b.Text()
		if c.Blank == asAbove && (t.EachRow == "test" || !knownField(n.Get("reads").Text())) {
			b.Complain("only a field can be as in the row above", "blank means: as above in a column that reads a field such as lab_sample_id, of a table of samples or readings", asAbove, "a result is never taken from another row; write what an empty cell means, such as not run")
		}
	}
	c.Only = d.patterns(n.Get("only"), false)
	c.OrBlank = slices.ContainsFunc(n.Get("only").Items(), func(v strict.Node) bool { return v.Text() == "" })
	c.Unit = n.Get("unit").Text()
	c.Optional = n.Get("optional").Bool()
	c.Why = n.Get("why").Text()
	c.at = n
	if v := n.Get("test"); v.Has() {
		for _, label := range v.Texts() {
			t := d.m.Test(label)
			if t == nil {
				v.Complain(fmt.Sprintf("the test %q is not in this mapping's list of tests", label), "a label under tests:", label, strict.DidYouMean(label, d.m.labels()))
				continue
			}
			c.Tests = append(c.Tests, t)
		}
		if len(c.Tests) > 0 {
			c.Test = c.Tests[0]
		}
	} else if r := n.Get("reads"); t.EachRow == "sample" && len(c.Heading) > 0 && (!r.Has() || strings.Contains(r.Text(), "result")) {
		c.Test = d.m.Test(strings.Join(c.Heading, " "))
		if c.Test == nil {
			c.Test = d.m.Test(c.Heading[0])
		}
		if c.Test == nil {
			n.Complain(fmt.Sprintf("nothing says what the column %q is", strings.Join(c.Heading, " ")), "reads: a field or nothing, or test: a label under tests:", "neither", "add one; "+strict.DidYouMean(c.Heading[0], d.m.labels()))
		}
	}
	switch v := n.Get("reads"); {
	case v.Has():
		p, ids := d.readsOf(v, cellWords)
		c.Reads = p
		if len(ids) == 1 && (p.bare() || ids[0] != "result") {
			c.Field = ids[0] // the words of a form around a result must be there
		}
		c.Nothing = c.Field == "nothing"
	default:
		p, _ := newPattern("{result}", c.Place)
		c.Reads, c.Field = p, "result"
	}
	if c.Test != nil && c.Reads != nil && contains(c.Reads.Names, "result") {
		d.expressed(c.Test, strings.Join(append(slices.Clone(c.Under), c.Heading...), " "), !isUnit, n.Get("heading").Complain)
		d.expressed(c.Test, c.Unit, isUnit, n.Get("unit").Complain)
	}
	c.Numbers = c.holdsNumbers()
	if v := n.Get("numbers"); v.Has() {
		c.Numbers = v.Bool()
		if !c.Nothing {
			v.Complain("only a column that reads nothing says whether numbers stand in it", "no numbers: here", v.Text(), "take the line out")
		}
	}
	if c.Nothing && len(c.Only) == 0 && t.EachRow != "sample" && isQualifiers(c.Heading) {
		n.Complain(fmt.Sprintf("the column %q is not read, and what it says of a result would be lost", strings.Join(c.Heading, " ")), "reads: qualifier, with the laboratory's signs under qualifiers:", "reads: nothing", "see the laboratory's guide: U mostly means less than the number beside it, and J an estimate; if the signs change nothing, list them under only:")
	}
	if c.Nothing && c.Why == "" {
		n.Complain("a column whose numbers are no results needs a reason", "why: such as the lower edge of the Low band", "none", "add why:, so that the next reader knows")
	}
	if _, ok := d.unit(c.Unit); !ok && c.Unit != "" && !c.Nothing {
		d.unknown(n.Get("unit"), UnitWord, c.Unit)
	}
	if len(c.Tests) > 1 && c.Reads != nil && contains(c.Reads.Names, "result") {
		n.Get("test").Complain("a result belongs to one test", "one label", listWords(testLabels(c.Tests)), "only a column of ratings may serve several tests, of which one has been run")
	}
	n.Done()
	return c
}

// isQualifiers reports whether a heading is that of a column of qualifiers, which
// make a number a limit or an estimate; common practice, no source.
func isQualifiers(heading []string) bool {
	text := strings.Trim(strings.ToLower(squeeze(strings.Join(heading, " "))), ".:")
	return slices.Contains([]string{"q", "qual", "quals", "qualifier", "qualifiers", "dataqualifier", "dataqual", "labqualifier", "labqual", "flag", "flags", "dataflag", "labflag"}, text)
}

// aboutResult reports whether a column that reads this says something of a
// result, and so needs to say of which.
func aboutResult(name string) bool {
	return contains(besideWords, name) || name == "rating" || name == "index"
}

// hasResult reports whether a column of the table has the result of a test.
func (t *Table) hasResult(x *Test) bool {
	return slices.ContainsFunc(t.Columns, func(c *Column) bool { return c.Test == x && c.Reads != nil && contains(c.Reads.Names, "result") })
}

// unitBeside reports whether a column of the table says the unit of a test's
// result.
func (t *Table) unitBeside(x *Test) bool {
	return slices.ContainsFunc(t.Columns, func(c *Column) bool { return c.besides(x) && contains(c.Reads.Names, "unit") })
}

func testLabels(ts []*Test) []string {
	var out []string
	for _, t := range ts {
		out = append(out, t.Label)
	}
	return out
}

// checkTable makes sure that the columns fit the kind of table.
func (d *decoder) checkTable(n strict.Node, t *Table, l *Layout) {
	for i, sk := range t.SkipRows {
		if sk.Column != "" && !t.headed(sk.Column) {
			var headings []string
			for _, c := range t.Columns {
				if len(c.Heading) > 0 {
					headings = append(headings, c.Heading[0])
				}
			}
			n.Get("skip rows").Items()[i].Get("column").Complain(fmt.Sprintf("the table has no column %q, so the rule would skip nothing", sk.Column), strings.Join(headings, ", "), sk.Column, strict.DidYouMean(sk.Column, headings))
		}
	}
	has := map[string]int{}
	for _, c := range t.Columns {
		if c.Reads != nil {
			for _, name := range c.Reads.Names {
				has[name]++
			}
		}
		if t.EachRow == "sample" && c.Test == nil && c.Reads != nil && contains(c.Reads.Names, "result") {
			c.at.Complain("a column of results has no test", "test: a label under tests:", strings.Join(c.Heading, " "), "add test: to the column")
		}
		if t.EachRow == "sample" && c.Test == nil && c.Reads != nil && slices.ContainsFunc(c.Reads.Names, aboutResult) {
			c.at.Complain(fmt.Sprintf("the column %q says something of a result, and not of which", strings.Join(c.Heading, " ")), "test: a label under tests:, or several", "no test", "add test: to the column; if it is of no use, write reads: nothing and why:")
		}
		if c.Test != nil && c.Reads != nil && !contains(c.Reads.Names, "result") {
			for _, x := range c.Tests {
				if t.EachRow == "sample" && c.besides(x) && !t.hasResult(x) {
					c.at.Get("test").Complain(fmt.Sprintf("the table has no column with the result of %q, of which this column says something", x.Label), "a test of which a column of this table has the result", x.Label, "correct test:, or add the column of the result")
				}
			}
			continue // what it says is of a test that another column reads
		}
		if t.EachRow == "sample" && c.Test != nil && len(c.Test.Units) > 0 && !c.Test.Unprinted {
			if c.Unit == "" && !headingHasUnit(c) && !contains(c.Reads.Names, "unit") && !t.unitBeside(c.Test) && !c.Test.MayLack {
				c.at.Complain(fmt.Sprintf("the unit of %q is printed, but the column does not say where", c.Test.Label), "unit: "+c.Test.Units[0]+" in the column", "none", "add it, or write unit not printed: under tests:")
			} else if c.Unit != "" && !contains(c.Test.Units, c.Unit) {
				c.at.Complain(fmt.Sprintf("the column's unit is not one of the units of %q", c.Test.Label), strings.Join(c.Test.Units, ", "), c.Unit, "make the two agree")
			}
		}
		if t.EachRow == "sample" && c.Test != nil && len(c.Test.Units) == 0 && c.Test.Dimension == "" && !c.Test.InWords {
			c.at.Complain(fmt.Sprintf("the test %q has no unit", c.Test.Label), "unit: or unit not printed: under tests:", "none", "add it")
		}
	}
	if t.EachRow != "sample" {
		d.checkTwice(t)
	}
	needs := func(name, why string) {
		if has[name] == 0 {
			n.Complain(why, "a column that reads "+name, "none", "add reads: "+name+" to a column")
		}
	}
	switch t.EachRow {
	case "sample":
		if l.OneEach == "table" && has["lab_sample_id"] == 0 && has["client_sample_id"] == 0 {
			needs("lab_sample_id", "a row of a sample needs the sample's number")
		}
	case "test":
		needs("test", "a row of a test needs its label")
		needs("result", "the table reads no result")
	case "reading":
		needs("lab_sample_id", "a reading needs its sample's number")
		needs("test", "a reading needs its test")
		needs("result", "the table reads no result")
	}
}

// headed reports whether the table has a column of that heading.
func (t *Table) headed(heading string) bool {
	for _, c := range t.Columns {
		if len(c.Heading) > 0 && squeeze(c.Heading[0]) == squeeze(heading) {
			return true
		}
	}
	return false
}

// headingHasUnit reports whether a column's own heading names one of its
// test's units, as "P (ppm)" does, which verifies it with the heading.
func headingHasUnit(c *Column) bool {
	h := squeeze(strings.Join(c.Heading, " "))
	for _, u := range c.Test.Units {
		if strings.Contains(h, squeeze(u)) {
			return true
		}
	}
	return false
}

func contains(list []string, s string) bool {
	for _, x := range list {
		if x == s {
			return true
		}
	}
	return false
}

func sortedKeys[V any](m map[string]V) []string {
	var out []string
	for k := range m {
		out = append(out, k)
	}
	for i := 1; i < len(out); i++ {
		for j := i; j > 0 && out[j] < out[j-1]; j-- {
			out[j], out[j-1] = out[j-1], out[j]
		}
	}
	return out
}
