package house

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// The packages that the Makefile names as SERIAL are tested without the race
// detector, which would find nothing where one thing is done after another:
// neither they nor their tests may start a goroutine.
var serial = regexp.MustCompile(`(?m)^SERIAL +:= (.+)$`)

func checkSerial(dirs []string, list []source) (breaches []string) {
	for _, s := range list {
		in := false
		for _, d := range dirs {
			in = in || "./"+path.Dir(s.name) == d
		}
		if !in {
			continue
		}
		set := token.NewFileSet()
		file, err := parser.ParseFile(set, s.name, s.text, parser.SkipObjectResolution)
		if err != nil {
			breaches = append(breaches, err.Error())
			continue
		}
		ast.Inspect(file, func(n ast.Node) bool {
			found := ""
			switch n := n.(type) {
			case *ast.GoStmt:
				found = "a goroutine"
			case *ast.SelectorExpr:
				if n.Sel.Name == "Parallel" || n.Sel.Name == "RunParallel" {
					found = "a test that runs beside others"
				}
			}
			if found != "" {
				breaches = append(breaches, fmt.Sprintf("%s: %s, in a package that the Makefile names in SERIAL: take it out of that list, so that races are looked for", set.Position(n.Pos()), found))
			}
			return true
		})
	}
	return breaches
}

func TestSerialPackagesStartNothing(t *testing.T) {
	b, err := os.ReadFile(filepath.Join(top(t), "Makefile"))
	if err != nil {
		t.Fatal(err)
	}
	m := serial.FindSubmatch(b)
	if m == nil {
		t.Fatal("the Makefile has no line SERIAL")
	}
	dirs := strings.Fields(string(m[1]))
	for _, d := range dirs {
		if _, err := os.Stat(filepath.Join(top(t), d)); err != nil {
			t.Error(err)
		}
	}
	report(t, checkSerial(dirs, goFiles(t)))

	planted := []source{{"a/x.go", []byte("package a\n\nfunc f() { go f() }\n")}, {"a/b/x.go", []byte("package b\n\nfunc f() { go f() }\n")}, {"a/x_test.go", []byte("package a\n\nfunc g(t T) { t.Parallel() }\n")}}
	if got := checkSerial([]string{"./a"}, planted); len(got) != 2 || !strings.HasPrefix(got[0], "a/x.go:3:12: ") {
		t.Errorf("a planted goroutine: got %v", got)
	}
}
