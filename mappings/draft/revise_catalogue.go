package draft

import (
	"fmt"
	"slices"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// testFor is the label of the test that a changed or new column means: that
// of the old catalogue where analyte, basis and method are the same as far as
// the new reports say, else a new one. o is the old column's, or nil.
func (rv *revision) testFor(c *column, o *mappings.Test) string {
	te := rv.drafted(c)
	if te == nil {
		if o == nil {
			return c.title()
		}
		return o.Label
	}
	if o == nil {
		o = rv.d.oldTest(rv.m, te, c.title())
	}
	if o != nil && rv.sameTest(te.m, o) {
		return o.Label
	}
	label := te.label
	if rv.m.Test(label) != nil {
		label += ", as revised"
	}
	rv.addTest(te, label, "a test that the old reports did not have under this heading; are analyte, unit and method right?")
	return label
}

// testUnder is the label of the test that a column means now that it stands
// under other words: a copy by another method where those name one.
func (rv *revision) testUnder(o *mappings.Test, words string) string {
	id, ok := rv.d.v.Resolve(mappings.MethodWord, words)
	if !ok || o.Method == "" || strings.HasPrefix(o.Method, id) || strings.HasPrefix(id, o.Method) {
		return o.Label
	}
	return rv.copyTest(o, o.Label+", as revised", words, "the new heading "+quoted(words)+" names another method; is it right?")
}

// copyTest puts a test like an old one at the end of the catalogue, by another
// method, or by none where that is to be asked.
func (rv *revision) copyTest(o *mappings.Test, label, method, ask string) string {
	line := rv.f.lines[o.Place.Line-1].text
	open := strings.Index(line, "{")
	if open < 0 {
		return o.Label
	}
	next := strings.Repeat(" ", indentOf(line)) + yamlText(label) + ": " + dropFlow(line[open:], "also")
	if k := strings.LastIndex(next, "}"); k >= 0 {
		next = next[:k+1]
	}
	if method == "" {
		next = dropFlow(next, "method")
	} else {
		next, _ = setFlow(next, "method", yamlText(method))
	}
	if !hasFlow(next, "analyte") {
		next, _ = setFlow(next, "analyte", o.Analyte)
	}
	if !rv.added[label] {
		rv.added[label] = true
		rv.tests = append(rv.tests, textOf{text: next, ask: []string{ask}})
	}
	return label
}

// drafted is the test that the draft of the new reports made of a column.
func (rv *revision) drafted(c *column) *testEntry {
	for _, name := range []string{c.test, c.title(), c.heading[0]} {
		if name == "" {
			continue
		}
		if te := rv.d.tests.find(name); te != nil && te.unprinted != "-" {
			return te
		}
	}
	return nil
}

// sameTest reports whether nothing in the new reports speaks against a test's
// being the old one.
func (rv *revision) sameTest(m meaning, o *mappings.Test) bool {
	if o.Analyte != m.analyte || o.Basis != m.basis && m.basis != "not stated" {
		return false
	}
	a, _ := rv.d.v.Resolve(mappings.MethodWord, m.method)
	return a == "" || o.Method == "" || strings.HasPrefix(o.Method, a) || strings.HasPrefix(a, o.Method)
}

// addTest puts a test at the end of the catalogue.
func (rv *revision) addTest(te *testEntry, label, ask string) {
	if rv.added[label] {
		return
	}
	rv.added[label] = true
	e := *te
	e.label = label
	e.ask = append(slices.Clone(te.ask), ask)
	if e.m.method == "" && !e.methodPrinted {
		e.ask = append(e.ask, "by which method is it measured? Write method:")
	}
	var lines []string
	rv.d.renderTest(func(format string, a ...any) { lines = append(lines, fmt.Sprintf(format, a...)) }, &e)
	rv.tests = append(rv.tests, textsOf(lines)...)
	for _, u := range e.units {
		if !slices.Contains(rv.areas, u) {
			rv.areas = append(rv.areas, u)
		}
	}
}

// putTests writes the new tests into the text.
func (rv *revision) putTests() {
	if len(rv.tests) == 0 {
		return
	}
	if i := rv.f.topKey("tests"); i >= 0 {
		rv.f.insert(rv.f.end(i), append([]textOf{{text: "  # new in the revised reports"}}, rv.tests...)...)
		rv.tests = nil
	}
}

// mendTest adds the test of a row that the old catalogue does not know.
func (rv *revision) mendTest(doc *ingest.Document, r *ingest.Reason) bool {
	row := mappings.Squeeze(r.Found)
	var best *testEntry
	for _, te := range rv.d.tests.list {
		if k := mappings.Squeeze(te.label); te.unprinted != "-" && rv.m.Test(te.label) == nil && strings.HasPrefix(row, k) && (best == nil || len(k) > len(mappings.Squeeze(best.label))) {
			best = te
		}
	}
	if best == nil {
		return false
	}
	old := rv.replaced(best)
	ch := Change{What: "a test", Found: best.label, Place: r.Where, Proposed: "a test of its own"}
	if old != nil {
		ch.Relied = old.Label
		if i := old.Place.Line - 1; rv.sameTest(best.m, old) && unitsFit(best, old) && strings.Contains(rv.f.lines[i].text, "{") {
			names := append(slices.Clone(old.Also), best.label)
			if line, ok := setFlow(rv.f.lines[i].text, "also", yamlList(names)); ok {
				rv.f.lines[i].text = line
				rv.ask(i+1, "is "+quoted(best.label)+" the same test under another label?")
				ch.Proposed = "another label of the same test"
				rv.changes = append(rv.changes, ch)
				return true
			}
		}
	}
	rv.addTest(best, best.label, "the label is new; are analyte, basis and method right?")
	rv.putTests()
	rv.changes = append(rv.changes, ch)
	return true
}

func unitsFit(te *testEntry, o *mappings.Test) bool {
	for _, u := range te.units {
		if !slices.Contains(o.Units, u) {
			return false
		}
	}
	return o.Unprinted == (te.unprinted != "")
}

// replaced is the one old test of an analyte whose label stands in none of
// the new reports, or nil.
func (rv *revision) replaced(te *testEntry) *mappings.Test {
	var found *mappings.Test
	for _, o := range rv.m.Tests {
		if o.Analyte != te.m.analyte || rv.stands(o.Label) || slices.ContainsFunc(o.Also, rv.stands) {
			continue
		}
		if found != nil {
			return nil
		}
		found = o
	}
	return found
}

// stands reports whether a label is printed in one of the new reports.
func (rv *revision) stands(label string) bool {
	return slices.ContainsFunc(rv.docs, func(d *ingest.Document) bool {
		return !mappings.PlaceOf(mappings.Literal(label), d).IsZero()
	})
}

// readLeft reads results that no line of the layout reads and that stand
// beside a label which the draft of the new reports understands.
func (rv *revision) readLeft(doc *ingest.Document, x *mappings.Extract) bool {
	if rv.l.OneEach == "table" {
		return false
	}
	left := unaccounted(x)
	for _, l := range rv.d.layouts {
		for _, fl := range l.labels {
			label := strings.TrimSuffix(fl.label, ":")
			te := rv.d.tests.find(label)
			if te == nil || te.unprinted == "-" || rv.told["label "+label] || rv.m.Test(te.label) != nil && slices.ContainsFunc(rv.l.Labels, func(b *mappings.Label) bool { return b.Test == rv.m.Test(te.label) }) {
				continue
			}
			at := mappings.PlaceOf(mappings.Literal(fl.label), doc)
			if !slices.ContainsFunc(left, func(m mappings.Mark) bool { return m.Text == fl.value && onLine(at, m.Place) }) {
				continue
			}
			rv.told["label "+label] = true
			old := rv.replaced(te)
			ch := Change{What: "a result", Found: fl.label, Place: at, Proposed: "a label with a test of its own"}
			ask := "a new result; is it rightly read?"
			if old != nil {
				ch.Relied, ask = old.Label, "does this stand where "+quoted(old.Label)+" was? Are method and unit right under tests?"
			}
			var lines []string
			rv.d.renderLabels(func(format string, a ...any) { lines = append(lines, fmt.Sprintf(format, a...)) }, &layoutDraft{labels: []foundLabel{fl}})
			items := textsOf(lines)
			if len(items) < 2 {
				continue
			}
			items[1].ask = append(items[1].ask, ask)
			rv.f.addItems(rv.top(), "labels", items[1:]...)
			if rv.m.Test(te.label) == nil {
				rv.addTest(te, te.label, "the label is new; are analyte, basis and method right?")
				rv.putTests()
			}
			rv.changes = append(rv.changes, ch)
			return true
		}
	}
	return false
}

// mendLabel reads a number that is left over by the old label that its own
// comes nearest to, when that stands nowhere any more.
func (rv *revision) mendLabel(doc *ingest.Document, r *ingest.Reason) bool {
	text := rv.labelBefore(doc, r.Where)
	if text == "" || hasDigit(strings.Fields(text)[0]) {
		return false
	}
	var best *mappings.Label
	score := 0.0
	for _, lb := range rv.l.Labels {
		if lb.After == nil || rv.standsAs(lb.After.Src) {
			continue
		}
		if n := likeness(lb.After.Src, text); n > score {
			best, score = lb, n
		}
	}
	if best == nil || score < 0.5 {
		return false
	}
	i := best.Place.Line - 1
	line := rv.f.lines[i].text
	named := strings.TrimRight(text, " :.")
	label := rv.copyTest(best.Test, named, "", "the label is new; by which method is it measured? Write method:")
	next, ok := setFlow(line, "after", yamlText(mappings.Literal(text)))
	if ok && label != best.Test.Label {
		next, ok = setFlow(next, "test", yamlText(label))
	}
	if !ok || label == best.Test.Label {
		return false
	}
	rv.f.lines[i] = textOf{text: next, ask: []string{"does this stand where " + quoted(best.Test.Label) + " was?"}}
	rv.changes = append(rv.changes, Change{What: "a label", Relied: best.After.Src, Found: text, Place: r.Where, Proposed: "a test of its own under the new label"})
	return true
}

// labelBefore are the words before a number, back to the number or the wide
// gap before them.
func (rv *revision) labelBefore(doc *ingest.Document, at ingest.Place) string {
	for _, p := range doc.Pages {
		if p.Hidden || at.Box == nil || p.Number != at.Page {
			continue
		}
		s := newSheet(doc, p)
		for j := range s.lines {
			ws := s.lines[j].words
			k := slices.IndexFunc(ws, func(w mappings.Piece) bool { return w.Place.Box != nil && *w.Place.Box == *at.Box })
			if k < 0 {
				continue
			}
			from := k
			for from > 0 && !hasDigit(ws[from-1].Text) && (from == k || ws[from].Box.X0-ws[from-1].Box.X1 < 3*ws[from].Size) {
				from--
			}
			var out []string
			for _, w := range ws[from:k] {
				out = append(out, w.Text)
			}
			return strings.Join(out, " ")
		}
	}
	return ""
}

// likeness is the share of words that two texts have in common, 1 for the same.
func likeness(a, b string) float64 {
	wa, wb := strings.Fields(mappings.Normalise(a)), strings.Fields(mappings.Normalise(b))
	same := 0
	for _, w := range wa {
		if slices.Contains(wb, w) {
			same++
		}
	}
	return float64(2*same) / float64(max(1, len(wa)+len(wb)))
}

// onLine reports whether a number stands on the line of a label.
func onLine(label, number ingest.Place) bool {
	if label.Box != nil && number.Box != nil {
		return label.Page == number.Page && label.Box.OverlapY(*number.Box) > 0
	}
	return label.Sheet == number.Sheet && label.Line == number.Line
}

// askLeft asks about numbers that the revised layout does not account for, a
// line of the report each.
func (rv *revision) askLeft(x *mappings.Extract) {
	n := 0
	for _, r := range x.Reasons {
		if r.Code != "number-unaccounted" {
			continue
		}
		rv.askOnce("left "+r.Found, func() {
			if n++; n > 8 {
				return
			}
			rv.changes = append(rv.changes, Change{What: "numbers that the old layout neither reads nor declares", Found: r.Found, Place: r.Where})
			rv.head = append(rv.head, "what are the numbers "+quoted(r.Found)+" at "+r.Where.String()+"? Read them, or declare them under not results")
		})
	}
	if left := len(unaccounted(x)); n == 0 && left > 0 && len(holdsOf(x)) > 0 {
		rv.askOnce("left", func() {
			rv.head = append(rv.head, fmt.Sprintf("%d numbers of %s are not accounted for yet; windrow mapping explain shows them", left, x.Source.Title()))
		})
	}
}
