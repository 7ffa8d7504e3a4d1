package draft

import (
	"fmt"
	"slices"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// A revision is a copy of an old layout on its way to read new reports.
type revision struct {
	d    *drafter // what the new reports say by themselves
	own  *mappings.Mapping
	f    *mappingText
	old  *mappings.Layout
	name string // of the copy
	docs []*ingest.Document

	m        *mappings.Mapping // of f, as it stands
	l        *mappings.Layout  // the copy in it
	extracts []*mappings.Extract

	first    []*ingest.Reason // what the old layout did not find
	changes  []Change
	head     []string        // questions that belong to no line
	tests    []textOf        // lines for the catalogue, not yet put in
	added    map[string]bool // labels of new tests
	areas    []string        // units that tests are newly printed in
	told     map[string]bool // reasons that became a question
	readings int
	left     int
	sound    bool // it reads all reports but for what is asked
}

func newRevision(now *mappingText, m *mappings.Mapping, l *mappings.Layout, docs []*ingest.Document, opt Options) *revision {
	var ways [][]*ingest.Document
	for _, d := range docs {
		ways = append(ways, []*ingest.Document{d})
	}
	d, own, _ := draftOf(m, ways, opt)
	rv := &revision{d: d, f: now.clone(), old: l, name: numbered(m, l.Name+" revised"), docs: docs, told: map[string]bool{}, added: map[string]bool{}}
	if own != nil {
		rv.own, _ = mappings.Decode(m.File, []byte(own.Text), d.v)
	}
	rv.f.copyLayout(m, l, rv.name)
	return rv
}

// maxRepairs bounds the readings of a report while its layout is mended.
const maxRepairs = 60

// run mends the copy, one reason after the other, and reads again after each;
// what can't be mended becomes a question.
func (rv *revision) run() {
	if !rv.read() {
		return
	}
	for _, x := range rv.extracts {
		rv.first = append(rv.first, holdsOf(x)...)
	}
	for range maxRepairs {
		if !rv.mendOne() {
			break
		}
	}
	rv.sound = true
	for _, x := range rv.extracts {
		for _, r := range holdsOf(x) {
			if r.Code == "layout-changed" && strings.Contains(r.What, "table") || r.Code == "no-samples" {
				rv.sound = false
			}
		}
		for _, s := range x.Samples {
			rv.readings += len(s.Readings)
		}
		rv.left += len(unaccounted(x))
	}
	rv.sound = rv.sound && rv.readings > 0
	for _, x := range rv.extracts {
		for _, r := range holdsOf(x) {
			rv.askAbout(r)
		}
		if rv.sound {
			rv.askLeft(x)
		}
		for _, r := range x.Reasons {
			if r.Code == "rating-unknown" {
				rv.askOnce(r.Code+r.Found, func() {
					rv.head = append(rv.head, "the rating word "+quoted(r.Found)+" is new; add it under ratings")
					rv.changes = append(rv.changes, reasonChange(r))
				})
			}
		}
	}
}

// read decodes the text and reads all reports by the copy.
func (rv *revision) read() bool {
	m, _ := mappings.Decode(rv.old.Place.File, rv.f.plain(), rv.d.v)
	if m == nil {
		return false
	}
	l := layoutNamed(m, rv.name)
	if l == nil {
		return false
	}
	rv.m, rv.l, rv.extracts = m, l, nil
	for _, doc := range rv.docs {
		x := readBy(m, rv.name, doc, rv.d.v)
		if x == nil {
			return false
		}
		rv.extracts = append(rv.extracts, x)
	}
	return true
}

// mendOne mends what one reason names, and reports whether it found one to
// mend. A repair that the language refuses is taken back and asked about.
func (rv *revision) mendOne() bool {
	for i, x := range rv.extracts {
		for _, r := range holdsOf(x) {
			key := reasonKey(r)
			if rv.told["tried "+key] {
				continue
			}
			if rv.attempt(func() bool { return rv.mend(rv.docs[i], r) }) {
				return true
			}
			rv.told["tried "+key] = true
		}
	}
	if rv.attempt(rv.mendEdges) {
		return true
	}
	if rv.tablesRead() {
		for i, x := range rv.extracts {
			for _, mend := range []func(*ingest.Document, *mappings.Extract) bool{rv.readLeft, rv.declareLeft} {
				if rv.attempt(func() bool { return mend(rv.docs[i], x) }) {
					return true
				}
			}
		}
	}
	return false
}

// attempt tries a change of the text, and takes it back if the language
// refuses it. It reports whether the text has changed.
func (rv *revision) attempt(change func() bool) bool {
	before, n, h := rv.f.clone(), len(rv.changes), len(rv.head)
	changed := change()
	if changed {
		rv.putTests()
		if string(rv.f.plain()) != string(before.plain()) && rv.read() {
			return true
		}
	}
	rv.f, rv.changes, rv.head, rv.tests = before, rv.changes[:n], rv.head[:h], nil
	if changed {
		rv.read()
	}
	return false
}

// tablesRead reports whether what is left over is not the consequence of a
// table or a beginning that was not found.
func (rv *revision) tablesRead() bool {
	for _, x := range rv.extracts {
		if layoutChanged(x) {
			return false
		}
	}
	return true
}

func reasonKey(r *ingest.Reason) string {
	k := r.Code + "|" + r.Expected + "|" + r.Found
	if r.Code != "unit-differs" && r.Code != "test-unknown" {
		k += "|" + r.What
	}
	if r.Code == "unit-differs" || r.Code == "unit-missing" {
		k += fmt.Sprint("|", r.Rule.Line)
	}
	return k
}

// mend changes the text by what a reason says. It reports false where it
// can't, and the reason is asked about.
func (rv *revision) mend(doc *ingest.Document, r *ingest.Reason) bool {
	switch r.Code {
	case "unit-differs":
		return rv.mendUnit(doc, r)
	case "test-unknown":
		return rv.mendTest(doc, r)
	case "not-a-number":
		return rv.mendNumbers(r)
	case "date-unreadable":
		return rv.mendDates(r)
	case "row-looks-like-summary", "row-without-label":
		return rv.mendSkip(r)
	case "number-unaccounted":
		return rv.mendLabel(doc, r)
	case "layout-changed":
	default:
		return false
	}
	for _, p := range rv.l.ReliesOn {
		if p.Place == r.Rule {
			return rv.mendLandmark(doc, p, r)
		}
	}
	for _, t := range rv.l.Tables {
		if t.Place == r.Rule || r.Rule.IsZero() && strings.Contains(r.What, fmt.Sprintf("table %q", t.Name)) {
			return rv.mendTable(doc, t, r)
		}
		for _, c := range t.Columns {
			if c.Place == r.Rule {
				return rv.mendTable(doc, t, r)
			}
		}
	}
	for _, fs := range [][]*mappings.FieldRule{rv.l.Report, rv.l.Sample} {
		for _, f := range fs {
			if f.Place == r.Rule {
				return rv.mendField(doc, f, r)
			}
		}
	}
	return false
}

// top is the index of the copy's first line.
func (rv *revision) top() int { return rv.l.Place.Line - 1 }

// ask puts a question on a line of the file, counted from 1, or over the
// layout when the line is none of it.
func (rv *revision) ask(line int, q string) {
	if line < 1 || line > len(rv.f.lines) {
		rv.head = append(rv.head, q)
		return
	}
	rv.f.lines[line-1].ask = append(rv.f.lines[line-1].ask, q)
}

func (rv *revision) askOnce(key string, do func()) {
	if !rv.told[key] {
		rv.told[key] = true
		do()
	}
}

// askAbout turns a reason that could not be mended into a question.
func (rv *revision) askAbout(r *ingest.Reason) {
	if r.Code == "number-unaccounted" {
		return // each line of them is asked about by itself
	}
	if r.Code == "no-samples" && len(rv.changes)+len(rv.head) > 0 {
		return // only a consequence
	}
	key := reasonKey(r)
	if r.Code != "test-unknown" && r.Code != "unit-differs" {
		key = fmt.Sprint(r.Code, r.What, r.Rule.Line) // the same of another report says nothing new
	}
	rv.askOnce(key, func() {
		c := reasonChange(r)
		line := 0
		if r.Rule.File == rv.m.File || r.Rule.File == "" {
			line = r.Rule.Line
		}
		if r.Code == "test-unknown" {
			label := firstWords(r.Found)
			c = Change{What: "a test that the old reports did not have", Found: r.Found, Place: r.Where}
			rv.changes = append(rv.changes, c)
			rv.tests = append(rv.tests, textOf{text: "  # QUESTION: what does " + quoted(label) + " (" + c.Place.String() + ") measure? Write: " + yamlText(label) + ": {analyte: ..., unit: ..., method: ...}"})
			return
		}
		rv.changes = append(rv.changes, c)
		if line == rv.l.Place.Line || slices.ContainsFunc(rv.l.Tables, func(t *mappings.Table) bool { return t.Place.Line == line }) {
			line = 0 // over the layout it can be read
		}
		rv.ask(line, c.What+"; relied on "+quoted(c.Relied)+", found "+orNothing(c.Found)+" at "+c.Place.String()+": what is right here?")
	})
}

// firstWords are the words of a row before its first number.
func firstWords(row string) string {
	var out []string
	for i, w := range strings.Fields(row) {
		if i > 0 && (isNumber(w) || isMissing(w)) {
			break
		}
		out = append(out, w)
	}
	return strings.Join(out, " ")
}

// finish puts the dates and the differences in, and gives the whole text.
func (rv *revision) finish() *mappingText {
	from := ""
	for _, x := range rv.extracts {
		for _, s := range x.Samples {
			from = earlier(from, dateOf(s))
		}
	}
	if from == "" && rv.own != nil {
		for _, l := range rv.d.layouts {
			day, _ := rv.d.firstDate(rv.own, l)
			from = earlier(from, day)
		}
	}
	top := rv.top()
	depth := strings.Repeat(" ", keyIndent(rv.f.lines[top].text))
	if from != "" {
		rv.f.insert(top+1, textOf{text: depth + "from: " + from})
		if k := rv.f.key(top, "name"); k >= 0 {
			t := rv.f.lines[k].text
			rv.f.lines[k].text = t[:strings.Index(t, "name:")] + "name: " + yamlText(numbered(rv.m, rv.old.Name+" from "+from))
		}
	} else {
		rv.head = append(rv.head, "from which date does this layout hold? The reports give none that can be read; write from: with it")
	}
	n := len(rv.f.lines)
	rv.putTests()
	top += len(rv.f.lines) - n
	top += rv.settleAreas()
	lines := showChanges("The layout "+quoted(rv.old.Name)+" as it was, but for what its reading of the new reports did not find.", rv.changes)
	for _, q := range rv.head {
		lines = append(lines, textOf{text: "  # QUESTION: " + q})
	}
	rv.f.insert(top, lines...)
	if m, _ := mappings.Decode(rv.m.File, rv.f.plain(), rv.d.v); m != nil {
		rv.f.endOld(layoutNamed(m, rv.old.Name), from)
	}
	return rv.f.asked()
}

func earlier(a, b string) string {
	if a == "" || b != "" && b < a {
		return b
	}
	return a
}

// dateOf is the date of a sample's report.
func dateOf(s *mappings.SampleExtract) string {
	for _, id := range []mappings.FieldID{mappings.DateReported, mappings.DateReceived, mappings.DateSampled} {
		if v := s.Fields[id].Value; v != "" {
			return v
		}
	}
	return ""
}
