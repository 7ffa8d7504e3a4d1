package mappings

import (
	"fmt"
	"math/big"
	"regexp"
	"strings"

	"example.org/windrow/ingest"
)

// A reader reads one document by one layout.
type reader struct {
	doc       *ingest.Document
	l         *Layout
	vocab     Vocabulary
	out       *Extract
	views     []*view
	byKey     map[string]*SampleExtract                // samples of tables with a reading a row
	seen      map[string]bool                          // reasons already given
	got       map[*SampleExtract]map[ingest.Place]bool // the rules that found their text, by their lines in the mapping
	cover     map[FieldID]Field                        // fields that a sheet without results gives
	covered   map[ingest.Place]bool                    // the rules whose text stands there, which other sheets may lack
	alike     map[string]int                           // reasons of one code from one rule
	skipped   int                                      // reasons beyond the number worth listing
	remarks   []remark                                 // what stands in columns of words that the mapping does not know
	told      []told                                   // the labels that say whose a sample is
	remarked  map[string]bool                          // the texts of them
	forms     map[expression]string                    // the forms of an element that printed labels and units were found to name
	headed    []headed                                 // the headings of the tables that were read
	spots     map[spotKey]*spots                       // the places for results, and which of them are empty
	origins   map[*SampleExtract]origin                // the tables whose rows or columns are samples
	middles   map[*Column]*columnSample                // what samples have in columns of results
	sorted    []*Reading                               // see sorts
	bared     map[bareWord]bareSaying                  // what words that stand by themselves say
	under     map[*heads]*testedRows                   // the rows of tests below each heading
	perSample int                                      // the most readings that a sample had so far
}

// maxReasons bounds the list that a person is shown for one report, and
// maxAlike how often one rule may say the same of other places in it, so that
// no kind of reason crowds out another.
const (
	maxReasons = 40
	maxAlike   = 5
)

func (r *reader) reason(x *ingest.Reason) {
	if x.Where.File == "" {
		x.Where.File = r.doc.Source.Title()
	}
	if len(x.Found) > 3*mostText {
		x.Found = shorten(x.Found)
	}
	k := x.Code + x.Where.String() + x.What + x.Found
	switch x.Code {
	case "layout-changed", "unit-differs", "method-differs", "label-differs", "cell-differs", "basis-differs", "layer-differs":
		// One change shows on every page and at every sample: once is enough.
		k = x.Code + x.Rule.String() + x.Expected + x.Found
	}
	if r.seen[k] {
		return
	}
	r.seen[k] = true
	kind := x.Code + x.Rule.String()
	if r.alike[kind]++; r.alike[kind] > maxAlike || len(r.out.Reasons) >= maxReasons {
		r.skipped++
		return
	}
	r.out.Reasons = append(r.out.Reasons, x)
}

func (r *reader) hold(code string, at, rule ingest.Place, what, expected, found, next string) {
	r.reason(&ingest.Reason{Code: code, Severity: ingest.Hold, Where: at, Rule: rule, What: what, Expected: expected, Found: found, Next: next})
}

// readLayout reads a document by a layout. The extract is always complete in
// this sense: every number of the document has a mark, and when one could not
// be accounted for, a reason says so.
func readLayout(doc *ingest.Document, l *Layout, vocab Vocabulary, marks bool) *Extract {
	m := l.mapping
	r := &reader{doc: doc, l: l, vocab: vocab, seen: map[string]bool{}, alike: map[string]int{}, got: map[*SampleExtract]map[ingest.Place]bool{}, byKey: map[string]*SampleExtract{}, spots: map[spotKey]*spots{},
		out: &Extract{Source: doc.Source, Mapping: Ref{Lab: m.Lab, ID: m.ID, Layout: l.Name, File: m.File, SHA256: m.SHA256}}}
	hidden := []string{}
	for _, p := range doc.Pages {
		v := newView(doc, p)
		if p.Hidden {
			if !r.hiddenSheet(v) {
				hidden = append(hidden, p.Name)
			}
			use(v.atoms, Mark{As: "declared", Note: "on a hidden sheet"})
			use(v.off, Mark{As: "declared", Note: "on a hidden sheet"})
			continue
		}
		if !v.grid && hasDigit(joined(v.off)) {
			r.unseen(v, v.off)
		}
		use(v.off, Mark{As: "declared", Note: "hidden"})
		for _, row := range p.Short {
			if v.short == nil {
				v.short = map[int]bool{}
			}
			v.short[row] = true
		}
		r.views = append(r.views, v)
	}
	if len(hidden) > 0 {
		r.reason(&ingest.Reason{Code: "hidden-sheet", Severity: ingest.Note, Where: ingest.Place{File: doc.Source.Title()}, What: "hidden sheets were not read", Expected: "sheets that a reader can see", Found: strings.Join(hidden, ", "), Next: "nothing, unless you miss a result"})
	}
	for _, n := range doc.Notes {
		if n.Severity == ingest.Hold || n.Severity == ingest.Flag {
			r.reason(n)
		}
	}
	carried := map[FieldID]Field{}
	tables := map[*Table]int{}
	last := map[*Table]*heads{}
	for _, v := range r.views {
		if !r.sheetRead(v) {
			continue
		}
		r.page(v, carried, tables, last)
		r.hiddenCells(v)
		r.blankFormats(v)
	}
	for _, t := range l.Tables {
		if tables[t] == 0 && !t.Optional {
			r.hold("layout-changed", ingest.Place{File: doc.Source.Title()}, t.Place, fmt.Sprintf("the table %q is not in this report", t.Name), "a table headed "+strings.Join(expectedOrder(t), " | "), "no such headings", nextLayout)
		}
	}
	r.missingRules()
	r.landmarks()
	r.blankResults()
	r.missingPages()
	r.finish(carried)
	r.corrected()
	r.besideHeadings()
	r.saysOtherwise()
	r.bareWords()
	r.markNotes()
	r.checkNames()
	r.skippedRows()
	r.registryNumbers()
	r.quoted()
	r.account(marks)
	r.inForce()
	r.adviseOnScan()
	r.holdQuestions()
	if r.skipped > 0 {
		r.out.Reasons = append(r.out.Reasons, &ingest.Reason{Code: "more", Severity: ingest.Note, Where: ingest.Place{File: doc.Source.Title()}, What: fmt.Sprintf("%d more reasons of these kinds are not listed", r.skipped)})
	}
	return r.out
}

func shorten(s string) string {
	if rs := []rune(s); len(rs) > 160 {
		return string(rs[:160]) + "..."
	}
	return s
}

// landmarks verifies the texts the layout relies on.
func (r *reader) landmarks() {
	for _, p := range r.l.ReliesOn {
		found := false
		for _, v := range r.views {
			if len(find(p, v.atoms)) > 0 {
				found = true
			}
		}
		if !found {
			r.hold("layout-changed", ingest.Place{File: r.doc.Source.Title()}, p.Place, "a text that the reading relies on is not in this report", fmt.Sprintf("the text %q", p.Src), "no such text on any page", nextLayout)
		}
	}
}

// sheetRead reports whether a sheet holds results by the layout's word.
func (r *reader) sheetRead(v *view) bool {
	if !v.grid || v.page.Name == "" {
		return true
	}
	for _, p := range r.l.NotSheets {
		if _, ok := p.matchWhole(v.page.Name); ok {
			// A cover sheet may say what holds for all the others.
			if r.cover == nil {
				r.cover, r.covered = map[FieldID]Field{}, map[ingest.Place]bool{}
			}
			for _, f := range r.l.Report {
				if r.readRule(v, f, r.l.Report, r.cover, nil) {
					r.covered[f.Place] = true
				}
			}
			use(v.atoms, Mark{As: "declared", Note: "a sheet without results", Rule: p.Place})
			return false
		}
	}
	if len(r.l.Sheets) == 0 {
		return true
	}
	for _, p := range r.l.Sheets {
		if _, ok := p.matchWhole(v.page.Name); ok {
			return true
		}
	}
	return false // its numbers stay unaccounted for and hold the report
}

// page reads one page or sheet.
func (r *reader) page(v *view, carried map[FieldID]Field, tables map[*Table]int, last map[*Table]*heads) {
	fields := map[FieldID]Field{}
	if !v.grid {
		for k, f := range carried {
			fields[k] = f
		}
	}
	for k, f := range r.cover {
		fields[k] = f
	}
	outside := v
	var blocks []block
	if r.l.OneEach == "block" {
		blocks = r.blocks(v)
	}
	r.fields(outside, r.l.Report, fields, blocks, len(carried) == 0 || v.grid)
	for k, f := range fields {
		if old, ok := carried[k]; ok && !v.grid && old.Value != f.Value {
			r.hold("pages-disagree", f.Place, f.Rule, fmt.Sprintf("two pages of one report differ in %s", fieldWords(k)), old.Printed+" as on "+old.Place.Inside(), f.Printed, "check whether two reports were joined in one file")
		}
		carried[k] = f
	}
	switch r.l.OneEach {
	case "page":
		r.block(v, fields, nil, tables, last)
	case "block":
		for _, b := range blocks {
			r.block(b.view, fields, &b, tables, last)
		}
		r.declare(v)
		r.declareLines(v)
	default:
		r.declare(v)
		r.tablesOf(v, nil, fields, tables, last)
		r.declareLines(v)
	}
}

// block reads a part of a page that holds one sample.
func (r *reader) block(v *view, fields map[FieldID]Field, b *block, tables map[*Table]int, last map[*Table]*heads) {
	s := r.continued(v)
	more := s != nil
	if !more {
		s = &SampleExtract{Fields: map[FieldID]Field{}, Place: v.here()}
		r.got[s] = map[ingest.Place]bool{}
		for k, f := range fields {
			s.Fields[k] = f
		}
	}
	if b != nil {
		s.Place = v.placeOf(b.begin.atoms)
		for name, text := range b.begin.texts {
			if name == "any" {
				continue
			}
			r.setField(s.Fields, FieldID(name), text, b.begin.named[name], v, r.l.Block.Place, "")
		}
		if len(b.begin.texts) > 0 {
			use(b.begin.atoms, Mark{As: "field", Note: "beginning of a sample", Rule: r.l.Block.Place})
		}
	}
	r.sampleFields(v, s) // the words that begin the block may be the label of a field
	if b != nil {
		use(free(b.begin.atoms), Mark{As: "field", Note: "beginning of a sample", Rule: r.l.Block.Place})
	}
	r.sentences(v, s)
	r.labels(v, s)
	r.declare(v)
	if !more {
		r.out.Samples = append(r.out.Samples, s)
	}
	r.tablesOf(v, s, s.Fields, tables, last)
	r.declareLines(v)
}

// continued is the sample that a page goes on with, or nil when the page
// begins one.
func (r *reader) continued(v *view) *SampleExtract {
	p := r.l.Continues
	if p == nil || len(r.out.Samples) == 0 {
		return nil
	}
	hits := find(p, v.atoms)
	if len(hits) == 0 {
		return nil
	}
	s := r.out.Samples[len(r.out.Samples)-1]
	use(hits[0].atoms, Mark{As: "field", Note: "a sample goes on", Rule: p.Place})
	for name, text := range hits[0].texts {
		if f := s.Fields[FieldID(name)]; knownField(name) && f.Value != text && f.Printed != text {
			r.hold("pages-disagree", v.placeOf(hits[0].named[name]), p.Place, "a page says that it goes on with another sample than the page before", f.Printed, text, "check that the pages are in order and that none is missing")
		}
	}
	return s
}

// sampleFields reads the fields of one sample; those that are missing are
// told when all its pages have been read.
func (r *reader) sampleFields(v *view, s *SampleExtract) {
	for _, f := range r.l.Sample {
		if r.got[s][f.Place] {
			continue
		}
		if r.readRule(v, f, r.l.Sample, s.Fields, nil) {
			r.got[s][f.Place] = true
		}
	}
}

// missingRules holds a report in which a sample lacks a label or a sentence
// that the reading relies on.
func (r *reader) missingRules() {
	if r.l.OneEach == "table" {
		return
	}
	kept := r.out.Samples[:0:0]
	for _, s := range r.out.Samples {
		if len(s.Readings) == 0 && len(r.got[s]) == 0 {
			continue // a cover page
		}
		kept = append(kept, s)
		for _, f := range r.l.Sample {
			if !f.Optional && f.Always == "" && !r.got[s][f.Place] {
				r.hold("layout-changed", s.Place, f.Place, fmt.Sprintf("a label that the reading relies on is not in this report: %s", f.looksFor()), f.looksFor(), "no such label", nextLayout)
			}
		}
		for _, st := range r.l.Sentences {
			if !st.Optional && !r.got[s][st.Place] {
				r.hold("layout-changed", s.Place, st.Place, fmt.Sprintf("the sentence with %q is not in this report", st.Test.Label), st.Text.Src, "no such sentence", nextLayout)
			}
		}
	}
	r.out.Samples = kept
}

// sentences reads results out of running text.
func (r *reader) sentences(v *view, s *SampleExtract) {
	for _, st := range r.l.Sentences {
		hits := find(st.Text, v.atoms)
		if len(hits) == 0 {
			continue
		}
		r.got[s][st.Place] = true
		if len(hits) > 1 {
			r.hold("read-twice", v.placeOf(hits[1].atoms), st.Place, fmt.Sprintf("the sentence with %q stands in the report more than once", st.Test.Label), "one such sentence", joined(hits[1].atoms), "make the sentence in the mapping more particular")
			continue
		}
		h := hits[0]
		if !h.runsOn("result") {
			r.hold("layout-changed", v.placeOf(h.atoms), st.Place, fmt.Sprintf("the words around the result of %q do not run on as a sentence: a wide gap parts them, as between two columns of a page", st.Test.Label), st.Text.Src, joined(h.atoms), "look at the page; a result that stands apart from its words is read under labels: or tables: in the mapping")
			use(h.atoms, Mark{As: "declared", Note: "not understood"})
			continue
		}
		c := cell{test: st.Test, rule: st.Place, unit: st.Unit}
		c.fill(h.texts, h.named)
		c.label, c.beside = v.clauseOf(&h)
		if c.unit == "" {
			c.unit = unitInSentence(st)
		}
		r.addReading(v, s, &c)
		use(h.atoms, Mark{As: "declared", Note: "the words around a result", Rule: st.Place})
	}
}

// placeholder is where a value stands in a text.
var placeholder = regexp.MustCompile(`\{[^}]*\}`)

// unitInSentence is the test's unit when the sentence itself spells it out.
func unitInSentence(st *Sentence) string {
	for _, u := range st.Test.Units {
		for _, w := range strings.Fields(st.Text.Src) {
			if strings.Trim(placeholder.ReplaceAllString(w, ""), ".,;:()") == u {
				return u
			}
		}
		if strings.Contains(u, " ") && strings.Contains(normalise(st.Text.Src), normalise(u)) {
			return u
		}
	}
	return ""
}

// finish settles what needs the whole sample: amounts per area that follow
// the sampled depth, and fields of the report that come on a later page.
func (r *reader) finish(carried map[FieldID]Field) {
	r.labelsAgain()
	r.joinTables()
	r.checkLayers()
	r.checkSamples()
	for _, s := range r.out.Samples {
		for k, f := range carried {
			if _, ok := s.Fields[k]; !ok && len(r.views) > 0 && !r.views[0].grid {
				s.Fields[k] = f
			}
		}
		for i := range s.Readings {
			rd := &s.Readings[i]
			note, ok := r.l.mapping.Units[normalise(rd.PrintedUnit)]
			if !ok {
				continue
			}
			if note.ByVolume {
				rd.Per = "volume"
			}
			switch {
			case note.Area != nil:
				rd.Area = note.Area
				r.otherLayer(s, rd, note)
			case note.PerInch != "":
				d := layerOf(s).thickness()
				if d == nil {
					r.hold("depth-missing", rd.Place, note.Place, "the amounts per area follow the sampled depth, and no depth was read for this sample", "a depth for each sample", "none", "look for the depth on the page and correct the mapping, or ask the laboratory")
					continue
				}
				per, _ := new(big.Rat).SetString(note.PerInch)
				rd.Area = &AreaBasis{DepthIn: d.RatString(), LbPerAcre: new(big.Rat).Mul(per, d).RatString(), Source: "report", SoilSource: "mapping", Rule: note.rule}
			}
		}
		for i := range s.Readings {
			if s.Readings[i].Analyte == "density" && s.Readings[i].Number != "" && s.Density == nil {
				d := s.Readings[i]
				s.Density = &d
			}
		}
	}
	if len(r.out.Samples) == 0 && !r.out.Held() {
		r.hold("no-samples", ingest.Place{File: r.doc.Source.Title()}, r.l.Place, "no sample was found in this report", "at least one sample", "none", "look at the file; if it is not a report of results, file it elsewhere")
	}
}

// account marks every number that nothing has used, and holds the report for
// them. Where the layout has changed, that is the reason, and the numbers
// left over are only its consequence.
//
// The list of marks is for people who ask; without it the same is found.
func (r *reader) account(marks bool) {
	changed := false
	for _, x := range r.out.Reasons {
		if x.Severity == ingest.Hold || x.Severity == ingest.Fail {
			changed = true
		}
	}
	var left []*atom
	home := map[*atom]*view{}
	if marks {
		numbers := 0
		for _, v := range r.views {
			for _, a := range v.atoms {
				if a.isNumber() {
					numbers++
				}
			}
			numbers += len(v.turned)
		}
		r.out.Marks = make([]Mark, 0, numbers)
	}
	for _, v := range r.views {
		for _, as := range [...][]*atom{v.atoms, v.turned} {
			for _, a := range as {
				if !a.isNumber() {
					continue
				}
				if a.mark == nil {
					left = append(left, a)
					home[a] = v
				}
				if !marks {
					continue
				}
				m := Mark{As: "unaccounted"}
				if a.mark != nil {
					m = *a.mark
				}
				m.Text, m.Place = a.text, v.place(a)
				r.out.Marks = append(r.out.Marks, m)
			}
		}
	}
	if len(left) == 0 || changed {
		return
	}
	// Numbers of one line are one reason.
	var lines []*line
	byLine := map[*line][]*atom{}
	for _, a := range left {
		if byLine[a.line] == nil {
			lines = append(lines, a.line)
		}
		byLine[a.line] = append(byLine[a.line], a)
	}
	for _, l := range lines {
		as := byLine[l]
		at := home[as[0]].place(as[0])
		text := joined(as)
		if l != nil && len(l.atoms) > len(as) {
			text += "   in: " + shorten(joined(l.atoms))
		}
		r.hold("number-unaccounted", at, ingest.Place{}, "the report has numbers that the mapping neither reads nor declares", "every number to be a result, a field, or declared as something else", text,
			"if these are results, add them to the mapping; if not, add a line under not results")
	}
}

// isNumber reports whether an atom must be accounted for: it holds a digit,
// is a number that could not be shown, or was read as a result in words.
func (a *atom) isNumber() bool {
	return hasDigit(a.text) || a.kind() == ingest.ErrorCell || a.mark != nil && a.mark.As == "result"
}

// inForce holds a report dated outside the time for which the layout holds.
func (r *reader) inForce() {
	for _, s := range r.out.Samples {
		f, ok := s.Fields[DateReported]
		if !ok || f.Value == "" {
			continue
		}
		if r.l.From != "" && f.Value < r.l.From || r.l.To != "" && f.Value > r.l.To {
			r.hold("layout-out-of-force", f.Place, r.l.Place, fmt.Sprintf("the layout %q is not in force on the date of this report", r.l.Name), "from "+orWord(r.l.From, "the beginning")+" until "+orWord(r.l.To, "now"), f.Value, "check that the layout still holds and move its dates, or add a new layout")
			return
		}
	}
}

func orWord(s, w string) string {
	if s == "" {
		return w
	}
	return s
}

func fieldWords(f FieldID) string { return "the " + strings.ReplaceAll(string(f), "_", " ") }
