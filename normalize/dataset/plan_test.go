package dataset

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
)

// Whatever the cells, every class has k clients, every cell is in one class or
// suppressed, every class shows its cells alike and keeps half of their tests,
// and the order of the cells doesn't matter.
func TestPlanKeepsItsPromise(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := newCensus()
		k := rapid.IntRange(1, 6).Draw(t, "k")
		var cells []*cell
		for n := range rapid.IntRange(0, 25).Draw(t, "cells") {
			var tests panel
			for _, a := range []string{"B", "Ca", "K", "Mg", "P", "Pb", "pH"} {
				if rapid.IntRange(0, 3).Draw(t, a) > 0 {
					tests = append(tests, a)
				}
			}
			if len(tests) == 0 {
				tests = panel{"pH"}
			}
			q := quasi{rapid.SampledFrom([]string{"", "Finch", "Wren"}).Draw(t, "county"), rapid.SampledFrom([]string{"", "lawn", "roses", "hay"}).Draw(t, "use"),
				rapid.SampledFrom([]string{"", "2026-01", "2026-03", "2026-07", "2025-01"}).Draw(t, "month"), rapid.SampledFrom([]string{"", "4", "6"}).Draw(t, "depth"), rapid.SampledFrom([]string{"a", "b"}).Draw(t, "lab")}
			key := cellKey{q, c.full.number(tests), c.bare.number(tests)}
			if slices.ContainsFunc(cells, func(o *cell) bool { return o.cellKey == key }) {
				continue
			}
			var people crowd
			for range rapid.IntRange(1, 3).Draw(t, "clients") {
				people.add(rapid.IntRange(0, 12).Draw(t, "client"))
			}
			cells = append(cells, &cell{cellKey: key, samples: people.size() + n%3, people: people})
		}
		p := planOf(cells, c, k)
		placed := 0
		for _, cl := range p.classes {
			people := map[int32]bool{}
			for _, x := range cl.cells {
				placed++
				for _, n := range x.people.numbers() {
					people[n] = true
				}
				if x.at(cl.levels) != cl.quasi || p.of[x.cellKey] != cl {
					t.Fatalf("%v is not as its class %v at %v", x.quasi, cl.quasi, cl.levels)
				}
				mine := p.panel(x, cl.levels[qLab])
				if len(cl.shared.common(mine)) != len(cl.shared) || 2*len(cl.shared) < len(mine) {
					t.Fatalf("of %v are left %v", mine, cl.shared)
				}
			}
			if len(people) < k {
				t.Fatalf("a class of %d clients, k %d", len(people), k)
			}
			if !cl.sound() {
				t.Fatalf("levels %v", cl.levels)
			}
		}
		if len(p.of) != placed {
			t.Fatalf("%d cells in classes, %d placed", len(p.of), placed)
		}
		again := slices.Clone(cells)
		slices.Reverse(again)
		q := planOf(again, c, k)
		for _, x := range cells {
			a, b := p.of[x.cellKey], q.of[x.cellKey]
			if (a == nil) != (b == nil) || a != nil && (a.levels != b.levels || a.quasi != b.quasi || !slices.Equal(a.shared, b.shared)) {
				t.Fatalf("in another order %v is in another class", x.quasi)
			}
		}
	})
}

// The ladder begins with nothing generalised and ends with everything, each
// rung with no less loss than the one before.
func TestLadder(t *testing.T) {
	if ladder[0] != (levels{}) || ladder[len(ladder)-1] != heights || ladder[len(ladder)-1].loss() != lossUnit {
		t.Errorf("from %v to %v", ladder[0], ladder[len(ladder)-1])
	}
	for i := 1; i < len(ladder); i++ {
		if ladder[i].loss() < ladder[i-1].loss() || !ladder[i].sound() {
			t.Errorf("rung %d, %v, after %v", i, ladder[i], ladder[i-1])
		}
	}
	// By hand: county withheld is 1 of 5; a quarter 1/3 of 1/5; a class of uses
	// half of 1/5.
	for l, want := range map[levels]int{{1}: 12, {0, 1}: 6, {0, 0, 1}: 4, {0, 0, 3}: 12, {1, 2, 3, 1, 3}: 60, {0, 0, 0, 0, 1}: 4} {
		if l.loss() != want {
			t.Errorf("%v loses %d, want %d", l, l.loss(), want)
		}
	}
}

func TestQuasiLevels(t *testing.T) {
	for _, c := range []struct {
		which int
		v     string
		want  string
	}{
		{qCounty, "Finch", "Finch suppressed"}, {qCounty, "", " suppressed"}, {qUse, "lawn", "lawn lawn and ornamental (class) suppressed"}, {qUse, "", "  suppressed"},
		{qUse, "a new word", "a new word other (class) suppressed"}, {qPeriod, "2026-01", "2026-01 2026-Q1 2026 suppressed"}, {qPeriod, "2026-12", "2026-12 2026-Q4 2026 suppressed"},
		{qPeriod, "2026-09", "2026-09 2026-Q3 2026 suppressed"}, {qPeriod, "2026-10", "2026-10 2026-Q4 2026 suppressed"}, {qPeriod, "", "   suppressed"}, {qDepth, "6", "6 suppressed"}, {qLab, "verrin", "verrin verrin verrin suppressed"},
	} {
		var got []string
		for l := range heights[c.which] + 1 {
			got = append(got, at(c.which, c.v, l))
		}
		if strings.Join(got, " ") != c.want {
			t.Errorf("%q: %q, want %q", c.v, got, c.want)
		}
	}
}

// Every land use is in one class, and no class has the name of a use.
func TestEveryUseHasAClass(t *testing.T) {
	uses := normalize.LandUses()
	for _, u := range uses {
		if classOfUse[u] == "" {
			t.Errorf("%q is in no class", u)
		}
	}
	n := 0
	for class, list := range useClasses {
		n += len(list)
		if slices.Contains(uses, class) || !strings.HasSuffix(class, " (class)") {
			t.Errorf("class %q", class)
		}
		for _, u := range list {
			if !slices.Contains(uses, u) {
				t.Errorf("%q of %q is no land use", u, class)
			}
		}
	}
	if n != len(uses) || len(UseClasses()) != len(useClasses) {
		t.Errorf("%d uses in classes, of %d", n, len(uses))
	}
}

// Coarse values, by hand; a limit stays true.
func TestCoarse(t *testing.T) {
	for _, c := range []struct{ v, censored, want string }{
		{"13.52", "", "13.5"}, {"13.55", "", "13.6"}, {"6.50", "", "6.5"}, {"1234", "", "1230"}, {"0.012345", "", "0.0123"}, {"-0.40", "", "-0.4"}, {"100", "", "100"}, {"0", "", "0"}, {"0.00", "", "0"}, {"999.9", "", "1000"},
		{"0.1231", "<", "0.124"}, {"0.5", "<", "0.5"}, {"1239", ">", "1230"}, {"1e9", "", ""}, {"x", "", ""},
	} {
		if got := coarse(normalize.Decimal(c.v), c.censored, anyPlaces); string(got) != c.want {
			t.Errorf("%s%s: %q, want %q", c.censored, c.v, got, c.want)
		}
	}
}

// The places of a group are those that all its laboratories give: its numbers
// don't tell who printed them. By hand.
func TestPlacesAreOneInAGroup(t *testing.T) {
	zinc := func(v string) *normalize.Result {
		return &normalize.Result{Analyte: "Zn", Method: "m", Unit: "mg/kg", Value: normalize.Decimal(v)}
	}
	l := limits{}
	l.note("whole", []*normalize.Result{zinc("11"), zinc("7"), zinc("120")})
	l.note("tenths", []*normalize.Result{zinc("3.5"), zinc("12")})
	l.note("converted", []*normalize.Result{zinc("13.0481927710843")})
	for _, c := range []struct {
		labs    []string
		v, want string
	}{
		{[]string{"tenths", "converted"}, "13.0481927710843", "13"}, {[]string{"tenths", "converted"}, "13.28", "13.3"}, {[]string{"tenths", "converted"}, "1.7604", "1.8"}, {[]string{"tenths", "converted"}, "3.5", "3.5"},
		{[]string{"whole", "converted"}, "13.28", "13"}, {[]string{"whole", "converted"}, "13.5", "14"}, {[]string{"whole", "converted"}, "1.7604", "1.8"}, {[]string{"whole", "converted"}, "0.0449", "0.045"}, {[]string{"whole", "converted"}, "1236.7", "1240"},
		{[]string{"converted"}, "13.28", "13.3"}, {[]string{"converted"}, "1.7604", "1.76"}, {[]string{"whole", "tenths"}, "0", "0"}, {[]string{"whole", "tenths"}, "-4.56", "-4.6"}, {[]string{"whole", "tenths"}, "99.6", "100"},
	} {
		labs := map[string]bool{}
		for _, name := range c.labs {
			labs[name] = true
		}
		r := zinc(c.v)
		l.among(labs, Suppressed).coarsen(Suppressed, r)
		if string(r.Value) != c.want {
			t.Errorf("%s among %v is %s, want %s", c.v, c.labs, r.Value, c.want)
		}
	}
}

// Where the laboratory is withheld a limit is the widest of its group.
func TestLimitsAreOneInAGroup(t *testing.T) {
	l := limits{}
	below := func(v string) *normalize.Result {
		return &normalize.Result{Analyte: "P", Method: "m", Unit: "mg/kg", Value: normalize.Decimal(v), Censored: "<"}
	}
	above := &normalize.Result{Analyte: "P", Method: "m", Unit: "mg/kg", Value: "900", Censored: ">"}
	l.note("a", []*normalize.Result{below("0.5"), below("0.4"), above})
	l.note("b", []*normalize.Result{below("2.25"), {Analyte: "P", Method: "m", Unit: "mg/kg", Value: "1"}})
	l.note("c", []*normalize.Result{below("7")})
	g := l.among(map[string]bool{"a": true, "b": true}, Suppressed)
	for _, c := range []struct {
		res  *normalize.Result
		want string
	}{{below("0.4"), "2.25"}, {below("2.25"), "2.25"}, {above, "900"}, {&normalize.Result{Analyte: "P", Method: "m", Unit: "mg/kg", Value: "1.234"}, "1.2"}} { // since b prints whole numbers
		r := *c.res
		if g.coarsen(Suppressed, &r); string(r.Value) != c.want || r.Printed.Text != c.res.Censored+c.want {
			t.Errorf("%s%s: %s, want %s", c.res.Censored, c.res.Value, r.Value, c.want)
		}
	}
}

// A fault of the plan is found in the finished rows, and nothing is written.
func TestRecountRefuses(t *testing.T) {
	rowOf := func(county string) row {
		r := row{fields: make([]string, numColumns)}
		r.fields[colCounty], r.fields[colAnalyte], r.fields[colReport] = county, "P", "1"
		return r
	}
	n := newRecount(false)
	for i := range 5 {
		n.take("", string(rune('a'+i)), i, []row{rowOf("Finch")}, nil, false)
	}
	if err := n.enough(5); err != nil {
		t.Error(err)
	}
	n.take("", "f", 5, []row{rowOf("Wren")}, nil, false)
	var r *ingest.Reason
	if err := n.enough(5); !errors.As(err, &r) || r.Code != "dataset-singles-out" {
		t.Error(err)
	}
	// A finding, a test and a way of print set apart as well.
	for name, change := range map[string]func(*row) []string{
		"a finding": func(*row) []string { return []string{"late"} },
		"a test":    func(r *row) []string { r.fields[colAnalyte] = "K"; return nil },
		"a unit":    func(r *row) []string { r.fields[colPrintedUnit] = "lb/A"; return nil },
	} {
		n := newRecount(false)
		for i := range 6 {
			x := rowOf("Finch")
			var found []string
			if i == 0 {
				found = change(&x)
			}
			n.take("", string(rune('a'+i)), i, []row{x}, found, i == 0)
		}
		if err := n.enough(5); !errors.As(err, &r) {
			t.Errorf("%s: %v", name, err)
		}
	}
}
