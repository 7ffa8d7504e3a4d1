package web

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/interpret/letter"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/check"
	"example.org/windrow/normalize/method"
)

func dictionaryOf(t *testing.T) *dictionary {
	t.Helper()
	d, err := spanish()
	if err != nil {
		t.Fatal(err)
	}
	return d
}

var filled = regexp.MustCompile(`\{=?[a-z0-9]+\}`)

// fills are the places of a text, in order of their names.
func fills(s string) []string {
	out := filled.FindAllString(s, -1)
	slices.Sort(out)
	return slices.Compact(out)
}

// Every text of every page is there in Spanish, with the same places, and
// nothing is translated that stands on no page.
func TestEveryTextOfThePagesIsInSpanish(t *testing.T) {
	d := dictionaryOf(t)
	names, err := fs.Glob(files, "templates/*.html")
	if err != nil || len(names) < 20 {
		t.Fatal(names, err)
	}
	used := map[string]bool{}
	for _, n := range names {
		b, err := fs.ReadFile(files, n)
		if err != nil {
			t.Fatal(err)
		}
		_, missing := turnTemplate(string(b), func(key string) (string, bool) {
			used[key] = true
			s, ok := d.Text[key]
			return s, ok
		})
		for _, m := range missing {
			t.Errorf("%s: %q is not in Spanish", n, m)
		}
		for _, m := range regexp.MustCompile(`count [^}"]*"([^"]*)"`).FindAllStringSubmatch(string(b), -1) {
			if _, ok := d.Nouns[m[1]]; !ok {
				t.Errorf("%s: the noun %q is not in Spanish", n, m[1])
			}
		}
	}
	if len(used) < 300 {
		t.Errorf("only %d texts were found", len(used))
	}
	for key, to := range d.Text {
		if !used[key] {
			t.Errorf("%q is translated and stands on no page", key)
		}
		if !slices.Equal(fills(key), fills(to)) {
			t.Errorf("%q and %q have other places", key, to)
		}
	}
	for _, x := range append(slices.Clone(d.Said), d.Titles...) {
		if from, to := x.Key.(string), x.Value.(string); !slices.Equal(fills(from), fills(to)) {
			t.Errorf("%q and %q have other places", from, to)
		}
	}
}

// What stands between actions is turned and the actions are not, in whatever
// order the other language wants them; tags, conditions and what one types end
// a text.
func TestTurnTemplate(t *testing.T) {
	said := map[string]string{"{1} of {2}": "de {2}, {1}", "Hello": "Hola", "more": "más", "Look": "Mire", "a name": "un nombre", "Not before {1}.": "No antes de {1}."}
	for _, x := range []struct{ src, want string }{
		{`<p class="Hello">{{.A}} of {{count .B "Hello"}}</p>`, `<p class="Hello">de {{count .B "Hello"}}, {{.A}}</p>`},
		{"<p>\n Hello </p>{{if .X}}Hello{{else}} more{{end}}", "<p>\n Hola </p>{{if .X}}Hola{{else}} más{{end}}"},
		{`<a href="/x?a={{if eq .B "x>y"}}1{{end}}" aria-label="Look" title='x'>Look</a>`, `<a href="/x?a={{if eq .B "x>y"}}1{{end}}" aria-label="Mire" title='x'>Mire</a>`},
		{`<code>Hello</code> <kbd>Look</kbd> Look`, `<code>Hello</code> <kbd>Look</kbd> Mire`},
		{`<input placeholder="{{if .X}}a name{{end}}" value="Hello">`, `<input placeholder="{{if .X}}un nombre{{end}}" value="Hello">`},
		{`{{/* Hello */}}{{$x := "Hello"}}Hello{{with $x}} Not before {{date .}}.{{end}}`, `{{/* Hello */}}{{$x := "Hello"}}Hola{{with $x}} No antes de {{date .}}.{{end}}`},
		{`Unknown &amp; {{.A}} &lt; 5`, `Unknown &amp; {{.A}} &lt; 5`},
	} {
		got, missing := turnTemplate(x.src, func(k string) (string, bool) { s, ok := said[k]; return s, ok })
		if got != x.want {
			t.Errorf("%s: got %s, want %s", x.src, got, x.want)
		}
		if want := strings.HasPrefix(x.src, "Unknown"); (len(missing) > 0) != want {
			t.Errorf("%s: missing %q", x.src, missing)
		}
	}
}

var verb = regexp.MustCompile(`%[-+.0-9]*[a-z]`)

// sentenceOf is what a text of the program is made of, with {} for what is put
// in; false for what is no text.
func sentenceOf(e ast.Expr) (string, bool) {
	switch x := e.(type) {
	case *ast.BasicLit:
		if x.Kind == token.STRING {
			s, err := strconv.Unquote(x.Value)
			return verb.ReplaceAllString(strings.ReplaceAll(s, "%%", "%"), "{}"), err == nil
		}
	case *ast.BinaryExpr:
		a, ok := sentenceOf(x.X)
		b, also := sentenceOf(x.Y)
		return a + b, x.Op == token.ADD && (ok || also)
	case *ast.ParenExpr:
		return sentenceOf(x.X)
	}
	return "{}", false
}

// unsaid are texts of the program that no page shows: those that begin so are
// for its log, for browsers and for folders.
var unsaid = []string{"attachment; ", "text/html", "default-src", "camera=", "<span", "words/es.yaml", " (aria-label", "where people sign in", "a sign-in failed", "not for this role", "this answers to", "this address answers", "this was handed on", "this page can't be made",
	"report {} in the archive", "version {} of report", "advice on {}", "a file of {}", "no JSON", "no FeatureCollection", "feature {}", "{} has no geometry", "the coordinates of", "{} is a {}", "more than {} places", "a place of {}", "outlines without extent", "trial {}",
	"2 Jan 2006", "Mon 2 Jan", "Monday 2 January", "1 {}", "{} {}", " {}", "English", "{} Expected:", ", with ", "; windrow ruling ", "; under Decide ", "{} by {}", "; {} made", "; {} put aside", "; its file lies", " Found:", " It takes the place", " to {}", " of {}", " by ", " box [0-9"}

// Whatever the program says on a page is there in Spanish.
func TestEveryWordOfTheProgramIsInSpanish(t *testing.T) {
	d := dictionaryOf(t)
	said := map[string]bool{}
	for _, x := range append(slices.Clone(d.Said), d.Titles...) {
		said[strings.TrimSuffix(filled.ReplaceAllString(x.Key.(string), "{}"), ".")] = true
	}
	names, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	words, n := regexp.MustCompile(`[a-z{] ?[a-z{]`), 0
	for _, name := range names {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(f, func(x ast.Node) bool {
			switch x := x.(type) {
			case *ast.ImportSpec:
				return false
			case *ast.Field:
				if x.Tag != nil {
					return false
				}
			case ast.Expr:
				s, ok := sentenceOf(x)
				if !ok {
					return true
				}
				if !strings.Contains(s, " ") || !words.MatchString(s) || strings.HasPrefix(s, "GET ") || strings.HasPrefix(s, "POST ") || slices.ContainsFunc(unsaid, func(p string) bool { return strings.HasPrefix(s, p) }) {
					return false
				}
				n++
				if !said[strings.TrimSuffix(s, ".")] {
					if _, noun := d.Nouns[s]; !noun {
						t.Errorf("%s: %q is not in Spanish", name, s)
					}
				}
				return false
			}
			return true
		})
	}
	if n < 100 {
		t.Errorf("only %d texts of the program were found", n)
	}
	if got, ok := d.bounds(letter.NewPhrases(d.Said, letter.Spanish), "3.5 to 4.25 cmol(+)/kg"); !ok || got != "3.5 a 4.25 cmol(+)/kg" {
		t.Errorf("a span of numbers is said as %q", got)
	}
	// And what other packages give the pages to say: fields, the kinds of a test,
	// the equations of steps, and what is said of sources.
	p := letter.NewPhrases(d.Said, letter.Spanish)
	for _, x := range []struct {
		files, each string
		say         func(string) (string, bool)
		least       int
	}{
		{"../../../mappings/extract.go", `FieldID = "([a-z_]+)"`, func(s string) (string, bool) {
			to, ok := p.Say(fieldName(s))
			return to, ok && !strings.Contains(fieldName(s), "_")
		}, 14},
		{"../../../mappings/labs/*.yaml", `detail: (?:"([^"]+)"|([^",}\n]*[a-z]{4}[^,}\n]*))`, p.Say, 10},
		{"../../../mappings/selftest.go", `"((?:the|another|if|look|make|compare|name|nothing|no|one|a) [^"]*[a-z` + "`" + `])"`, p.Say, 18},
		{"../../../normalize/audit/relation.go", `factor: +"([^"]+)"`, func(s string) (string, bool) { return d.formula(p, "factor = "+s) }, 4},
		{"../../../normalize/chain.go", `Equation: "([^"]*[a-z]{4}[^"]*)"`, func(s string) (string, bool) { return d.formula(p, s) }, 1},
	} {
		paths, err := filepath.Glob(x.files)
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for _, path := range paths {
			b, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			for _, m := range regexp.MustCompile(x.each).FindAllStringSubmatch(string(b), -1) {
				n++
				if _, ok := x.say(strings.Join(m[1:], "")); !ok {
					t.Errorf("%s: %q is not in Spanish", path, m[1])
				}
			}
		}
		if n < x.least {
			t.Errorf("%s: only %d texts were found", x.files, n)
		}
	}
	// What the checks find: the patterns have other places, since two texts that are
	// put together stand in one of them.
	found, err := filepath.Glob("../../../normalize/check/*.go")
	if err != nil {
		t.Fatal(err)
	}
	n = 0
	for _, name := range found {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(f, func(x ast.Node) bool {
			lit, ok := x.(*ast.CompositeLit)
			if !ok || len(lit.Elts) < 4 {
				return true
			}
			if id, ok := lit.Type.(*ast.Ident); !ok || id.Name != "Found" {
				return true
			}
			var what, expected ast.Expr
			for i, e := range lit.Elts {
				key := ""
				if kv, ok := e.(*ast.KeyValueExpr); ok {
					key, e = kv.Key.(*ast.Ident).Name, kv.Value
				}
				switch {
				case key == "What", key == "" && i == 2:
					what = e
				case key == "Expected", key == "" && i == 3:
					expected = e
				}
			}
			for _, e := range []ast.Expr{what, expected} {
				if c, ok := e.(*ast.CallExpr); ok && len(c.Args) > 0 {
					e = c.Args[0]
				}
				s, ok := sentenceOf(e)
				if !ok || !words.MatchString(s) || !strings.Contains(s, " ") {
					continue
				}
				n++
				if s == "{} cmol(+)/kg" || strings.HasPrefix(s, "{} {}, which is") { // a span of numbers; as printed
					continue
				}
				if _, ok := p.Say(strings.NewReplacer("{} {}", "7", "{} of {}", "7", "don't agree{}", "don't agree", "{}", "7").Replace(s)); !ok && !said[s] {
					t.Errorf("%s: %q is not in Spanish", name, s)
				}
			}
			return true
		})
	}
	if n < 60 {
		t.Errorf("only %d texts of checks were found", n)
	}
	for _, words := range append(slices.Collect(maps.Values(changeNames)), slices.Collect(maps.Values(causeWords))...) {
		if _, ok := p.Say(words); words != "" && !ok {
			t.Errorf("what differs between versions, %q, is not in Spanish", words)
		}
	}
	remarks := map[string]int{}
	for key, s := range normalize.Sources() {
		if at := strings.LastIndex(s.Text, ". "); at >= 0 {
			remarks[s.Text[at+2:]]++
		}
		if _, ok := p.Say(s.Text); !ok && slices.Contains([]string{"definition", "common-practice", "from-memory", "report", "mapping-statement", "arithmetic"}, key) {
			t.Errorf("the source %q is not in Spanish: %s", key, s.Text)
		}
	}
	for r, n := range remarks {
		if _, ok := p.Say(r); n > 1 && !ok {
			t.Errorf("what is said of %d sources is not in Spanish: %s", n, r)
		}
	}
}

// A step on one line is said in the language, and stays whole in English where
// one of its words is not.
func TestWorkInSpanish(t *testing.T) {
	d := dictionaryOf(t)
	p := letter.NewPhrases(d.Said, letter.Spanish)
	for from, want := range map[string]string{
		"47 lb/acre × 1/2 (0.5) = 23.5 mg/kg, with soil per acre 2000000 lb/acre (mapping); depth 6.667 in (report)":                "47 lb/acre × 1/2 (0.5) = 23.5 mg/kg, con suelo por acre 2000000 lb/acre (mapeo); profundidad 6.667 in (informe)",
		"281 lb/acre as K2O × 2 = 562 mg/kg as K2O":                                                                                 "281 lb/acre como K2O × 2 = 562 mg/kg como K2O",
		"78.1 % by the number stored in the cell = 78.13 %, with number stored in the cell 78.125 % (report)":                       "78.1 % por el número guardado en la celda = 78.13 %, con número guardado en la celda 78.125 % (informe)",
		"35.94 mg/kg by 10^(-0.52 + 0.9*log10(x) + 0.08*log10(Ca)) = 8.67 mg/kg, with pH 6.3 pH (report); Ca 1520.7 mg/kg (report)": "35.94 mg/kg por 10^(-0.52 + 0.9*log10(x) + 0.08*log10(Ca)) = 8.67 mg/kg, con pH 6.3 pH (informe); Ca 1520.7 mg/kg (informe)",
	} {
		if got, ok := d.worked(p, from); !ok || got != want {
			t.Errorf("%s\nis said as %s", from, got)
		}
	}
	for from, want := range map[string]string{"EC (1:1 extract) printed “0.38” dS/m": "conductividad eléctrica (extracto 1:1), impreso “0.38” dS/m", "base_sat_K (K saturation) printed “3 %”": "saturación de potasio, impreso “3 %”"} {
		if got, ok := d.label(p, from); !ok || got != want {
			t.Errorf("%s\nis said as %s", from, got)
		}
	}
	if got, ok := d.label(p, "the method printed “x” is another"); ok {
		t.Errorf("half said: %s", got)
	}
	// A pattern that begins like a sentence does not say the half of it.
	if got, ok := p.Say("the text is of two minds: nobody says so"); ok {
		t.Errorf("half said: %s", got)
	}
	for _, from := range []string{"47 lb/acre × 2 = 94 mg/kg, with moonlight 3 lux (report)", "47 lb/acre × 2 = 94 mg/kg, with depth 3 in (hearsay)", "47 lb/acre by a rule of thumb = 94 mg/kg"} {
		if got, ok := d.worked(p, from); ok || got != from {
			t.Errorf("%s is half said: %s", from, got)
		}
	}
}

// Of each reason for which a report may wait, and each check, it is said in
// Spanish what it is about; every test has a name.
func TestEveryCodeIsInSpanish(t *testing.T) {
	d := dictionaryOf(t)
	codes := pipeline.Codes()
	for _, c := range check.All() {
		codes = append(codes, c.Code)
	}
	for _, c := range codes {
		if d.Codes[c] == "" {
			t.Errorf("no words for %q", c)
		}
	}
	for c := range d.Codes {
		if !slices.Contains(codes, c) {
			t.Errorf("words for %q, which holds nothing", c)
		}
	}
	p := letter.NewPhrases(d.Said, letter.Spanish)
	for _, a := range method.Standard().Analytes {
		if _, ok := p.Say(a.Name); !ok {
			t.Errorf("no name for %q", a.Name)
		}
	}
}
