package draft

import (
	"slices"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// A layoutDraft is one layout being proposed.
type layoutDraft struct {
	name      string
	format    ingest.Format
	dialect   *ingest.Dialect
	recognise []string
	noName    bool // they are headings: the reports don't name their laboratory
	oneEach   string
	block     string // label of the number with which each sample begins
	continues string // pattern of a page that goes on with the sample of the page before
	blockTail string // pattern of what follows that number
	report    []foundField
	sample    []foundField
	tables    []*foundTable
	labels    []foundLabel
	sentences []foundSentence
	notes     []declared
	stated    [][]statedText // a report each
	relies    []string       // texts that say how the results were measured or are given, as printed
	sheetsOff []string
	cover     []foundField // of sheets without results
	number    numberStyle
	dates     map[string]bool
	keptDates []string // the patterns of an old layout, for fields taken from it
	order     [][]string
	docs      []*ingest.Document
	ask       []string
	open      []openLine // what holds numbers that nothing accounts for
	from      string
	example   *example // of what it reads, for the steward to confirm
}

// declared is a proposal for not results.
type declared struct {
	way, text, to, why string
	conf               float64
	ask                string
}

// layoutOf proposes the layout of one document, or nil when nothing in it
// looks like results.
func (d *drafter) layoutOf(doc *ingest.Document) *layoutDraft {
	l := &layoutDraft{format: doc.Format, dialect: doc.Dialect, docs: []*ingest.Document{doc}, dates: map[string]bool{}}
	l.number = numberStyle{marks: map[string]bool{}, missing: map[string]bool{}, maybe: map[string]bool{}}
	d.dates = l.dates
	d.year = d.yearOf(doc)
	var fields [][]foundField
	l.stated = make([][]statedText, 1)
	read := 0
	idsOnPage := 0
	for _, p := range doc.Pages {
		if p.Hidden || read >= 8 {
			continue
		}
		read++
		s := newSheet(doc, p)
		if s.grid && p.Name != "" && len(doc.Pages) > 1 && (hasStart(p.Name, words().OtherSheets) || mappings.EarlierSheet(p.Name, d.year)) {
			l.sheetsOff = append(l.sheetsOff, p.Name)
			l.cover = append(l.cover, d.pageFields(s, map[int]bool{}, p.Number)...)
			continue
		}
		taken := map[int]bool{}
		tables, strips := d.pageTables(s, taken)
		for _, t := range tables {
			l.addTable(d, t)
		}
		if strips > 1 {
			l.oneEach = "block"
		}
		for _, st := range d.statements(s, taken) {
			st.sheet = p.Name
			l.stated[0] = append(l.stated[0], st)
		}
		fs := d.pageFields(s, taken, p.Number)
		if len(tables) == 0 || tables[0].kind == "test" {
			fs = append(fs, proseNumbers(s, fs, taken, p.Number)...)
		}
		if !s.grid {
			for j := range d.adviceLines(s) {
				taken[j] = true
			}
			if len(tables) == 0 && len(l.tables) > 0 && l.tables[0].kind == "sample" && s.goesOn(l.tables[0]) {
				l.tables[0].goesOn = true
			}
		}
		var labels []foundLabel
		if len(tables) == 0 || !s.grid {
			labels = append(d.pageLabels(s, taken), d.labelsAbove(s, taken)...)
		}
		if len(tables) > 0 {
			labels = slices.DeleteFunc(labels, func(f foundLabel) bool { return f.unit == "" && f.m.unit == "" && !selfUnit(f.m.analyte) })
		}
		if len(labels) >= 3 || len(labels) > 0 && len(tables) > 0 && tables[0].kind == "test" {
			l.addLabels(labels)
			for _, x := range labels {
				taken[x.line] = true
				if x.below {
					taken[x.line+1] = true
				}
				l.number.see(x.value)
				d.rating(x.rating)
			}
		}
		if !s.grid {
			for _, f := range fs {
				taken[f.line] = true
			}
			for _, x := range d.pageSentences(s, taken) {
				l.addSentence(x)
			}
		}
		if s.grid && len(tables) == 0 && len(labels) < 3 && p.Name != "" {
			l.sheetsOff = append(l.sheetsOff, p.Name)
		}
		fields = append(fields, fs)
		numbers := map[string]bool{}
		for _, f := range l.promoteSample(fs) {
			if f.ids[0] == mappings.LabSampleID {
				numbers[f.value] = true
				if read > 1 && hasAny(s.lines[f.line].text(), []string{"continued", "cont.", "cont'd"}) {
					l.continues = continuesOn(f.label, s.lines[f.line].text())
				}
			}
		}
		idsOnPage = max(idsOnPage, len(numbers))
	}
	if len(l.tables)+len(l.labels)+len(l.sentences) == 0 {
		return nil
	}
	l.settle(d, fields, idsOnPage)
	return l
}

// continuesOn is the pattern of a line that says of a page that it goes on
// with a sample: the label with the number, and the word for going on.
func continuesOn(label, line string) string {
	for _, w := range []string{"continued", "Continued", "CONTINUED", "cont'd", "cont."} {
		if strings.Contains(line, w) {
			return mappings.Literal(label) + " {lab_sample_id} *" + w
		}
	}
	return ""
}

// pageTables finds the tables of a page. strips is how many times one table
// stands side by side.
func (d *drafter) pageTables(s *sheet, taken map[int]bool) (out []*foundTable, strips int) {
	seeds := d.seeds(s)
	advice := map[int]bool{}
	if !s.grid {
		advice = d.adviceLines(s)
	}
	strips = 1
	for k, i := range seeds {
		limit := len(s.lines)
		if k+1 < len(seeds) {
			limit = d.lineAbove(s, seeds[k+1])
		}
		part, at, lim := s, i, limit
		if xs := d.copies(s, i); len(xs) > 1 {
			strips = len(xs)
			left := s.lines[i].words[0].Box.X0
			part = s.strip(left-40, xs[1])
			at, lim = lineNear(part, s.lines[i].box.Y0), len(part.lines)
			if limit < len(s.lines) {
				lim = lineNear(part, s.lines[limit].box.Y0)
			}
			if at < 0 {
				continue
			}
		}
		t := d.build(part, at, lim)
		if t == nil {
			continue
		}
		if d.advises(part, t, advice) {
			markTaken(s, part, t, taken)
			continue
		}
		if !d.decide(part, t) {
			continue
		}
		t.checkSamples()
		t.strips = strips
		markTaken(s, part, t, taken)
		if k > 0 && len(out) > 0 && !s.grid {
			t.starts = d.startOf(s, i, t.top)
		}
		if e := d.endsOf(part, t); len(e) > 0 {
			t.ends = [][]string{e}
		}
		out = append(out, t)
	}
	return out, strips
}

// markTaken marks the lines of a sheet that a table covers.
func markTaken(s, part *sheet, t *foundTable, taken map[int]bool) {
	y0, y1 := t.top, part.lines[t.last].box.Y1
	for j := range s.lines {
		if c := s.lines[j].box.CenterY(); c > y0 && c < y1 || s.grid && s.lines[j].box.Y0 >= y0 && s.lines[j].box.Y0 < y1 {
			taken[j] = true
		}
	}
}

// goesOn reports whether a page without a heading has rows like those of a
// table on an earlier page.
func (s *sheet) goesOn(t *foundTable) bool {
	n := 0
	for i := range s.lines {
		if k := len(s.lines[i].runs); s.bodyLine(&s.lines[i]) && k*10 >= len(t.cols)*7 && k <= len(t.cols)+2 {
			n++
		}
	}
	return n >= 2
}

func (d *drafter) lineAbove(s *sheet, seed int) int {
	top, _ := d.regionTop(s, seed)
	return top
}

func lineNear(s *sheet, y float64) int {
	for i := range s.lines {
		if abs(s.lines[i].box.Y0-y) < 3 {
			return i
		}
	}
	return -1
}

// startOf is the text above a table that is not the first of its page.
func (d *drafter) startOf(s *sheet, seed int, top float64) string {
	for j := seed - 1; j >= 0 && j > seed-5; j-- {
		l := &s.lines[j]
		if l.box.CenterY() >= top {
			continue
		}
		if !hasDigit(l.text()) && len(l.words) <= 6 && len(l.runs) == 1 {
			return l.text()
		}
		break
	}
	return ""
}

// endsOf are the words with which the lines under a table begin, nearest
// first: one that every report has can end the table.
func (d *drafter) endsOf(s *sheet, t *foundTable) []string {
	var out []string
	for i := t.last + 1; i < len(s.lines) && i <= t.last+8; i++ {
		l := &s.lines[i]
		var ws []string
		for _, w := range l.runs[0].words {
			if hasDigit(w.Text) && len(ws) > 0 || len(ws) >= 5 {
				break
			}
			ws = append(ws, w.Text)
		}
		text := strings.Join(ws, " ")
		if s.grid {
			text = ""
			if d.footRow(l, len(t.cols)) {
				text = openingWords(l.words[0].Text, 4)
			}
		}
		if len(text) < 4 || len(ws) == 1 && len(text) < 7 || hasDigit(text) && len(ws) < 2 || fieldOf(text) != "" || isMissing(text) {
			continue
		}
		// Words that also stand in the table would end it early.
		bad := false
		for _, r := range t.rows {
			bad = bad || strings.Contains(r.text(), text)
		}
		for _, c := range t.cols {
			bad = bad || strings.Contains(c.title(), text)
		}
		if !bad {
			out = append(out, text)
		}
	}
	return out
}

// openingWords are the first words of a text, as many as n, before the first
// with a digit.
func openingWords(text string, n int) string {
	var ws []string
	for _, w := range strings.Fields(text) {
		if hasDigit(w) || len(ws) >= n {
			break
		}
		ws = append(ws, w)
	}
	return strings.Join(ws, " ")
}

// yearOf is the newest year of a date on the document's first pages.
func (d *drafter) yearOf(doc *ingest.Document) int {
	best := 0
	for i, p := range doc.Pages {
		if i > 1 {
			break
		}
		s := newSheet(doc, p)
		for j := range s.lines {
			if j > 60 {
				break
			}
			for _, f := range d.lineFields(s, j, p.Number) {
				for _, pat := range datePatterns(f.value) {
					if v, ok := mappings.ParseDate(pat, f.value); ok {
						y := int(v[0]-'0')*1000 + int(v[1]-'0')*100 + int(v[2]-'0')*10 + int(v[3]-'0')
						best = max(best, y)
					}
				}
			}
		}
	}
	return best
}

// addTable adds a table, or the rows and further columns of one already
// found on another page.
func (l *layoutDraft) addTable(d *drafter, t *foundTable) {
	for _, o := range l.tables {
		if o.kind == t.kind && sameColumns(o, t) {
			o.merge(t)
			return
		}
	}
	l.tables = append(l.tables, t)
}

// sameColumns reports whether most headings of two tables agree.
func sameColumns(a, b *foundTable) bool {
	n := 0
	for _, c := range b.cols {
		if a.index(c) >= 0 || c.role == "samples" {
			n++
		}
	}
	return n*10 >= len(b.cols)*7 && n*10 >= min(len(a.cols), len(b.cols))*7
}

func (c *column) key() string {
	return mappings.Squeeze(strings.Join(c.under, "|") + "||" + strings.Join(c.heading, "|"))
}

func (t *foundTable) index(c *column) int {
	for i, o := range t.cols {
		if o.key() == c.key() {
			return i
		}
	}
	return -1
}

// merge takes the columns, rows and declarations of the same table on
// another page or in another report. A column that only one has is optional.
func (t *foundTable) merge(o *foundTable) {
	for _, c := range t.cols {
		if o.index(c) < 0 && c.role != "samples" {
			c.optional = true
		}
	}
	at := 0
	for _, c := range o.cols {
		if i := t.index(c); i >= 0 {
			t.cols[i].cells = append(t.cols[i].cells, c.cells...)
			t.cols[i].kinds = append(t.cols[i].kinds, c.kinds...)
			if t.cols[i].reads == "" {
				t.cols[i].reads = c.reads
			}
			t.cols[i].optional = t.cols[i].optional || c.optional
			if t.cols[i].role == "nothing" && c.role != "nothing" && t.cols[i].conf < c.conf {
				c.optional = t.cols[i].optional
				t.cols[i] = c
			}
			at = i + 1
			continue
		}
		if c.role == "samples" {
			i := slices.IndexFunc(t.cols, func(x *column) bool { return x.role == "samples" })
			if i >= 0 {
				t.cols = slices.Insert(t.cols, i, c)
				at = max(at, i+1)
				continue
			}
		}
		c.optional = true
		t.cols = slices.Insert(t.cols, min(at, len(t.cols)), c)
		at++
	}
	for _, s := range o.skips {
		if s.column != "" {
			if !slices.Contains(t.skips, s) {
				t.skips = append(t.skips, s)
			}
			continue
		}
		t.addSkip(s.begins, s.why, s.ask)
	}
	for _, f := range o.fields {
		t.fields = addFieldRow(t.fields, f)
	}
	if t.rating == "" {
		t.rating = o.rating
	}
	t.ends = append(t.ends, o.ends...)
	if t.headRow != o.headRow {
		t.headRow = 0
	}
}

// end is the text that follows the table on most pages, as far as it has the
// same words: the whole of a text, or at least its first two words.
func (t *foundTable) end() string {
	best, votes := "", 0
	for _, page := range t.ends {
		for _, text := range page {
			ws := strings.Fields(text)
			for n := len(ws); n >= min(2, len(ws)); n-- {
				part := strings.Join(ws[:n], " ")
				v := 0
				for _, other := range t.ends {
					if slices.ContainsFunc(other, func(o string) bool { return o == part || strings.HasPrefix(o, part+" ") }) {
						v++
					}
				}
				if v > votes && len(part) >= 4 {
					best, votes = part, v
				}
			}
		}
	}
	return best
}

func (l *layoutDraft) addLabels(fs []foundLabel) {
	for _, f := range fs {
		dup := false
		for i := range l.labels {
			if o := &l.labels[i]; mappings.Squeeze(o.label) == mappings.Squeeze(f.label) {
				dup = true
				if hasDigit(f.value) && hasDigit(o.value) && (f.unit == "") != (o.unit == "") {
					o.bare = true
				}
				if o.unit == "" {
					o.unit = f.unit
				}
				if o.more == "" {
					o.more = f.more
				}
				if f.rating != "" {
					o.rating = f.rating
				}
			}
		}
		if !dup {
			l.labels = append(l.labels, f)
		}
	}
}

func (l *layoutDraft) addSentence(f foundSentence) {
	for _, o := range l.sentences {
		if o.text == f.text {
			return
		}
	}
	l.sentences = append(l.sentences, f)
}
