package mappings

import (
	"regexp"
	"slices"
	"strings"

	"example.org/windrow/ingest"
)

// A sentence that stands on a report and that no rule of the mapping reads, or
// declares by its words, may say how its results are to be understood: "all results in
// kg/ha", "phosphorus by Olsen from this year on", "preliminary results". The
// mapping knows what the laboratory used to do, and a sentence that says
// otherwise is how it announces a change. What agrees with the mapping is let
// pass, and so is everything else: addresses, advice, thanks.

var (
	// ofAll is in a sentence about each result, and unless in one that has exceptions.
	ofAll  = regexp.MustCompile(`(?i)\b(?:all|every|each)\b`)
	unless = regexp.MustCompile(`(?i)\b(?:unless|except|otherwise|other than|but)\b`)
	moist  = regexp.MustCompile(`(?i)\b(?:moist|wet|fresh|as[- ]received|undried)\b`)
	dry    = regexp.MustCompile(`(?i)\b(?:dry|dried|corrected)\b`)
	volume = regexp.MustCompile(`(?i)\b(?:volume[- ]basis|by volume|per (?:unit )?volume|per lit(?:re|er) of (?:\w+ )?soil|volumetric(?:ally)?|scooped volume)\b`)
	asWord = regexp.MustCompile(`(?i)\b(?:as|is|are)\s+([a-z]{4,})\b`)
	asForm = regexp.MustCompile(`(?i)\b(?:as|in)\s+(?:(?:the|an|its|their|pure)\s+)?(element(?:s|al form)?|oxides?(?: form)?)\b|\b(elemental|oxide)\s+(?:form|basis|values?)\b`)
)

// saysOtherwise holds the report for each such sentence that contradicts what
// was read by the mapping.
func (r *reader) saysOtherwise() {
	if !slices.ContainsFunc(r.out.Samples, func(s *SampleExtract) bool { return len(s.Readings) > 0 }) {
		return
	}
	for _, m := range r.remarks {
		r.contradictedBy(sayingsOf(m.text, true), m.at, nil)
		r.doubtful(m)
	}
	for _, v := range r.views {
		for _, as := range v.stamps() {
			r.contradicted(joined(as), v.placeOf(as), nil)
		}
		known := r.knownOn(v)
		for i := 0; i < len(v.lines); i++ {
			l := v.lines[i]
			if v.grid {
				for k, a := range l.atoms {
					if text := r.unknownIn(a); text != "" {
						if k+1 < len(l.atoms) && matrixLabel.MatchString(text) {
							text += " " + l.atoms[k+1].text // a label and what stands beside it
						}
						r.contradicted(text, v.placeOf(l.atoms[k:k+1]), r.partOf(a.mark))
					}
				}
				continue
			}
			as := l.atoms
			if !r.untouched(l) {
				if as = r.afterDeclared(l); as == nil {
					for _, free := range freeRuns(l) {
						for _, rest := range beyond(free, known) {
							r.contradicted(joined(rest), v.placeOf(rest), nil)
						}
					}
					continue
				}
			} else if r.boilerplate(l) {
				continue
			}
			if rest := beyond(as, known); len(rest) != 1 || len(rest[0]) < len(as) {
				// Of a line with words that the mapping names, what stands before and behind them.
				for _, as := range rest {
					r.contradicted(joined(as), v.placeOf(as), r.partOf(as[0].mark))
				}
				continue
			}
			// What runs over several lines is one text, up to its full stop.
			text, at := joined(as), v.placeOf(as)
			for i+1 < len(v.lines) && !strings.HasSuffix(text, ".") && len(text) < mostSentence && r.goesOn(v.lines[i], v.lines[i+1], known) {
				i++
				text += " " + joined(v.lines[i].atoms)
			}
			r.contradicted(text, at, r.partOf(as[0].mark))
		}
	}
}

// A remark is what stands in a column of words that the mapping reads nothing
// from and whose words it does not name.
type remark struct {
	text string
	at   ingest.Place
}

// remark keeps a text to be looked at once all results are read; the same words
// beside many results are one remark.
func (r *reader) remark(text string, at ingest.Place) {
	if len(strings.Fields(text)) < 2 || r.remarked[text] {
		return // a word by itself is looked at where it stands
	}
	if r.remarked == nil {
		r.remarked = map[string]bool{}
	}
	r.remarked[text] = true
	r.remarks = append(r.remarks, remark{text, at})
}

// freeRuns are the runs of three words or more of a line of which something was
// read, that nothing has read or declared: what a sentence says beside a field.
func freeRuns(l *line) [][]*atom {
	var out [][]*atom
	from := 0
	for i := 0; i <= len(l.atoms); i++ {
		if i < len(l.atoms) && l.atoms[i].mark == nil {
			continue
		}
		if i-from > 2 {
			out = append(out, l.atoms[from:i])
		}
		from = i + 1
	}
	return out
}

// afterDeclared is what follows on a line after a text that the mapping
// declares by its words; nil where the line holds anything else that was read.
func (r *reader) afterDeclared(l *line) []*atom {
	from := 0
	for i, a := range l.atoms {
		switch {
		case a.mark == nil || r.partOf(a.mark) != nil:
		case a.mark.As == "declared":
			from = i + 1
		default:
			return nil
		}
	}
	if as := l.atoms[from:]; len(as) > 2 {
		return as
	}
	return nil
}

// partOf is the part of a page, above or from some words, or the sheet without
// results, for which a mark stands; nil for any other mark. A part is declared without anybody knowing
// what will stand in it, so that its sentences are looked at all the same.
func (r *reader) partOf(m *Mark) *NotResult {
	if m == nil || m.As != "declared" {
		return nil
	}
	for _, n := range r.l.NotResult {
		if (n.Above != nil || n.From != nil) && n.Place == m.Rule {
			return n
		}
	}
	for _, p := range r.l.NotSheets {
		if p.Place == m.Rule {
			return wholeSheet
		}
	}
	return nil
}

// wholeSheet is the part that a sheet without results is.
var wholeSheet = &NotResult{From: &Pattern{}}

// unknownIn is what a cell says that nothing has read, declared or relied on: of
// one with a text that the mapping names, what stands before and behind it.
func (r *reader) unknownIn(a *atom) string {
	if a.kind() != ingest.TextCell {
		return ""
	}
	text, named := a.text, false
	cut := func(p *Pattern) {
		if at := p.re.FindStringIndex(text); at != nil {
			text, named = text[:at[0]]+" "+text[at[1]:], true
		}
	}
	// A paragraph of a web page is one cell: beside the sentences that are read
	// it may have others.
	apart := func(p *Pattern) {
		if at := p.re.FindStringIndex(text); at != nil {
			text, named = text[:at[0]]+apartSign+text[at[1]:], true
		}
	}
	for _, s := range r.l.Sentences {
		apart(s.Text)
	}
	for _, of := range [][]*FieldRule{r.l.Report, r.l.Sample} {
		for _, f := range of {
			if f.Text != nil {
				apart(f.Text)
			}
		}
	}
	if a.mark != nil && a.mark.As != "declared" && !named {
		return ""
	}
	for _, of := range [][]*Pattern{r.l.ReliesOn, r.l.Recognise} {
		for _, p := range of {
			cut(p)
		}
	}
	for _, n := range r.l.NotResult {
		if n.Text != nil {
			cut(n.Text)
		}
	}
	if a.mark != nil && !named && r.partOf(a.mark) == nil {
		return ""
	}
	return strings.TrimSpace(text)
}

// apartSign stands in a text for a part of it that was read, so that the words on
// its two sides are not taken for one sentence.
const apartSign = " . "

// mostSentence is how far, in bytes, a text is followed over lines that have
// no full stop.
const mostSentence = 400

// goesOn reports whether a line may be the next one of a text: it stands right
// below, and nothing of it was read, declared or relied on.
func (r *reader) goesOn(l, next *line, known map[*atom]bool) bool {
	return r.untouched(next) && !slices.ContainsFunc(next.atoms, func(a *atom) bool { return known[a] }) && !r.boilerplate(next) && r.partOf(l.atoms[0].mark) == r.partOf(next.atoms[0].mark) && next.box.Y0-l.box.Y1 < l.box.Height()
}

// untouched reports whether nothing of a line was read, or declared by its words.
func (r *reader) untouched(l *line) bool {
	return len(l.atoms) > 0 && !slices.ContainsFunc(l.atoms, func(a *atom) bool { return a.mark != nil && r.partOf(a.mark) == nil })
}

// reliedOn reports whether the mapping names a text among what it relies on or
// recognises the laboratory by: its writer has read that.
func (r *reader) reliedOn(as []*atom) bool {
	for _, of := range [][]*Pattern{r.l.ReliesOn, r.l.Recognise} {
		if slices.ContainsFunc(of, func(p *Pattern) bool { return len(find(p, as)) > 0 }) {
			return true
		}
	}
	return false
}

// contradicted holds the report for the sentences of a text. In a part of the
// page that the mapping declares, such as advice, units are mostly those of
// materials: there a sentence must speak of results.
func (r *reader) contradicted(text string, at ingest.Place, part *NotResult) {
	r.contradictedBy(sayingsOf(text, false), at, part)
}

func (r *reader) contradictedBy(said []*saying, at ingest.Place, part *NotResult) {
	for _, s := range said {
		if part != nil && part != wholeSheet && part.From != nil && !s.ofResults && !s.changes {
			continue
		}
		code, what, expected := r.otherwise(s)
		if code == "" {
			continue
		}
		r.reason(&ingest.Reason{Code: code, Severity: ingest.Hold, Where: at, Rule: r.l.Place, What: what, Expected: expected, Found: shorten(s.printed),
			Next: "read the sentence; if it is right, ask the laboratory what has changed and correct the mapping; if it changes nothing, add its words under not results (text or line), so that the next reader knows"})
	}
}

// otherwise is what a sentence says against the mapping: the code of a reason,
// "" for nothing.
func (r *reader) otherwise(say *saying) (code, what, expected string) {
	switch {
	case say.notFinal:
		return "not-final", "the report says that its results are not final", "results that are final"
	case say.scaled:
		return "says-otherwise", "a sentence that the mapping does not know says that the printed numbers are not the results", "numbers that are the results"
	case say.noSoil != "":
		return "says-otherwise", say.noSoil, "soil, by a soil test"
	case say.advises:
		return "", "", ""
	}
	s := say.text
	of := r.readingsNamed(s)
	if say.states || (say.brief || say.few) && (say.everything || len(r.named(s)) > 0) {
		for _, other := range []func(string, []*Reading) (string, string){r.otherUnit, r.otherForm, r.otherSoil} {
			if what, expected := other(s, of); what != "" {
				return "says-otherwise", what, expected
			}
		}
	}
	if say.few {
		if what, expected := r.otherForm(s, of); what != "" {
			return "says-otherwise", what, expected
		}
	}
	if say.extracts {
		if m, printed := r.mention(s, MethodWord); m != "" {
			if got := r.apart(s, of, func(rd *Reading) string { return rd.Method }, func(is string) bool { return related(is, m) }); len(got) > 0 {
				return "says-otherwise", "a sentence that the mapping does not know names another method than the mapping: " + printed, strings.Join(got, ", ")
			}
		}
	}
	return "", "", ""
}

// apart is what the mapping has where none of it agrees with a sentence: of all
// readings, or of those of one of the analytes that the sentence names.
func (r *reader) apart(s string, of []*Reading, what func(*Reading) string, agrees func(string) bool) []string {
	named := r.named(s)
	if len(named) == 0 {
		if got := kinds(of, what); len(got) > 0 && !slices.ContainsFunc(got, agrees) {
			return got
		}
		return nil
	}
	for _, a := range named {
		got := kinds(of, func(rd *Reading) string {
			if rd.Analyte != a {
				return ""
			}
			return what(rd)
		})
		if len(got) > 0 && !slices.ContainsFunc(got, agrees) {
			return got
		}
	}
	return nil
}

func (r *reader) otherUnit(s string, of []*Reading) (what, expected string) {
	u, printed := r.mention(s, UnitWord)
	if u == "" {
		return "", ""
	}
	got := r.apart(s, of, func(rd *Reading) string { return amount(rd.Unit) }, func(is string) bool { return is == u })
	if len(got) == 0 && ofAll.MatchString(s) && !unless.MatchString(s) {
		got = r.notIn(of, u)
	}
	if len(got) > 0 {
		return "a sentence that the mapping does not know names another unit than the mapping: " + printed, strings.Join(got, ", ")
	}
	return "", ""
}

// notIn are the units of the amounts of soil among some readings that are not in
// one unit, and whose test has no other reading in it: a sentence on all results
// is of each. Charges, conductivities and amounts in an extract have units of
// their own beside any such sentence.
func (r *reader) notIn(of []*Reading, unit string) []string {
	soil := func(u string) string {
		if strings.Contains(u, "mol") || strings.Contains(u, "S/") || strings.HasSuffix(u, "/L") || strings.HasPrefix(u, "g/cm") || u == "kg/m3" {
			return ""
		}
		return amount(u)
	}
	if soil(unit) == "" {
		return nil
	}
	in := map[string]bool{}
	for _, rd := range of {
		in[rd.Analyte] = in[rd.Analyte] || rd.Unit == unit
	}
	return kinds(of, func(rd *Reading) string {
		if in[rd.Analyte] {
			return ""
		}
		return soil(rd.Unit)
	})
}

// otherForm compares "as the element", "as oxides" and "as phosphate" with the
// forms that the mapping has.
func (r *reader) otherForm(s string, of []*Reading) (what, expected string) {
	if form := asForm.FindStringSubmatch(s); form != nil {
		oxide := strings.HasPrefix(strings.ToLower(form[1]+form[2]), "oxide")
		got := r.apart(s, of, func(rd *Reading) string {
			if elementOf(rd.Analyte) != rd.Analyte || amount(rd.Unit) == "" || formOf(rd) == rd.Analyte && !oxideIsUsual(rd.Analyte) {
				return ""
			}
			return formOf(rd)
		}, func(is string) bool { return (len(is) > 2) == oxide })
		if len(got) > 0 {
			return "a sentence that the mapping does not know says otherwise than the mapping whether results are of the element or of an oxide", strings.Join(got, ", ")
		}
	}
	named := r.named(s)
	for _, rd := range of {
		if amount(rd.Unit) == "" || !slices.Contains(named, rd.Analyte) {
			continue
		}
		forms := stated(s, rd.Analyte, r.vocab).spelled
		for _, m := range asWord.FindAllStringSubmatch(s, -1) {
			if id, ok := r.vocab.Resolve(BasisWord, strings.ToLower(m[1])); ok && leading(id) == rd.Analyte {
				forms = append(forms, id)
			}
		}
		if len(forms) > 0 && !slices.Contains(forms, formOf(rd)) {
			return "a sentence that the mapping does not know names another form than the mapping: " + strings.Join(forms, ", "), formOf(rd)
		}
	}
	return "", ""
}

// otherSoil finds that results are of moist soil, where every mapping takes them
// to be of dry soil, or of a volume of it, where this one says weight.
func (r *reader) otherSoil(s string, of []*Reading) (what, expected string) {
	if moist.MatchString(s) && !dry.MatchString(s) {
		return "a sentence that the mapping does not know says that results are of moist soil", "results of dry soil"
	}
	byVolume := func(rd *Reading) bool {
		return rd.Per == "volume" || strings.HasSuffix(rd.Unit, "/dm3") || strings.HasSuffix(rd.Unit, "/L")
	}
	if volume.MatchString(s) && slices.ContainsFunc(of, func(rd *Reading) bool { return amount(rd.Unit) != "" }) && !slices.ContainsFunc(of, byVolume) {
		return "a sentence that the mapping does not know says that results are of a volume of soil", "results of a weight of soil"
	}
	return "", ""
}

// oxideIsUsual reports whether laboratories give an element as its oxide as
// often as not, so that what is printed of it says nothing; common practice,
// no source.
func oxideIsUsual(analyte string) bool { return analyte == "P" || analyte == "K" }

// amount is a unit of an amount in soil, and "" for any other.
func amount(unit string) string {
	if strings.Contains(unit, "/") {
		return unit
	}
	return ""
}

// related reports whether of two methods one is the other, or the other told
// more closely: mehlich-3 and mehlich-3-icp.
func related(a, b string) bool {
	return a == b || strings.HasPrefix(a, b+"-") || strings.HasPrefix(b, a+"-")
}

// kinds are the different things that some readings say, without nothing.
func kinds(of []*Reading, what func(*Reading) string) []string {
	var out []string
	for _, rd := range of {
		if w := what(rd); w != "" && !slices.Contains(out, w) {
			out = append(out, w)
		}
	}
	return out
}

// readingsNamed are the readings of the report that a sentence is about, one of
// each sort: those of the analytes that it names, or all.
func (r *reader) readingsNamed(s string) []*Reading {
	named := r.named(s)
	var out []*Reading
	for _, rd := range r.sorts() {
		if rd.Missing == "" && (len(named) == 0 || slices.Contains(named, rd.Analyte)) {
			out = append(out, rd)
		}
	}
	return out
}

// A sortOf is what sentences and words can say of a reading. A list of 50,000
// results has a few dozen sorts, and each of its remarks is held against them.
type sortOf struct {
	analyte, detail, basis, unit, method, per string
	missing                                   bool
}

// sorts are one reading of each sort, in the order of the report. It must not be
// called before all results are read.
func (r *reader) sorts() []*Reading {
	if r.sorted != nil {
		return r.sorted
	}
	r.sorted = []*Reading{}
	seen := map[sortOf]bool{}
	for _, s := range r.out.Samples {
		for i := range s.Readings {
			rd := &s.Readings[i]
			of := sortOf{rd.Analyte, rd.Detail, rd.Basis, rd.Unit, rd.Method, rd.Per, rd.Missing != ""}
			if !seen[of] {
				seen[of] = true
				r.sorted = append(r.sorted, rd)
			}
		}
	}
	return r.sorted
}

// named are the analytes that a sentence names.
func (r *reader) named(s string) []string {
	var out []string
	runs(s, 3, func(text string, n int) bool {
		if len(text) <= 2 && (text == "As" || text == "In" || text == "No" || text == "I" || text == strings.ToLower(text)) {
			return false
		}
		id, ok := r.vocab.Resolve(AnalyteWord, text)
		if !ok {
			if b, known := r.vocab.Resolve(BasisWord, text); known && b != "" {
				id, ok = leading(b), true
			}
		}
		if ok && !slices.Contains(out, id) {
			out = append(out, id)
		}
		return ok
	})
	return out
}

// mention is the id of the first word of a vocabulary in a sentence, and how it
// stands there.
func (r *reader) mention(s string, kind WordKind) (id, printed string) {
	runs(s, 4, func(text string, n int) bool {
		if id != "" || kind == MethodWord && len(text) < 4 {
			return false
		}
		if u, ok := r.vocab.Resolve(kind, text); ok && (kind != UnitWord || strings.Contains(u, "/")) {
			id, printed = u, text
			return true
		}
		return false
	})
	return id, printed
}

// runs offers the words of a sentence, up to most at a time and the longest
// first; a run that is taken is not offered again in part.
func runs(s string, most int, take func(text string, n int) bool) {
	fields := strings.Fields(s)
	for i := 0; i < len(fields); {
		n := min(most, len(fields)-i)
		for ; n > 0; n-- {
			if take(strings.Trim(strings.Join(fields[i:i+n], " "), ".,;:()\"'"), n) {
				break
			}
		}
		i += max(n, 1)
	}
}
