package draft

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// A Change is one difference between a layout of a mapping and the reports of
// a laboratory that has revised it.
type Change struct {
	What     string       // of the report, such as: the unit of Potassium
	Relied   string       // on which the old layout relies
	Found    string       // in its stead; "" for nothing
	Place    ingest.Place // in a new report; zero where nothing was found
	Proposed string       // what the draft has; "" where the steward is asked
}

// String is the change in one line.
func (c Change) String() string {
	s := c.What
	if c.Relied != "" {
		s += ": relied on " + quoted(c.Relied) + ", found " + orNothing(c.Found)
	} else if c.Found != "" {
		s += ": found " + quoted(c.Found)
	}
	if !c.Place.IsZero() {
		s += " at " + c.Place.String()
	}
	if c.Proposed == "" {
		return s + "; asked below"
	}
	return s + "; proposed: " + c.Proposed
}

func orNothing(s string) string {
	if s == "" {
		return "nothing like it"
	}
	return quoted(s)
}

// Revise proposes how to amend a mapping whose laboratory has changed its
// reports: text is the old mapping's file, old the same decoded, and docs the
// new reports as for [Propose]. The new reports are read by the old layouts
// first. What that reading relied on and did not find is what changes: in a
// copy of the layout, in force from the date of the earliest new report, with
// every other line as it was. Where the old layout reads too little to be
// mended, the new one is drafted anew. The draft's Changes, and the comments
// over the new layout, say what was relied on, found and proposed.
func Revise(old *mappings.Mapping, text []byte, docs [][]*ingest.Document, opt Options) (*Draft, []*ingest.Reason) {
	groups, rest, reads := groupByLayout(old, docs, opt.Vocabulary)
	if len(groups)+len(rest) == 0 {
		r := &ingest.Reason{Code: "draft-empty", Severity: ingest.Fail, What: "there is no report to draft from", Expected: "at least one report of the new layout", Found: "none", Next: "name a file"}
		if len(reads) > 0 {
			r.Code, r.What = "draft-unchanged", "the mapping reads these reports as it is, so there is nothing to revise"
			r.Expected, r.Found, r.Next = "a report that the old layout does not read", strings.Join(reads, ", "), "name the reports that are held"
		}
		return nil, []*ingest.Reason{r}
	}
	out := &Draft{ID: old.ID, Lab: old.Lab}
	var reasons []*ingest.Reason
	now, m, changed := newMappingText(text), old, false
	for _, g := range groups {
		l := layoutNamed(m, g.layout)
		rv := newRevision(now, m, l, g.docs, opt)
		rv.run()
		var anew *Draft
		var why []*ingest.Reason
		var f *mappingText
		if !rv.sound {
			anew, f, why = reviseAnew(m, now, l, g.ways, opt, rv.first)
		}
		switch {
		case rv.sound || anew == nil && rv.readings > 0 || anew != nil && anew.Readings <= rv.readings:
			now = rv.finish()
			out.Readings, out.Left, out.Changes = out.Readings+rv.readings, out.Left+rv.left, append(out.Changes, rv.changes...)
		case anew == nil:
			reasons = append(reasons, why...)
			continue
		default:
			now = f
			out.Readings, out.Left, out.Changes = out.Readings+anew.Readings, out.Left+anew.Left, append(out.Changes, anew.Changes...)
		}
		changed = true
		if m, why = mappings.Decode(old.File, now.plain(), opt.Vocabulary); m == nil {
			return nil, append(reasons, why...)
		}
	}
	if len(rest) > 0 {
		anew, f, why := reviseAnew(m, now, nil, rest, opt, nil)
		for _, r := range why {
			// The words of a mail whose table has been read are no report.
			if r.Code != "draft-empty" || !changed || !slices.ContainsFunc(groups, func(g *layoutGroup) bool { return g.docs[0].Source.Name == r.Where.File }) {
				reasons = append(reasons, r)
			}
		}
		if anew != nil {
			now, changed = f, true
			out.Readings, out.Left, out.Changes = out.Readings+anew.Readings, out.Left+anew.Left, append(out.Changes, anew.Changes...)
		}
	}
	if !changed {
		return nil, reasons
	}
	out.Text = now.String()
	out.Questions = questions(out.Text)
	return out, reasons
}

// A layoutGroup is the new reports that one old layout comes nearest to.
type layoutGroup struct {
	layout string
	docs   []*ingest.Document   // as that layout reads them
	ways   [][]*ingest.Document // the same in every way in which they can be read
}

// groupByLayout puts each new report to the old layout that it is a revision
// of. rest are those that none recognises, and reads the names of those that
// the mapping reads as it is.
func groupByLayout(old *mappings.Mapping, docs [][]*ingest.Document, v mappings.Vocabulary) (groups []*layoutGroup, rest [][]*ingest.Document, reads []string) {
	for _, ways := range docs {
		if len(ways) == 0 {
			continue
		}
		var best *mappings.Try
		for _, t := range mappings.TryMapping(old, ways, v) {
			if t.Extract != nil && (best == nil || nearer(t, best)) {
				best = t
			}
		}
		switch {
		case best == nil:
			rest = append(rest, ways)
			continue
		case len(holdsOf(best.Extract)) == 0 && len(best.Extract.Samples) > 0:
			reads = append(reads, ways[0].Source.Title())
			continue
		}
		doc := docFor(ways, best.Layout)
		i := slices.IndexFunc(groups, func(g *layoutGroup) bool { return g.layout == best.Layout.Name })
		if i < 0 {
			i, groups = len(groups), append(groups, &layoutGroup{layout: best.Layout.Name})
		}
		groups[i].docs, groups[i].ways = append(groups[i].docs, doc), append(groups[i].ways, []*ingest.Document{doc})
	}
	return groups, rest, reads
}

// nearer reports whether a layout comes nearer to a report than another: more
// of the texts that it looks for stand there, or it leaves fewer numbers.
func nearer(a, b *mappings.Try) bool {
	if x, y := len(unaccounted(a.Extract)), len(unaccounted(b.Extract)); x*10 < y*9 || y*10 < x*9 {
		return x < y
	}
	if x, y := missed(a.Extract), missed(b.Extract); x != y {
		return x < y
	}
	return a.Layout.To == "" && b.Layout.To != ""
}

// missed counts what a reading relied on and did not find, with its words.
func missed(x *mappings.Extract) int {
	n := 0
	for _, r := range holdsOf(x) {
		n += 1 + strings.Count(r.Expected, `"`)/2
		if strings.Contains(r.What, "is not in this report") {
			n += strings.Count(r.Expected, " | ")
		}
	}
	return n
}

// notOfLayout are the codes that say nothing about the layout of a report.
var notOfLayout = map[string]bool{"question-open": true, "layout-out-of-force": true, "ocr-differs": true, "scan-unconfirmed": true, "scan-no-ocr": true}

// holdsOf are the reasons of an extract that hold it for its layout.
func holdsOf(x *mappings.Extract) []*ingest.Reason {
	var out []*ingest.Reason
	for _, r := range x.Reasons {
		if (r.Severity == ingest.Hold || r.Severity == ingest.Fail) && !notOfLayout[r.Code] {
			out = append(out, r)
		}
	}
	return out
}

// docFor is the document read as a layout asks for.
func docFor(ways []*ingest.Document, l *mappings.Layout) *ingest.Document {
	for _, d := range ways {
		if d.Format == l.Format && sameDialect(d.Dialect, l.Dialect) {
			return d
		}
	}
	return ways[0]
}

func layoutNamed(m *mappings.Mapping, name string) *mappings.Layout {
	for _, l := range m.Layouts {
		if l.Name == name {
			return l
		}
	}
	return nil
}

// endOld puts an end to an old layout, on the day before the new one begins.
func (f *mappingText) endOld(l *mappings.Layout, from string) {
	i := l.Place.Line - 1
	if i < 0 || i >= len(f.lines) {
		return
	}
	if k := f.key(i, "until"); k > i {
		f.remove(k, f.end(k))
	}
	line := textOf{text: strings.Repeat(" ", keyIndent(f.lines[i].text)) + "# until:", ask: []string{"until when does this layout hold? Write until: with a date"}}
	if day, err := time.Parse("2006-01-02", from); err == nil {
		line = textOf{text: strings.Repeat(" ", keyIndent(f.lines[i].text)) + "until: " + day.AddDate(0, 0, -1).Format("2006-01-02"),
			ask: []string{"the new layout is first seen on " + from + "; is that when it began?"}}
	}
	f.insert(i+1, line)
}

// showChanges are the comment lines over a revised layout.
func showChanges(title string, changes []Change) []textOf {
	out := []textOf{{text: "  # " + title + " What has changed:"}}
	for _, c := range changes {
		out = append(out, textOf{text: "  #   " + strings.ReplaceAll(c.String(), "\n", " ")})
	}
	if len(changes) == 0 {
		out = append(out, textOf{text: "  #   no difference was found in headings, units and labels; look at the report and the old layout side by side"})
	}
	return out
}

// reasonChange is a reason of the reading as a difference.
func reasonChange(r *ingest.Reason) Change {
	return Change{What: r.What, Relied: r.Expected, Found: r.Found, Place: r.Where}
}

// numbered gives a name that no layout of the mapping has.
func numbered(m *mappings.Mapping, name string) string {
	for n := 2; layoutNamed(m, name) != nil; n++ {
		name = fmt.Sprintf("%s %d", strings.TrimSuffix(name, fmt.Sprintf(" %d", n-1)), n)
	}
	return name
}
