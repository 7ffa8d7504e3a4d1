package draft

import (
	"slices"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// mendUnit lets a test or a column be printed in another unit.
func (rv *revision) mendUnit(doc *ingest.Document, r *ingest.Reason) bool {
	for _, t := range rv.m.Tests {
		if t.Place == r.Rule {
			if _, _, known := unitOf(rv.d.v, r.Found); !known {
				return false
			}
			rv.changes = append(rv.changes, Change{What: "the unit of " + t.Label, Relied: r.Expected, Found: r.Found, Place: r.Where, Proposed: "its test may be printed in " + r.Found + " too"})
			return rv.addUnit(t, r.Found)
		}
	}
	for _, t := range rv.l.Tables {
		for _, c := range t.Columns {
			if c.Place == r.Rule {
				return rv.mendColumns(doc, t)
			}
		}
	}
	return false
}

// addUnit lets a test be printed in a further unit, and gives what an amount
// per area stands for.
func (rv *revision) addUnit(t *mappings.Test, unit string) bool {
	i := t.Place.Line - 1
	if i < 0 || i >= len(rv.f.lines) {
		return false
	}
	line := rv.f.lines[i].text
	units := t.Units
	if t.Unprinted {
		return false // where the unit was not printed, it has more to say than before
	}
	if !slices.Contains(units, unit) {
		next, ok := setFlow(line, "unit", yamlList(append(slices.Clone(units), unit)))
		if !ok {
			return false
		}
		rv.f.lines[i].text = next
		rv.ask(t.Place.Line, "the new reports print "+quoted(unit)+"; is the method still the same?")
	}
	if !slices.Contains(rv.areas, unit) {
		rv.areas = append(rv.areas, unit)
	}
	return true
}

// settleAreas says or asks what new amounts per area stand for, and gives the
// number of lines that this put in above the layouts.
func (rv *revision) settleAreas() int {
	before := len(rv.f.lines)
	for _, unit := range rv.areas {
		id, _, _ := unitOf(rv.d.v, unit)
		if _, known := rv.m.Units[mappings.Normalise(unit)]; known || !perArea[id] {
			continue
		}
		rv.d.areaUnits[unit] = id
		means := rv.d.areaBasis(unit)
		if means == "" {
			rv.head = append(rv.head, unit+" is new; for what depth and mass of soil does it stand? See the laboratory's guide, and write under units: "+yamlText(unit)+": {depth: 6 2/3 in, soil: 2000000 lb/acre}")
			continue
		}
		line := textOf{text: "  " + yamlText(unit) + ": " + means, ask: []string{"a note on the report says so; is that the soil that the laboratory means?"}}
		if i := rv.f.topKey("units"); i >= 0 {
			rv.f.insert(rv.f.end(i), line)
		} else if i := rv.f.topKey("tests"); i >= 0 {
			rv.f.insert(i, textOf{text: "units:"}, line, textOf{})
		}
	}
	return len(rv.f.lines) - before
}

// mendLandmark finds what stands in place of a text that is gone.
func (rv *revision) mendLandmark(doc *ingest.Document, p *mappings.Pattern, r *ingest.Reason) bool {
	text, at := nearestText(doc, p.Src)
	c := Change{What: "a text on which the reading relies", Relied: p.Src, Found: text, Place: at}
	var keep []string
	for _, o := range rv.l.ReliesOn {
		switch {
		case o != p:
			keep = append(keep, o.Src)
		case text != "":
			keep = append(keep, mappings.Literal(text))
		}
	}
	q := "no text like " + quoted(p.Src) + " stands in the new reports. What it said about the results: does it still hold?"
	if text != "" {
		q = "where " + quoted(p.Src) + " stood, the new reports have " + quoted(text) + ". Do units and methods still mean the same?"
		c.Proposed = "to rely on what was found"
	}
	k := rv.f.key(rv.top(), "relies on")
	if k < 0 {
		return false
	}
	if len(keep) == 0 {
		rv.f.remove(k, rv.f.end(k))
		rv.head = append(rv.head, q)
	} else {
		rv.f.setKey(rv.top(), "relies on", yamlList(keep))
		rv.ask(k+1, q)
	}
	rv.changes = append(rv.changes, c)
	return true
}

// nearestText is the piece of a line that shares most words with a text, or
// nothing when none shares half of them.
func nearestText(doc *ingest.Document, src string) (string, ingest.Place) {
	best, at, score := "", ingest.Place{}, 0.5
	for i, p := range doc.Pages {
		if p.Hidden || i > 7 {
			continue
		}
		s := newSheet(doc, p)
		for j := range s.lines {
			texts, words := []string{s.lines[j].text()}, [][]mappings.Piece{s.lines[j].words}
			for _, run := range s.lines[j].runs {
				texts, words = append(texts, run.text), append(words, run.words)
			}
			for k, text := range texts {
				if n := likeness(src, text); len(words[k]) > 0 && (n > score+1e-9 || n >= score && best == "") {
					best, at, score = text, words[k][0].Place, n
				}
			}
		}
	}
	return best, at
}

// mendField puts the label under which a field stands now in place of the one
// that is gone.
func (rv *revision) mendField(doc *ingest.Document, f *mappings.FieldRule, r *ingest.Reason) bool {
	i := f.Place.Line - 1
	if i <= rv.top() || i >= len(rv.f.lines) || len(f.Fields) == 0 {
		return false
	}
	for _, l := range rv.d.layouts {
		for _, x := range append(slices.Clone(l.report), l.sample...) {
			if len(x.ids) != len(f.Fields) || x.ids[0] != f.Fields[0] {
				continue
			}
			at := mappings.PlaceOf(mappings.Literal(x.label), doc)
			if at.IsZero() {
				continue
			}
			old := rv.f.lines[i].text
			item := "- {" + x.how + ": " + yamlText(mappings.Literal(x.label)) + ", reads: " + yamlText(x.reads()) + "}"
			rv.f.remove(i, rv.f.end(i))
			rv.f.insert(i, textOf{text: strings.Repeat(" ", indentOf(old)) + item, ask: []string{"is " + quoted(x.label) + " what " + quoted(r.Expected) + " was?"}})
			rv.changes = append(rv.changes, Change{What: "the label of " + strings.ReplaceAll(string(f.Fields[0]), "_", " "), Relied: r.Expected, Found: x.label, Place: at, Proposed: item[2:]})
			return true
		}
	}
	return false
}

// mendNumbers takes the way in which the new reports write numbers.
func (rv *revision) mendNumbers(r *ingest.Reason) bool {
	for _, l := range rv.d.layouts {
		decimal, thousands, ask := l.number.settle()
		if ask != "" || decimal == "" || decimal == rv.l.Style.Decimal && thousands == rv.l.Style.Thousands {
			continue
		}
		value := "{decimal: " + yamlText(decimal)
		if thousands != "" {
			value += ", thousands: " + yamlText(thousands)
		}
		rv.f.setKey(rv.top(), "numbers", value+"}")
		rv.changes = append(rv.changes, Change{What: "how numbers are written", Relied: r.Expected, Found: r.Found, Place: r.Where, Proposed: "numbers: " + value + "}"})
		return true
	}
	return false
}

// mendDates takes the way in which the new reports write dates.
func (rv *revision) mendDates(r *ingest.Reason) bool {
	for _, l := range rv.d.layouts {
		rv.d.dates = l.dates
		dates, ask := rv.d.settleDates(l.order)
		if len(dates) == 0 || slices.Equal(dates, rv.l.Style.Dates) {
			continue
		}
		rv.f.setKey(rv.top(), "dates", yamlList(dates))
		if k := rv.f.key(rv.top(), "dates"); ask != "" {
			rv.ask(k+1, ask)
		}
		rv.changes = append(rv.changes, Change{What: "how dates are written", Relied: strings.Join(rv.l.Style.Dates, ", "), Found: r.Found, Place: r.Where, Proposed: "dates: " + yamlList(dates)})
		return true
	}
	return false
}

// mendSkip leaves out a row that does not look like a sample.
func (rv *revision) mendSkip(r *ingest.Reason) bool {
	var begins []string
	for _, w := range strings.Fields(r.Found) {
		if hasDigit(w) || isMissing(w) {
			break
		}
		begins = append(begins, w)
	}
	if len(begins) == 0 {
		return false
	}
	text := strings.Join(begins, " ")
	for _, t := range rv.l.Tables {
		if t.Place != r.Rule {
			continue
		}
		i := t.Place.Line - 1
		depth := strings.Repeat(" ", keyIndent(rv.f.lines[i].text))
		item := "{begins: " + yamlText(mappings.Literal(text)) + ", why: no sample}"
		rv.f.addItems(i, "skip rows", textOf{text: depth + "  - " + item, ask: []string{"is the row that begins " + quoted(text) + " rightly left out?"}})
		rv.changes = append(rv.changes, Change{What: "a row that looks like no sample", Found: r.Found, Place: r.Where, Proposed: "skip rows: " + item})
		return true
	}
	return false
}
