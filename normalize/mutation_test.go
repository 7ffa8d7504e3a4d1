package normalize

import (
	"math/big"
	"slices"
	"strings"
	"testing"

	"example.org/windrow/normalize/unit"
)

// loaded is a table of its own, which a test may damage.
func loaded(t *testing.T) *unit.Table {
	t.Helper()
	tb, err := unit.Load(unit.Files(), knownSource)
	if err != nil {
		t.Fatal(err)
	}
	return tb
}

// A tableRow is one row of our tables that is a factor.
type tableRow struct {
	table, id string
	backing   *unit.Backing
}

func factorRows(tb *unit.Table) []tableRow {
	var out []tableRow
	for _, u := range tb.Units {
		out = append(out, tableRow{"units", u.ID, &u.Backing})
	}
	for _, b := range tb.Bases {
		out = append(out, tableRow{"bases", b.ID, &b.Backing})
	}
	for s, w := range tb.Weights {
		out = append(out, tableRow{"weights", s, &w.Backing})
	}
	for _, m := range tb.Lime {
		out = append(out, tableRow{"lime-materials", m.ID, &m.Backing})
	}
	for _, c := range tb.Conversions {
		if c.Factor != nil && c.FactorText != "1" {
			out = append(out, tableRow{"conversions", c.ID, &c.Backing})
		}
	}
	slices.SortFunc(out, func(a, b tableRow) int { return strings.Compare(a.table+a.id, b.table+b.id) })
	return out
}

// failing are the ids of the checks that a table does not pass.
func failing(checks []outsideCheck, tb *unit.Table) map[string]bool {
	out := map[string]bool{}
	for _, c := range checks {
		if c.fault(tb) != "" {
			out[c.id] = true
		}
	}
	return out
}

// Mutation: a factor that is wrong by 0.1 %, up or down, fails at least one
// check from outside the project, for every row of the tables, and each check
// that the row itself names.
func TestEveryFactorIsHeldFromOutside(t *testing.T) {
	checks := append(outsideChecks(t), equationChecks(t)...)
	if bad := failing(checks, loaded(t)); len(bad) > 0 {
		t.Fatalf("checks fail already: %v", bad)
	}
	killed, rows := map[string]int{}, map[string]int{}
	for _, row := range factorRows(loaded(t)) {
		rows[row.table]++
		dead := true
		for _, by := range []*big.Rat{big.NewRat(1001, 1000), big.NewRat(999, 1000)} {
			tb := loaded(t)
			f := factorOfRow(tb, row.table, row.id)
			*f = new(big.Rat).Mul(*f, by)
			fails := failing(checks, tb)
			if len(fails) == 0 {
				dead = false
				t.Errorf("%s %s × %s: no check from outside fails", row.table, row.id, by.FloatString(3))
			}
			for _, id := range row.backing.Checks {
				if !fails[id] {
					t.Errorf("%s %s names check %s, which passes with a factor × %s", row.table, row.id, id, by.FloatString(3))
				}
			}
			if len(row.backing.Checks) == 0 {
				t.Errorf("%s %s names no check; these would do: %s", row.table, row.id, strings.Join(keys(fails), " "))
			}
		}
		if dead {
			killed[row.table]++
		}
	}
	total, all := 0, 0
	for _, k := range sorted(rows) {
		t.Logf("%s: %d of %d factors that are wrong by 0.1 %% are caught", k, killed[k], rows[k])
		total, all = total+killed[k], all+rows[k]
	}
	t.Logf("in all %d of %d", total, all)
	if total != all {
		t.Errorf("%d factors are held by nothing from outside", all-total)
	}
}

// A charge is a whole number: one more or one less is caught from outside, for
// every ion.
func TestEveryChargeIsHeldFromOutside(t *testing.T) {
	checks := outsideChecks(t)
	n := 0
	for s, w := range loaded(t).Weights {
		if w.Charge == 0 {
			continue
		}
		n++
		for _, by := range []int{1, -1} {
			tb := loaded(t)
			tb.Weights[s].Charge += by
			if tb.Weights[s].Charge == 0 {
				tb.Weights[s].Charge = 4
			}
			if len(failing(checks, tb)) == 0 {
				t.Errorf("the charge of %s may be %d, and no check from outside fails", s, tb.Weights[s].Charge)
			}
		}
	}
	t.Logf("%d charges are held from outside", n)
}

// Each active row of every table names a check from outside, and each check
// that is named is there.
func TestEveryActiveConversionNamesItsCheck(t *testing.T) {
	known := map[string]bool{}
	for _, name := range append([]string{"units-reference.csv", "ions-and-lime.csv"}, registered...) {
		for _, r := range publishedTable(t, name) {
			known[r["id"]] = true
		}
	}
	n := 0
	see := func(what string, b unit.Backing) {
		if b.Active && len(b.Checks) == 0 {
			t.Errorf("%s is active and names no check from outside", what)
		}
		for _, id := range b.Checks {
			n++
			if !known[id] {
				t.Errorf("%s names check %s, and no published table has it", what, id)
			}
		}
	}
	tb := unit.Standard()
	for _, r := range factorRows(tb) {
		see(r.table+" "+r.id, *r.backing)
	}
	for _, c := range tb.Conversions {
		see("conversion "+c.ID, c.Backing)
	}
	t.Logf("%d checks are named", n)
}

func keys(m map[string]bool) []string {
	var out []string
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}
