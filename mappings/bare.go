package mappings

import (
	"regexp"
	"slices"
	"strings"

	"example.org/windrow/ingest"
)

// Words that stand by themselves say something too: a unit or a method beside a
// result, in a further cell of its row, or on a line of its own, "below
// detection limit" behind a number. A rule of the mapping that wants them reads
// them; where none does, they are taken for what whoever looks at the page takes
// them for.

// limits are words that, beside a result, say that it is none or not the one that
// is printed; common practice, no source.
var limits = regexp.MustCompile(`(?i)^(?:[<>≤≥~≈]|(?:below|under|above|over|less than|greater than|at or below)\b.*|(?:not|none) detected|n\.?d\.?|bdl|trace|estimated?|approx(?:imate(?:ly)?)?\.?|ten ?fold|doubled|halved|x ?10+|diluted\b.*|invalid|void|repeat(?:ed)?|suspect|questionable|preliminary|provisional|tentative|unconfirmed)$`)

// bareWords holds the report for such words that contradict what was read.
func (r *reader) bareWords() {
	words := r.wordColumns()
	for _, v := range r.views {
		var said map[int][][]*atom // by line
		for n, l := range v.lines {
			if runs := r.loose(v, l, words); len(runs) > 0 {
				if said == nil {
					said = map[int][][]*atom{}
				}
				said[n] = runs
			}
		}
		if len(said) == 0 {
			continue // as on most pages: what they would be about need not be found
		}
		columns := map[float64][]*Test{} // of results in a grid, by their left edges
		begun := map[float64]bool{}      // the columns of which a result stands above
		if v.grid {
			for _, a := range v.atoms {
				if t := r.resultOf(a); t != nil && !slices.Contains(columns[a.box.X0], t) {
					columns[a.box.X0] = append(columns[a.box.X0], t)
				}
			}
		}
		for n, l := range v.lines {
			if v.grid {
				for _, a := range l.atoms {
					if !begun[a.box.X0] && r.resultOf(a) != nil {
						begun[a.box.X0] = true
					}
				}
			}
			if said[n] == nil {
				continue
			}
			tests := r.resultsOn(l)
			for _, as := range said[n] {
				text := bareText(as)
				if len(tests) == 0 && r.overUnread(v, as) {
					continue
				}
				of, on := tests, len(tests) > 0
				if !on && v.grid {
					of, on = columns[as[0].box.X0], begun[as[0].box.X0]
				}
				r.bare(v, as, text, of, on)
			}
		}
	}
}

// wordColumns are the columns that the mapping reads nothing from as they hold
// words, by their lines in the mapping; but for those of which it names all words.
func (r *reader) wordColumns() map[ingest.Place]bool {
	out := map[ingest.Place]bool{}
	for _, t := range r.l.Tables {
		for _, c := range t.Columns {
			if c.Nothing && !c.Numbers && len(c.Only) == 0 {
				out[c.Place] = true
			}
		}
	}
	return out
}

// bareText is what some words say by themselves, "" for nothing: a number that
// nothing reads is told by itself.
func bareText(as []*atom) string {
	text := strings.Trim(joined(as), "()[]:;,. ")
	if hasDigit(text) && !limits.MatchString(text) {
		return ""
	}
	return text
}

// loose are the pieces of a line that say something, and that nothing has read,
// declared or relied on, and those of columns of words.
func (r *reader) loose(v *view, l *line, words map[ingest.Place]bool) [][]*atom {
	if !slices.ContainsFunc(l.atoms, func(a *atom) bool { return a.mark == nil || words[a.mark.Rule] }) {
		return nil
	}
	var out [][]*atom
	for _, run := range v.runs(l) {
		if len(run) <= 4 && !slices.ContainsFunc(run, func(a *atom) bool { return a.mark == nil || !words[a.mark.Rule] }) {
			if bareText(run) != "" {
				out = append(out, run)
			}
			continue
		}
		as := free(run)
		if len(as) > 0 && len(as) <= 4 && len(as) == len(run) && bareText(as) != "" && !r.reliedOn(as) && !r.boilerplate(l) {
			out = append(out, as)
		}
	}
	return out
}

// resultOf is the test of which an atom is the result; nil for any other.
func (r *reader) resultOf(a *atom) *Test {
	if a.mark == nil || a.mark.As != "result" {
		return nil
	}
	label, _, _ := strings.Cut(a.mark.Note, " of sample ")
	return r.l.mapping.Test(label)
}

// overUnread reports whether words stand in a column of a table that the
// mapping reads nothing from: they are that column's.
func (r *reader) overUnread(v *view, as []*atom) bool {
	b := boxOf(as)
	for _, t := range r.headed {
		if t.page != v.page || b.Y1 < t.heads.band.Y0-2*b.Height() {
			continue
		}
		for _, x := range t.heads.list {
			if x.col.Nothing && boxOf(x.atoms).OverlapX(b) > 0 {
				return true
			}
		}
	}
	return false
}

// resultsOn are the tests whose results stand on a line.
func (r *reader) resultsOn(l *line) []*Test {
	var out []*Test
	for _, a := range l.atoms {
		if t := r.resultOf(a); t != nil && !slices.Contains(out, t) {
			out = append(out, t)
		}
	}
	return out
}

// bare compares such words with the readings of some tests, or with all where
// none are given. on says that a result stands on their line, or above them in
// their column.
func (r *reader) bare(v *view, as []*atom, text string, tests []*Test, on bool) {
	of := bareWord{text: text, on: on, bracket: strings.HasPrefix(joined(as), "(")}
	for _, t := range tests {
		of.tests += t.Label + " " + t.Place.String() + "\n"
	}
	// A list has as many such words as rows, and mostly the same ones: each would
	// be held against all results.
	says, known := r.bared[of]
	if !known {
		says.what, says.expected = r.bareSays(of, tests)
		if r.bared == nil {
			r.bared = map[bareWord]bareSaying{}
		}
		r.bared[of] = says
	}
	if says.what != "" {
		r.reason(&ingest.Reason{Code: "says-otherwise", Severity: ingest.Hold, Where: v.placeOf(as), Rule: r.l.Place, What: says.what, Expected: says.expected, Found: shorten(text),
			Next: "look at the page, and ask the laboratory what the words mean; whoever looks after the mapping then has it read them or, if they change nothing, adds them under not results (text or line) or to the column's only:"})
	}
}

// A bareWord is a text that stands by itself, with what it may be about.
type bareWord struct {
	text, tests string
	on, bracket bool
}

type bareSaying struct{ what, expected string }

// bareSays is what a bare word says against the readings; "" for nothing.
func (r *reader) bareSays(w bareWord, tests []*Test) (what, expected string) {
	if w.on && (limits.MatchString(w.text) || limits.MatchString(gloss(w.text))) {
		return "words beside a result say that it is not what is printed, and the mapping does not know of them", "a result without such words"
	}
	kept := func(what func(*Reading) string, agrees func(string) bool) []string {
		var of []*Reading
		for _, rd := range r.sorts() {
			if rd.Missing == "" && (len(tests) == 0 || ofOne(rd, tests)) {
				of = append(of, rd)
			}
		}
		got := kinds(of, what)
		if len(got) == 0 || slices.ContainsFunc(got, agrees) {
			return nil
		}
		return got
	}
	if u, ok := r.l.mapping.unitID(w.text, r.vocab); ok && strings.Contains(u, "/") {
		if got := kept(func(rd *Reading) string { return amount(rd.Unit) }, func(is string) bool { return is == u }); got != nil {
			return "a unit stands with the results that is not theirs by the mapping: " + w.text, strings.Join(got, ", ")
		}
		return "", ""
	}
	// The name of a method may be a person's, away from all results.
	if m, ok := r.vocab.Resolve(MethodWord, w.text); ok && len(w.text) > 3 && (w.on || w.bracket) {
		if got := kept(func(rd *Reading) string { return rd.Method }, func(is string) bool { return related(is, m) }); got != nil {
			return "a method stands with the results that is not theirs by the mapping: " + w.text, strings.Join(got, ", ")
		}
		return "", ""
	}
	form := strings.TrimSpace(strings.TrimPrefix(strings.ToLower(w.text), "as "))
	if b, ok := r.vocab.Resolve(BasisWord, form); ok && w.on {
		if got := kept(func(rd *Reading) string {
			if leading(b) != rd.Analyte {
				return ""
			}
			return formOf(rd)
		}, func(is string) bool { return is == b }); got != nil {
			return "a form stands beside a result that is not the result's by the mapping: " + w.text, strings.Join(got, ", ")
		}
	}
	return "", ""
}

// skippedRows holds the report for what follows the words by which a row is
// skipped: "Mehlich-3 extract" may go on with "in lb/acre".
func (r *reader) skippedRows() {
	rules := map[ingest.Place]*SkipRow{}
	for _, t := range r.l.Tables {
		for _, s := range t.SkipRows {
			if s.Begins != nil {
				rules[s.Place] = s
			}
		}
	}
	for _, v := range r.views {
		for n, l := range v.lines {
			if len(l.atoms) == 0 || l.atoms[0].mark == nil || rules[l.atoms[0].mark.Rule] == nil {
				continue
			}
			text := joined(l.atoms)
			at := rules[l.atoms[0].mark.Rule].Begins.re.FindStringIndex(text)
			if at == nil {
				continue
			}
			rest := strings.Trim(text[at[1]:], " ,;:.")
			if rest == "" {
				continue
			}
			r.contradicted(rest, v.placeOf(l.atoms), nil)
			hold := func(what, expected string) {
				r.hold("says-otherwise", v.placeOf(l.atoms), l.atoms[0].mark.Rule, "a row that is skipped "+what, expected, shorten(text), "look at the page; if it changes nothing, name all its words where the mapping skips the row")
			}
			if limits.MatchString(rest) {
				hold("says that results are not what is printed", "the words of the mapping alone")
			}
			of := r.readingsNamed(rest)
			if u, printed := r.mention(rest, UnitWord); u != "" {
				got := r.apart(rest, of, func(rd *Reading) string { return amount(rd.Unit) }, func(is string) bool { return is == u })
				if below := r.unitsBelow(v.lines[n+1:], rules); len(got) == 0 && len(below) > 0 && !slices.Contains(below, u) {
					got = below // a title says it of the rows under it
				}
				if len(got) > 0 {
					hold("names a unit that is not the one of the results: "+printed, strings.Join(got, ", "))
				}
			}
			if m, printed := r.mention(rest, MethodWord); m != "" {
				if got := r.apart(rest, of, func(rd *Reading) string { return rd.Method }, func(is string) bool { return related(is, m) }); len(got) > 0 {
					hold("names a method that is not the one of the results: "+printed, strings.Join(got, ", "))
				}
			}
		}
	}
}

// unitsBelow are the units of the amounts in the rows under a title, down to the
// next one.
func (r *reader) unitsBelow(lines []*line, titles map[ingest.Place]*SkipRow) []string {
	var tests []*Test
	for _, l := range lines {
		if len(l.atoms) > 0 && l.atoms[0].mark != nil && titles[l.atoms[0].mark.Rule] != nil && !hasDigit(joined(l.atoms)) {
			break
		}
		tests = append(tests, r.resultsOn(l)...)
	}
	if len(tests) == 0 {
		return nil
	}
	var of []*Reading
	for _, rd := range r.sorts() {
		if ofOne(rd, tests) {
			of = append(of, rd)
		}
	}
	return kinds(of, func(rd *Reading) string { return amount(rd.Unit) })
}
