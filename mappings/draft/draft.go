package draft

import (
	"fmt"
	"regexp"
	"slices"
	"sort"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// Options of a proposal.
type Options struct {
	Vocabulary mappings.Vocabulary // of analytes, units and methods; must not be nil
	Lab        string              // the laboratory's name, where the caller knows it
	ID         string              // of the mapping; made from the name when empty
}

// A Question is something that the reports leave open.
type Question struct {
	Line int    // of Draft.Text, from 1
	Text string // a sentence for the steward
}

// A Draft is a proposed mapping.
type Draft struct {
	ID        string
	Lab       string
	Text      string     // the mapping, as YAML with comments
	Questions []Question // in the order of their lines
	Readings  int        // how many results the proposal reads from the given reports, as it stands
	Left      int        // how many numbers of the reports it does not account for
	Changes   []Change   // of a revised layout: what the old one relied on and what was found
}

// drafter is the state of one proposal.
type drafter struct {
	v           mappings.Vocabulary
	year        int
	dates       map[string]bool
	ratings     map[string]bool
	letters     map[string]string // what a note says that a rating letter means
	methodWords map[string]string
	unitAs      map[string]string
	areaUnits   map[string]string // printed unit -> id
	tests       catalogue
	layouts     []*layoutDraft
	files       int
	lab, id     string
	labConf     float64
	labAsk      []string
	generalUnit string
	methodHint  string
	notes       []string            // running text of the reports, for what they state
	keys        map[string]keyEntry // code of a test, squeezed -> what a key says of it
	methodKeys  map[string]string   // code of a method -> the words that a key has for it
	legend      map[string]string   // mark in brackets behind a label -> method, or ""
	old         *mappings.Mapping   // of a revised layout, whose readings are never declared away; or nil
	enclosures  []*enclosure        // files of the reports' mails that seem to be none
	oldPlaces   map[*ingest.Document][]ingest.Place
}

// Propose drafts a mapping from reports of one laboratory. docs holds, for
// each report, its documents: one for a PDF or workbook, and for a text file
// one for each dialect of [Dialects] in which it could be read. The reasons
// say which reports gave nothing; the draft is nil when none gave anything.
func Propose(docs [][]*ingest.Document, opt Options) (*Draft, []*ingest.Reason) {
	d := newDrafter(opt)
	var reasons []*ingest.Reason
	var used [][]*ingest.Document
	for _, ways := range docs {
		if len(ways) == 0 {
			continue
		}
		doc := d.bestWay(ways)
		d.collectNotes(doc)
		d.readKeys(doc)
		used = append(used, []*ingest.Document{doc})
	}
	d.readNotes()
	var empty []*ingest.Document
	for _, ways := range used {
		doc := ways[0]
		l := d.layoutOf(doc)
		if l == nil {
			reasons = append(reasons, nothingFound(doc))
			empty = append(empty, doc)
			continue
		}
		d.files++
		d.addLayout(l)
	}
	if len(d.layouts) == 0 {
		if len(reasons) == 0 {
			reasons = append(reasons, &ingest.Reason{Code: "draft-empty", Severity: ingest.Fail, What: "there is no report to draft from", Expected: "at least one report that can be read", Found: "none", Next: "name a PDF, a workbook or a CSV file"})
		}
		return nil, reasons
	}
	d.finish(opt)
	d.companions(empty)
	out := d.refine()
	if out == nil {
		reasons = append(reasons, d.noDraft())
	}
	return out, reasons
}

func newDrafter(opt Options) *drafter {
	return &drafter{v: opt.Vocabulary, dates: map[string]bool{}, ratings: map[string]bool{}, letters: map[string]string{}, legend: map[string]string{}, keys: map[string]keyEntry{}, methodKeys: map[string]string{}, methodWords: map[string]string{}, unitAs: map[string]string{}, areaUnits: map[string]string{}, lab: opt.Lab, id: opt.ID}
}

func nothingFound(doc *ingest.Document) *ingest.Reason {
	found := "text without a table, label or sentence that names a test beside a number"
	n := 0
	for _, p := range doc.Pages {
		n += len(p.Words) + len(p.Cells)
	}
	if n == 0 {
		found = "no text at all"
	}
	return &ingest.Reason{Code: "draft-empty", Severity: ingest.Hold, Where: ingest.Place{File: doc.Source.Name},
		What: "no results were recognised in this file, so nothing is proposed for it", Expected: "names of tests (pH, phosphorus ...) with numbers beside or under them", Found: found,
		Next: "if the file is a report, write its layout by hand; the guide to writing a mapping shows how"}
}

// bestWay is the reading of a text file in which a heading line knows the
// most words, and for other files their one reading.
func (d *drafter) bestWay(ways []*ingest.Document) *ingest.Document {
	best, bestScore := ways[0], -1
	for _, doc := range ways {
		score := 0
		for _, p := range doc.Pages {
			q := *p
			q.Cells = q.Cells[:min(len(q.Cells), 600)]
			s := newSheet(doc, &q)
			for i := range s.lines {
				n := 0
				for _, ph := range d.phrases(&s.lines[i], s.grid) {
					if ph.hit {
						n++
					}
				}
				score = max(score, n)
			}
		}
		if score > bestScore {
			best, bestScore = doc, score
		}
	}
	return best
}

// addLayout adds a report's layout, or merges it into one of its kind.
func (d *drafter) addLayout(l *layoutDraft) {
	for _, o := range d.layouts {
		if o.format == l.format && sameDialect(o.dialect, l.dialect) && o.oneEach == l.oneEach && o.fits(l) {
			o.merge(l)
			return
		}
	}
	for i, o := range d.layouts {
		switch {
		case o.format != l.format || !sameDialect(o.dialect, l.dialect) || !o.fits(l):
		case o.oneEach == "block" && l.holdsOne(o.block):
			o.mergeOne(l)
			return
		case l.oneEach == "block" && o.holdsOne(l.block):
			l.mergeOne(o)
			d.layouts[i] = l
			return
		}
	}
	d.layouts = append(d.layouts, l)
}

// holdsOne reports whether a report is one of blocks beginning with a label
// that happens to hold a single sample on its page.
func (l *layoutDraft) holdsOne(begins string) bool {
	return l.oneEach == "page" && slices.ContainsFunc(l.sample, func(f foundField) bool {
		return f.ids[0] == mappings.LabSampleID && f.label == begins
	})
}

// mergeOne takes in a report whose only sample is a block like the others.
func (l *layoutDraft) mergeOne(o *layoutDraft) {
	keepReport, keepSample := slices.Clone(l.report), slices.Clone(l.sample)
	for _, fs := range [][]foundField{keepReport, keepSample} {
		for i := range fs {
			has := func(f foundField) bool { return f.label == fs[i].label && f.how == fs[i].how }
			fs[i].optional = fs[i].optional || !slices.ContainsFunc(o.report, has) && !slices.ContainsFunc(o.sample, has)
		}
	}
	o.report, o.sample = nil, nil
	l.merge(o)
	l.report, l.sample = keepReport, keepSample
}

func sameDialect(a, b *ingest.Dialect) bool {
	return a == nil && b == nil || a != nil && b != nil && *a == *b
}

// fits reports whether two reports are laid out alike.
func (l *layoutDraft) fits(o *layoutDraft) bool {
	if len(l.tables) > 0 != (len(o.tables) > 0) {
		return false
	}
	if len(l.tables) == 0 {
		return true
	}
	for _, t := range o.tables {
		for _, u := range l.tables {
			if u.kind == t.kind && sameColumns(u, t) {
				return true
			}
		}
	}
	return false
}

// merge takes another report of the same layout in.
func (l *layoutDraft) merge(o *layoutDraft) {
	l.docs = append(l.docs, o.docs...)
	if l.continues == "" {
		l.continues = o.continues
	}
	for _, t := range o.tables {
		l.addTable(nil, t)
	}
	l.addLabels(o.labels)
	for _, s := range o.sentences {
		l.addSentence(s)
	}
	l.report = mergeFields(l.report, o.report)
	l.sample = mergeFields(l.sample, o.sample)
	for _, n := range o.sheetsOff {
		known := false
		for _, m := range l.sheetsOff {
			known = known || m == n
		}
		if !known {
			l.sheetsOff = append(l.sheetsOff, n)
		}
	}
	l.order = append(l.order, o.order...)
	for t := range o.dates {
		l.dates[t] = true
	}
	for t := range o.number.missing {
		l.number.missing[t] = true
	}
	for t := range o.number.maybe {
		l.number.maybe[t] = true
	}
	for t := range o.number.marks {
		l.number.marks[t] = true
	}
	l.number.dot += o.number.dot
	l.number.comma += o.number.comma
	l.number.commaGroup += o.number.commaGroup
	l.number.spaceGroup += o.number.spaceGroup
	l.number.dotGroup += o.number.dotGroup
}

// mergeFields keeps the fields of two reports; one that only one of them has
// may be absent.
func mergeFields(a, b []foundField) []foundField {
	key := func(f foundField) string { return f.reads() + f.how + f.label }
	inB := map[string]bool{}
	for _, f := range b {
		inB[key(f)] = true
	}
	have := map[string]bool{}
	ids := map[mappings.FieldID]bool{}
	for i := range a {
		a[i].optional = a[i].optional || !inB[key(a[i])]
		have[key(a[i])] = true
		for _, id := range a[i].ids {
			ids[id] = true
		}
	}
	for _, f := range b {
		if have[key(f)] || ids[f.ids[0]] {
			continue
		}
		f.optional = true
		a = append(a, f)
	}
	return a
}

// finish settles names, recognising texts and tests, when all reports have
// been looked at.
func (d *drafter) finish(opt Options) {
	for i, l := range d.layouts {
		texts, lab := l.recogniseTexts(d)
		if len(texts) == 0 {
			texts = []string{"QUESTION"}
			l.ask = append(l.ask, "by which text is a report of this laboratory known? Write it under recognise")
		}
		l.recognise = texts
		if d.lab == "" && lab != "" {
			d.lab, d.labConf = lab, 0.7
			d.labAsk = []string{"is this the laboratory's name? It is the line at the head of the reports that looks most like one; the guide has it right"}
		}
		l.name = l.nameIt(d.layouts, i)
	}
	if d.lab == "" {
		d.lab, d.labAsk = "Unknown laboratory", []string{"what is the laboratory's name? No report says"}
	}
	if d.id == "" {
		d.id = idOf(d.lab)
	}
	for _, l := range d.layouts {
		l.dropDoubles()
		l.relyOn(d)
		for _, t := range l.tables {
			d.finishTable(t)
			t.sampleNumbers()
		}
	}
	// Ratings beside a test that another column reads.
	for _, l := range d.layouts {
		for _, t := range l.tables {
			if t.kind != "sample" {
				continue
			}
			for _, c := range t.cols {
				if c.role == "rating" && c.m.analyte != "" {
					d.sideColumn(t, c)
				}
			}
		}
	}
}

// dropDoubles takes out fields beside the tables that the tables read.
func (l *layoutDraft) dropDoubles() {
	in := map[mappings.FieldID]bool{}
	for _, t := range l.tables {
		for _, c := range t.cols {
			in[mappings.FieldID(c.role)] = true
		}
		for _, f := range t.fields {
			for id := range words().Fields {
				if f.reads == id || strings.Contains(f.reads, "{"+id+"}") {
					in[mappings.FieldID(id)] = true
				}
			}
		}
	}
	keep := func(fs []foundField) []foundField {
		var out []foundField
		for _, f := range fs {
			if !in[f.ids[0]] && !in[f.ids[len(f.ids)-1]] {
				out = append(out, f)
			}
		}
		return out
	}
	l.report, l.sample = keep(l.report), keep(l.sample)
}

// finishTable enters the tests of a table's columns.
func (d *drafter) finishTable(t *foundTable) {
	if t.kind == "sample" {
		seen := map[string]*column{}
		for _, c := range t.cols {
			if c.role != "result" || c.m.analyte == "" {
				continue
			}
			d.columnTest(c)
			if c.role != "result" {
				continue
			}
			id, _ := d.v.Resolve(mappings.MethodWord, c.m.method)
			k := c.m.analyte + "\x00" + c.m.detail + "\x00" + id
			if o := seen[k]; o != nil && d.restates(o, c) {
				c.because += ", and it says the same as " + quoted(o.title()) + " in another unit or form"
				continue
			}
			if o := seen[k]; o != nil {
				o.ask = append(o.ask, "two columns give "+c.m.analyte+"; this one is read")
				c.role, c.why, c.conf = "nothing", "a second column of the same test", 0.4
				c.ask = append(c.ask, "two columns give "+c.m.analyte+": "+quoted(o.title())+" is read and "+quoted(c.title())+" is not; is that right?")
				continue
			}
			seen[k] = c
		}
		return
	}
	for _, e := range d.tests.list {
		if len(e.units) == 0 && e.unprinted == "" && !selfUnit(e.m.analyte) && !e.words {
			if u := e.m.unit; u != "" && e.addUnit(d, u) {
				continue
			}
			d.noUnit(nil, e)
		}
	}
}

// sideColumn finds the test whose rating a column holds.
func (d *drafter) sideColumn(t *foundTable, c *column) {
	for _, o := range t.cols {
		if o.role == "result" && o.m.analyte == c.m.analyte {
			name := o.test
			if name == "" {
				name = o.title()
				if d.tests.find(name) == nil {
					name = o.heading[0]
				}
			}
			c.tests = append(c.tests, name)
		}
	}
	if len(c.tests) > 0 {
		for _, w := range c.filled() {
			d.rating(w)
		}
		return
	}
	c.role, c.why = "nothing", "a rating of no known test"
}

func idOf(lab string) string {
	var ws []string
	for _, w := range strings.Fields(strings.ToLower(lab)) {
		w = regexp.MustCompile(`[^a-z0-9]`).ReplaceAllString(w, "")
		if w != "" && w != "the" && w != "and" {
			ws = append(ws, w)
		}
	}
	if len(ws) == 0 {
		return "new-lab"
	}
	return strings.Join(ws[:min(2, len(ws))], "-")
}

func (l *layoutDraft) nameIt(all []*layoutDraft, i int) string {
	base := map[ingest.Format]string{ingest.PDF: "printed report", ingest.XLSX: "workbook", ingest.CSV: "text file"}[l.format]
	if base == "" {
		base = string(l.format)
	}
	n := 1
	for _, o := range all[:i] {
		if o.format == l.format {
			n++
		}
	}
	if n > 1 {
		return fmt.Sprintf("%s %d", base, n)
	}
	return base
}

func sortedKeys[T any](m map[string]T) []string {
	var out []string
	for k := range m {
		out = append(out, k)
	}
	sort.Strings(out)
	return out
}

// questions lists the questions of a text with their lines.
func questions(text string) []Question {
	var out []Question
	for i, l := range strings.Split(text, "\n") {
		parts := strings.Split(l, "QUESTION: ")
		for _, q := range parts[1:] {
			q, _, _ = strings.Cut(q, "; QUESTION")
			out = append(out, Question{Line: i + 1, Text: strings.TrimRight(strings.TrimSuffix(q, "; "), " ")})
		}
	}
	return out
}
