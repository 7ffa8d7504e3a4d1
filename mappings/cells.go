package mappings

import (
	"fmt"
	"math/big"
	"slices"
	"strings"

	"example.org/windrow/ingest"
)

// A cell is what the report says about one result, before it is a reading.
type cell struct {
	test      *Test
	rule      ingest.Place
	result    string
	atoms     []*atom // of the result
	unit      string  // printed, "" when none
	unitAtoms []*atom
	method    string   // printed
	methodCol bool     // the report has a place for the method of every result
	section   *SkipRow // the title above the row that names its method
	rating    string
	qualifier string
	signAtoms []*atom // of the qualifier
	label     *PrintedLabel
	beside    string // what stands between a label and its value or behind it, and is no part of either
	index     string
	clashes   []clash
}

// A clash is what two places of a report say differently of one result, though
// only one can be meant.
type clash struct{ name, first, second string }

// fill takes the texts of a pattern's placeholders.
func (c *cell) fill(texts map[string]string, named map[string][]*atom) {
	for name, t := range texts {
		c.set(name, t, named[name])
	}
}

func (c *cell) set(name, text string, atoms []*atom) {
	if text == "" && name != "result" {
		return // what a cell leaves out doesn't undo what the heading or another cell says
	}
	switch name {
	case "result":
		c.differs(name, c.result, text)
		c.result, c.atoms = text, atoms
	case "unit":
		c.differs(name, c.unit, text)
		c.unit, c.unitAtoms = text, atoms
	case "method":
		c.differs(name, c.method, text)
		c.method = text
	case "rating":
		c.differs(name, c.rating, text)
		c.rating = text
	case "qualifier":
		c.differs(name, c.qualifier, text)
		c.qualifier, c.signAtoms = text, atoms
	case "index":
		c.differs(name, c.index, text)
		c.index = text
	case "any":
		c.beside = text
	}
}

// differs notes that something is said a second time, and otherwise than the
// first. What stands there twice alike says one thing.
func (c *cell) differs(name, first, second string) {
	if first != "" && second != "" && normalise(first) != normalise(second) {
		c.clashes = append(c.clashes, clash{name, first, second})
	}
}

// addReading turns a cell into a reading of the sample, or into a reason.
// It reports whether there was anything to read.
func (r *reader) addReading(v *view, s *SampleExtract, c *cell) bool {
	t := c.test
	broken := len(c.atoms) == 1 && c.atoms[0].kind() == ingest.ErrorCell
	r.unitInCell(c)
	if c.result == "" && c.index == "" && !broken {
		return false
	}
	rd := Reading{Analyte: t.Analyte, Detail: t.Detail, Method: t.Method, Basis: t.Basis, Printed: c.result, Rule: c.rule,
		Place: v.placeOf(c.atoms), PrintedUnit: c.unit, PrintedMethod: c.method, Rating: c.rating, Index: c.index, Scale: t.Published, Label: c.label}
	if t.PerVolume {
		rd.Per = "volume"
	}
	if len(c.unitAtoms) > 0 {
		rd.UnitPlace = v.placeOf(c.unitAtoms)
	}
	note := t.Label + " of sample " + sampleKey(s)
	for _, text := range []string{c.result, c.unit, c.method, c.rating, c.qualifier, c.index} {
		if r.tooLong("the text of "+note, text, rd.Place, c.rule) {
			use(c.atoms, Mark{As: "result", Note: note, Rule: c.rule})
			return true
		}
	}
	if r.isMissing(c.rating) {
		rd.Rating = ""
	} else if c.rating != "" {
		rd.RatingClass, rd.Band = r.ratingClass(&rd, c.rating, rd.Place, c.rule), t.band(c.rating)
	}
	rd.OCR = ocrOf(c.atoms)
	if rd.OCR != nil && !rd.OCR.Agree && (hasDigit(c.result) || hasDigit(rd.OCR.Second)) {
		r.ocrDiffers(rd.Place, c.rule, note, c.atoms, rd.OCR)
	}
	for _, x := range c.clashes {
		if x.name == "unit" && !r.twoUnits(x, t) {
			continue
		}
		r.hold("read-twice", rd.Place, c.rule, fmt.Sprintf("the report says the %s of %s twice, and differently", x.name, note), "one "+x.name, x.first+" and "+x.second,
			"look at the page; if two columns of results stand for two units, give the second its unit: in the mapping; if one of the two is something else, say what it reads; if the laboratory contradicts itself, ask it")
	}
	r.method(&rd, c, note)
	if !r.number(&rd, c, note) {
		return true
	}
	if q := normalise(c.qualifier); len(c.signAtoms) > 0 && rd.Censor != "" && (rd.Censor == q || rd.Censor == limitSigns[r.l.mapping.Qualifiers[q]]) {
		rd.SignPlace = v.placeOf(c.signAtoms)
	}
	r.unit(&rd, c, note)
	r.form(&rd, c, note)
	for i := range s.Readings {
		if o := &s.Readings[i]; repeats(o, &rd) {
			r.hold("read-twice", rd.Place, c.rule, fmt.Sprintf("%s is in the report twice", note), "one result", o.Printed+" and "+rd.Printed, "if the two are different tests, give them different details or methods under tests")
		}
	}
	use(c.atoms, Mark{As: "result", Note: note, Rule: c.rule})
	if s.Readings == nil {
		s.Readings = make([]Reading, 0, r.perSample) // the samples of a table have as many results each
	}
	s.Readings = append(s.Readings, rd)
	r.perSample = max(r.perSample, len(s.Readings))
	return true
}

// twoUnits reports whether a clash is of two units of the test that are not
// two ways to write one; of a word that is none of its units, unit tells.
func (r *reader) twoUnits(x clash, t *Test) bool {
	a, known := r.l.mapping.unitID(x.first, r.vocab)
	b, also := r.l.mapping.unitID(x.second, r.vocab)
	printed := func(u string) bool { return normalise(u) == normalise(x.second) }
	return known && also && a != b && slices.ContainsFunc(t.Units, printed)
}

// repeats reports whether two readings of a sample are of one test in one form,
// so that one of them is too many. A laboratory that prints a test in two units
// or as two forms of the element says the same twice in other words: both are
// kept, and the checks of the record set one against the other.
func repeats(a, b *Reading) bool {
	return sameTest(a, b) && a.Unit == b.Unit && formOf(a) == formOf(b)
}

func sameTest(a, b *Reading) bool {
	return a.Analyte == b.Analyte && a.Detail == b.Detail && a.Method == b.Method
}

// formOf is the form of the element that a reading is of: its basis, or the
// analyte itself.
func formOf(rd *Reading) string {
	if rd.Basis == "" || rd.Basis == elementOf(rd.Analyte) {
		return rd.Analyte
	}
	return rd.Basis
}

func ratingWords(m *Mapping) []string {
	set := map[string]bool{}
	for w := range m.Ratings {
		set[w] = true
	}
	return sortedKeys(set)
}

// ocrOf is how the words of a value were read from a picture: as unsure as
// the least sure of them. It is nil for text.
func ocrOf(as []*atom) *ingest.OCR {
	var out *ingest.OCR
	for _, a := range as {
		if a.ocr == nil {
			continue
		}
		if out == nil {
			c := *a.ocr
			out = &c
			continue
		}
		out.Confidence = min(out.Confidence, a.ocr.Confidence)
		out.Agree = out.Agree && a.ocr.Agree
		out.Second += " " + a.ocr.Second
		out.Proof = bothProofs(out.Proof, a.ocr.Proof)
	}
	return out
}

// bothProofs is the proof of two words together: there is none unless a person
// saw both. It tells what the recogniser had of those that it misread.
func bothProofs(a, b *ingest.Proofread) *ingest.Proofread {
	if a == nil || b == nil {
		return nil
	}
	c := *a
	c.Read = strings.TrimSpace(a.Read + " " + b.Read)
	return &c
}

// number reads the value itself.
func (r *reader) number(rd *Reading, c *cell, note string) bool {
	t := c.test
	if r.isMissing(c.result) {
		rd.Missing = normalise(c.result)
		return true
	}
	if t.InWords {
		rd.Words = normalise(c.result)
		return true
	}
	st := r.l.Style
	percent := false
	if len(c.atoms) == 1 {
		switch a := c.atoms[0]; a.kind() {
		case ingest.NumberCell:
			// A sheet shows its numbers by its own format, whatever the lab's
			// texts look like.
			st.Decimal, st.Thousands = ".", ","
			rd.Full = a.full()
			percent = strings.HasSuffix(a.text, "%")
		case ingest.DateCell:
			r.hold("date-for-number", rd.Place, c.rule, fmt.Sprintf("the cell of %s holds a date", note), "a number such as 6.4", c.result, "a spreadsheet may have turned a number into a date: ask the laboratory")
			use(c.atoms, Mark{As: "result", Note: note})
			return false
		case ingest.ErrorCell:
			r.hold("cell-error", rd.Place, c.rule, fmt.Sprintf("the cell of %s holds an error or a formula without a value", note), "a number", orWord(c.result, "no stored value"), "open the workbook, let it recalculate, save it and drop it again, or ask the laboratory")
			use(c.atoms, Mark{As: "result", Note: note})
			return false
		}
	}
	n, err := st.parseNumber(c.result)
	for _, group := range []string{" ", "'"} {
		// A sheet's own format may group digits otherwise; what is stored bears it out below.
		if err != nil && rd.Full != "" && strings.Contains(c.result, group) {
			st.Thousands = group
			n, err = st.parseNumber(c.result)
		}
	}
	if err != nil {
		what, next := fmt.Sprintf("%s can't be read as a number", note), "compare with the page; if the laboratory writes it so, declare the word under missing, or the sign under marks or numbers"
		if letterInNumber(c.result) {
			what, next = what+": a letter stands among its digits", nextLetter
		}
		r.hold("not-a-number", rd.Place, c.rule, what, "a number such as "+st.example()+", or a word declared under missing", c.result+"   ("+err.Error()+")", next)
		use(c.atoms, Mark{As: "result", Note: note})
		return false
	}
	if percent && rd.Full != "" {
		// The percent format shows a hundred times what is stored; a percent
		// sign that is only written behind the number doesn't. Where both would
		// show the same, next to nothing, only what is shown is known.
		switch h := hundredfold(rd.Full); {
		case h == "":
		case !rounds(rd.Full, n.Digits):
			rd.Full = h
		case rounds(h, n.Digits):
			rd.Full = ""
		}
	}
	if rd.Full != "" && within(rd.Full, n) {
		rd.Full = "" // a format that shows a limit in place of what lies beyond it
	}
	if rd.Full != "" && !rounds(rd.Full, n.Digits) {
		r.hold("cell-shows-another-number", rd.Place, c.rule, fmt.Sprintf("the cell of %s shows another number than it holds", note), rd.Full+" as stored", c.result+" as shown", "a number format hides or scales the value: open the workbook, look at the cell, and ask the laboratory which is meant")
		use(c.atoms, Mark{As: "result", Note: note})
		return false
	}
	rd.Number, rd.Censor, rd.Missing, rd.Mark = n.Digits, n.Censor, n.Missing, n.Mark
	switch q := normalise(c.qualifier); {
	case q == "":
	case (q == "<" || q == ">") && rd.Censor == "":
		rd.Censor = q
	case r.isMissing(q):
	default:
		r.qualify(rd, c, note, q)
	}
	return true
}

// qualifierMeanings are what the mapping can say that a laboratory's own
// qualifier means for the number beside it, and limitSigns those that make it a limit.
var (
	qualifierMeanings = []string{"less than", "more than", "in doubt", "as printed"}
	limitSigns        = map[string]string{"less than": "<", "more than": ">"}
)

// qualify takes a qualifier that is no < or > for what the mapping says it means.
func (r *reader) qualify(rd *Reading, c *cell, note, q string) {
	means, known := r.l.mapping.Qualifiers[q]
	sign := limitSigns[means]
	switch {
	case !known || sign != "" && rd.Censor != "" && rd.Censor != sign:
		words := sortedKeys(r.l.mapping.Qualifiers)
		r.hold("qualifier-unknown", rd.Place, c.rule, fmt.Sprintf("the qualifier beside %s is not known", note), strings.Join(append([]string{"<, >"}, words...), ", ")+" or nothing", q, "ask what the laboratory means by it, or look in its guide, and add it under qualifiers in the mapping")
	case sign != "":
		rd.Censor = sign
	case means == "in doubt":
		rd.Doubts = append(rd.Doubts, &ingest.Reason{Code: "result-in-doubt", Severity: ingest.Flag, Where: rd.Place, Rule: c.rule, What: fmt.Sprintf("the laboratory itself puts %s in doubt", note), Expected: "a result without a qualifier", Found: c.result + " " + q, Next: "see the laboratory's guide for what the sign means, or ask the laboratory"})
	}
}

const nextLetter = "compare with the report: if a letter was typed for a digit, such as O for 0, ask the laboratory which number is meant"

// letterInNumber reports whether a text is digits with letters among them
// that look like digits, and nothing else.
func letterInNumber(s string) bool {
	return hasDigit(s) && strings.Trim(s, "0123456789.,OoIlSBZ|") == "" && strings.ContainsAny(s, "OoIlSBZ|")
}

// mostText is the longest text, in bytes, that a field or a word of a result
// may have: a long address has a tenth of it.
const mostText = 2000

// tooLong holds a report with a text that no report has: a cell in which half
// a file was swallowed would fill every letter and table made from it.
func (r *reader) tooLong(what, text string, at, rule ingest.Place) bool {
	if len(text) <= mostText {
		return false
	}
	r.hold("text-too-long", at, rule, what+" is longer than a report prints it", fmt.Sprintf("at most %d characters", mostText), fmt.Sprintf("%d, beginning %s", len(text), shorten(text)), "open the file: a quotation mark that is missing or a damaged cell may have swallowed what follows; ask the laboratory for it again")
	return true
}

// hundredfold is a plain decimal times a hundred, exactly; "" for anything
// else.
func hundredfold(s string) string {
	r, ok := new(big.Rat).SetString(s)
	if !ok {
		return ""
	}
	r.Mul(r, big.NewRat(100, 1))
	places, exact := r.FloatPrec()
	if !exact {
		return ""
	}
	return r.FloatString(places)
}

// rounds reports whether the stored number rounds to the one shown: they
// differ by no more than half a unit of the last digit shown.
func rounds(stored, shown string) bool {
	a, ok := new(big.Rat).SetString(stored)
	b, ok2 := new(big.Rat).SetString(shown)
	if !ok || !ok2 {
		return false
	}
	half := big.NewRat(1, 2)
	if _, frac, has := strings.Cut(shown, "."); has {
		for range frac {
			half.Mul(half, big.NewRat(1, 10))
		}
	}
	diff := new(big.Rat).Sub(a, b)
	// A stored binary fraction may miss the half by its own last bit.
	half.Mul(half, big.NewRat(1_000_001, 1_000_000))
	return diff.Abs(diff).Cmp(half) <= 0
}

// within reports whether a stored number lies within the limit that is shown in
// its place: 0.02 shown as <0.05.
func within(stored string, shown number) bool {
	a, ok := new(big.Rat).SetString(stored)
	b, ok2 := new(big.Rat).SetString(shown.Digits)
	if !ok || !ok2 || a.Sign() < 0 {
		return false
	}
	return shown.Censor == "<" && a.Cmp(b) < 0 || shown.Censor == ">" && a.Cmp(b) > 0
}

// unit verifies the unit and gives its id.
func (r *reader) unit(rd *Reading, c *cell, note string) {
	t := c.test
	m := r.l.mapping
	if c.unit == "" {
		switch {
		case t.Unprinted || t.MayLack:
			rd.Unit, _ = m.unitID(t.Units[0], r.vocab)
		case len(t.Units) == 0 && t.Dimension != "":
			rd.Unit = t.Dimension
		case rd.Missing != "" && len(t.Units) > 0:
			rd.Unit, _ = m.unitID(t.Units[0], r.vocab)
		default:
			r.hold("unit-missing", rd.Place, c.rule, fmt.Sprintf("no unit is printed for %s", note), orWord(strings.Join(t.Units, " or "), "a unit"), "none", "if the laboratory's guide states the unit, write unit not printed: under tests in the mapping")
		}
		return
	}
	id, known := m.unitID(c.unit, r.vocab)
	ok := false
	for _, u := range t.Units {
		ok = ok || normalise(u) == normalise(c.unit)
	}
	if len(t.Units) == 0 && known && id == t.Dimension {
		ok = true
	}
	if !ok && !known && letterInNumber(c.result+c.unit) {
		r.hold("not-a-number", rd.Place, c.rule, fmt.Sprintf("%s can't be read as a number: a letter stands among its digits", note), "a number such as "+r.l.Style.example(), c.result+c.unit, nextLetter)
		return
	}
	if !ok {
		at := rd.UnitPlace
		if at.IsZero() {
			at = rd.Place
		}
		r.hold("unit-differs", at, t.Place, fmt.Sprintf("the unit of %s is not one that this laboratory prints for it", note), orWord(strings.Join(t.Units, " or "), "no unit"), c.unit,
			"if the laboratory's guide allows this unit, add it to the test in the mapping; otherwise ask the laboratory")
	}
	rd.Unit = id
}

// method settles the method from the page and the catalogue.
func (r *reader) method(rd *Reading, c *cell, note string) {
	if c.section != nil {
		if id := c.section.Method; c.test.Method != "" && !related(id, c.test.Method) {
			r.hold("method-differs", rd.Place, c.section.Place, fmt.Sprintf("the title above %s names another method than the mapping has for the test", note), c.test.Method, id, "if the laboratory changed its method, add a layout or correct the test; where the title says it, leave method out of the test")
		} else if c.test.Method == "" {
			rd.Method = id
		}
	}
	if c.method == "" || r.isMissing(c.method) {
		if c.section != nil {
			return
		}
		if c.methodCol && c.test.Method == "" {
			rd.Doubts = append(rd.Doubts, &ingest.Reason{Code: "method-missing", Severity: ingest.Flag, Where: rd.Place, Rule: c.rule, What: fmt.Sprintf("no method is printed for %s, although this laboratory prints methods", note), Expected: "a method", Found: orWord(c.method, "nothing"), Next: "ask the laboratory"})
		}
		return
	}
	id, ok := c.test.Methods[normalise(c.method)]
	if !ok {
		var ref MethodRef
		ref, ok = r.l.mapping.Methods[normalise(c.method)]
		id = ref.ID
	}
	if !ok {
		if id, ok = r.vocab.Resolve(MethodWord, c.method); ok && c.label != nil {
			// What the words of the mapping mean is the mapping's to say; where
			// it has none for them, a label that names a method must agree.
			if m, printed := r.mention(c.label.words(), MethodWord); m != "" && !related(m, id) {
				r.hold("method-differs", rd.Place, c.rule, fmt.Sprintf("the method printed for %s is not the one that its label names", note), printed, c.method, "ask the laboratory which is right; if both mean the same, say under method words what the printed method means")
			}
		}
	}
	switch {
	case !ok:
		r.hold("method-unknown", rd.Place, c.rule, fmt.Sprintf("the method printed for %s is not known", note), "a method named under method words in the mapping", c.method, "add the words under method words with the method they mean")
	case c.test.Method != "" && c.test.Method != id:
		r.hold("method-differs", rd.Place, c.test.MethodRule, fmt.Sprintf("the method printed for %s is not the one in the mapping", note), c.test.Method, c.method, "if the laboratory changed its method, add a layout or correct the test; results by two methods can't be compared")
	case c.section != nil && !related(c.section.Method, id):
		r.hold("method-differs", rd.Place, c.section.Place, fmt.Sprintf("the method printed for %s is not the one that the title above it names", note), c.section.Method, c.method, "ask the laboratory which is right")
	default:
		rd.Method = id
	}
}
