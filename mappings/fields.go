package mappings

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"example.org/windrow/ingest"
)

// A block is a part of a page that holds one sample, with the words it
// begins with.
type block struct {
	begin hit
	box   ingest.Box
	view  *view
}

// blocks cuts a page at the words that begin a sample. A block reaches to the
// right as far as the next beginning on the same line, and down as far as
// the next beginning below it, or the words that end it.
func (r *reader) blocks(v *view) []block {
	var out []block
	for _, l := range v.lines {
		for _, h := range find(r.l.Block.Begins, l.atoms) {
			out = append(out, block{begin: h, box: boxOf(h.atoms)})
		}
	}
	ext := v.extent()
	var ends []*line
	if r.l.Block.Ends != nil {
		ends = v.findLine(r.l.Block.Ends)
	}
	for i := range out {
		b := &out[i]
		begin := boxOf(b.begin.atoms)
		b.box = ingest.Box{X0: ext.X0 - 1, Y0: begin.Y0 - 0.3*begin.Height(), X1: ext.X1 + 1, Y1: ext.Y1 + 1}
		if v.grid {
			b.box.Y0 = begin.Y0
		}
		for j := range out {
			if j == i {
				continue
			}
			o := boxOf(out[j].begin.atoms)
			sameLine := o.OverlapY(begin) > 0.5*min(o.Height(), begin.Height())
			switch {
			case sameLine && o.X0 > begin.X0:
				b.box.X1 = min(b.box.X1, o.X0-0.5)
			case sameLine && o.X0 < begin.X0:
				b.box.X0 = max(b.box.X0, begin.X0-0.5)
			case !sameLine && o.Y0 > begin.Y0:
				b.box.Y1 = min(b.box.Y1, o.Y0-0.3*o.Height())
			}
		}
		for _, e := range ends {
			if e.box.CenterY() > begin.Y1 {
				b.box.Y1 = min(b.box.Y1, e.box.Y0)
			}
		}
		b.view = v.part(b.box)
	}
	return out
}

// fields reads the fields of a list of rules into dst. Rules that must be
// there and are not become reasons when must is set.
func (r *reader) fields(v *view, rules []*FieldRule, dst map[FieldID]Field, blocks []block, must bool) {
	inBlock := func(a *atom) bool {
		for _, b := range blocks {
			if a.box.CenterX() >= b.box.X0 && a.box.CenterX() < b.box.X1 && a.box.CenterY() >= b.box.Y0 && a.box.CenterY() < b.box.Y1 {
				return true
			}
		}
		return false
	}
	for _, f := range rules {
		if !r.readRule(v, f, rules, dst, inBlock) && must && !f.Optional && !r.covered[f.Place] {
			r.hold("layout-changed", v.here(), f.Place, fmt.Sprintf("a label that the reading relies on is not in this report: %s", f.looksFor()), f.looksFor(), "no such label", nextLayout)
		}
	}
}

// readRule reads the fields of one rule into dst and reports whether its text
// is there. rules are all of its list: a value ends where another label begins.
func (r *reader) readRule(v *view, f *FieldRule, rules []*FieldRule, dst map[FieldID]Field, skip func(*atom) bool) bool {
	if f.Always != "" {
		r.readInto(dst, f, f.Always, nil, v)
		return true
	}
	text, atoms, ok := r.findField(v, f, rules, skip)
	if ok {
		if next := after(atoms); f.After != nil && f.Unit != "" && next != nil && slices.Contains(f.Fields, Depth) && depthUnitIn(next.text) != "" && len(strings.Fields(next.text)) == 1 {
			r.printedDepthUnit(v, []*atom{next}, f.Unit, f.Place)
		}
		r.readInto(dst, f, text, atoms, v)
		r.tell(v, f, rules, skip, text, atoms, dst)
	}
	return ok
}

// after is the atom behind some others on their line, or nil.
func after(as []*atom) *atom {
	if len(as) == 0 || as[len(as)-1].line == nil {
		return nil
	}
	line := as[len(as)-1].line.atoms
	if i := slices.Index(line, as[len(as)-1]); i+1 < len(line) {
		return line[i+1]
	}
	return nil
}

// looksFor words what a rule searches for.
func (f *FieldRule) looksFor() string {
	switch {
	case f.After != nil:
		return fmt.Sprintf("%q with a value to its right", f.After.Src)
	case f.Below != nil:
		return fmt.Sprintf("%q with a value under it", f.Below.Src)
	case f.Text != nil:
		return fmt.Sprintf("%q", f.Text.Src)
	}
	return "the lab's stated practice"
}

// findField finds the text of a rule on the page. ok is false when its label
// is not there; an empty text means the label is there without a value.
func (r *reader) findField(v *view, f *FieldRule, rules []*FieldRule, skip func(*atom) bool) (string, []*atom, bool) {
	if f.Text != nil {
		hits := find(f.Text, v.atoms)
		if len(hits) == 0 {
			return "", nil, false
		}
		use(hits[0].atoms, Mark{As: "field", Note: string(f.Fields[0]), Rule: f.Place})
		return joined(hits[0].atoms), hits[0].atoms, true
	}
	label := f.After
	if label == nil {
		label = f.Below
	}
	for _, l := range v.lines {
		for _, h := range find(label, l.atoms) {
			if skip != nil && skip(h.atoms[0]) || h.atoms[0].mark != nil && h.atoms[0].mark.Note != "label" {
				continue
			}
			if !r.atRunStart(v, l, h, rules) || v.grid && !label.beginsIn(h.atoms[0].text) {
				continue
			}
			if text := valueInCell(f.After, h.atoms); v.grid && text != "" {
				use(h.atoms, Mark{As: "field", Note: string(f.Fields[0]), Rule: f.Place})
				return text, h.atoms, true
			}
			var val []*atom
			if f.After != nil {
				val = r.valueAfter(v, l, h, rules)
			} else {
				val = v.valueBelow(h)
			}
			if v.grid && len(val) == 0 && label.goesOn(h.atoms) {
				continue // "Reported 20 March" is no label of an empty value
			}
			use(h.atoms, Mark{As: "field", Note: "label", Rule: f.Place})
			use(val, Mark{As: "field", Note: string(f.Fields[0]), Rule: f.Place})
			return joined(val), val, true
		}
	}
	return "", nil, false
}

// goesOn reports whether the cell of a label goes on with words or numbers of
// its own, beside what stands in brackets.
func (p *Pattern) goesOn(as []*atom) bool {
	text := inBrackets.ReplaceAllString(joined(as), "")
	at := p.re.FindStringIndex(text)
	return at != nil && strings.IndexFunc(text[at[1]:], func(c rune) bool { return unicode.IsLetter(c) || unicode.IsDigit(c) }) >= 0
}

var inBrackets = regexp.MustCompile(`\([^()]*\)|\[[^\[\]]*\]`)

// valueInCell is what stands behind a label with a colon in the label's own
// cell, "" for nothing: "Client: Orla Thistlewood" is a label and its value,
// whatever the next cell says. A unit in brackets belongs to the label.
func valueInCell(label *Pattern, as []*atom) string {
	if label == nil || len(as) != 1 || !strings.HasSuffix(strings.TrimSpace(label.Src), ":") {
		return ""
	}
	at := label.re.FindStringIndex(as[0].text)
	if at == nil {
		return ""
	}
	text := strings.TrimSpace(as[0].text[at[1]:])
	if strings.HasPrefix(text, "(") && strings.HasSuffix(text, ")") || strings.Trim(text, ".:_ ") == "" {
		return ""
	}
	return text
}

// atRunStart reports whether a label begins a piece of its line, or follows
// the value of another label: a label's words in the middle of a sentence are
// no label.
func (r *reader) atRunStart(v *view, l *line, h hit, rules []*FieldRule) bool {
	if v.grid || h.first == 0 {
		return true
	}
	prev, a := h.all[h.first-1], h.atoms[0]
	return a.box.X0-prev.box.X1 >= 0.8*max(a.size, prev.size) || prev.mark != nil || startsWithLabel(l, rules)
}

// startsWithLabel reports whether the line begins with one of the labels, so
// that it is a line of labels and values.
func startsWithLabel(l *line, rules []*FieldRule) bool {
	for _, f := range rules {
		if p := f.After; p != nil {
			for _, h := range find(p, l.atoms) {
				if h.first == 0 {
					return true
				}
			}
		}
	}
	return false
}

// valueAfter is the text to the right of a label: the rest of its piece of
// the line, or the next piece, but never past another label.
func (r *reader) valueAfter(v *view, l *line, h hit, rules []*FieldRule) []*atom {
	rest := h.all[h.first+len(h.atoms):]
	stop := len(rest)
	for _, f := range append(append([]*FieldRule(nil), rules...), r.l.Report...) {
		for _, p := range []*Pattern{f.After, f.Below} {
			if p == nil {
				continue
			}
			for _, o := range find(p, rest) {
				stop = min(stop, o.first)
			}
		}
	}
	rest = rest[:stop]
	// Dots, dashes and colons that lead the eye are not part of the value.
	for len(rest) > 0 && strings.Trim(rest[0].text, ".:_") == "" {
		use(rest[:1], Mark{As: "field", Note: "label"})
		rest = rest[1:]
	}
	var out []*atom
	for i, a := range rest {
		if i > 0 && (v.grid || a.box.X0-rest[i-1].box.X1 >= 1.0*max(a.size, rest[i-1].size)) {
			break
		}
		out = append(out, a)
	}
	return out
}

// valueBelow is the text under a label: the nearest piece on the next lines
// that overlaps the label.
func (v *view) valueBelow(h hit) []*atom {
	b := boxOf(h.atoms)
	reach := 3.0 * max(h.atoms[0].size, 1)
	for _, l := range v.lines {
		if l.box.CenterY() <= b.Y1 || l.box.Y0-b.Y1 > reach {
			continue
		}
		for _, run := range v.runs(l) {
			if boxOf(run).OverlapX(b) > 0 {
				return run
			}
		}
	}
	return nil
}

// readInto takes a found text apart by the rule and sets the fields.
func (r *reader) readInto(dst map[FieldID]Field, f *FieldRule, text string, atoms []*atom, v *view) {
	p := f.Reads
	if p == nil {
		p = f.Text
	}
	if f.Text != nil {
		hits := find(f.Text, atoms)
		if len(hits) > 0 {
			for _, name := range f.Text.Names {
				if name != "any" && name != "" {
					r.setField(dst, FieldID(name), hits[0].texts[name], hits[0].named[name], v, f.Place, f.Unit)
				}
			}
		}
		return
	}
	if text == "" || r.isMissing(text) {
		for _, id := range f.Fields {
			if id != "any" {
				r.setField(dst, id, text, atoms, v, f.Place, f.Unit)
			}
		}
		return
	}
	got, ok := p.matchWhole(text)
	if !ok {
		r.hold("field-differs", v.placeOf(atoms), f.Place, fmt.Sprintf("the text beside %s does not have the form it used to have", f.looksFor()), p.Src, text, nextLayout)
		return
	}
	for _, id := range f.Fields {
		if id != "any" {
			r.setField(dst, id, got[string(id)], atoms, v, f.Place, f.Unit)
		}
	}
}

func (r *reader) isMissing(text string) bool {
	t := normalise(text)
	for _, w := range r.l.Style.Missing {
		if t == normalise(w) {
			return true
		}
	}
	return false
}

// setField sets one field from its printed text.
func (r *reader) setField(dst map[FieldID]Field, id FieldID, text string, atoms []*atom, v *view, rule ingest.Place, unit string) {
	f := Field{Printed: text, Rule: rule}
	if len(atoms) > 0 {
		f.Place = v.placeOf(atoms)
	}
	if r.tooLong(fieldWords(id), text, f.Place, rule) {
		f.Printed = shorten(text)
		dst[id] = f
		return
	}
	if o := ocrOf(atoms); o != nil && !o.Agree && hasDigit(text) && id != ClientAddress && id != ClientPhone {
		r.ocrDiffers(f.Place, rule, fieldWords(id), atoms, o)
	}
	if text == "" || r.isMissing(text) {
		dst[id] = f
		return
	}
	switch id {
	case DateSampled, DateReceived, DateReported:
		f.Value = r.date(text, atoms)
		if f.Value == "" {
			r.hold("date-unreadable", f.Place, rule, fmt.Sprintf("%s can't be read", fieldWords(id)), "a date written as "+orWord(strings.Join(r.l.Style.Dates, " or "), "declared under dates"), text,
				"if the laboratory writes dates differently now, add the pattern under dates; a word for not known belongs under missing")
		}
	case Depth, DepthTop:
		if !r.readDepth(&f, id, text, unit, atoms, dst) {
			break
		}
	case LandUse:
		f.Value = r.landUse(text)
	default:
		f.Value = text
	}
	dst[id] = f
}

// landUse gives the lab's word in ours; a word nobody knows stays as printed,
// since it is no number, and the advice will ask.
func (r *reader) landUse(text string) string {
	t := strings.ToLower(normalise(text))
	if w, ok := r.l.mapping.LandUses[t]; ok {
		return w
	}
	if w, ok := r.vocab.Resolve(LandUseWord, t); ok {
		return w
	}
	return t
}

func (r *reader) date(text string, atoms []*atom) string {
	if len(atoms) == 1 && atoms[0].kind() == ingest.DateCell && len(atoms[0].full()) >= 10 {
		return atoms[0].full()[:10]
	}
	for _, p := range r.l.Style.Dates {
		if d, ok := parseDate(p, text); ok {
			return d
		}
	}
	return ""
}

// sampleKey names a sample for messages.
func sampleKey(s *SampleExtract) string {
	for _, id := range []FieldID{LabSampleID, ClientSampleID} {
		if f := s.Fields[id]; f.Value != "" {
			return f.Value
		}
	}
	return "without a number"
}

// checkSamples holds a report in which two samples have the same number or a
// sample has none.
func (r *reader) checkSamples() {
	by := map[string][]*SampleExtract{}
	numbered, example := false, ""
	for _, s := range r.out.Samples {
		if id := s.Fields[LabSampleID].Value; hasDigit(id) && !numbered {
			numbered, example = true, "a number with digits, such as "+id
		}
	}
	for _, s := range r.out.Samples {
		k := s.Fields[ReportNo].Value + "/" + s.Fields[LabSampleID].Value
		if id := s.Fields[LabSampleID]; id.Value != "" && !hasDigit(id.Value) && (numbered || !isLetterOrDigitLast(id.Value)) {
			r.hold("sample-without-number", orPlace(id.Place, s.Place), id.Rule, "the laboratory's number of a sample has no digits, so a part of it may be missing", orWord(example, "a number with digits"), id.Value, "look at the page; if the laboratory calls its samples so, correct the rule for lab_sample_id in the mapping")
		}
		if s.Fields[LabSampleID].Value == "" && s.Fields[ClientSampleID].Value == "" {
			r.hold("sample-without-number", s.Place, r.l.Place, "a sample has neither the laboratory's number nor the client's name for it", "a sample number", "none", "look at the page; correct the rule for lab_sample_id in the mapping")
		}
		if id := s.Fields[LabSampleID]; id.Value == "" && id.Printed == "" && s.Fields[ClientSampleID].Value != "" && r.l.numbersSamples() {
			r.reason(&ingest.Reason{Code: "sample-without-number", Severity: ingest.Flag, Where: orPlace(id.Place, s.Place), Rule: id.Rule, What: fmt.Sprintf("no laboratory number is printed for the sample %s", s.Fields[ClientSampleID].Value),
				Expected: orWord(example, "the laboratory's number of the sample"), Found: "nothing", Next: "look at the report, and ask the laboratory for the number"})
		}
		if s.Fields[LabSampleID].Value != "" && slices.ContainsFunc(by[k], func(o *SampleExtract) bool { return !layerOf(s).beside(layerOf(o)) }) {
			r.hold("sample-twice", s.Place, r.l.Place, "two samples of this report have the same number", "each sample number once, or once for each layer of soil", s.Fields[LabSampleID].Value, "ask the laboratory which results belong to which sample")
		}
		by[k] = append(by[k], s)
	}
}

// numbersSamples reports whether the layout reads the laboratory's number of
// each sample from where it always stands.
func (l *Layout) numbersSamples() bool {
	for _, rules := range [][]*FieldRule{l.Sample, l.Report} {
		if slices.ContainsFunc(rules, func(f *FieldRule) bool { return !f.Optional && slices.Contains(f.Fields, LabSampleID) }) {
			return true
		}
	}
	return slices.ContainsFunc(l.Tables, func(t *Table) bool {
		return slices.ContainsFunc(t.Columns, func(c *Column) bool {
			return !c.Optional && (c.Field == LabSampleID || c.Reads != nil && contains(c.Reads.Names, string(LabSampleID)))
		})
	})
}

// isLetterOrDigitLast reports whether a sample's name is whole to its end: one
// that ends with a dash or a stroke waits for the number behind it.
func isLetterOrDigitLast(s string) bool {
	last, _ := utf8.DecodeLastRuneInString(s)
	return unicode.IsLetter(last) || unicode.IsDigit(last)
}

// orPlace is the first of two places that is known.
func orPlace(p, q ingest.Place) ingest.Place {
	if p.IsZero() {
		return q
	}
	return p
}
