package interpret

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"example.org/windrow/normalize"
)

// A twelfth is one of twelve invented samples, and the three rule sets that it
// is put to.
type twelfth struct {
	title, use string
	results    []*normalize.Result
	sets       []string
	ask        Ask
}

func soilOf(texture string, rs ...*normalize.Result) []*normalize.Result {
	if texture != "" {
		t := res("texture", "", "hydrometer")
		t.Class, t.Printed.Text = texture, texture
		rs = append(rs, t)
	}
	return rs
}

func twelveSamples() []twelfth {
	water := func(v string) *normalize.Result { return res("pH", v, "ph-water-1-1") }
	m3 := func(analyte, v string) *normalize.Result { return res(analyte, v, "mehlich-3-icp") }
	m1 := func(analyte, v string) *normalize.Result { return res(analyte, v, "mehlich-1") }
	home := "mehlich-3-home"
	return []twelfth{
		{"Acid vegetable garden, Mehlich-3, Mehlich buffer", "vegetable garden", soilOf("", water("5.4"), res("buffer_pH", "6.20", "mehlich-buffer"), m3("P", "20"), m3("K", "100"), m3("Mg", "60")), []string{home, "delaware-mehlich-3", "massachusetts-modified-morgan"}, Ask{}},
		{"Old vegetable garden rich in phosphorus, Mehlich-3", "vegetable garden", soilOf("", water("6.5"), m3("P", "210"), m3("K", "180"), m3("Mg", "150")), []string{home, "delaware-mehlich-3", "massachusetts-modified-morgan"}, Ask{}},
		{"Raised bed, modified Morgan", "raised bed", soilOf("", water("6.6"), res("P", "12", "modified-morgan"), res("K", "130", "modified-morgan"), res("Mg", "90", "modified-morgan")), []string{home, "delaware-mehlich-3", "massachusetts-modified-morgan"}, Ask{}},
		{"Acid lawn, Mehlich-3, Mehlich acidity", "lawn", soilOf("", water("5.5"), res("acidity", "6.5", "mehlich-buffer"), m3("P", "40"), m3("K", "60")), []string{home, "pennsylvania-lawn", "tri-state-2020"}, Ask{}},
		{"Lawn at its pH, phosphorus low, office in New Jersey", "lawn", soilOf("", water("6.4"), m3("P", "15"), m3("K", "80")), []string{home, "pennsylvania-lawn", "tri-state-2020"}, Ask{Region: "NJ"}},
		{"Lawn by Bray-P1", "lawn", soilOf("", water("6.6"), res("P", "40", "bray-p1")), []string{home, "pennsylvania-lawn", "tri-state-2020"}, Ask{}},
		{"Corn field, Mehlich buffer, Mehlich-3, CEC 12", "field corn", soilOf("", water("5.6"), res("buffer_pH", "6.25", "mehlich-buffer"), m3("P", "39"), m3("K", "180"), res("CEC", "12", "summation")), []string{home, "delaware-mehlich-3", "tri-state-2020"}, Ask{}},
		{"Corn field, Bray-P1, zinc by DTPA", "field corn", soilOf("", water("6.8"), res("P", "16", "bray-p1"), res("Zn", "0.5", "dtpa")), []string{home, "nebraska-2017", "tri-state-2020"}, Ask{}},
		{"Vegetables, Mehlich-1", "vegetable garden", soilOf("", water("6.3"), m1("P", "60"), m1("K", "77.5"), m1("Mg", "50")), []string{home, "georgia-coastal-plain", "georgia-piedmont"}, Ask{}},
		{"Blueberry bed too sweet, loam, bushes of two years", "blueberry", soilOf("loam", water("6.5"), m3("P", "80"), m3("K", "100")), []string{home, "massachusetts-modified-morgan", "georgia-piedmont"}, Ask{PlantAge: "2", Plants: "6"}},
		{"Muscadine vines of one year, Mehlich-1", "muscadine", soilOf("", water("5.8"), m1("P", "8"), m1("K", "50"), m1("Mg", "40")), []string{"georgia-coastal-plain", "georgia-piedmont", home}, Ask{PlantAge: "1", Plants: "3"}},
		{"Lettuce on a salty loam, Olsen, zinc by DTPA", "lettuce", soilOf("loam", water("7.4"), res("P", "14", "olsen"), res("EC", "0.6", "ph-water-1-2"), res("Zn", "0.6", "dtpa")), []string{"california-olsen", home, "massachusetts-modified-morgan"}, Ask{}},
	}
}

// TestTwelveSamples writes the table of twelve invented samples by three rule
// sets each: lime or sulfur, nitrogen, phosphate and potash side by side, the
// rows and tables that each rests on, and why they differ. It is kept in
// testdata and made anew with -update; the numbers in it are worked in the
// tests of their own tables. Lettuce is a use that two of its sets know as
// vegetables, and is asked of them as such.
func TestTwelveSamples(t *testing.T) {
	var table, detail strings.Builder
	cited := map[string]string{}
	amounts, asked := 0, 0
	samples := twelveSamples()
	for i, s := range samples {
		rec := recordOf(s.use, s.results...)
		var advices []*Advice
		for _, id := range s.sets {
			rs, ask := setNamed(t, id), s.ask
			ask.On = "2026-04-01"
			if rs.Use(s.use) == nil && s.use == "lettuce" {
				ask.LandUse = "vegetable garden"
			}
			a := Advise(rec, okReport, rs, ask)
			advices = append(advices, a)
			for _, c := range a.Sources {
				for _, row := range c.Rows {
					cited[row] = c.Key
				}
				cited["source "+c.Key] = c.Text
			}
		}
		cmp := Compare(advices)
		for j, a := range advices {
			title := ""
			if j == 0 {
				title = fmt.Sprintf("%d %s", i+1, s.title)
			}
			fmt.Fprintf(&table, "| %s | %s |", title, a.Rules.ID)
			for _, cell := range []string{"lime", "N", "P2O5", "K2O"} {
				text, isAmount := cellOf(a, cell)
				fmt.Fprintf(&table, " %s |", text)
				if isAmount {
					amounts++
				} else if strings.HasPrefix(text, "asks") {
					asked++
				}
			}
			table.WriteString("\n")
		}
		fmt.Fprintf(&detail, "\n## %d %s\n", i+1, s.title)
		for _, c := range cmp {
			fmt.Fprintf(&detail, "\n**%s**\n\n", c.Item)
			for _, x := range c.Says {
				why := ""
				if x.Why != "" && x.Why != x.Says {
					why = ": " + x.Why
				}
				fmt.Fprintf(&detail, "- %s: %s%s%s\n", x.Rules, x.Says, why, inBrackets(x.Basis))
				if (x.kind == "amount" || x.kind == "rated") && len(x.Basis) == 0 {
					t.Errorf("%s, %s: %s rests on nothing", s.title, c.Item, x.Rules)
				}
			}
			if c.Differs && len(c.Why) == 0 {
				t.Errorf("%s, %s: they differ, and nothing says why", s.title, c.Item)
			}
			for _, w := range c.Why {
				fmt.Fprintf(&detail, "- why: %s\n", w)
			}
		}
	}
	var b strings.Builder
	b.WriteString("# Twelve invented samples, three rule sets each\n\nMade by TestTwelveSamples for 1 April 2026. Amounts are lb on 1000 square feet, lime as pure calcium carbonate, plants in lb each time; in brackets the rows that answer. \"asks\" is a question in place of a guess.\n\n")
	b.WriteString("| Sample | Rule set | Lime or sulfur | N | P2O5 | K2O |\n|---|---|---|---|---|---|\n" + table.String() + detail.String())
	b.WriteString("\n## The tables that the rows stand in\n\n")
	bySource := map[string][]string{}
	for row, key := range cited {
		if !strings.HasPrefix(row, "source ") {
			bySource[key] = append(bySource[key], row)
		}
	}
	for _, key := range keys(bySource) {
		slices.Sort(bySource[key])
		fmt.Fprintf(&b, "- %s (`%s`): %s\n", cited["source "+key], key, strings.Join(bySource[key], ", "))
	}
	golden(t, filepath.Join("testdata", "twelve.md"), []byte(b.String()))
	t.Logf("%d amounts and %d questions in %d samples", amounts, asked, len(samples))
	if len(samples) != 12 || amounts < 40 {
		t.Errorf("%d samples, %d amounts: too little is shown", len(samples), amounts)
	}
}

// cellOf is what an advice says of lime or sulfur, or of a nutrient: an amount
// with its rows, none, or a question.
func cellOf(a *Advice, name string) (text string, amount bool) {
	names := []string{name}
	if name == "lime" {
		names = []string{"sulfur", "lime"}
	}
	for _, n := range names {
		s, ok := lineSays(a, n)
		if !ok || s.kind == "asks" && n == "sulfur" {
			continue
		}
		switch {
		case s.kind == "asks":
			return "asks (" + s.code + ")", false
		case n == "sulfur":
			return "S " + strings.TrimSuffix(s.Says, " "+unitPerThousand) + inBrackets(s.Basis[:1]), true
		}
		return strings.TrimSuffix(s.Says, " "+unitPerThousand) + inBrackets(s.Basis), true
	}
	for _, n := range a.Lines {
		if n.ID == "N" && len(n.Each) > 0 && (name == "P2O5" || name == "K2O") && strings.Contains(n.What, "10-10-10") {
			return "in the 10-10-10", true
		}
	}
	return "not tested", false
}

func inBrackets(bs []Basis) string {
	var rows []string
	for _, b := range bs {
		rows = append(rows, b.Row)
	}
	if len(rows) == 0 {
		return ""
	}
	return " [" + strings.Join(rows, ", ") + "]"
}
