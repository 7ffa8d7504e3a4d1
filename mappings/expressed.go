package mappings

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"example.org/windrow/ingest"
)

// A statement is what a printed text says of the form that its numbers are
// given in: of the element of an analyte, or of an oxide or ion of it. An
// amount of P2O5 that is taken for one of P is 2.29 times too high, and
// nothing else in a report need contradict it.
type statement struct {
	forms   []string // ids of the oxides and ions that the text names, such as P2O5, and that are not the element by what follows them
	spelled []string // those of them that stand there as a formula, and not as a word of the trade
	element bool     // the text says that the element is meant: NO3-N, phosphate as P
}

// ions are the forms behind which the element is written where the number is
// of the element: NO3-N, SO4-S, and N-NO3 the other way round. Behind an
// oxide it would say nothing. Common practice, no source.
var ions = map[string]bool{"NO3": true, "NO2": true, "NH4": true, "SO4": true, "PO4": true, "BO3": true, "BO4": true}

// elementOf is the symbol of the element that an analyte is measured as, and
// "" where it is no element: P for P, N for NO3-N.
func elementOf(analyte string) string {
	_, s, ok := strings.Cut(analyte, "-")
	if !ok {
		s = analyte
	}
	if s == leading(s) {
		return s
	}
	return ""
}

// leading is the symbol with which a formula begins: P of P2O5.
func leading(formula string) string {
	if formula == "" || formula[0] < 'A' || formula[0] > 'Z' {
		return ""
	}
	if len(formula) > 1 && formula[1] >= 'a' && formula[1] <= 'z' {
		return formula[:2]
	}
	return formula[:1]
}

// A piece is a run of letters and digits, with the signs before it.
type piece struct{ sep, text string }

// lowered turns the small digits of a formula into plain ones and leaves out
// the charge of an ion.
var lowered = strings.NewReplacer("₀", "0", "₁", "1", "₂", "2", "₃", "3", "₄", "4", "₅", "5", "₆", "6", "₇", "7", "₈", "8", "₉", "9",
	"⁺", "", "⁻", "", "¹", "", "²", "", "³", "", "⁴", "")

func pieces(text string) []piece {
	var out []piece
	var sep, word strings.Builder
	end := func() {
		if word.Len() > 0 {
			out = append(out, piece{sep.String(), word.String()})
			sep.Reset()
			word.Reset()
		}
	}
	for _, r := range normalise(lowered.Replace(text)) {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			word.WriteRune(r)
			continue
		}
		end()
		sep.WriteRune(r)
	}
	end()
	return out
}

// stated is what a text says of the form of the analyte's numbers.
func stated(text, analyte string, vocab Vocabulary) statement {
	var out statement
	symbol := elementOf(analyte)
	if symbol == "" || text == "" {
		return out
	}
	if id, ok := vocab.Resolve(AnalyteWord, text); ok && id == analyte && hasForm(text) {
		return statement{element: true} // a word of the trade for the element itself, such as sulfate sulfur
	}
	ps := pieces(text)
	type found struct {
		id      string
		formula bool
		as      bool
	}
	var bare []found
	strong := false
	for i := 0; i < len(ps); {
		if strings.EqualFold(ps[i].text, "elemental") || strings.EqualFold(ps[i].text, "as") && i+1 < len(ps) && isElement(ps[i+1].text, symbol, vocab) {
			out.element, strong = true, true
		}
		id, n, formula, ends := formAt(ps[i:], symbol, vocab)
		if n == 0 {
			i++
			continue
		}
		next := i + n
		follows := next < len(ps) && isElement(ps[next].text, symbol, vocab) && joins(ps[next].sep)
		before := i > 0 && ions[id] && ps[i].sep == "-" && isElement(ps[i-1].text, symbol, vocab)
		if (ends || follows || before) && (ions[id] || !formula) {
			out.element = true
		} else {
			bare = append(bare, found{id, formula, i > 0 && strings.EqualFold(ps[i-1].text, "as")})
		}
		i = next
	}
	for _, f := range bare {
		if strong || out.element && !f.as && (ions[f.id] || !f.formula) {
			continue // says again what NO3-N has said
		}
		if !slices.Contains(out.forms, f.id) {
			out.forms = append(out.forms, f.id)
		}
		if f.formula {
			out.spelled = append(out.spelled, f.id)
		}
	}
	return out
}

// hasForm reports whether a text can name an oxide or ion at all: it is more
// than a symbol.
func hasForm(text string) bool { return len(pieces(text)) > 1 || len(text) > 3 }

// joins reports whether only such signs stand between two pieces as divide a
// compound from its element: NO3-N, NO3 N, NH4+-N.
func joins(sep string) bool {
	return strings.Trim(strings.TrimPrefix(sep, "+"), " ._-") == ""
}

// isElement reports whether a word is the element's symbol or name.
func isElement(word, symbol string, vocab Vocabulary) bool {
	if word == symbol || word == strings.ToLower(symbol) {
		return true
	}
	if len(word) < 4 {
		return false
	}
	if symbol == "N" && strings.EqualFold(word, "nitrogen") {
		return true
	}
	id, ok := vocab.Resolve(AnalyteWord, strings.ToLower(word))
	return ok && id == symbol
}

// formAt is the oxide or ion of the element that the first pieces name, with
// how many pieces it takes. ends says that the last of them has the element
// in it, as NO3N has.
func formAt(ps []piece, symbol string, vocab Vocabulary) (id string, n int, formula, ends bool) {
	of := func(text string) string {
		if id, ok := vocab.Resolve(BasisWord, text); ok && id != symbol && leading(id) == symbol && elementOf(id) == "" {
			return id
		}
		return ""
	}
	for n := min(4, len(ps)); n > 1; n-- {
		words, whole, apart := ps[0].text, ps[0].text, true
		for _, p := range ps[1:n] {
			apart = apart && strings.Trim(p.sep, " ._") == ""
			words, whole = words+" "+p.text, whole+p.text
		}
		if !apart {
			continue
		}
		if id := of(strings.ToLower(words)); id != "" && !hasDigit(words) {
			return id, n, false, false
		}
		// P2 O5 and p 2 o 5, but no. 3 is a number.
		if id := of(whole); id != "" && (whole == id || whole == strings.ToLower(id) && hasDigit(id) && ps[0].text != "no") {
			return id, n, true, false
		}
	}
	t := ps[0].text
	if id := of(t); id != "" {
		return id, 1, strings.EqualFold(t, id), false
	}
	if id := of(strings.ToLower(t)); id != "" {
		return id, 1, strings.EqualFold(t, id), false
	}
	// A nought for the letter, as in P205 and K20.
	if id := of(strings.ReplaceAll(t, "0", "O")); id != "" && strings.ReplaceAll(t, "0", "O") == id {
		return id, 1, true, false
	}
	if cut := strings.TrimSuffix(strings.TrimSuffix(t, symbol), strings.ToLower(symbol)); cut != t && cut != "" {
		if id := of(cut); id != "" {
			return id, 1, strings.EqualFold(cut, id), true
		}
	}
	// The charge of an ion behind its formula: SO42-.
	if k := len(t) - 1; k > 2 && (t[k] == '2' || t[k] == '3') && t[k-1] >= '0' && t[k-1] <= '9' {
		if id := of(t[:k]); ions[id] {
			return id, 1, true, false
		}
	}
	return "", 0, false, false
}

// compound reports whether a basis is an oxide or ion of the analyte's
// element: neither the element nor a word such as index.
func compound(basis, analyte string) bool {
	return basis != "" && elementOf(basis) == "" && elementOf(analyte) != "" && leading(basis) == elementOf(analyte)
}

// isUnit says, as a text of the decoder, that a text is a unit: what a unit
// names no basis can deny.
const isUnit = true

// expressed complains of a printed text of the mapping that names an oxide or
// ion of the test's element where the test does not say which of the two its
// numbers are of, and where the two contradict each other.
func (d *decoder) expressed(t *Test, text string, unit bool, complain func(what, expected, found, next string)) {
	st := stated(text, t.Analyte, d.vocab)
	t.element = t.element || st.element
	for _, f := range st.forms {
		if !slices.Contains(t.named, f) {
			t.named = append(t.named, f)
		}
	}
	if len(st.forms) == 0 || t.asked {
		return
	}
	form, symbol := st.forms[0], elementOf(t.Analyte)
	switch {
	case t.Basis == "":
		t.asked = true
		complain(fmt.Sprintf("%q names %s, and nothing says whether the numbers are of %s or of %s", text, form, form, symbol),
			fmt.Sprintf("basis: %s, or basis: %s where the laboratory's guide says that the number is of the element", form, symbol), "no basis",
			fmt.Sprintf("look in the laboratory's guide, or ask it, and add the basis to the test %q; a number of the one that is taken for the other is wrong", t.Label))
	case slices.Contains(st.forms, t.Basis):
	case len(st.spelled) > 0 && compound(t.Basis, t.Analyte) || unit && (elementOf(t.Basis) != "" || compound(t.Basis, t.Analyte)):
		t.asked = true
		complain(fmt.Sprintf("%q names %s, and the basis of the test is %s", text, form, t.Basis), "basis: "+form, "basis: "+t.Basis,
			"make the two agree: look in the laboratory's guide, or ask it, what its numbers are of")
	}
}

// words are the texts of a pattern that are looked for, without its signs.
func (p *Pattern) words() string {
	var b strings.Builder
	rs := []rune(p.Src)
	for i := 0; i < len(rs); i++ {
		switch rs[i] {
		case '\\':
			if i+1 < len(rs) {
				i++
				b.WriteRune(rs[i])
			}
		case '{':
			for i < len(rs) && rs[i] != '}' {
				i++
			}
			b.WriteString("…")
		case '*', '#':
			b.WriteString("…")
		default:
			b.WriteRune(rs[i])
		}
	}
	return strings.TrimSpace(b.String())
}

// aroundResult is the clause of a sentence that its result stands in. What
// the next clause says of phosphate is advice.
func (p *Pattern) aroundResult() string {
	before, after, _ := strings.Cut(p.Src, "{result}")
	for _, end := range []string{". ", "; "} {
		if i := strings.LastIndex(before, end); i >= 0 {
			before = before[i+len(end):]
		}
		if i := strings.Index(after, end); i >= 0 {
			after = after[:i]
		}
	}
	return (&Pattern{Src: before + "{result}" + after}).words()
}

// An expression is what is printed for a result that can say which form it is
// given in.
type expression struct {
	test                *Test
	label, unit, beside string
}

// form holds a result whose printed label or unit names another form of the
// element than the mapping knows: a heading that was P and has become P2O5
// can still fit a general text of the mapping.
func (r *reader) form(rd *Reading, c *cell, note string) {
	if elementOf(c.test.Analyte) == "" || rd.Missing != "" {
		return
	}
	k := expression{c.test, c.label.words(), c.unit, c.beside}
	what, known := r.forms[k]
	if !known {
		what = contradiction(k, r.vocab)
		if r.forms == nil {
			r.forms = map[expression]string{}
		}
		r.forms[k] = what
	}
	if what == "" {
		return
	}
	t := c.test
	basis := t.Basis
	if basis == "" {
		basis = elementOf(t.Analyte)
	}
	at, printed := rd.Place, strings.Join(strings.Fields(k.label+" "+k.beside+" "+k.unit), " ")
	if c.label != nil && !c.label.Place.IsZero() {
		at = c.label.Place
	}
	r.hold("basis-differs", at, c.rule, fmt.Sprintf("what is printed for %s names another form of the element than the mapping: %s", note, what), "numbers of "+basis, printed,
		fmt.Sprintf("if the laboratory now gives this test as another form, add a layout or a test with its basis, such as basis: %s; otherwise ask the laboratory which it means", what))
}

// contradiction is the form that a printed label or unit names and that the
// mapping does not know for the test; "" where there is none.
func contradiction(k expression, vocab Vocabulary) string {
	for _, text := range [...]string{k.label, k.unit, beginsWithForm(k.beside, k.test.Analyte, vocab)} {
		st := stated(text, k.test.Analyte, vocab)
		for _, f := range st.forms {
			if f != k.test.Basis && !slices.Contains(k.test.named, f) {
				return f
			}
		}
		if st.element && compound(k.test.Basis, k.test.Analyte) && !k.test.element {
			return elementOf(k.test.Analyte)
		}
	}
	return ""
}

// beginsWithForm is the text if it says at once which form a number is of, as
// "as P2O5" does: the rest of a remark that begins otherwise is about something
// else, such as what to apply.
func beginsWithForm(text, analyte string, vocab Vocabulary) string {
	ps := pieces(text)
	for len(ps) > 0 && slices.Contains([]string{"as", "expressed", "in", "of"}, strings.ToLower(ps[0].text)) {
		ps = ps[1:]
	}
	if symbol := elementOf(analyte); symbol == "" || len(ps) == 0 {
		return ""
	} else if _, n, _, _ := formAt(ps, symbol, vocab); n == 0 {
		return ""
	}
	return text
}

// aroundValue takes what a label's text has between the label and the value,
// and behind the value and its unit.
func (c *cell) aroundValue(text string) {
	before, after, ok := strings.Cut(normalise(text), normalise(c.result))
	if !ok || c.result == "" {
		return
	}
	c.beside = strings.TrimSpace(before)
	if c.beside == "" {
		c.beside = strings.TrimSpace(strings.TrimPrefix(strings.TrimSpace(after), normalise(c.unit)))
	}
}

// headLabels gives each column its label as printed.
func (v *view) headLabels(h *heads) {
	for _, x := range h.list {
		if x.col.Test == nil {
			continue
		}
		first := x.atoms
		for _, b := range x.below {
			first = first[:len(first)-len(b)]
		}
		var levels []string
		for _, as := range x.over {
			levels = append(levels, joined(as))
		}
		levels = append(levels, joined(first))
		for _, as := range x.below {
			levels = append(levels, joined(as))
		}
		x.label = &PrintedLabel{strings.Join(levels, HeadingLevels), v.placeOf(first)}
	}
}

// clauseOf is what a sentence says before its result, as a label of it, and
// what it says behind it. A sentence that begins with its result is its own
// label.
func (v *view) clauseOf(h *hit) (label *PrintedLabel, behind string) {
	if v.grid && len(h.atoms) == 1 {
		return v.clauseIn(h)
	}
	first, last := -1, -1
	for i, a := range h.atoms {
		if slices.Contains(h.named["result"], a) {
			last = i
			if first < 0 {
				first = i
			}
		}
	}
	as := h.atoms
	if first > 0 {
		as = h.atoms[:first]
		for i, a := range as {
			if i+1 < len(as) && strings.ContainsAny(a.text[len(a.text)-1:], ".;") {
				as = h.atoms[i+1 : first] // what the clause before it says is of something else
			}
		}
	}
	if rest := h.atoms[last+1:]; len(rest) > 0 {
		behind = strings.TrimSpace(strings.TrimPrefix(joined(rest), h.texts["unit"]))
	}
	return &PrintedLabel{joined(as), v.placeOf(as)}, behind
}

// clauseIn is clauseOf for a sentence within a cell: a web page has a whole
// paragraph in one, and what its other sentences say is of something else.
func (v *view) clauseIn(h *hit) (label *PrintedLabel, behind string) {
	before, rest := h.span[:h.value], h.span[h.value:]
	for _, end := range []string{". ", "; "} {
		if i := strings.LastIndex(before, end); i >= 0 {
			before = before[i+len(end):]
		}
	}
	behind = strings.TrimSpace(strings.TrimPrefix(rest, h.texts["result"]))
	behind = strings.TrimSpace(strings.TrimPrefix(behind, h.texts["unit"]))
	if before = strings.TrimSpace(before); before == "" {
		before = h.span
	}
	return &PrintedLabel{before, v.placeOf(h.atoms)}, behind
}

// A PrintedLabel is the heading or label under which a value is printed.
// Values of one column share one.
type PrintedLabel struct {
	Text  string       `json:"text"` // as printed; the levels of a heading from the widest to the narrowest, with " > " between them
	Place ingest.Place `json:"place,omitzero"`
}

// words are the label as running text.
func (l *PrintedLabel) words() string {
	if l == nil {
		return ""
	}
	return strings.ReplaceAll(l.Text, HeadingLevels, " ")
}

// HeadingLevels stands between the levels of a heading in the text of a
// [PrintedLabel].
const HeadingLevels = " > "
