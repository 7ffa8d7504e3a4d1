package draft

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

var rowFound = regexp.MustCompile(`^row (\d+)$`)

// mendTable mends what a reason says of a table.
func (rv *revision) mendTable(doc *ingest.Document, t *mappings.Table, r *ingest.Reason) bool {
	if g := rowFound.FindStringSubmatch(r.Found); g != nil && strings.Contains(r.What, "another row") {
		i := t.Place.Line - 1
		rv.f.setKey(i, "heading row", g[1])
		rv.changes = append(rv.changes, Change{What: "the row of the heading of the table " + quoted(t.Name), Relied: r.Expected, Found: r.Found, Place: r.Where, Proposed: "heading row: " + g[1]})
		return true
	}
	return rv.mendColumns(doc, t) || rv.mendLevel(t, r)
}

var (
	levelGone  = regexp.MustCompile(`"([^"]+)" (over|under) ("?[^"]+"?)`)
	levelFound = regexp.MustCompile(`^new in the heading: "(.+)"$`)
)

// mendLevel puts the new words of a wider or a lower heading in place of the
// old ones, where they are the one thing that is missing and the one thing
// that is new. A test under a heading that names a method is then another.
func (rv *revision) mendLevel(t *mappings.Table, r *ingest.Reason) bool {
	gone := levelGone.FindAllStringSubmatch(r.Expected, -1)
	found := levelFound.FindStringSubmatch(r.Found)
	if len(gone) != 1 || found == nil || strings.Count(r.Expected, `"`) > 4 {
		return false
	}
	was, now := gone[0][1], found[1]
	heads := strings.Split(strings.NewReplacer(" and ", "\x00", ", ", "\x00", `"`, "").Replace(gone[0][3]), "\x00")
	changed := false
	for _, c := range t.Columns {
		levels := c.Under
		if gone[0][2] == "under" {
			levels = c.Heading[1:]
		}
		i := c.Place.Line - 1
		if !slices.Contains(levels, was) || !slices.Contains(heads, c.Heading[0]) || i <= rv.top() || i >= len(rv.f.lines) {
			continue
		}
		line := rv.f.lines[i].text
		next := strings.Replace(line, yamlText(was), yamlText(now), 1)
		if next == line {
			if next = strings.Replace(line, was, now, 1); next == line {
				return false
			}
		}
		rv.f.lines[i].text = next
		rv.ask(i+1, "where "+quoted(was)+" stood, the new reports have "+quoted(now)+"; what does that change?")
		if c.Test != nil {
			if label := rv.testUnder(c.Test, now); label != c.Test.Label {
				if rv.f.lines[i].text, changed = setFlow(next, "test", yamlText(label)); !changed {
					return false
				}
			}
		}
		changed = true
	}
	if changed {
		rv.changes = append(rv.changes, Change{What: "the heading " + gone[0][2] + " " + strings.Join(heads, ", "), Relied: was, Found: now, Place: r.Where, Proposed: "the same columns with the new heading"})
	}
	return changed
}

// A standing is a column as it stands in a new report: one of the old ones,
// one that the draft of the new reports has, or both.
type standing struct {
	x     float64
	place ingest.Place
	old   *mappings.Column
	unit  string  // printed under the old one
	new   *column // what the draft makes of the same place
	again bool    // the old one is gone, and this is what it is called now
	kept  bool    // it may be absent and is: its lines stay
}

// mendColumns puts a table's columns as they stand in the new report: those
// that are still there by their own lines, moved; renamed and new ones as the
// draft of the new reports reads them.
func (rv *revision) mendColumns(doc *ingest.Document, t *mappings.Table) bool {
	chunks, from, to, ok := rv.chunks(t)
	if !ok {
		return false
	}
	list := rv.standing(doc, t)
	if len(list) == 0 {
		return false
	}
	var gone []*mappings.Column
	for i, c := range t.Columns {
		switch {
		case slices.ContainsFunc(list, func(s standing) bool { return s.old == c }):
		case c.Samples || c.Optional:
			// It stays behind the column that it was behind.
			x := -1e9
			if i > 0 {
				for _, s := range list {
					if s.old == t.Columns[i-1] {
						x = s.x + 0.001
					}
				}
			}
			list = append(list, standing{x: x, old: c, kept: true})
		default:
			gone = append(gone, c)
		}
	}
	slices.SortStableFunc(list, func(a, b standing) int { return cmp.Compare(a.x, b.x) })
	gone = rv.renamed(t, list, gone)
	var out []textOf
	var order, was []string
	n := len(rv.changes)
	for _, s := range list {
		if s.old == nil {
			out = append(out, rv.newColumn(t, s, chunks)...)
			continue
		}
		chunk := slices.Clone(chunks[s.old])
		for i := range chunk {
			chunk[i].ask = slices.Clone(chunk[i].ask)
		}
		if s.kept {
			out = append(out, chunk...)
			continue
		}
		order = append(order, s.old.Heading[0])
		if !rv.mendChunk(t, chunk, s) {
			return false
		}
		out = append(out, chunk...)
	}
	for _, c := range gone {
		rv.columnGone(doc, t, c, chunks[c][0].text)
	}
	for _, c := range t.Columns {
		if slices.ContainsFunc(list, func(s standing) bool { return s.old == c && !s.kept }) {
			was = append(was, c.Heading[0])
		}
	}
	if !slices.Equal(order, was) {
		first := list[slices.IndexFunc(list, func(s standing) bool { return !s.kept })]
		rv.changes = slices.Insert(rv.changes, n, Change{What: "the order of the columns of the table " + quoted(t.Name), Relied: strings.Join(was, " | "), Found: strings.Join(order, " | "), Place: first.place, Proposed: "the same columns in the new order"})
	}
	if len(rv.changes) == n {
		return false // nothing is otherwise than the old layout has it
	}
	rv.f.lines = slices.Replace(rv.f.lines, from, to, out...)
	return true
}

// chunks are the lines of each of a table's columns, and where they stand.
func (rv *revision) chunks(t *mappings.Table) (map[*mappings.Column][]textOf, int, int, bool) {
	out := map[*mappings.Column][]textOf{}
	from, to := -1, -1
	for i, c := range t.Columns {
		at := c.Place.Line - 1
		if at <= rv.top() || at >= len(rv.f.lines) || i > 0 && at <= t.Columns[i-1].Place.Line-1 || !strings.HasPrefix(strings.TrimSpace(rv.f.lines[at].text), "- {") {
			return nil, 0, 0, false // several on one line, or written otherwise
		}
		end := rv.f.end(at)
		if i+1 < len(t.Columns) {
			end = min(max(t.Columns[i+1].Place.Line-1, at+1), len(rv.f.lines))
		} else {
			to = end
		}
		if i == 0 {
			from = at
		}
		out[c] = rv.f.lines[at:end]
	}
	for c := range out {
		out[c] = slices.Clone(out[c])
	}
	return out, from, to, from >= 0
}

// standing are the old columns where they stand in a report, with what the
// draft of the report has in their places, and the draft's columns that stand
// where no old one does.
func (rv *revision) standing(doc *ingest.Document, t *mappings.Table) (list []standing) {
	var l *layoutDraft
	for _, o := range rv.d.layouts {
		if slices.Contains(o.docs, doc) {
			// Its columns were seen on the first of its reports.
			l, doc = o, o.docs[0]
		}
	}
	year := ""
	for i, x := range rv.extracts {
		for _, s := range x.Samples {
			if rv.docs[i] == doc && year == "" {
				year = dateOf(s)
			}
		}
	}
	if year == "" {
		year = fmt.Sprint(rv.d.yearOf(doc))
	}
	for _, x := range mappings.Locate(doc, rv.l, t, year, rv.d.v) {
		list = append(list, standing{x: x.Box.CenterX(), place: x.Place, old: x.Column, unit: x.Unit})
	}
	if l == nil || len(list) == 0 {
		return list
	}
	located := mappings.Locate(doc, rv.l, t, year, rv.d.v)
	var drafted *foundTable
	shared := 0
	for _, ft := range l.tables {
		n := 0
		for _, c := range ft.cols {
			if slices.ContainsFunc(located, func(x mappings.Located) bool { return together(x.Box, c.box) }) {
				n++
			}
		}
		if n > shared {
			drafted, shared = ft, n
		}
	}
	if drafted == nil || shared*3 < len(located) {
		return list
	}
	known := map[string]bool{}
	for _, c := range t.Columns {
		for _, text := range append(append([]string{c.Unit}, c.Under...), c.Heading...) {
			for _, w := range strings.Fields(text) {
				known[mappings.Squeeze(w)] = true
			}
		}
	}
	for _, c := range drafted.cols {
		if c.role == "samples" {
			continue
		}
		if i := slices.IndexFunc(located, func(x mappings.Located) bool { return together(x.Box, c.box) }); i >= 0 {
			if list[i].new == nil {
				list[i].new = c
			}
			continue
		}
		if !slices.ContainsFunc(strings.Fields(c.title()), func(w string) bool { return !known[mappings.Squeeze(w)] }) {
			continue // only words of the old heading
		}
		list = append(list, standing{x: c.box.CenterX(), place: mappings.PlaceOf(mappings.Literal(c.heading[0]), doc), new: c})
	}
	return list
}

// together reports whether two headings stand in one column.
func together(a, b ingest.Box) bool {
	return a.OverlapX(b) > 0.3*min(a.Width(), b.Width()) || a.CenterX() == b.CenterX()
}

// renamed pairs columns that are gone with new ones of the same meaning, and
// gives those that remain.
func (rv *revision) renamed(t *mappings.Table, list []standing, gone []*mappings.Column) []*mappings.Column {
	var free []int
	for i, s := range list {
		if s.old == nil {
			free = append(free, i)
		}
	}
	var rest []*mappings.Column
	for _, g := range gone {
		var fit []int
		for _, i := range free {
			if list[i].old == nil && rv.alike(g, list[i].new) {
				fit = append(fit, i)
			}
		}
		if len(fit) > 1 && g.Test != nil {
			// The method, or the words, tell two tests of one analyte apart.
			fit = slices.DeleteFunc(fit, func(i int) bool { return !rv.sameTest(list[i].new.m, g.Test) })
			if len(fit) > 1 {
				slices.SortStableFunc(fit, func(i, j int) int { return cmp.Compare(sharedWords(g, list[j].new), sharedWords(g, list[i].new)) })
				if sharedWords(g, list[fit[0]].new) > sharedWords(g, list[fit[1]].new) {
					fit = fit[:1]
				}
			}
		}
		if len(fit) == 0 && len(gone) == 1 && len(free) == 1 {
			fit = free
		}
		if len(fit) != 1 {
			rest = append(rest, g)
			continue
		}
		list[fit[0]].old, list[fit[0]].again = g, true
	}
	return rest
}

// sharedWords counts the beginnings of words that two headings share: "Bray
// P1 ppm" and "Avail. P ppm (Bray)" share three.
func sharedWords(o *mappings.Column, c *column) int {
	n := 0
	now := labelTokens(c.title())
	for _, w := range labelTokens(strings.Join(o.Heading, " ")) {
		if slices.ContainsFunc(now, func(x string) bool { return strings.EqualFold(x, w) }) {
			n++
		}
	}
	return n
}

// alike reports whether an old column and one that was drafted mean the same.
func (rv *revision) alike(o *mappings.Column, c *column) bool {
	switch {
	case o.Nothing:
		return c.role == "nothing"
	case o.Test != nil:
		if c.role == "rating" {
			return o.Reads != nil && slices.Contains(o.Reads.Names, "rating") && !slices.Contains(o.Reads.Names, "result")
		}
		return c.role == "result" && c.m.analyte == o.Test.Analyte
	case o.Field != "":
		return c.role == string(o.Field)
	case o.Reads != nil:
		return slices.Contains(o.Reads.Names, c.role)
	}
	return false
}

// mendChunk changes the lines of one old column: its unit, and its heading
// where that is another.
func (rv *revision) mendChunk(t *mappings.Table, chunk []textOf, s standing) bool {
	o, c := s.old, s.new
	line := chunk[0].text
	set := func(key, value string) bool {
		next, ok := setFlow(line, key, value)
		if ok {
			line = next
		}
		return ok
	}
	named := strings.Join(o.Heading, " ")
	ask := func(q string) { chunk[0].ask = append(chunk[0].ask, q) }
	if c != nil && s.again {
		was := strings.Join(append(slices.Clone(o.Under), o.Heading...), " / ")
		now := strings.Join(append(slices.Clone(c.under), c.heading...), " / ")
		if o.Test != nil && !hasFlow(line, "test") && c.role == "result" && !set("test", yamlText(o.Test.Label)) {
			return false
		}
		heading := yamlText(c.heading[0])
		if len(c.heading) > 1 {
			heading = yamlList(c.heading)
		}
		if !set("heading", heading) {
			return false
		}
		if len(o.Under) > 0 {
			line = dropFlow(line, "under")
			if len(c.under) > 0 {
				line = strings.Replace(line, "- {", "- {under: "+under(c.under)+", ", 1)
			}
		}
		ask("is this what " + quoted(was) + " was?")
		rv.changes = append(rv.changes, Change{What: "a heading of the table " + quoted(t.Name), Relied: was, Found: now, Place: s.place, Proposed: "the old column by its new heading"})
		if o.Test != nil && c.role == "result" {
			if label := rv.testFor(c, o.Test); label != o.Test.Label && !set("test", yamlText(label)) {
				return false
			} else if label == o.Test.Label {
				rv.unitInHeading(c, o, s.place)
			}
		}
		named = c.title()
	}
	unit := s.unit
	if unit == "" && c != nil {
		if _, _, known := unitOf(rv.d.v, c.unit); known || s.again {
			unit = c.unit
		}
	}
	if unit != "" && o.Unit != "" && mappings.Squeeze(unit) != mappings.Squeeze(o.Unit) && !strings.Contains(mappings.Squeeze(named), mappings.Squeeze(unit)) {
		if !set("unit", yamlText(unit)) {
			return false
		}
		ch := Change{What: "the unit under " + quoted(named), Relied: o.Unit, Found: unit, Place: s.place, Proposed: "unit: " + unit}
		rv.changes = append(rv.changes, ch)
		if o.Test != nil && !rv.addUnit(o.Test, unit) {
			ask("the test " + quoted(o.Test.Label) + " is not printed in " + unit + " elsewhere; is it here?")
		}
	}
	chunk[0].text = line
	return true
}

// unitInHeading lets a test be printed in the unit that its new heading has.
func (rv *revision) unitInHeading(c *column, o *mappings.Column, at ingest.Place) {
	te := rv.drafted(c)
	if te == nil || te.unprinted != "" {
		return
	}
	for _, u := range te.units {
		if !slices.Contains(o.Test.Units, u) && strings.Contains(mappings.Squeeze(strings.Join(c.heading, "")), mappings.Squeeze(u)) && rv.addUnit(o.Test, u) {
			rv.changes = append(rv.changes, Change{What: "the unit of " + o.Test.Label, Relied: strings.Join(o.Test.Units, ", "), Found: u, Place: at, Proposed: "its test may be printed in " + u + " too"})
		}
	}
}

func under(levels []string) string {
	if len(levels) == 1 {
		return yamlText(levels[0])
	}
	return yamlList(levels)
}

// newColumn are the lines of a column that the old layout does not have.
func (rv *revision) newColumn(t *mappings.Table, s standing, chunks map[*mappings.Column][]textOf) []textOf {
	c := *s.new
	if c.role == "result" && c.m.analyte != "" {
		c.test = rv.testFor(&c, nil)
	}
	depth := 10
	for _, ch := range chunks {
		depth = indentOf(ch[0].text)
	}
	ask := append(slices.Clone(c.ask), "a new column; is it rightly read?")
	rv.changes = append(rv.changes, Change{What: "a new heading in the table " + quoted(t.Name), Found: strings.Join(append(slices.Clone(c.under), c.title()), " / "), Place: s.place, Proposed: columnText(&c)})
	return []textOf{{text: strings.Repeat(" ", depth) + "- {" + columnText(&c) + "}", ask: ask}}
}

// columnGone tells of a column whose heading is not there, or stands
// elsewhere.
func (rv *revision) columnGone(doc *ingest.Document, t *mappings.Table, c *mappings.Column, line string) {
	named := strings.Join(c.Heading, " ")
	at := mappings.PlaceOf(mappings.Literal(c.Heading[0]), doc)
	ch := Change{What: "a heading of the table " + quoted(t.Name), Relied: named}
	q := "the heading " + quoted(named) + " is in none of the new reports, and its column is left out; is it no longer reported?"
	if !at.IsZero() {
		ch.Found, ch.Place = c.Heading[0]+", elsewhere on the page", at
		q = "the heading " + quoted(named) + " stands at " + at.String() + ", but not among the others; where is its column now? It was " + strings.TrimSpace(line)
	}
	rv.changes = append(rv.changes, ch)
	rv.head = append(rv.head, q)
}
