package strict

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.org/windrow/ingest"
)

var update = flag.Bool("update", false, "write the golden files anew")

// number is a Value for the tests: digits and one point, kept as written.
type number string

func (n *number) FromText(s string) *Refusal {
	if strings.Trim(s, "0123456789.") != "" {
		return &Refusal{Code: "not-a-number", Is: "not a plain number", Expected: "digits, such as 6.5", Next: "write plain digits"}
	}
	*n = number(s)
	return nil
}

type part struct {
	Spot
	ID   string `yaml:"id" rule:"required"`
	Rate number `yaml:"rate"`
}

type form struct {
	Spot
	Name   string            `yaml:"name" rule:"required"`
	Words  []string          `yaml:"words"`
	Table  map[string]number `yaml:"table"`
	Parts  []part            `yaml:"parts"`
	One    *part             `yaml:"one"`
	Years  int               `yaml:"years"`
	Open   bool              `yaml:"open"`
	Ours   int
	before string
}

// fill reads b as a form in a language with a code for each kind of mistake.
func fill(b []byte) (*File, *form) {
	f, top := Parse("form.yaml", b, Language{Guide: "the guide"})
	var out form
	if top.Has() {
		top.Fill(&out)
	}
	return f, &out
}

// TestComplaints reads each of testdata/*.yaml and compares what is
// complained about, for a person's eye, with the .want beside it.
func TestComplaints(t *testing.T) {
	files, err := filepath.Glob("testdata/*.yaml")
	if err != nil || len(files) < 12 {
		t.Fatalf("%d files to try: %v", len(files), err)
	}
	for _, file := range files {
		t.Run(filepath.Base(file), func(t *testing.T) {
			b, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			f, _ := fill(b)
			if len(f.Reasons) == 0 {
				t.Fatal("nothing was complained about")
			}
			var got bytes.Buffer
			for _, r := range f.Reasons {
				if r.Where.Line == 0 || r.Where.Col == 0 || r.What == "" || r.Next == "" || r.Expected == "" || r.Found == "" || r.Severity != ingest.Fail || r.Code == "" {
					t.Errorf("a complaint without its place, kind or advice: %+v", r)
				}
				got.WriteString(r.Error() + "\n")
			}
			golden := strings.TrimSuffix(file, ".yaml") + ".want"
			if *update {
				if err := os.WriteFile(golden, got.Bytes(), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(golden)
			if err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(got.Bytes(), want) {
				t.Errorf("got\n%swant\n%s", got.Bytes(), want)
			}
		})
	}
}

// What is written is kept as it is written. YAML 1.1 would make a country of
// "no" into false and 6.50 into 6.5 (YAML 1.1 bool and float types,
// yaml.org/type); 010 would become 8 and 1:30 would become 90 (its int type).
func TestTextsStayAsWritten(t *testing.T) {
	for _, c := range []struct{ written, want string }{
		{"no", "no"}, {"NO", "NO"}, {"yes", "yes"}, {"on", "on"}, {"6.50", "6.50"}, {"010", "010"}, {"1e3", "1e3"}, {"0x1F", "0x1F"},
		{"1_000", "1_000"}, {"+7", "+7"}, {"12:30", "12:30"}, {"2026-08-31", "2026-08-31"}, {".5", ".5"}, {"true", "true"}, {".inf", ".inf"},
		{`"6.50 "`, "6.50"}, {"'~'", "~"}, {"'null'", "null"}, {"'it''s'", "it's"}, {"\"a\\tb\"", "a\tb"}, {">-\n  two\n  lines", "two lines"}, {"|\n  kept\n  apart", "kept\napart"},
		{"größer", "größer"},
	} {
		f, out := fill([]byte("name: " + c.written + "\n"))
		if len(f.Reasons) > 0 || out.Name != c.want {
			t.Errorf("%s was read as %q, want %q: %v", c.written, out.Name, c.want, f.Reasons)
		}
		f, top := Parse("f.yaml", []byte(c.written+": x\n"), Language{})
		if strings.HasPrefix(c.written, ">") || strings.HasPrefix(c.written, "|") || strings.HasPrefix(c.written, "\"") {
			continue
		}
		if ps := top.Pairs(); len(f.Reasons) > 0 || len(ps) != 1 || ps[0].Key != c.want {
			t.Errorf("the key %s was read as %+v: %v", c.written, ps, f.Reasons)
		}
	}
}

func TestFill(t *testing.T) {
	f, out := fill([]byte("name: a\nwords: [no, 1.0, x y]\ntable: {P: 2.50, K: 3}\nparts:\n  - {id: one, rate: 4.0}\n  - id: two\none: {id: three}\nyears: 3\nopen: yes\n"))
	if len(f.Reasons) > 0 {
		t.Fatal(f.Reasons)
	}
	if strings.Join(out.Words, "|") != "no|1.0|x y" || out.Table["P"] != "2.50" || out.Table["K"] != "3" || len(out.Table) != 2 {
		t.Errorf("%+v", out)
	}
	if len(out.Parts) != 2 || out.Parts[0].Rate != "4.0" || out.Parts[1].ID != "two" || out.One == nil || out.One.ID != "three" || out.Years != 3 || !out.Open {
		t.Errorf("%+v", out)
	}
	if out.Ours != 0 || out.before != "" {
		t.Error("a field without a key was filled")
	}
	if at := out.Parts[0].Of("rate"); at.String() != "form.yaml:5:21" {
		t.Errorf("rate stands at %s", at)
	}
	if at := out.Parts[1].Of("rate"); at.String() != "form.yaml:6:5" || out.Parts[1].Wrote("rate") || !out.Parts[0].Wrote("rate") {
		t.Errorf("the second part stands at %s", at)
	}
	if at := out.Of("parts"); at.Line != 5 && at.Line != 4 {
		t.Errorf("parts stand at %s", at)
	}
}

// A language with a code has it on every complaint, and its places where the
// language wants them.
func TestLanguageSetsCodeAndPlace(t *testing.T) {
	bad := []byte("nmae: [a\n")
	for _, b := range [][]byte{bad, []byte("a: 1\na: 2\nb: &x 3\n"), nil} {
		f, _ := Parse("m.yaml", b, Language{Code: "mapping-error"})
		g, _ := Parse("m.yaml", b, Language{InRule: true})
		if len(f.Reasons) == 0 || len(f.Reasons) != len(g.Reasons) {
			t.Fatal(f.Reasons, g.Reasons)
		}
		for i, r := range f.Reasons {
			if r.Code != "mapping-error" || !r.Rule.IsZero() || r.Where.Line == 0 {
				t.Errorf("%+v", r)
			}
			if s := g.Reasons[i]; s.Code == "mapping-error" || s.Code == "" || !s.Where.IsZero() || s.Rule != r.Where {
				t.Errorf("%+v", s)
			}
		}
	}
}

func TestNodesAsked(t *testing.T) {
	f, top := Parse("n.yaml", []byte("format: pfd\ncount: 12\nflag: maybe\none: a\nlist: [a, b]\n"), Language{})
	if got := top.Get("format").OneOf("pdf", "workbook"); got != "" {
		t.Error(got)
	}
	if top.Get("count").Int() != 12 || top.Get("flag").Bool() || strings.Join(top.Get("one").Texts(), "") != "a" || strings.Join(top.Get("list").Texts(), "") != "ab" {
		t.Error("a node was read otherwise")
	}
	if n := top.Get("absent"); n.Has() || n.Text() != "" || n.Int() != 0 || n.Items() != nil || n.Pairs() != nil {
		t.Error("an absent node has a value")
	}
	top.Done()
	if len(f.Reasons) != 2 || f.Reasons[0].Next != `did you mean "pdf"?` || f.Reasons[1].Where.String() != "n.yaml:3:7" {
		t.Error(f.Reasons)
	}
}

// The pairs and their distances are those with which textbooks show it, from
// memory: kitten and sitting for letters, CA and ABC for the restricted form,
// which doesn't edit between two letters that it swapped.
func TestDistance(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{
		{"kitten", "sitting", 3}, {"CA", "ABC", 3}, {"abcd", "acbd", 1}, {"", "pH", 2}, {"pH", "", 2}, {"é", "e", 1}, {"soil", "soil", 0},
	} {
		if got := Distance(c.a, c.b); got != c.want {
			t.Errorf("%q to %q: %d, want %d", c.a, c.b, got, c.want)
		}
	}
}

func TestNearest(t *testing.T) {
	known := []string{"source", "soil", "very low", "mehlich-3-icp", "mehlich-3", "P", "lawn"}
	for _, c := range []struct{ word, want string }{
		{"sorce", "source"}, {"soruce", "source"}, {"very lwo", "very low"}, {"mehlich-3-ipc", "mehlich-3-icp"}, {"Lawns", "lawn"}, {"MEHLICH-3", "mehlich-3"},
		{"K", ""}, {"xyz", ""}, {"", ""}, {"completely different", ""},
	} {
		got := ""
		if n := Nearest(c.word, known, 1); len(n) > 0 {
			got = n[0]
		}
		if got != c.want {
			t.Errorf("for %q: %q, want %q", c.word, got, c.want)
		}
	}
	if n := Nearest("mehlich-3-i", known, 5); len(n) != 2 {
		t.Error(n)
	}
}

// Files made to be slow are refused before the parser sees them. Its time
// grows with the square of what is open at one place; without the bound on a
// line the third of these takes half a minute.
func TestBounds(t *testing.T) {
	for name, b := range map[string][]byte{
		"bytes":    bytes.Repeat([]byte("#\n"), MaxBytes/2+1),
		"brackets": append([]byte("a: "), bytes.Repeat([]byte("["), MaxBytes/2)...),
		"dashes":   append([]byte("a:\n  "), bytes.Repeat([]byte("- "), MaxBytes/2-10)...),
		"braces":   append([]byte("a: "), bytes.Repeat([]byte("{a: "), 2000)...),
		"just one": []byte("a: " + strings.Repeat("[", MaxDepth+1) + strings.Repeat("]", MaxDepth+1)),
	} {
		start := time.Now()
		f, top := Parse("big.yaml", b, Language{})
		if top.Has() || len(f.Reasons) != 1 || f.Reasons[0].Code != CodeTooLarge {
			t.Errorf("%s: %v", name, f.Reasons)
		}
		if d := time.Since(start); d > 2*time.Second {
			t.Errorf("%s took %s", name, d)
		}
	}
	if f, top := Parse("ok.yaml", []byte("a: "+strings.Repeat("[", MaxDepth)+"x"+strings.Repeat("]", MaxDepth)), Language{}); !top.Has() {
		t.Error(f.Reasons)
	}
	// As large and as deep by indents as a file may be, and still quick.
	var deep bytes.Buffer
	for i := 0; deep.Len() < MaxBytes-2000; i++ {
		deep.WriteString(strings.Repeat(" ", i) + "a:\n")
	}
	deep.WriteString(strings.Repeat(" ", 1000) + "b\n")
	start := time.Now()
	if f, _ := Parse("deep.yaml", deep.Bytes(), Language{}); f == nil || time.Since(start) > 10*time.Second {
		t.Errorf("took %s", time.Since(start))
	}
}

// FuzzFill: whatever the bytes, there is an end, every complaint has its
// place, and a file without complaints has every key it must have.
func FuzzFill(f *testing.F) {
	files, err := filepath.Glob("testdata/*.yaml")
	if err != nil {
		f.Fatal(err)
	}
	for _, file := range files {
		b, err := os.ReadFile(file)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b)
	}
	f.Add([]byte("name: a\nparts: [{id: b, rate: 1}]\n"))
	f.Add([]byte("name: a\n? [b]\n: c\n<<: *d\n"))
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) > 20000 {
			return
		}
		file, out := fill(b)
		for _, r := range file.Reasons {
			if r.Where.Line == 0 || r.Code == "" || r.What == "" {
				t.Errorf("%+v", r)
			}
		}
		if len(file.Reasons) == 0 && out.Name == "" {
			t.Error("no name, and no complaint")
		}
	})
}
