package letter

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode"

	"example.org/windrow/interpret"
	"example.org/windrow/interpret/rules"
)

// notSaid are the fields of a rule set that no letter shows: names for
// matching, what the tables test themselves with, and citations, which stand
// in the language of their publications.
var notSaid = []string{"ID", "Covers", "Methods", "Units", "Unit", "Textures", "Examples", "Sources", "Publications", "Source", "Provenance", "At", "File", "SHA256", "Kind", "By", "For", "Analyte", "Nutrient", "Class", "Classes", "Word", "Schema", "Rules", "Spot", "Inactive"}

// saidBy gathers the texts of a rule set that a letter may show: every text
// of more than one word.
func saidBy(rs *interpret.RuleSet) []string {
	seen := map[string]bool{}
	var walk func(v reflect.Value)
	walk = func(v reflect.Value) {
		switch v.Kind() {
		case reflect.String:
			if s := v.String(); strings.Contains(s, " ") {
				seen[s] = true
			}
		case reflect.Pointer:
			if !v.IsNil() {
				walk(v.Elem())
			}
		case reflect.Struct:
			for i := range v.NumField() {
				if f := v.Type().Field(i); f.IsExported() && !f.Anonymous && !slices.Contains(notSaid, f.Name) {
					walk(v.Field(i))
				}
			}
		case reflect.Slice:
			for i := range v.Len() {
				walk(v.Index(i))
			}
		}
	}
	walk(reflect.ValueOf(rs))
	var out []string
	for s := range seen {
		out = append(out, s)
	}
	slices.Sort(out)
	return out
}

// Lists what interpret itself says and no translation knows: the whole
// sentences among its texts, and those that a value goes into.
func TestUntranslatedOfInterpret(t *testing.T) {
	files, err := filepath.Glob("../*.go")
	if err != nil {
		t.Fatal(err)
	}
	x := tongueOf(Spanish)
	said, open := 0, 0
	for _, f := range files {
		if strings.HasSuffix(f, "_test.go") || strings.HasSuffix(f, "/compare.go") { // what educators read, and no letter
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), f, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(file, func(n ast.Node) bool {
			lit, ok := n.(*ast.BasicLit)
			if !ok || lit.Kind != token.STRING {
				return true
			}
			text, err := strconv.Unquote(lit.Value)
			if err != nil {
				return true
			}
			for _, s := range sentences(text) {
				end := s[len(s)-1]
				if !strings.Contains(s, " ") || !unicode.IsUpper([]rune(s)[0]) || end != '.' && end != '?' {
					continue // a part of a sentence, a reason for a clerk, or a name
				}
				said++
				if _, ok := x.memory.one(s, x, 0); !ok {
					open++
					t.Logf("not translated: %s: %s", filepath.Base(f), s)
				}
			}
			return true
		})
	}
	t.Logf("%d of %d whole sentences translated", said-open, said)
	if said < 40 || open*7 > said {
		t.Errorf("%d of %d sentences of interpret are not translated: add them to es.yaml", open, said)
	}
}

// Lists what the rule sets say and no translation knows. It is shown in
// English, marked, and never left out; the default rule set may have next to
// none of it.
func TestUntranslated(t *testing.T) {
	sets, faults := interpret.LoadRules(rules.FS)
	if len(faults) > 0 || len(sets) == 0 {
		t.Fatal(len(sets), faults)
	}
	for _, lang := range Languages()[1:] {
		x := tongueOf(lang)
		for _, rs := range sets {
			texts := saidBy(rs)
			open := 0
			for _, s := range texts {
				got := x.tr(s)
				if !strings.ContainsRune(got, foreignFrom) {
					if _, same := x.memory.whole[s]; got == "" || got == s && !same {
						t.Errorf("%s: %q became %q", lang, s, got)
					}
					continue
				}
				open++
				for _, sentence := range sentences(s) {
					if to, ok := x.memory.one(sentence, x, 0); ok {
						if !strings.Contains(got, to) {
							t.Errorf("%s: %q lost %q", lang, s, to)
						}
						continue
					}
					t.Logf("%s: %s: not translated: %s", lang, rs.ID, sentence)
					if !strings.Contains(got, x.say("untranslated", "text", sentence)) {
						t.Errorf("%s: %q is not told as English: %q", lang, sentence, got)
					}
				}
			}
			t.Logf("%s: %s: %d of %d texts translated", lang, rs.ID, len(texts)-open, len(texts))
			if len(texts) < 20 {
				t.Errorf("%s: only %d texts were found", rs.ID, len(texts))
			}
			if rs.ID == "mehlich-3-home" && open*7 > len(texts) {
				t.Errorf("%s: %d of the %d texts of the default rule set are not translated: add them to %s.yaml", lang, open, len(texts), lang)
			}
		}
	}
}
