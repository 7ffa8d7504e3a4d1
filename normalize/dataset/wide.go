package dataset

import (
	"cmp"
	"maps"
	"slices"
	"strconv"
	"strings"
)

// A wideTest names a column of wide.csv: a test, and what its value is. What
// was printed, converted, rounded or estimated never shares a column, and
// neither do two methods or two units.
type wideTest struct {
	analyte, detail, method, methodName, unit, ucum string
	kind                                            string // of value_is, or wideWords
	again                                           int    // the ordinal of a test that a sample has more than once, from 1
}

// wideWords is the kind of a result in words.
const wideWords = "words"

// limitSuffix ends the name of the column that tells limits from values.
const limitSuffix = "__limit"

// wideFixed are the columns of results.csv that a row of wide.csv begins with.
var wideFixed = []int{colSample, colReport, colLab, colCounty, colLandUse, colPeriod, colDepth, colWithheld}

// wide makes rows of one sample out of rows of one result.
type wide struct {
	tests  map[wideTest]bool // whether some value of it is a limit
	at     string            // sample and report of the row before
	counts map[wideTest]int
}

func newWide() *wide { return &wide{tests: map[wideTest]bool{}} }

// test names the test of a row of results.csv, which come sample by sample;
// ok is false where it has neither value nor words.
func (w *wide) test(f []string) (t wideTest, ok bool) {
	if at := f[colSample] + " " + f[colReport]; at != w.at {
		w.at, w.counts = at, map[wideTest]int{}
	}
	t = wideTest{f[colAnalyte], f[colDetail], f[colMethod], f[colMethodName], f[colUnit], f[colUCUM], f[colValueIs], 0}
	switch {
	case f[colValue] != "":
	case f[colClass] != "":
		t.kind = wideWords
	default:
		return t, false
	}
	w.counts[t]++
	t.again = w.counts[t]
	return t, true
}

// note takes down which columns are needed.
func (w *wide) note(f []string) {
	if t, ok := w.test(f); ok {
		w.tests[t] = w.tests[t] || f[colCensored] != ""
	}
}

// A wideLayout is the columns of wide.csv.
type wideLayout struct {
	columns []Column
	units   map[string]string // UCUM codes by column
	at      map[wideTest]int  // column of the value; that of its sign, if some value is a limit, comes next
	limits  map[wideTest]bool
}

// plainUnits are units as a part of a column's name.
var plainUnits = strings.NewReplacer("(+)", "", "/", "_per_", "%", "percent", " ", "_")

// name is the column's name: analyte, detail, method, unit and kind, with two
// underscores between. It doesn't depend on what else is in the dataset.
func (t wideTest) name() string {
	name := t.stem() + "__" + t.kind
	if t.again > 1 {
		name += "__" + strconv.Itoa(t.again)
	}
	return name
}

// stem is the name without the kind.
func (t wideTest) stem() string {
	part := func(s, none string) string {
		return strings.Map(func(r rune) rune {
			switch {
			case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '-', r == '.', r == '_':
				return r
			}
			return '_'
		}, cmp.Or(strings.TrimPrefix(plainUnits.Replace(s), "'"), none))
	}
	first := part(t.analyte, "unknown")
	if t.detail != "" {
		first += "__" + part(t.detail, "")
	}
	return strings.Join([]string{first, part(t.method, "method_not_stated"), part(t.unit, "no_unit")}, "__")
}

var kindsInWords = map[string]string{
	isPrinted: "Numbers as the laboratory printed them.", isConverted: "Worked out exactly from the printed numbers.", isRounded: "As printed or exactly converted, rounded to three significant digits at most.",
	isEstimated: "A step from the printed number is not exact: no measurement in this unit.", wideWords: "Results in words.",
}

func (t wideTest) about() string {
	of := t.analyte
	if t.detail != "" {
		of += " (" + t.detail + ")"
	}
	return of + " by " + strings.TrimPrefix(cmp.Or(t.methodName, t.method, "a method that is not stated"), "by ") + ", in " + cmp.Or(t.unit, "no unit") + ". " + kindsInWords[t.kind] + " Empty: there is none; results.csv says why."
}

func (w *wide) layout() wideLayout {
	l := wideLayout{units: map[string]string{}, at: map[wideTest]int{}, limits: w.tests}
	for _, c := range wideFixed {
		l.columns = append(l.columns, columns[c])
	}
	var tests []wideTest
	for t := range w.tests {
		tests = append(tests, t)
	}
	slices.SortFunc(tests, func(a, b wideTest) int {
		return cmp.Or(strings.Compare(a.name(), b.name()), slices.Compare([]string{a.analyte, a.detail, a.method, a.methodName, a.unit, a.ucum}, []string{b.analyte, b.detail, b.method, b.methodName, b.unit, b.ucum}))
	})
	used := map[string]bool{}
	for _, t := range tests {
		name := t.name()
		for n := 2; used[name]; n++ { // two words for one name
			name = t.name() + "__" + strconv.Itoa(n)
		}
		used[name] = true
		l.at[t] = len(l.columns)
		c := Column{name, "number", "measured", t.about()}
		if t.kind == wideWords {
			c.Type = "text"
		}
		if t.kind == isEstimated {
			c.Group = "estimate"
		}
		l.columns = append(l.columns, c)
		if t.kind != wideWords && t.ucum != "" {
			l.units[name] = t.ucum
		}
		if w.tests[t] {
			used[name+limitSuffix] = true
			l.columns = append(l.columns, Column{name + limitSuffix, "code", c.Group, "< or >: the value of " + name + " is a limit, and the true one is below or above it. Empty: the value is the value."})
		}
	}
	return l
}

// each visits the rows of wide.csv, which it makes of the sorted rows of
// results.csv, one sample and report at a time.
func (w *wide) each(l wideLayout, results *sorter, visit func([]string) error) error {
	var out []string
	w.at = ""
	last := ""
	end := func() error {
		if out == nil {
			return nil
		}
		return visit(out)
	}
	err := results.each(func(r row) error {
		f := r.fields
		t, ok := w.test(f)
		if w.at != last {
			if err := end(); err != nil {
				return err
			}
			last, out = w.at, make([]string, len(l.columns))
			for i, c := range wideFixed {
				out[i] = f[c]
			}
		}
		if !ok {
			return nil
		}
		at := l.at[t]
		out[at] = cmp.Or(f[colValue], f[colClass])
		if l.limits[t] {
			out[at+1] = f[colCensored]
		}
		return nil
	})
	if err != nil {
		return err
	}
	return end()
}

// allUnits are the UCUM codes of all columns that have one.
func (l wideLayout) allUnits() map[string]string {
	m := maps.Clone(l.units)
	m[columns[colDepth].Name] = unitsOf[columns[colDepth].Name]
	return m
}
