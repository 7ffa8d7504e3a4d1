package draft

import (
	"regexp"
	"slices"
	"strings"
	"unicode"

	"example.org/windrow/mappings"
)

var (
	oneDigit  = regexp.MustCompile(`[0-9]`)
	digitSign = regexp.MustCompile(`#+`)
	firstWord = regexp.MustCompile(`^\p{L}+`)
)

// sampleNumbers looks at the numbers of a table's samples. Rows whose number
// is of another form than all others and begins with a word for the
// laboratory's own checks, such as "QC soil 8", are proposed to be left out,
// with a question. Where the numbers of the others share a form, the column
// may have no other: a row that strays in then holds the report.
func (t *foundTable) sampleNumbers() {
	for i, c := range t.cols {
		if c.role != string(mappings.LabSampleID) {
			continue
		}
		form, odd := formOf(c.cells)
		for _, id := range odd {
			switch why := noClient(id); {
			case why == "":
				t.wonder("is " + quoted(id) + " the number of a client's sample? It has not the form of the others")
			case i == 0 && c.heading[0] != "":
				t.addSkip(id, why, askSkip(id))
			default:
				t.addSkipIn(c.heading[0], id, why)
			}
		}
		c.form = form
		if slices.ContainsFunc(odd, func(id string) bool { return noClient(id) == "" }) || slices.Contains(c.cells, "") {
			c.form = ""
		}
	}
}

// numberTitle is the end of a heading over numbers of something: "Assay no.",
// "Serial #".
var numberTitle = regexp.MustCompile(`(?i)(?:\b(?:no|nr|num|number|id|ident|code|serial|barcode|tag)\.?|#|№)$`)

// guessNumber takes a column that nothing names for the laboratory's sample
// number, with a question, where no other column is: all of its texts differ
// and have one form, and either the heading ends as one over numbers does or
// the form has letters or a dash beside its digits.
func (t *foundTable) guessNumber() {
	if slices.ContainsFunc(t.cols, func(c *column) bool { return c.role == string(mappings.LabSampleID) }) {
		return
	}
	for _, c := range t.cols {
		if c.role != "nothing" || c.why != "not understood" || !c.distinct() {
			continue
		}
		form, odd := formOf(c.cells)
		if len(c.filled()) == 1 && idLike.MatchString(c.filled()[0]) && hasDigit(c.filled()[0]) {
			form = oneDigit.ReplaceAllString(mappings.Literal(c.filled()[0]), "#")
		}
		if form == "" || slices.ContainsFunc(odd, func(id string) bool { return noClient(id) == "" }) {
			continue
		}
		titled := numberTitle.MatchString(strings.TrimSpace(c.title()))
		lettered := strings.ContainsFunc(form, unicode.IsLetter) || strings.Contains(form, "-") && strings.Count(form, "#") >= 4
		if titled && !strings.ContainsAny(form, ".,") || lettered && len(c.filled()) > 1 {
			c.role, c.why, c.conf, c.ask = string(mappings.LabSampleID), "", 0.6, []string{"is " + quoted(c.title()) + firstCells(c) + " the laboratory's number of the sample? Nothing else is, and its texts all differ and have one form"}
			return
		}
	}
}

// distinct reports whether all texts of a column stand once.
func (c *column) distinct() bool {
	seen := map[string]bool{}
	for _, x := range c.filled() {
		if seen[x] {
			return false
		}
		seen[x] = true
	}
	return len(seen) > 0
}

// addSkipIn leaves out the rows of which one column says a text.
func (t *foundTable) addSkipIn(column, says, why string) {
	for _, s := range t.skips {
		if s.begins == says && (s.column == column || s.column == "") {
			return
		}
	}
	t.skips = append(t.skips, skipRow{begins: says, column: column, why: why, ask: askSkip(says)})
}

// noClient says what a row is by the first word of its number when that is a
// word for checks, blanks, averages and the like; "" for any other.
func noClient(id string) string {
	first := strings.ToLower(firstWord.FindString(id))
	if slices.Contains(words().CheckSamples, first) {
		return "a check sample of the laboratory"
	}
	if _, ref := words().refRow[fold(first)]; ref && first != "" || mappings.SummaryWord(id) != "" {
		return "a summary or a value for comparison, no sample"
	}
	return ""
}

// formOf is the form that the numbers of samples share, as a pattern, with #
// for a digit, and the numbers that have another form. Digits that are not
// as many in all numbers make a star. It is "" for fewer than two numbers.
func formOf(ids []string) (form string, odd []string) {
	families, exact := map[string]int{}, map[string]map[string]bool{}
	family := func(id string) (string, string) {
		f := oneDigit.ReplaceAllString(mappings.Literal(id), "#")
		return digitSign.ReplaceAllString(f, "#*"), f
	}
	best, total := "", 0
	for _, id := range ids {
		if id == "" || isMissing(id) {
			continue
		}
		fam, f := family(id)
		if exact[fam] == nil {
			exact[fam] = map[string]bool{}
		}
		exact[fam][f] = true
		total++
		if families[fam]++; families[fam] > families[best] || families[fam] == families[best] && fam < best {
			best = fam
		}
	}
	if total < 2 || families[best]*10 < total*6 || !strings.Contains(best, "#") {
		return "", nil
	}
	seen := map[string]bool{}
	for _, id := range ids {
		if fam, _ := family(id); id != "" && fam != best && !seen[id] {
			seen[id], odd = true, append(odd, id)
		}
	}
	if f := sortedKeys(exact[best]); len(f) == 1 && (len(digitSign.FindAllString(f[0], -1)) > 1 || strings.Trim(f[0], "#") == "" && len(f[0]) >= 4) {
		// A single count behind letters grows by a digit one day.
		return f[0], odd
	}
	return best, odd
}

// mendNumbers answers a row whose number has not the form of the others: it
// is left out with a question when its words say that it is no sample, and
// otherwise no form is asked for, as the reports themselves show others.
func (t *foundTable) mendNumbers(found string) bool {
	for i, c := range t.cols {
		if c.form == "" {
			continue
		}
		why := noClient(found)
		switch {
		case why != "" && i == 0:
			n := len(t.skips)
			t.addSkip(found, why, askSkip(found))
			if len(t.skips) > n {
				return true
			}
		case why != "":
			n := len(t.skips)
			t.addSkipIn(c.heading[0], found, why)
			if len(t.skips) > n {
				return true
			}
		case hasDigit(found):
			t.wonder("is the row with " + quoted(shorten(found)) + " a client's sample? Its number has not the form of the others")
		}
		c.form = ""
		return true
	}
	return false
}
