package pipeline

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"example.org/windrow/ingest"
)

// notHolds are codes of reasons that hold no report: they are about
// settings, mappings and folders, or are notes and flags only.
var notHolds = []string{"mapping-error", "example-differs", "hidden-text", "hidden-sheet", "more", "no-folder", "folder-amiss", "folder-twice", "folder-loops", "folder-gone", "folder-back", "not-filed", "seen", "no-mapping"}

// TestCodesAreCounted looks through the sources of ingest and mappings for
// codes of reasons, and wants each among the labels of the metrics: one that
// is not would be counted as "other". The draft of a mapping holds no report.
func TestCodesAreCounted(t *testing.T) {
	known := Codes()
	found := map[string]string{}
	for _, dir := range []string{"../../../ingest", "../../../mappings", "."} {
		err := filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || !strings.HasSuffix(p, ".go") || strings.HasSuffix(p, "_test.go") || strings.Contains(p, "readertest") || strings.Contains(p, "draft") {
				return err
			}
			f, err := parser.ParseFile(token.NewFileSet(), p, nil, parser.SkipObjectResolution)
			if err != nil {
				return err
			}
			ast.Inspect(f, func(n ast.Node) bool {
				if code := heldFor(n); code != "" {
					found[code] = p
				}
				lit, ok := n.(*ast.CompositeLit)
				if !ok {
					return true
				}
				code, severity := "", ""
				for _, e := range lit.Elts {
					kv, ok := e.(*ast.KeyValueExpr)
					if !ok {
						continue
					}
					k, _ := kv.Key.(*ast.Ident)
					if k == nil {
						continue
					}
					if b, ok := kv.Value.(*ast.BasicLit); ok && k.Name == "Code" {
						code, _ = strconv.Unquote(b.Value)
					}
					if s, ok := kv.Value.(*ast.SelectorExpr); ok && k.Name == "Severity" {
						severity = s.Sel.Name
					}
				}
				if code != "" && severity == "Hold" {
					found[code] = p
				}
				return true
			})
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if len(found) < 15 {
		t.Fatalf("found only %v", found)
	}
	for code, p := range found {
		if !slices.Contains(known, code) && !slices.Contains(notHolds, code) {
			t.Errorf("%s: the code %q is not among those that are counted (holdCodes)", p, code)
		}
	}
	for i, c := range known {
		if slices.Contains(known[:i], c) {
			t.Errorf("the code %q is listed twice", c)
		}
	}
}

var codeForm = regexp.MustCompile(`^[a-z]+(-[a-z]+)+$`)

// heldFor is the code in a call of a function named hold, such as
// r.hold("layout-changed", …).
func heldFor(n ast.Node) string {
	call, ok := n.(*ast.CallExpr)
	if !ok {
		return ""
	}
	name := ""
	switch f := call.Fun.(type) {
	case *ast.Ident:
		name = f.Name
	case *ast.SelectorExpr:
		name = f.Sel.Name
	}
	for _, a := range call.Args {
		if b, ok := a.(*ast.BasicLit); ok && name == "hold" && b.Kind == token.STRING {
			if code, err := strconv.Unquote(b.Value); err == nil && codeForm.MatchString(code) {
				return code
			}
		}
	}
	return ""
}

// Every kind that Sniff knows is either read or told in words.
func TestEveryKindIsReadOrTold(t *testing.T) {
	for _, k := range []ingest.Kind{ingest.KindPDF, ingest.KindXLSX, ingest.KindXLS, ingest.KindHTML, ingest.KindZip, ingest.KindMail, ingest.KindImage, ingest.KindText, ingest.KindEmpty, ingest.KindOther} {
		_, read := readers[k]
		if _, ok := expanders[k]; ok {
			read = true
		}
		u, told := notRead[k]
		if read == told {
			t.Errorf("%s: read %v, told %v", k, read, told)
		}
		if told && (u.what == "" || u.next == "" || u.found == "") {
			t.Errorf("%s: told without words: %+v", k, u)
		}
	}
}

func TestFileName(t *testing.T) {
	for in, want := range map[string]string{"TG-26-01180": "TG-26-01180", "../../etc/passwd": "etc-passwd", "a/b\\c:d": "a-b-c-d", "": "", "..": "", "Größe 1": "Gr--e-1", strings.Repeat("x", 99): strings.Repeat("x", 60)} {
		if got := fileName(in); got != want {
			t.Errorf("fileName(%q) = %q, want %q", in, got, want)
		}
	}
}
