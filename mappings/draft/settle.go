package draft

import (
	"slices"
	"sort"
	"strings"
	"unicode"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// settle decides what holds one sample, which fields belong to the report
// and which to a sample, and enters the tests into the catalogue.
func (l *layoutDraft) settle(d *drafter, pages [][]foundField, idsOnPage int) {
	rowKind, across := false, false
	for _, t := range l.tables {
		if t.kind != "test" {
			t.promoteColumn()
		}
		if t.kind == "reading" || t.kind == "sample" && t.hasID() {
			rowKind = true
		}
		for _, c := range t.cols {
			across = across || c.role == "samples"
		}
	}
	switch {
	case rowKind:
		l.oneEach = "row"
	case across:
		l.oneEach = "column"
	case l.oneEach == "block" || idsOnPage > 1:
		l.oneEach = "block"
	case l.format == ingest.XLSX:
		l.oneEach = "sheet"
	default:
		l.oneEach = "page"
	}
	if l.oneEach == "row" || l.oneEach == "column" {
		var keep []*foundTable
		for _, t := range l.tables {
			if t.hasID() || l.oneEach == "column" && t.across {
				keep = append(keep, t)
			} else {
				l.ask = append(l.ask, "a table headed "+quoted(strings.Join(t.titles(), " | "))+" has no sample numbers and is not read; does it hold results?")
			}
		}
		l.tables, l.labels, l.sentences = keep, nil, nil
	}
	l.splitFields(d, pages)
	l.coverFields()
	if l.oneEach == "block" && l.block == "" {
		l.oneEach = "page"
		l.ask = append(l.ask, "a page seems to hold several samples, but no text was found with which each begins; write one sample each: block and block: {begins: ...}")
	}
	for _, t := range l.tables {
		for _, c := range t.cols {
			l.seeColumn(d, c, t.fieldRows())
		}
	}
	for _, f := range l.labels {
		l.labelTest(d, f)
	}
	for i := range l.sentences {
		f := &l.sentences[i]
		l.number.see(f.value)
		e := d.tests.find(f.label)
		if e == nil {
			e = d.tests.add(f.label, f.m)
		}
		if f.inText {
			e.unprinted = f.unit
			continue
		}
		e.addUnit(d, f.unit)
	}
}

func (l *layoutDraft) labelTest(d *drafter, f foundLabel) {
	label := strings.TrimSuffix(f.label, ":")
	e := d.tests.find(label)
	if e == nil {
		e = d.tests.add(label, f.m)
	}
	if f.bare {
		e.bare = true
	}
	if f.unit == "" && len(e.units) == 0 && e.unprinted == "" && e.m.unit != "" && !selfUnit(e.m.analyte) {
		e.unprinted = e.m.unit // the label itself names it
		return
	}
	if !e.addUnit(d, f.unit) && !selfUnit(e.m.analyte) && len(e.units) == 0 {
		d.noUnit(nil, e)
	}
}

// promoteColumn takes a column of sample numbers for the laboratory's when no
// better column or label stands for them: a long list can't be read without.
func (t *foundTable) promoteColumn() {
	var best *column
	for _, c := range t.cols {
		if c.role == string(mappings.LabSampleID) {
			return
		}
		if c.role == string(mappings.ClientSampleID) && best == nil && share(c.cells, func(x string) bool { return idLike.MatchString(x) || t.kind == "reading" && hasDigit(x) }) > 0.95 {
			best = c
		}
	}
	if best == nil {
		return
	}
	best.role, best.conf = string(mappings.LabSampleID), 0.6
	best.ask = append(best.ask, "are these the laboratory's numbers of the samples, or the client's names for them?")
}

func (t *foundTable) hasID() bool {
	for _, c := range t.cols {
		if c.role == string(mappings.LabSampleID) || c.role == string(mappings.ClientSampleID) {
			return true
		}
	}
	return false
}

// fieldRows are the rows of a table with samples across that hold fields.
func (t *foundTable) fieldRows() map[int]bool {
	out := map[int]bool{}
	for _, c := range t.cols {
		if c.role != "test" {
			continue
		}
		for i, label := range c.cells {
			if slices.ContainsFunc(t.fields, func(f fieldRow) bool { return mappings.Squeeze(f.row) == mappings.Squeeze(label) }) {
				out[i] = true
			}
		}
	}
	return out
}

func (t *foundTable) titles() []string {
	var out []string
	for _, c := range t.cols {
		out = append(out, c.title())
	}
	return out
}

// coverFields takes what a cover sheet says of the whole report, where the
// sheets with the results do not say it themselves.
func (l *layoutDraft) coverFields() {
	taken := map[mappings.FieldID]bool{}
	for _, f := range append(slices.Clone(l.report), l.sample...) {
		for _, id := range f.ids {
			taken[id] = true
		}
	}
	for _, t := range l.tables {
		for id := range t.reads() {
			taken[id] = true
		}
	}
	for _, f := range l.cover {
		if f.ids[0] == mappings.LabSampleID || f.ids[0] == mappings.ClientSampleID || slices.ContainsFunc(f.ids, func(id mappings.FieldID) bool { return taken[id] }) {
			continue
		}
		for _, id := range f.ids {
			taken[id] = true
		}
		l.report = append(l.report, f)
	}
}

// reads are the fields that a table's columns and field rows read.
func (t *foundTable) reads() map[mappings.FieldID]bool {
	out := map[mappings.FieldID]bool{}
	for _, c := range t.cols {
		out[mappings.FieldID(c.role)] = true
	}
	for _, f := range t.fields {
		out[mappings.FieldID(f.reads)] = true
	}
	return out
}

// seeColumn notes how a column's cells are written.
func (l *layoutDraft) seeColumn(d *drafter, c *column, fieldRows map[int]bool) {
	switch c.role {
	case "result", "samples", "index":
		for i, t := range c.cells {
			if fieldRows[i] {
				continue // what a sample is called is no result
			}
			if i < len(c.kinds) && c.kinds[i] == ingest.NumberCell {
				continue
			}
			switch {
			case isValue(t):
				l.number.see(t)
			case c.m.analyte != "texture" && numeric(c) && wordForNone(t) && !d.ratingWord(t):
				l.number.maybe[t] = true
			}
		}
	case "unit", "method", "rating", "nothing", "test":
	case "qualifier":
		for _, t := range c.filled() {
			if isMissing(t) {
				l.number.missing[t] = true
			}
		}
	default:
		for _, t := range c.filled() {
			if isMissing(t) {
				l.number.missing[t] = true
			}
		}
	}
}

// wordForNone reports whether a cell among numbers can only say that there
// is none: a short word without digits.
func wordForNone(t string) bool {
	if _, texture := words().texture[fold(t)]; texture {
		return false
	}
	return t != "" && !hasDigit(t) && len(t) <= 24 && len(strings.Fields(t)) <= 3
}

// sampleFields are those that belong to a sample where a report may have
// several.
var sampleFields = map[mappings.FieldID]bool{mappings.LabSampleID: true, mappings.ClientSampleID: true, mappings.LandUse: true, mappings.Depth: true}

func (l *layoutDraft) splitFields(d *drafter, pages [][]foundField) {
	inTable := map[mappings.FieldID]bool{}
	for _, t := range l.tables {
		for _, c := range t.cols {
			inTable[mappings.FieldID(c.role)] = true
		}
		for _, f := range t.fields {
			for _, name := range []mappings.FieldID{mappings.LandUse, mappings.Depth, mappings.ClientSampleID} {
				if strings.Contains(f.reads, string(name)) {
					inTable[name] = true
				}
			}
		}
	}
	count := map[string]int{}
	values := map[string]map[string]bool{}
	first := map[string]foundField{}
	raw, blocks := map[string]int{}, 0
	var keys []string
	for _, fs := range pages {
		blockLine := 1 << 30
		if l.oneEach == "block" {
			fs = l.promoteSample(fs)
			for _, f := range fs {
				if f.ids[0] == mappings.LabSampleID {
					blockLine = min(blockLine, f.line)
				}
			}
		} else {
			fs = l.promoteSample(fs)
		}
		var above, inside []foundField
		for _, f := range fs {
			if f.line < blockLine {
				above = append(above, f)
			} else {
				inside = append(inside, f)
			}
		}
		for _, f := range inside {
			raw[f.reads()+"\x00"+f.how+f.label]++
			if f.ids[0] == mappings.LabSampleID {
				blocks++
			}
		}
		for _, f := range append(once(above), once(inside)...) {
			skip := false
			for _, id := range f.ids {
				skip = skip || inTable[id]
				if (l.oneEach == "row" || l.oneEach == "column") && (id == mappings.LabSampleID || id == mappings.ClientSampleID) {
					skip = true
				}
			}
			if skip {
				continue
			}
			k := f.reads() + "\x00" + f.how + f.label
			if f.line >= blockLine {
				k += "\x00in"
			}
			if count[k] == 0 {
				keys = append(keys, k)
				first[k] = f
				values[k] = map[string]bool{}
			}
			count[k]++
			values[k][f.value] = true
		}
		var chain []string
		for _, id := range []mappings.FieldID{mappings.DateSampled, mappings.DateReceived, mappings.DateReported} {
			for _, f := range fs {
				if f.ids[0] == id {
					chain = append(chain, f.value)
					break
				}
			}
		}
		l.order = append(l.order, chain)
	}
	taken := map[mappings.FieldID]bool{}
	for _, k := range keys {
		f := first[k]
		dup := false
		for _, id := range f.ids {
			dup = dup || taken[id]
		}
		if dup {
			continue
		}
		for _, id := range f.ids {
			taken[id] = true
		}
		f.optional = count[k] < len(pages)
		for v := range values[k] {
			if v != "" && isMissing(v) {
				l.number.missing[v] = true
			}
		}
		switch {
		case l.oneEach == "block" && strings.HasSuffix(k, "\x00in"):
			if f.ids[0] == mappings.LabSampleID {
				l.block, l.blockTail = f.label, f.tail
				continue
			}
			f.optional = raw[strings.TrimSuffix(k, "\x00in")] < blocks
			l.sample = append(l.sample, f)
		case l.oneEach == "page" && (sampleFields[f.ids[0]] || len(values[k]) > 1):
			l.sample = append(l.sample, f)
		case l.oneEach == "sheet":
			l.sample = append(l.sample, f)
		default:
			l.report = append(l.report, f)
		}
	}
}

// promoteSample takes the label "Sample" for the laboratory's number when no
// better label stands on the page and its value has a number's form.
func (l *layoutDraft) promoteSample(fs []foundField) []foundField {
	for _, f := range fs {
		if f.ids[0] == mappings.LabSampleID {
			return fs
		}
	}
	var out []foundField
	for _, f := range fs {
		if len(f.ids) == 1 && f.ids[0] == mappings.ClientSampleID {
			switch fold(f.label) {
			case "sample", "sampleno", "samplenumber", "sample#", "no", "sampleid", "sampleidentification", "identification", "samplecode":
				if digits := len(strings.Join(digitRun.FindAllString(f.value, -1), "")); digits >= 3 && !strings.Contains(f.value, " ") {
					f.ids, f.conf, f.ask = []mappings.FieldID{mappings.LabSampleID}, 0.7, "is this the laboratory's number of the sample?"
				}
			}
		}
		out = append(out, f)
	}
	return out
}

// recogniseTexts are the texts by which the laboratory's reports are known:
// its name, and another text that stands on all of them.
func (l *layoutDraft) recogniseTexts(d *drafter) (texts []string, lab string) {
	type cand struct {
		text  string
		score float64
	}
	var all []cand
	doc := l.docs[0]
	values, headings := map[string]bool{}, map[string]bool{}
	for _, f := range append(append([]foundField(nil), l.report...), l.sample...) {
		values[f.value] = true
	}
	for _, t := range l.tables {
		for _, c := range t.cols {
			for _, h := range append(append([]string{c.title()}, c.under...), c.heading...) {
				headings[h] = true
			}
		}
	}
	top := l.headLine()
	if l.format == ingest.CSV && top < 2 {
		return l.nameless(), "" // it begins with its headings
	}
	for _, p := range doc.Pages {
		if p.Hidden {
			continue
		}
		s := newSheet(doc, p)
		big := 0.0
		for i := range s.lines {
			big = max(big, s.lines[i].size)
		}
		for i := range s.lines {
			ln := &s.lines[i]
			if l.format == ingest.CSV && (int(ln.box.Y0) >= top-1 || len(ln.runs) > 2) {
				continue // a list, or a label with its value
			}
			far := i > 8 && i < len(s.lines)-3
			for _, r := range ln.runs {
				text := r.text
				if far && !labName(text) {
					continue
				}
				if cut := strings.IndexAny(text, "0123456789"); cut > 0 {
					if len(strings.Fields(text[:cut])) > 5 || d.states(text) != "" {
						continue // a sentence with a number, and no name or address
					}
					text = strings.TrimRight(text[:cut], " ,:(-|")
				}
				if len(text) < 8 || hasDigit(text) || strings.HasSuffix(r.text, ":") || fieldOf(text) != "" || strings.Trim(text, "=-_. ") == "" || len(strings.Fields(text)) > 9 {
					continue
				}
				score := 0.0
				if hasAny(text, words().Laboratory) {
					score += 3
				}
				if !s.grid && r.words[0].Size >= 0.99*big {
					score += 3
				}
				if i < 3 {
					score += 1.5
				} else if i > 8 {
					score -= 1
				}
				if r.box.X0 == ln.box.X0 {
					score += 0.2
				}
				if strings.HasSuffix(text, ".") && len(strings.Fields(text)) > 4 {
					score -= 5 // a sentence, as of a letter
				}
				if strings.Contains(text, "@") || strings.Contains(text, ",") {
					score -= 1.5
				}
				if s := fieldStart(&textLine{words: r.words}); s > 0 && s < len(r.words) && !hasAny(text, words().Laboratory) {
					score -= 3
				}
				if d.known(text) || d.fieldPair(&r) || strings.Contains(text, ":") || values[r.text] || headings[r.text] || headings[text] {
					score -= 5
				}
				for a := 0; a < len(r.words); a++ {
					for b := a + 1; b <= min(len(r.words), a+3); b++ {
						if t, _, ok := joinWords(r.words[a:b], s.grid); ok && score < 3 && d.understood(t) {
							score -= 2 // a sentence about a result
							a = len(r.words)
							break
						}
					}
				}
				all = append(all, cand{text, score})
			}
		}
		break
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].score > all[j].score })
	for _, c := range all {
		ok := true
		p := mappings.Literal(c.text)
		for _, o := range l.docs {
			ok = ok && mappings.Stands(p, o)
		}
		for _, t := range texts {
			ok = ok && !strings.Contains(t, c.text) && !strings.Contains(c.text, t)
		}
		if ok && c.score >= 1 {
			texts = append(texts, c.text)
		}
		if len(texts) == 2 {
			break
		}
	}
	if len(texts) == 0 {
		return l.nameless(), ""
	}
	return texts, texts[0]
}

// headLine is the row of the headings of a layout's first table, 0 for none.
func (l *layoutDraft) headLine() int {
	if len(l.tables) == 0 {
		return 0
	}
	return l.tables[0].headRow
}

// nameless are the texts by which a report is known that does not name its
// laboratory, which is asked about: another laboratory may use the same
// headings, and a renamed heading makes the report one that nothing knows.
func (l *layoutDraft) nameless() []string {
	l.noName = true
	l.ask = append(l.ask, "these reports don't name their laboratory, so they are known by their headings alone. If they come by mail, write the laboratory's address under senders")
	return l.headingTexts()
}

// labName reports whether a text can be a laboratory's name wherever it
// stands: a few words with capitals, of which one is a word for laboratories.
func labName(text string) bool {
	ws := strings.Fields(text)
	if len(ws) < 2 || len(ws) > 7 || !hasAny(text, words().Laboratory) || hasDigit(text) {
		return false
	}
	for _, w := range ws {
		if r := []rune(w); len(r) > 3 && !unicode.IsUpper(r[0]) {
			return false
		}
	}
	return true
}

// headingTexts are the headings that every file of a layout has, for files
// that do not name their laboratory.
func (l *layoutDraft) headingTexts() []string {
	var out []string
	for _, t := range l.tables {
		for _, c := range t.cols {
			h := c.heading[0]
			ok := len(h) > 1 && !c.optional
			for _, doc := range l.docs {
				ok = ok && mappings.Stands(mappings.Literal(h), doc)
			}
			if ok {
				out = append(out, h)
			}
		}
	}
	// The longest are the most particular; they stay in printed order.
	if len(out) > 5 {
		byLen := append([]string(nil), out...)
		sort.SliceStable(byLen, func(i, j int) bool { return len(byLen[i]) > len(byLen[j]) })
		keep := map[string]bool{}
		for _, h := range byLen[:5] {
			keep[h] = true
		}
		var short []string
		for _, h := range out {
			if keep[h] {
				short = append(short, h)
				keep[h] = false
			}
		}
		out = short
	}
	return out
}
