package draft

import (
	"regexp"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// collectNotes keeps the running text of a report's first pages: what it
// states about units, soil and letters.
func (d *drafter) collectNotes(doc *ingest.Document) {
	for i, p := range doc.Pages {
		if i > 1 || p.Hidden {
			continue
		}
		q := *p
		q.Cells = q.Cells[:min(len(q.Cells), 2000)]
		s := newSheet(doc, &q)
		var text []string
		for j := range s.lines {
			text = append(text, s.lines[j].text())
		}
		d.notes = append(d.notes, strings.Join(text, " "))
	}
}

var (
	allIn    = regexp.MustCompile(`(?i)\b(?:all )?(?:results|values|figures|nutrients|concentrations|amounts) (?:are |is )?(?:given |shown |reported |expressed )?(?:in|as) ([^ ,.;]+(?: [^ ,.;]+)?)`)
	signIs   = regexp.MustCompile(`(?:^|[ ,;(])(\*{1,5}|\+{1,5}|[•●■★]{1,5}) ?[=:-]? ?((?:very |too )?[a-z]{3,12})\b`)
	letterIs = regexp.MustCompile(`\b([A-Z]{1,2}) ?[=:-]? ((?:very |too )?(?:low|medium|high|optimum|normal|good|sufficient|deficient|excessive|adequate|acid|alkaline))\b`)
)

// readNotes looks in the reports' running text for the unit of everything
// and for the meaning of rating letters.
func (d *drafter) readNotes() {
	for _, t := range d.notes {
		d.readLegend(t)
		if g := allIn.FindStringSubmatch(t); g != nil && d.generalUnit == "" {
			for _, u := range []string{g[1], strings.Fields(g[1])[0]} {
				if _, _, ok := unitOf(d.v, u); ok {
					d.generalUnit = u
					break
				}
			}
		}
		d.readLetters(t)
		d.readSigns(t)
		if d.methodHint == "" {
			for _, m := range []string{"Mehlich-3", "Mehlich-1", "Olsen", "Bray", "Morgan", "ammonium acetate"} {
				if strings.Contains(strings.ToLower(t), strings.ToLower(m)) {
					d.methodHint = " (the report speaks of " + m + ")"
					break
				}
			}
		}
	}
}

// readLetters collects letters that a note explains as ratings. Two of them
// make a key; "P low" alone, or beside "K high", is a remark on nutrients.
func (d *drafter) readLetters(text string) {
	found := letterIs.FindAllStringSubmatch(text, -1)
	key := map[string]bool{}
	for _, g := range found {
		if _, nutrient := d.v.Resolve(mappings.AnalyteWord, g[1]); !nutrient {
			key[g[1]] = true
		}
	}
	if len(key) < 2 {
		return
	}
	for _, g := range found {
		if d.letters[g[1]] == "" {
			d.letters[g[1]] = g[2]
		}
	}
}

// readSigns collects signs that a note explains as ratings, such as
// "* low ** medium *** high". One alone is a footnote's mark.
func (d *drafter) readSigns(text string) {
	found := map[string]string{}
	known := 0
	for _, g := range signIs.FindAllStringSubmatch(text, -1) {
		if found[g[1]] != "" {
			continue
		}
		found[g[1]] = g[2]
		if d.ratingWord(g[2]) {
			known++
		}
	}
	if known < 2 {
		return
	}
	for sign, word := range found {
		if d.letters[sign] == "" {
			d.letters[sign] = word
		}
	}
}

var (
	soilMass = regexp.MustCompile(`(\d{1,2}(?:,\d{3}){2}|\d{7})\s*(?:lb|pounds|lbs)`)
	topDepth = regexp.MustCompile(`(?i)(\d+(?: \d/\d)?)(?:-| )?(?:in\b|in\.|inch|inches)`)
	perInch  = regexp.MustCompile(`(?i)(\d{3},?000)\s*(?:lb|pounds)[^.]{0,30}(?:per|/)\s*acre[- ]?inch`)
	cmVolume = regexp.MustCompile(`(?i)kg/ha is for (\d+) ?cm`)
)

// areaBasis is what a note on the report says that an amount per area stands
// for, in the mapping language; "" when no note does.
func (d *drafter) areaBasis(unit string) string {
	id := d.areaUnits[unit]
	for _, t := range d.notes {
		if id == "kg/ha" {
			if g := cmVolume.FindStringSubmatch(t); g != nil && strings.Contains(t, "dm3") {
				return "{depth: " + g[1] + " cm, by volume: yes}"
			}
			continue
		}
		if id != "lb/acre" || !strings.Contains(t, unit) && !strings.Contains(strings.ToLower(t), "per acre") {
			continue
		}
		if g := perInch.FindStringSubmatch(t); g != nil {
			return "{soil per inch: " + strings.ReplaceAll(g[1], ",", "") + " lb/acre}"
		}
		if g := soilMass.FindStringSubmatchIndex(t); g != nil {
			mass := strings.ReplaceAll(t[g[2]:g[3]], ",", "")
			around := t[max(0, g[0]-120):min(len(t), g[1]+120)]
			if h := topDepth.FindStringSubmatch(around); h != nil {
				return "{depth: " + h[1] + " in, soil: " + mass + " lb/acre}"
			}
		}
	}
	return ""
}

// refine tries the proposal on the reports it was made from, declares what
// it does not account for, and tries again.
func (d *drafter) refine() *Draft {
	out := &Draft{}
	decodes := false
	for round := 0; round < 8; round++ {
		if d.prune(); len(d.layouts) == 0 {
			return nil
		}
		out.ID, out.Lab, out.Text = d.id, d.lab, d.render()
		m, reasons := mappings.Decode(d.id+".yaml", []byte(out.Text), d.v)
		if m == nil {
			if !d.mendDecode(out.Text, reasons) {
				break
			}
			continue
		}
		decodes = true
		before := out.Text
		if round == 7 || !d.tryOut(out, m) {
			out.Text = d.render() // with what stays open in its comments
			break
		}
		if out.Text = d.render(); out.Text == before {
			break
		}
		decodes = false
	}
	if !decodes {
		return nil
	}
	out.Questions = questions(out.Text)
	return out
}

// prune drops layouts that can read nothing: those of which every test is
// without a unit, for instance.
func (d *drafter) prune() {
	var keep []*layoutDraft
	for _, l := range d.layouts {
		reads := len(l.sentences) > 0
		for _, f := range l.labels {
			e := d.tests.find(strings.TrimSuffix(f.label, ":"))
			reads = reads || e != nil && e.unprinted != "-"
		}
		var tables []*foundTable
		for _, t := range l.tables {
			some := false
			for _, c := range t.cols {
				some = some || c.role == "result" || c.role == "samples"
			}
			if some {
				tables = append(tables, t)
			}
		}
		l.tables = tables
		if reads || len(tables) > 0 {
			keep = append(keep, l)
		}
	}
	d.layouts = keep
}

// noDraft is why nothing is proposed although results were seen.
func (d *drafter) noDraft() *ingest.Reason {
	var seen []string
	for _, e := range d.tests.list {
		if e.unprinted == "-" {
			seen = append(seen, e.label)
		}
	}
	return &ingest.Reason{Code: "draft-empty", Severity: ingest.Hold, What: "tests are named in these reports, but nothing says in which unit they are given or where their results stand, so nothing is proposed",
		Expected: "units beside or above the results", Found: strings.Join(seen, ", "), Next: "take the units from the laboratory's guide and write the mapping by hand; the guide to writing a mapping shows how"}
}

// mendDecode leaves out columns and tests that the language refuses, with
// the complaint as a question. It reports whether anything changed.
func (d *drafter) mendDecode(text string, reasons []*ingest.Reason) bool {
	lines := strings.Split(text, "\n")
	changed := false
	for _, r := range reasons {
		n := r.Rule.Line
		if n == 0 {
			n = r.Where.Line
		}
		if n < 1 || n > len(lines) {
			continue
		}
		for _, l := range d.layouts {
			for _, t := range l.tables {
				for _, c := range t.cols {
					if c.role != "nothing" && strings.Contains(lines[n-1], "- {"+columnText(c)+"}") {
						c.role, c.why, c.test, c.conf = "nothing", "not understood", "", 0.2
						c.ask = append(c.ask, r.What+"; expected "+r.Expected)
						changed = true
					}
				}
			}
		}
	}
	return changed
}

// tryOut reads the reports by the proposal and declares numbers that it
// leaves over. It reports whether anything changed.
func (d *drafter) tryOut(out *Draft, m *mappings.Mapping) bool {
	out.Readings, out.Left = 0, 0
	changed := false
	for _, l := range d.layouts {
		var open []openLine
		l.example = nil
		for _, doc := range l.docs {
			x := readBy(m, l.name, doc, d.v)
			if x == nil {
				continue
			}
			for _, s := range x.Samples {
				out.Readings += len(s.Readings)
			}
			if e := exampleOf(m, doc, x); l.example == nil && e != nil {
				l.example = e
			}
			left := unaccounted(x)
			out.Left += len(left)
			if !layoutChanged(x) {
				open = append(open, d.openLines(l, doc, left)...)
			}
			if l.mend(d, doc, x) {
				changed = true
				continue // what is left over may only be a consequence
			}
			switch {
			case layoutChanged(x):
				changed = l.declareFeet(d, doc) || changed
			case len(left) > 0 && l.declare(d, doc, left):
				changed = true
			}
		}
		l.leave(open)
	}
	return changed
}

// readBy reads a document by one layout of a mapping.
func readBy(m *mappings.Mapping, layout string, doc *ingest.Document, v mappings.Vocabulary) *mappings.Extract {
	for _, t := range mappings.TryMapping(m, []*ingest.Document{doc}, v) {
		if t.Layout.Name == layout && t.Extract != nil {
			return t.Extract
		}
	}
	return nil
}

// layoutChanged reports whether a table could not be read as proposed: then
// the numbers left over are results, and must not be declared as others.
func layoutChanged(x *mappings.Extract) bool {
	for _, r := range x.Reasons {
		if r.Code == "layout-changed" {
			return true
		}
	}
	return false
}

func unaccounted(x *mappings.Extract) []mappings.Mark {
	var out []mappings.Mark
	for _, m := range x.Marks {
		if m.As == "unaccounted" {
			out = append(out, m)
		}
	}
	return out
}
