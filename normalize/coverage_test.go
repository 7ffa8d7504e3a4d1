package normalize

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"sort"
	"strings"
	"testing"
)

// The registry testdata/published/coverage.csv says of each row of the
// published tables of conversions which test covers it: the folder of a
// package and the name of a test in it, or "pending" and what is missing. A
// row that is covered by nothing fails here, and so does a registry that
// names a test or a row which is not there.

// registered are the published tables that the registry accounts for.
var registered = []string{"conversions-units.csv", "conversions-checks.csv", "conversions-derived.csv"}

type coverageRow struct{ table, id, in, by string }

func coverage(t *testing.T) []coverageRow {
	t.Helper()
	var out []coverageRow
	for _, r := range csvOf(t, "coverage.csv")[1:] {
		out = append(out, coverageRow{r[0], r[1], r[2], r[3]})
	}
	return out
}

// coverageIs holds what a test ran against what the registry says of it.
func coverageIs(t *testing.T, table, test string, ran map[string]bool) {
	t.Helper()
	said := map[string]bool{}
	for _, r := range coverage(t) {
		if r.table == table && r.in == "normalize" && r.by == test {
			said[r.id] = true
		}
	}
	for id := range ran {
		if !said[id] {
			t.Errorf("%s: row %s is covered by %s, and coverage.csv doesn't say so", table, id, test)
		}
	}
	for id := range said {
		if !ran[id] {
			t.Errorf("%s: coverage.csv says that %s covers row %s, and it doesn't", table, test, id)
		}
	}
}

// testNames are the tests of a package of this module.
func testNames(t *testing.T, folder string) map[string]bool {
	t.Helper()
	files, err := filepath.Glob(filepath.Join("..", folder, "*_test.go"))
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]bool{}
	for _, name := range files {
		f, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range f.Decls {
			if fn, ok := d.(*ast.FuncDecl); ok && fn.Recv == nil && strings.HasPrefix(fn.Name.Name, "Test") {
				out[fn.Name.Name] = true
			}
		}
	}
	return out
}

func TestEveryPublishedRowIsCovered(t *testing.T) {
	rows := map[string]int{}
	for _, table := range registered {
		for _, r := range publishedTable(t, table) {
			rows[table+" "+r["id"]] = 0
		}
	}
	tests, pending, by := map[string]map[string]bool{}, map[string]int{}, map[string]int{}
	for _, r := range coverage(t) {
		key := r.table + " " + r.id
		if _, ok := rows[key]; !ok {
			t.Errorf("coverage.csv: there is no row %s", key)
			continue
		}
		rows[key]++
		if r.in == "pending" {
			if r.by == "" {
				t.Errorf("coverage.csv: %s is pending and doesn't say what for", key)
			}
			pending[r.by]++
			continue
		}
		if tests[r.in] == nil {
			tests[r.in] = testNames(t, r.in)
		}
		if !tests[r.in][r.by] {
			t.Errorf("coverage.csv: %s is said to be covered by %s in %s, and there is no such test", key, r.by, r.in)
		}
		by[r.in+" "+r.by]++
	}
	covered := 0
	for key, n := range rows {
		if n == 0 {
			t.Errorf("no test covers %s: write one, or register it as pending with what is missing", key)
		} else {
			covered++
		}
	}
	waiting := 0
	for _, k := range sorted(pending) {
		t.Logf("pending, %s: %d rows", k, pending[k])
		waiting += pending[k]
	}
	for _, k := range sorted(by) {
		t.Logf("%s: %d rows", k, by[k])
	}
	t.Logf("%d published rows, %d covered by tests, %d pending", len(rows), covered-waiting, waiting)
}

func sorted(m map[string]int) []string {
	var out []string
	for k := range m {
		out = append(out, k)
	}
	sort.Strings(out)
	return out
}
