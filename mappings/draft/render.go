package draft

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

var (
	plainText = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9_ ./()+-]*$`)
	notPlain  = regexp.MustCompile(`(?i)^(y|n|yes|no|true|false|on|off|null|none|nan|inf)$`)
)

// yamlText quotes a text where YAML asks for it.
func yamlText(s string) string {
	if plainText.MatchString(s) && !notPlain.MatchString(s) && s == strings.TrimSpace(s) {
		return s
	}
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`, "\n", " ", "\t", " ").Replace(s) + `"`
}

func yamlList(ss []string) string {
	var out []string
	for _, s := range ss {
		out = append(out, yamlText(s))
	}
	return "[" + strings.Join(out, ", ") + "]"
}

// note is the comment at the end of a line.
func note(conf float64, because string, ask []string) string {
	var parts []string
	if conf > 0 {
		c := fmt.Sprintf("confidence %.2g", conf)
		if because != "" {
			c += ": " + because
		}
		parts = append(parts, c)
	}
	seen := map[string]bool{}
	for _, a := range ask {
		if a != "" && !seen[a] {
			seen[a] = true
			parts = append(parts, "QUESTION: "+a)
		}
	}
	if len(parts) == 0 {
		return ""
	}
	return "  # " + strings.ReplaceAll(strings.Join(parts, "; "), "\n", " ")
}

// render writes the whole mapping.
func (d *drafter) render() string {
	var b strings.Builder
	p := func(format string, a ...any) { fmt.Fprintf(&b, format+"\n", a...) }
	p("# A draft, made from %d report(s). Go through the lines with QUESTION first; then", d.files)
	p("# compare the values at the end with the reports. The mapping holds every report until no question is left.")
	p("windrow mapping: 1")
	p("lab: %s%s", yamlText(d.lab), note(d.labConf, "", d.labAsk))
	p("id: %s", d.id)
	p("")
	known := d.layouts[0]
	if i := slices.IndexFunc(d.layouts, func(l *layoutDraft) bool { return !l.noName }); i > 0 {
		known = d.layouts[i]
	}
	p("recognise: %s%s", yamlList(literals(known.recognise)), note(0.8, "they stand on every report of this layout", nil))
	if len(d.ratings) > 0 {
		p("ratings:")
		for _, w := range sortedKeys(d.ratings) {
			id, ask := d.ratingClass(w)
			if id == "" {
				p("  # QUESTION: which class does the word %s mean? Write: %s: low, medium, optimum, high ...", quoted(w), yamlText(w))
				continue
			}
			p("  %s: %s%s", yamlText(w), yamlText(id), note(0, "", ask))
		}
		if !d.anyRating() {
			b.WriteString("  {}\n")
		}
	}
	d.renderUnits(p)
	if len(d.methodWords)+len(d.methodKeys) > 0 {
		p("method words:")
		for _, w := range sortedKeys(d.methodKeys) {
			p("  %s: %s%s", yamlText(w), yamlText(d.methodKeys[w]), note(0.85, "the report's own key says so", nil))
		}
		for _, w := range sortedKeys(d.methodWords) {
			p("  %s: %s%s", yamlText(w), yamlText(d.methodWords[w]), note(0.7, "", []string{"is " + quoted(d.methodWords[w]) + " right for " + quoted(w) + "?"}))
		}
	}
	p("")
	if un := d.noMethod(); len(un) > 0 {
		p("# QUESTION: by which method these are measured stands beside none of them, or not in every kind of file%s. Write method: in their lines:", d.methodHint)
		p("#   %s", strings.Join(un, ", "))
	}
	if slices.ContainsFunc(d.tests.list, func(e *testEntry) bool { return e.unprinted != "-" }) {
		p("tests:")
	}
	for _, e := range d.tests.list {
		if e.unprinted == "-" {
			p("  # QUESTION: in which unit is %s (%s) given? Write: %s: {analyte: %s, unit not printed: ...}", quoted(e.label), e.m.analyte, yamlText(e.label), e.m.analyte)
			continue
		}
		d.renderTest(p, e)
	}
	d.renderCompanions(p)
	p("")
	p("layouts:")
	for _, l := range d.layouts {
		d.renderLayout(p, l)
	}
	d.renderExamples(p)
	return b.String()
}

// noMethod are the tests whose method neither the labels nor a column give.
func (d *drafter) noMethod() []string {
	var out []string
	for _, e := range d.tests.list {
		if e.m.method == "" && (!e.methodPrinted || d.withoutMethod(e)) && e.unprinted != "-" {
			out = append(out, e.label)
		}
	}
	return out
}

func literals(ss []string) []string {
	var out []string
	for _, s := range ss {
		out = append(out, mappings.Literal(s))
	}
	return out
}

func (d *drafter) anyRating() bool {
	for w := range d.ratings {
		if id, _ := d.ratingClass(w); id != "" {
			return true
		}
	}
	return false
}

// ratingClass is our class for a printed word, with a question where the
// word alone leaves it open.
func (d *drafter) ratingClass(w string) (string, []string) {
	t := w
	if i := strings.Index(w, " "); i > 0 && isNumber(w[:i]) {
		t = w[i+1:]
	}
	if e, ok := d.letters[t]; ok {
		if id, ok := d.v.Resolve(mappings.RatingWord, e); ok {
			return id, nil
		}
	}
	id, ok := d.v.Resolve(mappings.RatingWord, t)
	if !ok {
		return "", nil
	}
	if len(t) <= 2 || !hasLetter(t) {
		return id, []string{"does " + quoted(w) + " mean " + id + "?"}
	}
	return id, nil
}

func (d *drafter) renderUnits(p func(string, ...any)) {
	if len(d.unitAs)+len(d.areaUnits) == 0 {
		return
	}
	lines := 0
	out := func(format string, a ...any) {
		if lines == 0 {
			p("units:")
		}
		lines++
		p(format, a...)
	}
	for _, u := range sortedKeys(d.unitAs) {
		out("  %s: %s%s", yamlText(u), yamlText(d.unitAs[u]), note(0.7, "", []string{"does " + quoted(u) + " mean " + d.unitAs[u] + "?"}))
	}
	for _, u := range sortedKeys(d.areaUnits) {
		if s := d.areaBasis(u); s != "" {
			out("  %s: %s%s", yamlText(u), s, note(0.7, "a note on the report says so", []string{"is that the soil that the laboratory means?"}))
			continue
		}
		p("# QUESTION: for what depth and mass of soil does %s stand? See the laboratory's guide, and write under units:", u)
		p("#   %s: {depth: 6 2/3 in, soil: 2000000 lb/acre}", yamlText(u))
	}
}

func (d *drafter) renderTest(p func(string, ...any), e *testEntry) {
	parts := []string{"analyte: " + yamlText(e.m.analyte)}
	if e.m.detail != "" {
		parts = append(parts, "detail: "+yamlText(e.m.detail))
	}
	if e.m.basis != "" {
		parts = append(parts, "basis: "+yamlText(e.m.basis))
	}
	switch {
	case e.unprinted != "":
		parts = append(parts, "unit not printed: "+yamlText(e.unprinted))
	case len(e.units) == 1:
		parts = append(parts, "unit: "+yamlText(e.units[0]))
	case len(e.units) > 1:
		parts = append(parts, "unit: "+yamlList(e.units))
	}
	ask := append([]string(nil), e.ask...)
	if e.bare && len(e.units) > 0 && e.unprinted == "" {
		parts = append(parts, "unit may be absent: yes")
		ask = append(ask, "some of its values are printed without a unit; is it the same?")
	}
	if e.m.method != "" {
		parts = append(parts, "method: "+yamlText(e.m.method))
	}
	p("  %s: {%s}%s", yamlText(e.label), strings.Join(parts, ", "), note(e.m.conf, "", ask))
}

func (d *drafter) renderLayout(p func(string, ...any), l *layoutDraft) {
	p("  - name: %s", yamlText(l.name))
	if l.from != "" {
		p("    from: %s", l.from)
	}
	for _, a := range l.ask {
		p("    # QUESTION: %s", a)
	}
	switch l.format {
	case ingest.PDF:
		p("    format: pdf")
	case ingest.XLSX:
		p("    format: workbook")
	case ingest.HTML:
		p("    format: html")
	case ingest.CSV:
		p("    format: delimited")
		sep := map[string]string{",": "comma", ";": "semicolon", "\t": "tab", "|": "bar"}[l.dialect.Delimiter]
		p("    separator: %s%s", sep, note(0.9, "it gives the rows the same number of fields", nil))
		p("    encoding: %s%s", l.dialect.Encoding, note(0.85, "", nil))
	default:
		p("    format: %s", l.format)
	}
	p("    recognise: %s", yamlList(literals(l.recognise)))
	if len(l.relies) > 0 {
		p("    relies on:%s", note(0.9, "they say how the results were measured or are given, and stand on every report", nil))
		for _, t := range l.relies {
			p("      - %s", yamlText(mappings.Literal(t)))
		}
	}
	p("    one sample each: %s", l.oneEach)
	if l.oneEach == "page" && l.continues != "" {
		p("    sample continues on: %s%s", yamlText(l.continues), note(0.85, "the page says so", nil))
	}
	if l.oneEach == "block" {
		p("    block: {begins: %s}%s", yamlText(strings.TrimSpace(mappings.Literal(l.block)+" {lab_sample_id}"+l.blockTail)), note(0.85, "the label repeats on a page", nil))
	}
	d.dates = l.dates
	if dates, ask := d.settleDates(l.order); len(dates) > 0 {
		p("    dates: %s%s", yamlList(dates), note(0.9, "", []string{ask}))
	} else if len(l.keptDates) > 0 {
		p("    dates: %s", yamlList(l.keptDates))
	}
	decimal, thousands, ask := l.number.settle()
	if thousands != "" {
		p("    numbers: {decimal: %q, thousands: %q}%s", decimal, thousands, note(0.9, "", []string{ask}))
	} else if decimal != "." || ask != "" {
		p("    numbers: {decimal: %q}%s", decimal, note(0.9, "", []string{ask}))
	}
	d.renderMissing(p, l)
	if len(l.number.marks) > 0 {
		p("    marks: %s%s", yamlList(sortedKeys(l.number.marks)), note(0.8, "", []string{"what do these marks on numbers mean? A mark may say that a value is doubtful"}))
	}
	if len(l.sheetsOff) > 0 {
		p("    sheets without results: %s%s", yamlList(literals(l.sheetsOff)), note(0.6, "", []string{"do these sheets hold no client's results?"}))
	}
	d.renderFields(p, "report", l.report)
	if l.oneEach != "row" && l.oneEach != "column" {
		d.renderFields(p, "sample", l.sample)
	}
	if len(l.tables) > 0 {
		p("    tables:")
		for i, t := range l.tables {
			d.renderTable(p, l, t, i)
		}
	}
	d.renderLabels(p, l)
	if len(l.notes) > 0 || len(l.open) > 0 {
		if len(l.notes) == 0 {
			p("    # take the # before the next line away when you put a line under it")
			p("    # not results:")
		} else {
			p("    not results:")
		}
		for _, n := range l.notes {
			to := ""
			if n.to != "" {
				to = ", to before: " + yamlText(n.to)
			}
			p("      - {%s: %s%s, why: %s}%s", n.way, yamlText(n.text), to, yamlText(n.why), note(n.conf, "", []string{n.ask}))
		}
		for _, o := range l.open {
			do := "If it is a result or a field, add it above; if not, declare it here"
			if strings.HasPrefix(o.declare, "read ") {
				do = "If they are fields, " + o.declare
			} else if o.declare != "" {
				do = "If it is no result, put in place of this line: " + o.declare
			}
			p("      # QUESTION: what are the numbers in %s? They hold the report. %s", quoted(o.text), do)
		}
	}
}

func (d *drafter) renderFields(p func(string, ...any), key string, fs []foundField) {
	if len(fs) == 0 {
		return
	}
	p("    %s:", key)
	for _, f := range fs {
		opt := ""
		if f.optional {
			opt = ", optional: yes"
		}
		if f.how == "text" {
			p("      - {text: %s%s}%s", yamlText(f.label), opt, note(f.conf, "", []string{f.ask}))
			continue
		}
		if f.tail != "" {
			p("      - {text: %s%s}%s", yamlText(strings.TrimSpace(mappings.Literal(f.label)+" {"+string(f.ids[0])+"}"+f.tail)), opt, note(f.conf, "", []string{f.ask}))
			continue
		}
		p("      - {%s: %s, reads: %s%s}%s", f.how, yamlText(mappings.Literal(f.label)), yamlText(f.reads()), opt, note(f.conf, "", []string{f.ask}))
	}
}

var rowWord = map[string]string{"sample": "a sample", "test": "a test", "reading": "a reading"}

func (d *drafter) renderTable(p func(string, ...any), l *layoutDraft, t *foundTable, i int) {
	p("      - name: %s", tableName(i))
	for _, a := range t.ask {
		p("        # QUESTION: %s", a)
	}
	p("        each row: %s", rowWord[t.kind])
	if t.goesOn {
		p("        heading on each page: no%s", note(0.7, "", []string{"does the table go on over pages without its heading?"}))
	}
	if t.starts != "" {
		p("        starts after: %s", yamlText(mappings.Literal(t.starts)))
	}
	if e := t.end(); e != "" {
		p("        ends before: %s", yamlText(mappings.Literal(e)))
	}
	if t.headRow > 0 && len(l.docs) > 0 {
		p("        heading row: %d", t.headRow)
	}
	p("        columns:")
	samplesDone := false
	for _, c := range t.cols {
		if c.role == "samples" {
			if !samplesDone {
				reads := "result"
				if c.reads != "" {
					reads = yamlText(c.reads)
				}
				p("          - {samples: %s, reads: %s}%s", yamlText(samplePattern(t)), reads, note(0.85, "the headings are sample numbers", nil))
			}
			samplesDone = true
			continue
		}
		p("          - {%s}%s", columnText(c), note(c.conf, c.because, c.ask))
	}
	if len(t.skips) > 0 {
		p("        skip rows:")
		for _, s := range t.skips {
			if s.column != "" {
				p("          - {column: %s, says: %s, why: %s}%s", yamlText(s.column), yamlText(mappings.Literal(s.begins)), yamlText(s.why), note(0.6, "", []string{s.ask}))
				continue
			}
			p("          - {begins: %s, why: %s}%s", yamlText(mappings.Literal(s.begins)), yamlText(s.why), note(0.7, "", []string{s.ask}))
		}
	}
	if len(t.fields) > 0 {
		p("        field rows:")
		for _, f := range t.fields {
			p("          - {row: %s, reads: %s}%s", yamlText(f.row), yamlText(f.reads), note(f.conf, "", []string{f.ask}))
		}
	}
	if t.rating != "" {
		p("        rating row: %s%s", yamlText(t.rating), note(0.8, "its cells are rating words", nil))
	}
}

// tableName is the name of the i-th table of a layout, counted from 0.
func tableName(i int) string {
	if i == 0 {
		return "results"
	}
	return fmt.Sprintf("results %d", i+1)
}

func columnText(c *column) string {
	var parts []string
	if len(c.under) == 1 {
		parts = append(parts, "under: "+yamlText(c.under[0]))
	} else if len(c.under) > 1 {
		parts = append(parts, "under: "+yamlList(c.under))
	}
	if len(c.heading) == 1 {
		parts = append(parts, "heading: "+yamlText(c.heading[0]))
	} else {
		parts = append(parts, "heading: "+yamlList(c.heading))
	}
	if c.unit != "" && c.role != "nothing" {
		parts = append(parts, "unit: "+yamlText(c.unit))
	} else if c.unit != "" {
		parts[len(parts)-1] = "heading: " + yamlList(append(append([]string{}, c.heading...), c.unit))
	}
	switch {
	case c.role == "result" && c.m.analyte != "":
		if c.test != "" {
			parts = append(parts, "test: "+yamlText(c.test))
		}
		if c.reads != "" {
			parts = append(parts, "reads: "+yamlText(c.reads))
		}
	case c.role == "rating" && c.m.analyte != "":
		if len(c.tests) == 1 {
			parts = append(parts, "test: "+yamlText(c.tests[0]), "reads: rating")
		} else {
			parts = append(parts, "test: "+yamlList(c.tests), "reads: rating")
		}
	case c.role == "nothing":
		parts = append(parts, "reads: nothing", "why: "+yamlText(c.why))
		if c.only != "" {
			parts = append(parts, "only: "+yamlText(mappings.Literal(c.only)))
		} else if slices.ContainsFunc(c.filled(), isNumber) {
			parts = append(parts, "numbers: yes") // else one would hold the report, as a row that slipped does
		}
	case c.role == "result" && c.reads != "":
		parts = append(parts, "reads: "+yamlText(c.reads))
	default:
		parts = append(parts, "reads: "+c.role)
		if c.form != "" {
			parts = append(parts, "only: "+yamlText(c.form))
		}
	}
	if c.optional {
		parts = append(parts, "optional: yes")
	}
	return strings.Join(parts, ", ")
}

// samplePattern is the common form of the sample numbers at the heads of
// columns: # for a digit where all have as many, * elsewhere.
func samplePattern(t *foundTable) string {
	var forms []string
	for _, c := range t.cols {
		if c.role == "samples" {
			forms = append(forms, regexp.MustCompile(`\d`).ReplaceAllString(mappings.Literal(c.title()), "#"))
		}
	}
	same := true
	for _, f := range forms {
		same = same && f == forms[0]
	}
	if same {
		return forms[0]
	}
	runs := regexp.MustCompile(`#+`)
	first := runs.ReplaceAllString(forms[0], "#*")
	for _, f := range forms {
		if runs.ReplaceAllString(f, "#*") != first {
			return "*#*"
		}
	}
	return first
}
