package house

import (
	"fmt"
	"go/parser"
	"go/token"
	"path"
	"slices"
	"strconv"
	"strings"
	"testing"
)

const module = "example.org/windrow"

// The order of the stages: a package may import the stages to its left.
var order = []string{"ingest", "mappings", "normalize", "interpret", "cmd"}

// The leaves: sub-packages that import nothing of their own stage, so that
// their parent may import them. Every other sub-package of a stage is an
// implementation: it may import its parent, and its parent never imports it.
var leaves = []string{
	"ingest/numfmt",
	"mappings/strict", "mappings/labs",
	"normalize/internal/table", "normalize/formula", "normalize/unit", "normalize/method", "normalize/check", "normalize/estimate", "normalize/censored", "normalize/chart",
	"interpret/rules",
	"cmd/internal/config", "cmd/internal/metrics", "cmd/internal/progress", "cmd/internal/house", "cmd/internal/queue", "cmd/internal/access",
}

// An edge is an import between siblings that is wanted, and why.
type edge struct{ from, to, why string }

// The siblings that may meet. Everything else between siblings is a breach.
var meetings = []edge{
	{"ingest/sheet", "ingest/numfmt", "both forms of workbook show numbers by one language of formats"},
	{"ingest/xls", "ingest/numfmt", "both forms of workbook show numbers by one language of formats"},
	{"normalize/unit", "normalize/internal/table", "both read their factors from tables of one form"},
	{"normalize/method", "normalize/internal/table", "both read their factors from tables of one form"},
	{"normalize/estimate", "normalize/internal/table", "both read what they know from tables of one form"},
	{"normalize/check", "normalize/internal/table", "its ranges and orders are tables of the same form"},
	{"normalize/audit", "normalize/formula", "the second witness computes by the arithmetic that was written for it"},
	{"normalize/audit", "normalize/estimate", "what a step says of its source is held against the tables, of which nothing is computed"},
	{"normalize/audit", "normalize/unit", "what a step says of its source is held against the tables, of which nothing is computed"},
	{"normalize/reference", "normalize/unit", "the page is written from the tables themselves, not from what is told of them"},
	{"normalize/reference", "normalize/estimate", "the page is written from the tables themselves, not from what is told of them"},
	{"normalize/chart", "normalize/censored", "it draws what is known and what is not by the same words"},
	{"normalize/summary", "normalize/censored", "its figures are worked out there"},
	{"normalize/summary", "normalize/chart", "its page has the drawings in it"},
	{"normalize/summary", "normalize/method", "an analyte is called as the table has it"},
	{"normalize/archive/index", "normalize/check", "what two records have in common is known by one fingerprint, and the index keeps it"},
	{"cmd/internal/pipeline", "cmd/internal/config", "the conductor works as the operator set it"},
	{"cmd/internal/pipeline", "cmd/internal/queue", "the conductor takes its jobs from there, where several computers work together"},
	{"cmd/internal/pipeline", "cmd/internal/metrics", "the conductor is the one who knows what happens"},
	{"cmd/internal/pipeline", "cmd/internal/progress", "the conductor is the one who knows how far it is"},
	{"cmd/internal/web", "cmd/internal/pipeline", "the workbench shows what the conductor keeps, and has it carry out what a person decides"},
	{"cmd/internal/web", "cmd/internal/access", "the workbench asks at each page who may see it, and has kept who did"},
	{"cmd/internal/web", "cmd/internal/proofsheet", "a page compares the same words in the same order, beside the same pictures, as the workbook"},
	{"cmd/internal/bench", "cmd/internal/pipeline", "what is measured is the way of a report through the stages as the program conducts it"},
	{"cmd/internal/bench", "cmd/internal/config", "what is measured works in an office as it is by default"},
	{"cmd/internal/demo", "cmd/internal/config", "the demonstration makes an office, which begins with its settings"},
}

// Packages that exist for the tests of others: any test may import them, and
// nothing but tests may.
var forTests = []string{"ingest/readertest", "normalize/archive/index/pgtest"}

// ownModules are folders of tests that need libraries which the program must
// not depend on.
var ownModules = []string{"deploy/check", "normalize/dataset/duckdb"}

// stage is the first part of a package's path.
func stage(pkg string) string {
	s, _, _ := strings.Cut(pkg, "/")
	return s
}

// parent reports whether p is a package over sub: a folder that sub lies in,
// up to the stage itself; for cmd also the program.
func parent(p, sub string) bool { return strings.HasPrefix(sub, p+"/") || p == "cmd/windrow" }

// checkImports holds the files against the rules above. seen is how many
// imports between our own packages it judged.
func checkImports(list []source) (breaches []string, seen int) {
	for _, src := range list {
		from := path.Dir(src.name)
		fset := token.NewFileSet()
		f, err := parser.ParseFile(fset, src.name, src.text, parser.ImportsOnly)
		if err != nil {
			breaches = append(breaches, err.Error())
			continue
		}
		if slices.Contains(ownModules, from) {
			// A module of its own; the go command would refuse an import of ours.
			if !strings.HasSuffix(src.name, "_test.go") {
				breaches = append(breaches, src.name+":1:1: "+from+" holds tests only")
			}
			continue
		}
		if !slices.Contains(order, stage(from)) {
			breaches = append(breaches, src.name+":1:1: Go files lie in "+strings.Join(order, ", ")+" only")
			continue
		}
		isTest := strings.HasSuffix(src.name, "_test.go")
		for _, im := range f.Imports {
			p, err := strconv.Unquote(im.Path.Value)
			if err != nil {
				continue // the parser has taken it, so it cannot happen
			}
			to, ours := strings.CutPrefix(p, module+"/")
			if p == module {
				to, ours = "", true
			}
			if !ours {
				continue
			}
			seen++
			if why := forbidden(from, to, isTest); why != "" {
				breaches = append(breaches, fmt.Sprintf("%s: %s must not import %s: %s", fset.Position(im.Pos()), from, to, why))
			}
		}
	}
	return breaches, seen
}

// forbidden says why from must not import to, or "".
func forbidden(from, to string, isTest bool) string {
	a, b := slices.Index(order, stage(from)), slices.Index(order, stage(to))
	switch {
	case from == to: // an external test of the package itself
		return ""
	case b < 0:
		return "it is no stage"
	case b > a:
		return "imports go one way, " + arrows()
	case slices.Contains(forTests, to):
		if !isTest && !slices.Contains(forTests, from) {
			return "it is for tests only"
		}
		return ""
	case b < a:
		return ""
	}
	// Both in one stage.
	switch {
	case parent(from, to):
		if stage(from) != "cmd" && !slices.Contains(leaves, to) && !isTest {
			return "a parent never imports an implementation; if it is a leaf, list it as one"
		}
		return ""
	case parent(to, from):
		if slices.Contains(leaves, from) && !isTest {
			return "a leaf imports nothing of its stage"
		}
		return ""
	case isTest:
		return ""
	case slices.ContainsFunc(meetings, func(e edge) bool { return e.from == from && e.to == to && e.why != "" }):
		return ""
	}
	return "siblings never meet, except as listed"
}

func TestImportsPointOneWay(t *testing.T) {
	breaches, seen := checkImports(goFiles(t))
	if seen == 0 {
		t.Fatal("saw no import between our own packages")
	}
	t.Logf("%d imports between our own packages", seen)
	report(t, breaches)
}

// The rules must complain: each planted file breaks one, or none.
func TestImportRulesComplain(t *testing.T) {
	for _, x := range []struct{ file, imports, want string }{
		{"ingest/x.go", "mappings", "ingest/x.go:3:8: ingest must not import mappings: imports go one way"},
		{"ingest/pdf/x.go", "cmd/internal/config", "imports go one way"},
		{"mappings/x.go", "normalize/unit", "imports go one way"},
		{"mappings/x_test.go", "normalize", "imports go one way"},
		{"interpret/x.go", "cmd/internal/metrics", "imports go one way"},
		{"ingest/x.go", "ingest/pdf", "a parent never imports an implementation"},
		{"normalize/unit/x.go", "normalize", "a leaf imports nothing of its stage"},
		{"ingest/pdf/x.go", "ingest/sheet", "siblings never meet"},
		{"normalize/unit/x.go", "normalize/method", "siblings never meet"},
		{"cmd/internal/config/x.go", "cmd/internal/pipeline", "siblings never meet"},
		{"ingest/pdf/x.go", "ingest/readertest", "it is for tests only"},
		{"cmd/internal/pipeline/x.go", "ingest/readertest", "it is for tests only"},
		{"tools/x.go", "ingest", "Go files lie in"},
		{"x.go", "ingest", "Go files lie in"},
		{"deploy/x.go", "ingest", "Go files lie in"},
		{"deploy/check/x.go", "ingest", "holds tests only"},
		{"normalize/archive/x.go", "normalize/archive/index", "a parent never imports an implementation"},
		{"ingest/pdfs/x.go", "ingest/pdf", "siblings never meet"},
		{"normalize/archive/index/x.go", "normalize/archive", ""},
		{"normalize/x.go", "normalize/unit", ""},
		{"normalize/archive/x.go", "normalize", ""},
		{"normalize/x.go", "ingest/pdf", ""},
		{"ingest/pdf/x_test.go", "ingest/readertest", ""},
		{"ingest/pdf/x_test.go", "ingest/pdf", ""},
		{"cmd/windrow/x.go", "cmd/internal/house", ""},
		{"cmd/internal/pipeline/x.go", "cmd/internal/metrics", ""},
		{"cmd/internal/pipeline/x.go", "ingest/pdf", ""},
	} {
		text := "package x\n\nimport \"" + module + "/" + x.imports + "\"\n"
		got, seen := checkImports([]source{{x.file, []byte(text)}})
		switch {
		case x.want == "" && (len(got) > 0 || seen != 1):
			t.Errorf("%s importing %s: complained: %v", x.file, x.imports, got)
		case x.want != "" && (len(got) != 1 || !strings.Contains(got[0], x.want)):
			t.Errorf("%s importing %s: got %v, want %q", x.file, x.imports, got, x.want)
		}
	}
	if got, _ := checkImports([]source{{"ingest/x.go", []byte("package")}}); len(got) != 1 {
		t.Errorf("a file that cannot be parsed: got %v", got)
	}
	if _, seen := checkImports([]source{{"ingest/x.go", []byte("package x\nimport \"fmt\"\n")}}); seen != 0 {
		t.Errorf("counted %d imports that are not ours", seen)
	}
}

// A name in the lists that no longer exists would one day excuse another.
func TestImportListsAreInUse(t *testing.T) {
	var pkgs []string
	for _, s := range goFiles(t) {
		pkgs = append(pkgs, path.Dir(s.name))
	}
	for _, e := range meetings {
		for _, p := range []string{e.from, e.to} {
			if !slices.Contains(pkgs, p) {
				t.Errorf("a meeting names %s, which does not exist", p)
			}
		}
	}
	for _, p := range slices.Concat(leaves, forTests) {
		if !slices.Contains(pkgs, p) {
			t.Errorf("the list of leaves, or of packages for tests, names %s, which does not exist", p)
		}
	}
}

// arrows is the order as people draw it, from the program down.
func arrows() string {
	down := slices.Clone(order)
	slices.Reverse(down)
	return strings.Join(down, " -> ")
}
