//go:build unix

package index_test

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"example.org/windrow/normalize/archive/index/pgtest"
)

// statements collects the SQL of this package's sources: string constants
// and sums of them that begin as a statement does.
func statements(t *testing.T) []string {
	t.Helper()
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	consts := map[string]ast.Expr{}
	var parsed []*ast.File
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		parsed = append(parsed, f)
		ast.Inspect(f, func(n ast.Node) bool {
			if d, ok := n.(*ast.GenDecl); ok && d.Tok == token.CONST {
				for _, s := range d.Specs {
					v := s.(*ast.ValueSpec)
					for i, id := range v.Names {
						if i < len(v.Values) {
							consts[id.Name] = v.Values[i]
						}
					}
				}
			}
			return true
		})
	}
	var fold func(e ast.Expr) (string, bool)
	fold = func(e ast.Expr) (string, bool) {
		switch e := e.(type) {
		case *ast.BasicLit:
			s, err := strconv.Unquote(e.Value)
			return s, err == nil && e.Kind == token.STRING
		case *ast.Ident:
			c, ok := consts[e.Name]
			if !ok {
				return "", false
			}
			return fold(c)
		case *ast.BinaryExpr:
			x, xok := fold(e.X)
			y, yok := fold(e.Y)
			return x + y, xok && yok && e.Op == token.ADD
		}
		return "", false
	}
	var out []string
	for _, f := range parsed {
		ast.Inspect(f, func(n ast.Node) bool {
			e, ok := n.(ast.Expr)
			if !ok {
				return true
			}
			s, ok := fold(e)
			if !ok {
				return true
			}
			for _, begin := range []string{"SELECT ", "INSERT ", "DELETE ", "UPDATE "} {
				if strings.HasPrefix(s, begin) {
					out = append(out, s)
				}
			}
			return false
		})
	}
	return out
}

// A real PostgreSQL takes the migration and prepares every statement, so that
// the index can move there.
func TestPostgresTakesTheSQL(t *testing.T) {
	server := pgtest.Shared(t)
	migrations, err := filepath.Glob("migrations/*.sql")
	if err != nil || len(migrations) < 2 {
		t.Fatalf("migrations %v (%v)", migrations, err)
	}
	sql, down := "", ""
	for _, m := range migrations { // by number
		b, err := os.ReadFile(m)
		if err != nil {
			t.Fatal(err)
		}
		up, back, ok := strings.Cut(string(b), "-- +goose Down")
		if !ok {
			t.Fatalf("%s has no way down", m)
		}
		sql, down = sql+up, back+down
	}
	all := statements(t)
	if len(all) < 15 {
		t.Fatalf("only %d statements found: %q", len(all), all)
	}
	all = append(all, `SELECT id FROM reports WHERE status = $1 AND reported >= $2 AND reported <> '' ORDER BY reported DESC, id LIMIT 7 OFFSET 3`)
	prepared := 0
	for _, s := range all {
		if strings.HasSuffix(strings.TrimSpace(s), "FROM") {
			continue // the name of a table is still to come
		}
		prepared++
		// The place for many values, as eachOf numbers it.
		next := 1
		for strings.Contains(s, fmt.Sprintf("$%d", next)) {
			next++
		}
		s = strings.Replace(s, "(?)", fmt.Sprintf("($%d)", next), 1)
		sql += fmt.Sprintf("PREPARE s%d AS %s;\n", prepared, s)
	}
	// One row told three times, to run the one statement with logic in it.
	for _, s := range all {
		if strings.HasPrefix(s, "INSERT INTO sources") {
			for _, v := range []string{`'aa','',5,''`, `'aa','late',0,'2026-02-02T00:00:00Z'`, `'aa','early',0,'2026-01-01T00:00:00Z'`, `'aa','',9,''`} {
				sql += "PREPARE one AS " + s + ";\nEXECUTE one(" + v + ");\nDEALLOCATE one;\n"
			}
		}
	}
	sql += "SELECT 'row', sha256, name, size, first_seen FROM sources;\n" + down
	out := server.SQL(t, "postgres", sql)
	if !strings.Contains(out, "row|aa|early|9|2026-01-01T00:00:00Z") {
		t.Errorf("the source is not as on SQLite: %s", out)
	}
	if n := strings.Count(out, "PREPARE\n"); n != prepared+4 {
		t.Errorf("%d statements prepared, want %d", n, prepared+4)
	}
	t.Logf("%d statements", prepared)
}
