package draft

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// reviseAnew drafts the layout of new reports without regard to the old one,
// for reports that the old layout, which may be nil, reads too little of. The
// tests of the old catalogue stay what they are. first are the reasons of the
// reading by the old layout. The text is the whole file as it is to be.
func reviseAnew(old *mappings.Mapping, now *mappingText, before *mappings.Layout, docs [][]*ingest.Document, opt Options, first []*ingest.Reason) (*Draft, *mappingText, []*ingest.Reason) {
	d, own, reasons := draftOf(old, docs, opt)
	if own == nil {
		return nil, nil, reasons
	}
	m, why := mappings.Decode(old.ID+".yaml", []byte(own.Text), d.v)
	if m == nil {
		return nil, nil, append(reasons, why...)
	}
	e := &edit{lines: strings.Split(strings.TrimRight(now.String(), "\n"), "\n"), after: map[int][]string{}}
	out := &Draft{ID: old.ID, Lab: old.Lab, Readings: own.Readings, Left: own.Left}
	for _, r := range first {
		if c := reasonChange(r); !slices.ContainsFunc(out.Changes, func(o Change) bool { return o.What == c.What && o.Relied == c.Relied && o.Found == c.Found }) {
			out.Changes = append(out.Changes, c)
		}
	}
	for _, l := range d.layouts {
		from, asked := d.firstDate(m, l)
		was := before
		if was == nil {
			was = nearest(old, l)
		}
		var ask []string
		if asked {
			ask = append(ask, "from which date does this layout hold? The report gives none that can be read")
		}
		l.from = from
		l.name = freeName(old, l, from)
		changes := append(slices.Clone(out.Changes), newHeadings(was, l)...)
		out.Changes = changes
		d.reuseTests(old, l, e, from)
		if was != nil {
			e.end(was, from)
		}
		e.addLayout(d, l, changes, ask)
	}
	e.addTests(d, old)
	e.addRatings(d, old)
	e.addAreas(d, old)
	return out, newMappingText([]byte(e.text())), reasons
}

// draftOf drafts reports by themselves, under the name of a known laboratory.
// The draft is nil when nothing was found in them.
func draftOf(old *mappings.Mapping, docs [][]*ingest.Document, opt Options) (*drafter, *Draft, []*ingest.Reason) {
	d := newDrafter(opt)
	d.lab, d.id, d.old = old.Lab, old.ID, old
	var reasons []*ingest.Reason
	for _, ways := range docs {
		doc := d.bestWay(ways)
		d.collectNotes(doc)
		d.readNotes()
		l := d.layoutOf(doc)
		if l == nil {
			reasons = append(reasons, nothingFound(doc))
			continue
		}
		d.files++
		d.keep(old, l, doc)
		d.addLayout(l)
	}
	if len(d.layouts) == 0 {
		return d, nil, reasons
	}
	d.finish(opt)
	own := d.refine() // so that the new layouts are tried and mended by themselves
	if own == nil {
		reasons = append(reasons, d.noDraft())
	}
	return d, own, reasons
}

// firstDate is the earliest date of report among the layout's reports.
func (d *drafter) firstDate(m *mappings.Mapping, l *layoutDraft) (date string, asked bool) {
	for _, doc := range l.docs {
		x := readBy(m, l.name, doc, d.v)
		if x == nil {
			continue
		}
		for _, s := range x.Samples {
			for _, id := range []mappings.FieldID{mappings.DateReported, mappings.DateReceived, mappings.DateSampled} {
				if v := s.Fields[id].Value; v != "" {
					if date == "" || v < date {
						date = v
					}
					break
				}
			}
		}
	}
	return date, date == ""
}

// nearest is the old layout of the same kind of file that shares the most
// headings with a new one, or nil.
func nearest(old *mappings.Mapping, l *layoutDraft) *mappings.Layout {
	var best *mappings.Layout
	score := -1
	for _, o := range old.Layouts {
		if o.Format != l.format || o.To != "" || !sameDialect(o.Dialect, l.dialect) {
			continue
		}
		n := 0
		have := map[string]bool{}
		for _, t := range o.Tables {
			for _, c := range t.Columns {
				have[mappings.Squeeze(c.Heading[0])] = true
			}
		}
		for _, t := range l.tables {
			for _, c := range t.cols {
				if have[mappings.Squeeze(c.heading[0])] {
					n++
				}
			}
		}
		if n > score {
			best, score = o, n
		}
	}
	return best
}

func freeName(old *mappings.Mapping, l *layoutDraft, from string) string {
	name := l.name
	if from != "" {
		name += " from " + from
	}
	for _, o := range old.Layouts {
		if o.Name == name {
			name += " revised"
		}
	}
	return name
}

// newHeadings are the headings of a layout that was drafted anew which the
// old one does not have. What the old one has and the reports lack is told by
// the reading, which looks for it on the page; a heading that the draft does
// not use is not gone.
func newHeadings(before *mappings.Layout, l *layoutDraft) []Change {
	if before == nil {
		return []Change{{What: "the old mapping has no layout for this kind of file", Proposed: "a further layout"}}
	}
	var was []string
	for _, t := range before.Tables {
		for _, c := range t.Columns {
			was = append(was, mappings.Squeeze(strings.Join(c.Heading, "")), mappings.Squeeze(c.Heading[0]))
		}
	}
	var out []Change
	for _, t := range l.tables {
		for _, c := range t.cols {
			if c.role == "samples" || slices.Contains(was, mappings.Squeeze(strings.Join(c.heading, ""))) || slices.Contains(was, mappings.Squeeze(c.heading[0])) {
				continue
			}
			ch := Change{What: "a new heading", Found: c.title(), Proposed: "read as " + c.role}
			if len(l.docs) > 0 {
				ch.Place = mappings.PlaceOf(mappings.Literal(c.title()), l.docs[0])
			}
			if c.m.analyte != "" {
				ch.Proposed += " of " + c.m.analyte
			}
			out = append(out, ch)
		}
	}
	return out
}

// reuseTests lets the new layout use the old catalogue where a label means
// what it meant, and gives what is new a name of its own.
func (d *drafter) reuseTests(old *mappings.Mapping, l *layoutDraft, e *edit, from string) {
	for _, t := range l.tables {
		for _, c := range t.cols {
			if c.role != "result" || c.m.analyte == "" {
				continue
			}
			name := c.test
			if name == "" {
				name = c.title()
				if d.tests.find(name) == nil {
					name = c.heading[0]
				}
			}
			te := d.tests.find(name)
			if te == nil {
				continue
			}
			if o := d.oldTest(old, te, name); o != nil {
				c.test = o.Label
				e.reused = append(e.reused, te)
				if mappings.Squeeze(o.Label) != mappings.Squeeze(name) {
					c.conf = min(c.conf, 0.7)
					c.ask = append(c.ask, "is this still the test "+quoted(o.Label)+"?")
				}
				continue
			}
			if old.Test(name) != nil {
				fresh := name + ", from " + strings.TrimSpace(from)
				te.label = fresh
				te.ask = append(te.ask, "the heading is old and what it means is new; is the method still the same?")
				c.test = fresh
			}
		}
	}
	for _, te := range d.tests.list {
		o := old.Test(te.label)
		if o == nil || slices.Contains(e.reused, te) {
			continue
		}
		if o.Analyte == te.m.analyte && (o.Basis == te.m.basis || te.m.basis == "not stated") {
			e.reused = append(e.reused, te)
			for _, u := range te.units {
				if !slices.Contains(o.Units, u) {
					e.addUnit(o, u)
				}
			}
			continue
		}
		e.clash(o, te)
	}
}

// oldTest is the test of the old catalogue that a new column means.
func (d *drafter) oldTest(old *mappings.Mapping, te *testEntry, name string) *mappings.Test {
	fits := func(o *mappings.Test) bool {
		if o.Analyte != te.m.analyte || o.Basis != te.m.basis && te.m.basis != "not stated" {
			return false
		}
		a, _ := d.v.Resolve(mappings.MethodWord, te.m.method)
		if a != "" && o.Method != "" && !strings.HasPrefix(o.Method, a) && !strings.HasPrefix(a, o.Method) {
			return false
		}
		for _, u := range te.units {
			if !slices.Contains(o.Units, u) {
				return false
			}
		}
		return o.Unprinted == (te.unprinted != "")
	}
	if o := old.Test(name); o != nil && fits(o) {
		return o
	}
	var found *mappings.Test
	for _, o := range old.Tests {
		if fits(o) && o.Detail == te.m.detail {
			if found != nil {
				return nil // two could be meant
			}
			found = o
		}
	}
	return found
}

// An edit gathers the changes to a mapping's text, by line.
type edit struct {
	lines  []string
	after  map[int][]string // line, from 1 -> lines to put after it
	layout []string
	tests  []string
	reused []*testEntry
}

// end puts an end to an old layout.
func (e *edit) end(l *mappings.Layout, from string) {
	n := l.Place.Line
	day, err := time.Parse("2006-01-02", from)
	if n < 1 || n > len(e.lines) {
		return
	}
	indent := strings.Repeat(" ", len(e.lines[n-1])-len(strings.TrimLeft(e.lines[n-1], " -")))
	line := "# QUESTION: until when does this layout hold? Write until: with a date"
	if err == nil {
		line = "until: " + day.AddDate(0, 0, -1).Format("2006-01-02") + "  # QUESTION: the new layout is first seen on " + from + "; is that when it began?"
	}
	e.after[n] = append(e.after[n], indent+line)
}

var unitKey = regexp.MustCompile(`\bunit: (\[[^\]]*\]|"[^"]*"|[^,}\n]+)`)

// addUnit lets an old test be printed in a further unit.
func (e *edit) addUnit(o *mappings.Test, unit string) {
	n := o.Place.Line
	if n < 1 || n > len(e.lines) {
		return
	}
	g := unitKey.FindStringSubmatchIndex(e.lines[n-1])
	if g == nil {
		e.after[n] = append(e.after[n], fmt.Sprintf("  # QUESTION: %s is now printed in %s; add the unit to the line above", quoted(o.Label), unit))
		return
	}
	list := strings.Trim(strings.TrimSpace(e.lines[n-1][g[2]:g[3]]), "[]")
	e.lines[n-1] = e.lines[n-1][:g[2]] + "[" + list + ", " + yamlText(unit) + "]" + e.lines[n-1][g[3]:] + "  # QUESTION: the new reports print " + quoted(unit) + "; is the method still the same?"
}

// clash notes a label that means something else than it did.
func (e *edit) clash(o *mappings.Test, te *testEntry) {
	n := o.Place.Line
	e.after[n] = append(e.after[n], fmt.Sprintf("  # QUESTION: in the new reports %s looks like %s%s; a label can have one meaning only: put a new layout into a mapping of its own, or correct this", quoted(o.Label), te.m.analyte, basisWords(te.m.basis)))
	e.reused = append(e.reused, te)
}

func basisWords(b string) string {
	if b == "" {
		return ""
	}
	return " as " + b
}

// addLayout renders a new layout.
func (e *edit) addLayout(d *drafter, l *layoutDraft, changes []Change, ask []string) {
	for _, x := range showChanges("A new draft of the layout, as the old one reads too little of these reports.", changes) {
		e.layout = append(e.layout, x.text)
	}
	for _, a := range ask {
		e.layout = append(e.layout, "  # QUESTION: "+a)
	}
	d.renderLayout(func(format string, a ...any) { e.layout = append(e.layout, fmt.Sprintf(format, a...)) }, l)
}

// addTests renders the tests that the old catalogue lacks.
func (e *edit) addTests(d *drafter, old *mappings.Mapping) {
	for _, te := range d.tests.list {
		if slices.Contains(e.reused, te) || te.unprinted == "-" || old.Test(te.label) != nil {
			continue
		}
		d.renderTest(func(format string, a ...any) { e.tests = append(e.tests, fmt.Sprintf(format, a...)) }, te)
	}
	last := 0
	for _, t := range old.Tests {
		last = max(last, t.Place.Line)
	}
	if len(e.tests) > 0 && last > 0 {
		e.after[last] = append(append([]string{"  # new in the revised layout"}, e.tests...), e.after[last]...)
	}
}

// addRatings asks about rating words that the old mapping does not know.
func (e *edit) addRatings(d *drafter, old *mappings.Mapping) {
	for _, w := range sortedKeys(d.ratings) {
		if _, ok := old.Ratings[w]; !ok {
			e.layout = append([]string{"  # QUESTION: the word " + quoted(w) + " is new; add it under ratings"}, e.layout...)
		}
	}
}

// addAreas asks what a new amount per area stands for.
func (e *edit) addAreas(d *drafter, old *mappings.Mapping) {
	for _, u := range sortedKeys(d.areaUnits) {
		if _, ok := old.Units[mappings.Normalise(u)]; ok {
			continue
		}
		means := d.areaBasis(u)
		if means == "" {
			means = "{depth: 6 2/3 in, soil: 2000000 lb/acre}"
		}
		e.layout = append([]string{"  # QUESTION: " + u + " is new; for what depth and mass of soil does it stand? Write under units, if it is so: " + yamlText(u) + ": " + means}, e.layout...)
	}
}

// text is the file with the changes.
func (e *edit) text() string {
	// The new layout goes where the list of layouts ends.
	at := len(e.lines)
	in := false
	for i, l := range e.lines {
		if strings.HasPrefix(l, "layouts:") {
			in = true
			continue
		}
		if in && l != "" && l[0] != ' ' && l[0] != '#' && l[0] != '-' {
			at = i
			break
		}
	}
	var out []string
	for i, l := range e.lines {
		if i == at {
			out = append(append(out, e.layout...), "")
		}
		out = append(out, l)
		out = append(out, e.after[i+1]...)
	}
	if at == len(e.lines) {
		out = append(out, e.layout...)
	}
	return strings.Join(out, "\n") + "\n"
}
