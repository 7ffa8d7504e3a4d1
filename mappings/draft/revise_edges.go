package draft

import (
	"slices"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// mendEdges looks at the texts between which results and everything else are
// told apart. They may be gone without a reason that says so: then notes are
// taken for rows. It reports whether it changed one.
func (rv *revision) mendEdges() bool {
	for _, n := range rv.l.NotResult {
		for _, e := range []struct {
			key string
			p   *mappings.Pattern
		}{{"from", n.From}, {"above", n.Above}, {"box", n.Box}, {"to before", n.To}} {
			if e.p == nil || rv.standsAs(e.p.Src) {
				continue
			}
			if rv.mendEdge(n.Place.Line-1, e.key, e.p.Src, rv.draftedEdges(e.key)) {
				return true
			}
		}
	}
	for _, t := range rv.l.Tables {
		i := t.Place.Line - 1
		if t.EndsBefore != nil && !rv.standsAs(t.EndsBefore.Src) && rv.mendEdge(rv.f.key(i, "ends before"), "ends before", t.EndsBefore.Src, rv.draftedEdges("ends before")) {
			return true
		}
		if t.StartsAfter != nil && !rv.standsAs(t.StartsAfter.Src) && rv.mendEdge(rv.f.key(i, "starts after"), "starts after", t.StartsAfter.Src, rv.draftedEdges("starts after")) {
			return true
		}
	}
	return false
}

// standsAs reports whether a pattern's text stands in one of the new reports.
func (rv *revision) standsAs(pattern string) bool {
	return slices.ContainsFunc(rv.docs, func(d *ingest.Document) bool { return !mappings.PlaceOf(pattern, d).IsZero() })
}

// draftedEdges are the texts that the draft of the new reports has for an
// edge of a kind, as patterns.
func (rv *revision) draftedEdges(key string) []string {
	var out []string
	for _, l := range rv.d.layouts {
		for _, t := range l.tables {
			if e := t.end(); e != "" && (key == "ends before" || key == "from") {
				out = append(out, mappings.Literal(e))
			}
			if t.starts != "" && key == "starts after" {
				out = append(out, mappings.Literal(t.starts))
			}
		}
		for _, n := range l.notes {
			if n.way == key || n.way == "from" && key == "ends before" {
				out = append(out, n.text)
			}
			if n.to != "" && key == "to before" {
				out = append(out, n.to)
			}
		}
	}
	return out
}

// mendEdge writes the first of some texts, which stands in the new reports,
// in place of an edge that is gone.
func (rv *revision) mendEdge(i int, key, was string, texts []string) bool {
	if i <= rv.top() || i >= len(rv.f.lines) || rv.told["edge "+was] {
		return false
	}
	rv.told["edge "+was] = true
	for _, text := range texts {
		at := mappings.PlaceOf(text, rv.docs[0])
		if at.IsZero() {
			continue
		}
		line := rv.f.lines[i].text
		if strings.Contains(line, "{") {
			next, ok := setFlow(line, key, yamlText(text))
			if !ok {
				return false
			}
			rv.f.lines[i].text = next
		} else if k := strings.Index(line, key+":"); k >= 0 {
			rv.f.lines[i].text = line[:k] + key + ": " + yamlText(text)
		} else {
			return false
		}
		rv.ask(i+1, "the text "+quoted(was)+" is in none of the new reports; is this where it was?")
		rv.changes = append(rv.changes, Change{What: "where the results end or begin", Relied: was, Found: text, Place: at, Proposed: key + ": " + text})
		return true
	}
	return false
}

// declareLeft declares numbers that are left over and look like no results,
// with a question each.
func (rv *revision) declareLeft(doc *ingest.Document, x *mappings.Extract) bool {
	left := unaccounted(x)
	if len(left) == 0 {
		return false
	}
	for _, l := range rv.d.layouts {
		if !slices.Contains(l.docs, doc) {
			continue
		}
		scratch := *l
		scratch.notes = nil
		scratch.declare(rv.d, doc, left)
		var items []textOf
		depth := strings.Repeat(" ", keyIndent(rv.f.lines[rv.top()].text)+2)
		for _, n := range scratch.notes {
			if rv.told["note "+n.text] || n.way == "above" || n.way == "from" {
				continue // too wide for one number left over
			}
			if slices.ContainsFunc(rv.m.Tests, func(t *mappings.Test) bool {
				return len(t.Label) > 2 && strings.Contains(strings.ToLower(n.text), strings.ToLower(t.Label))
			}) {
				continue // it speaks of a test and may be a result
			}
			rv.told["note "+n.text] = true
			items = append(items, textOf{text: depth + "- {" + n.way + ": " + yamlText(n.text) + ", why: " + yamlText(n.why) + "}", ask: []string{"is this rightly no result?"}})
			rv.changes = append(rv.changes, Change{What: "a text with numbers that the old layout does not know", Found: n.text, Place: mappings.PlaceOf(n.text, doc), Proposed: "not results: {" + n.way + ": ...}"})
		}
		if len(items) > 0 {
			rv.f.addItems(rv.top(), "not results", items...)
			return true
		}
	}
	return false
}
