package house

import (
	"bytes"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"path"
	"regexp"
	"strings"
	"testing"
)

// checkComments complains of every package without a comment and of every
// exported name without one. Programs (package main) export nothing.
func checkComments(list []source) (breaches []string, seen int) {
	type pkg struct {
		first, name string
		documented  bool
	}
	pkgs := map[string]*pkg{}
	for _, src := range list {
		if strings.HasSuffix(src.name, "_test.go") {
			continue
		}
		fset := token.NewFileSet()
		f, err := parser.ParseFile(fset, src.name, src.text, parser.ParseComments|parser.SkipObjectResolution)
		if err != nil {
			breaches = append(breaches, err.Error())
			continue
		}
		dir := path.Dir(src.name)
		if pkgs[dir] == nil {
			pkgs[dir] = &pkg{first: src.name, name: f.Name.Name}
		}
		if says(f.Doc) && (f.Name.Name == "main" || strings.HasPrefix(f.Doc.Text(), "Package "+f.Name.Name+" ")) {
			pkgs[dir].documented = true
		}
		if f.Name.Name == "main" {
			continue
		}
		bad := func(n ast.Node, kind, name string) {
			breaches = append(breaches, fmt.Sprintf("%s: exported %s %s has no doc comment", fset.Position(n.Pos()), kind, name))
		}
		for _, d := range f.Decls {
			switch d := d.(type) {
			case *ast.FuncDecl:
				name, kind := d.Name.Name, "function"
				if d.Recv != nil {
					base := receiver(d.Recv.List[0].Type)
					if !ast.IsExported(base) {
						continue
					}
					name, kind = base+"."+name, "method"
				}
				if !d.Name.IsExported() {
					continue
				}
				seen++
				// A method that only satisfies an interface of the standard
				// library says nothing by a comment of its own.
				if !says(d.Doc) && !(d.Recv != nil && (d.Name.Name == "String" || d.Name.Name == "Error")) {
					bad(d, kind, name)
				}
			case *ast.GenDecl:
				for _, s := range d.Specs {
					switch s := s.(type) {
					case *ast.TypeSpec:
						if s.Name.IsExported() {
							seen++
							if !says(s.Doc) && !(says(d.Doc) && len(d.Specs) == 1) {
								bad(s, "type", s.Name.Name)
							}
						}
					case *ast.ValueSpec:
						for _, n := range s.Names {
							if n.IsExported() {
								seen++
								if !says(s.Doc) && !says(s.Comment) && !says(d.Doc) {
									bad(n, d.Tok.String(), n.Name)
								}
							}
						}
					}
				}
			}
		}
	}
	for _, p := range pkgs {
		if !p.documented {
			breaches = append(breaches, fmt.Sprintf("%s:1:1: package %s has no comment that begins \"Package %s\"", p.first, p.name, p.name))
		}
	}
	return breaches, seen
}

// says reports whether a comment holds words, not only directives.
func says(c *ast.CommentGroup) bool { return c != nil && strings.TrimSpace(c.Text()) != "" }

// receiver is the name of a method's type.
func receiver(x ast.Expr) string {
	for {
		switch t := x.(type) {
		case *ast.StarExpr:
			x = t.X
		case *ast.IndexExpr:
			x = t.X
		case *ast.IndexListExpr:
			x = t.X
		case *ast.Ident:
			return t.Name
		default:
			return ""
		}
	}
}

func TestEveryExportedNameIsExplained(t *testing.T) {
	breaches, seen := checkComments(goFiles(t))
	if seen == 0 {
		t.Fatal("saw no exported name")
	}
	t.Logf("%d exported names", seen)
	report(t, breaches)
}

func TestCommentRuleComplains(t *testing.T) {
	const head = "// Package x is planted.\npackage x\n\n"
	for _, x := range []struct{ text, want string }{
		{"package x\n", "x/a.go:1:1: package x has no comment"},
		{"// Something.\npackage x\n", "has no comment that begins"},
		{head + "func F() {}\n", "x/a.go:4:1: exported function F has no doc comment"},
		{head + "type T struct{}\n", "exported type T"},
		{head + "// T is.\ntype T struct{}\n\nfunc (t *T) M() {}\n", "exported method T.M"},
		{head + "// T is.\ntype T[A any] struct{}\n\nfunc (t *T[A]) M() {}\n", "exported method T.M"},
		{head + "const C = 1\n", "exported const C"},
		{head + "var a, B = 1, 2\n", "exported var B"},
		{head + "//go:noinline\nfunc F() {}\n", "exported function F"},
		{head + "// Two types.\ntype (\n\tA int\n\t// B is.\n\tB int\n)\n", "exported type A"},
		{head + "// F does.\nfunc F() {}\n", ""},
		{head + "// The colours.\nconst (\n\tRed = 1\n\tBlue = 2\n)\n", ""},
		{head + "type t struct{}\n\nfunc (t) M() {}\nfunc f() {}\n", ""},
		{"// A program.\npackage main\n\nfunc F() {}\n", ""},
		{"package main\n", "package main has no comment"},
	} {
		got, _ := checkComments([]source{{"x/a.go", []byte(x.text)}})
		if x.want == "" && len(got) > 0 || x.want != "" && (len(got) != 1 || !strings.Contains(got[0], x.want)) {
			t.Errorf("%q: got %v, want %q", x.text, got, x.want)
		}
	}
}

// A Go file longer than this is two files. Generated tables are data.
const mostLines = 600

var generated = regexp.MustCompile(`(?m)^// Code generated .* DO NOT EDIT\.$`)

func checkLength(list []source) (breaches []string) {
	for _, src := range list {
		if n := bytes.Count(src.text, []byte("\n")); n > mostLines && !generated.Match(src.text) {
			breaches = append(breaches, fmt.Sprintf("%s:%d:1: the file has %d lines; split it before it has more than %d", src.name, mostLines+1, n, mostLines))
		}
	}
	return breaches
}

func TestFilesAreShort(t *testing.T) {
	list := goFiles(t)
	if len(list) == 0 {
		t.Fatal("saw no Go file")
	}
	report(t, checkLength(list))

	long := bytes.Repeat([]byte("//\n"), mostLines+1)
	if got := checkLength([]source{{"x.go", long}}); len(got) != 1 || !strings.HasPrefix(got[0], "x.go:601:1: ") {
		t.Errorf("a long file: got %v", got)
	}
	if got := checkLength([]source{{"x.go", append([]byte("// Code generated by hand; DO NOT EDIT.\n"), long...)}}); len(got) > 0 {
		t.Errorf("a generated file: got %v", got)
	}
	if got := checkLength([]source{{"x.go", long[3:]}}); len(got) > 0 {
		t.Errorf("a file just short enough: got %v", got)
	}
}
