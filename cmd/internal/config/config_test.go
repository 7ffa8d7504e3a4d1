package config

import (
	"bytes"
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/txtar"
	"github.com/spf13/pflag"

	"example.org/windrow/ingest"
)

var update = flag.Bool("update", false, "write the golden files anew; read the difference before you commit it")

// testFlags are the settings that the cases may set by a flag.
var testFlags = []string{"workers", "listen", "watch.settle", "limits.size", "log.level", "mappings"}

// environment sets these variables, and no other of ours, for one test.
func environment(t *testing.T, pairs ...string) {
	t.Helper()
	for _, e := range os.Environ() {
		if k, _, _ := strings.Cut(e, "="); strings.HasPrefix(k, envPrefix) {
			t.Setenv(k, "")
		}
	}
	for _, e := range pairs {
		k, v, _ := strings.Cut(e, "=")
		t.Setenv(k, v)
	}
}

// eachCase loads the settings of every case in a folder.
func eachCase(t *testing.T, dir string, check func(t *testing.T, office string, c *Config, rs []*ingest.Reason) string) {
	t.Helper()
	cases, err := filepath.Glob(filepath.Join("testdata", dir, "*.txtar"))
	if err != nil || len(cases) == 0 {
		t.Fatalf("no cases in %s: %v", dir, err)
	}
	for _, path := range cases {
		t.Run(strings.TrimSuffix(filepath.Base(path), ".txtar"), func(t *testing.T) {
			ar, err := txtar.ParseFile(path)
			if err != nil {
				t.Fatal(err)
			}
			office := t.TempDir()
			var environ []string
			fs := pflag.NewFlagSet("case", pflag.ContinueOnError)
			AddFlags(fs, testFlags...)
			want := -1
			for i, f := range ar.Files {
				switch f.Name {
				case "windrow.yaml":
					if err := os.WriteFile(filepath.Join(office, FileName), f.Data, 0o600); err != nil {
						t.Fatal(err)
					}
				case "env":
					environ = strings.Split(strings.TrimSuffix(string(f.Data), "\n"), "\n")
				case "args":
					if err := fs.Parse(strings.Fields(string(f.Data))); err != nil {
						t.Fatal(err)
					}
				case "want":
					want = i
				default:
					t.Fatalf("no use for %s", f.Name)
				}
			}
			if want < 0 {
				t.Fatal("the case says not what it wants")
			}
			environment(t, environ...)
			c, rs := load(office, fs)
			got := check(t, office, c, rs)
			if *update {
				ar.Files[want].Data = []byte(got)
				if err := os.WriteFile(path, txtar.Format(ar), 0o600); err != nil {
					t.Fatal(err)
				}
				return
			}
			if got != string(ar.Files[want].Data) {
				t.Errorf("got\n%s\nwant\n%s", got, ar.Files[want].Data)
			}
		})
	}
}

func TestBadSettings(t *testing.T) {
	eachCase(t, "bad", func(t *testing.T, office string, c *Config, rs []*ingest.Reason) string {
		if c != nil || len(rs) == 0 {
			t.Fatalf("the settings were taken")
		}
		var b strings.Builder
		for _, r := range rs {
			if r.Severity != ingest.Fail || r.Code == "failed" || r.Where.IsZero() || r.What == "" || r.Next == "" {
				t.Errorf("a reason without severity, code, place, sentence or advice: %+v", r)
			}
			b.WriteString(r.Error() + "\n")
		}
		got := strings.ReplaceAll(b.String(), office, "OFFICE")
		if strings.Contains(got, "hunter2") {
			t.Errorf("a secret was printed:\n%s", got)
		}
		if strings.ContainsAny(got, "\x1b\x07") {
			t.Errorf("a control character was printed: %q", got)
		}
		for _, word := range []string{"mapstructure", "viper", "interface {", "int64", "<nil>"} {
			if strings.Contains(got, word) {
				t.Errorf("a programmer's word, %q, in\n%s", word, got)
			}
		}
		return got
	})
}

func TestGoodSettings(t *testing.T) {
	eachCase(t, "good", func(t *testing.T, office string, c *Config, rs []*ingest.Reason) string {
		if len(rs) > 0 {
			t.Fatalf("refused: %v", rs)
		}
		var b bytes.Buffer
		if err := c.Check(&b); err != nil {
			t.Fatal(err)
		}
		return strings.ReplaceAll(b.String(), office, "OFFICE")
	})
}

// The struct, the field spec and the reader of the file must name the same
// settings: a setting that one of them forgot would be dropped silently.
func TestSpecAndStructAgree(t *testing.T) {
	var tags []string
	var walk func(ty reflect.Type, prefix string)
	walk = func(ty reflect.Type, prefix string) {
		for f := range ty.Fields() {
			tag := f.Tag.Get("mapstructure")
			switch {
			case !f.IsExported() || tag == "-":
			case tag == "":
				t.Errorf("%s%s has no name in the file", prefix, f.Name)
			case f.Type.Kind() == reflect.Struct:
				walk(f.Type, prefix+tag+".")
			default:
				tags = append(tags, prefix+tag)
			}
		}
	}
	walk(reflect.TypeFor[Config](), "")
	var keys []string
	for _, f := range Spec() {
		keys = append(keys, f.Key)
		if f.Doc == "" || f.Kind == "" || f.Default == nil {
			t.Errorf("%s: no meaning, kind or default", f.Key)
		}
		if f.Kind != List && f.Kind != Text && f.Kind != Path && f.Kind != Word && f.Max <= f.Min {
			t.Errorf("%s: no bounds", f.Key)
		}
		if f.Kind == List {
			continue
		}
		if v, ok := f.parse(f.show(f.Default)); !ok || v != f.Default {
			t.Errorf("%s: its default %v, as shown, reads as %v", f.Key, f.Default, v)
		}
	}
	slices.Sort(tags)
	slices.Sort(keys)
	if !slices.Equal(tags, keys) {
		t.Errorf("struct  %v\nspec    %v", tags, keys)
	}
	var sub []string
	for f := range reflect.TypeFor[Folder]().Fields() {
		sub = append(sub, f.Tag.Get("mapstructure"))
	}
	if !slices.Equal(sub, folderKeys) {
		t.Errorf("folder struct %v, folder keys %v", sub, folderKeys)
	}
}

// Each setting, set by each source to a value that is not its default, must
// arrive in the struct: viper must find it and config check must say where it
// came from.
func TestEverySettingFromEverySource(t *testing.T) {
	other := func(f Field) string {
		switch f.Kind {
		case Count:
			return "7"
		case Bytes:
			return "65 MiB"
		case Duration:
			return map[string]string{"watch.settle": "1500ms", "watch.poll": "900ms", "watch.grace": "45s", "engine.longest": "5m", "sign_in.idle": "10m", "sign_in.longest": "8h"}[f.Key]
		case Word:
			return f.Choices[len(f.Choices)-1]
		}
		if v, ok := map[string]string{"office.email": "a@b.example", "office.web": "https://b.example", "state": "CX", "listen": "127.0.0.1:9", "listen_metrics": "0.0.0.0:9",
			"sign_in.address": "https://desk.example", "sign_in.proxies": "10.0.0.5", "openid.issuer": "https://login.example",
			"engine.database": "postgres://windrow@db.example/windrow", "engine.store": "s3://bucket?region=eu-1"}[f.Key]; ok {
			return v
		}
		return "other-" + strings.ReplaceAll(f.Key, ".", "-")
	}
	for _, f := range Spec() {
		if f.Kind == List {
			continue
		}
		want, ok := f.parse(other(f))
		if !ok || want == f.Default {
			t.Fatalf("%s: the test's value is no use", f.Key)
		}
		line := other(f)
		if f.Kind != Count {
			line = `"` + line + `"`
		}
		block, leaf, nested := strings.Cut(f.Key, ".")
		yaml := f.Key + ": " + line + "\n"
		place := "windrow.yaml:1"
		if nested {
			yaml, place = block+":\n  "+leaf+": "+line+"\n", "windrow.yaml:2"
		}
		fs := pflag.NewFlagSet("one", pflag.ContinueOnError)
		AddFlags(fs, f.Key)
		flagged := pflag.NewFlagSet("two", pflag.ContinueOnError)
		AddFlags(flagged, f.Key)
		if err := flagged.Parse([]string{"--" + f.Flag(), other(f)}); err != nil {
			t.Fatal(err)
		}
		for _, src := range []struct {
			from, yaml string
			env        []string
			fs         *pflag.FlagSet
		}{
			{place, yaml, nil, fs},
			{f.Env(), "", []string{f.Env() + "=" + other(f)}, fs},
			{"--" + f.Flag(), "", nil, flagged},
		} {
			environment(t, src.env...)
			c, rs := build("office", parseFile([]byte(src.yaml)), src.fs)
			if len(rs) > 0 {
				t.Errorf("%s from %s: %v", f.Key, src.from, rs)
				continue
			}
			if got := c.written[f.Key]; got != want {
				t.Errorf("%s from %s: got %v (%T), want %v", f.Key, src.from, got, got, want)
			}
			if got := c.From(f.Key).String(); got != src.from {
				t.Errorf("%s: said to come from %s, comes from %s", f.Key, got, src.from)
			}
			for _, g := range Spec() {
				if g.Key != f.Key && c.From(g.Key).String() != "default" {
					t.Errorf("%s from %s: %s is said to come from %s", f.Key, src.from, g.Key, c.From(g.Key))
				}
			}
		}
	}
}

func TestPathsFromTheOfficeFolder(t *testing.T) {
	environment(t)
	dir := t.TempDir()
	c, rs := build(dir, parseFile([]byte("held: /srv/held\ndone: sub/done\nfolders:\n  - path: in\n  - path: ../share\n")), nil)
	if len(rs) > 0 {
		t.Fatal(rs)
	}
	for _, x := range []struct{ got, want string }{
		{c.Held, "/srv/held"}, {c.Done, filepath.Join(dir, "sub", "done")}, {c.Archive, filepath.Join(dir, "archive")},
		{c.Folders[0].Path, filepath.Join(dir, "in")}, {c.Folders[1].Path, filepath.Join(filepath.Dir(dir), "share")},
		{c.DatasetKeyFile, ""}, {c.File(), filepath.Join(dir, FileName)},
	} {
		if x.got != x.want {
			t.Errorf("got %s, want %s", x.got, x.want)
		}
	}
}

func TestDefaultsEqualTheReadersLimits(t *testing.T) {
	environment(t)
	c, rs := build(".", parseFile(nil), nil)
	if len(rs) > 0 {
		t.Fatal(rs)
	}
	if got, want := c.Limits.Ingest(), ingest.DefaultLimits(); got != want {
		t.Errorf("got %+v, want %+v", got, want)
	}
	if n := c.WorkerCount(); n < 1 || n > 16 {
		t.Errorf("%d workers", n)
	}
	if c.Watch.Settle+c.Watch.Poll > 5*time.Second {
		t.Error("a report would take more than five seconds to be noticed")
	}
}

func TestTemplateLoads(t *testing.T) {
	environment(t)
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, FileName), Template(), 0o600); err != nil {
		t.Fatal(err)
	}
	c, rs := load(dir, nil)
	if len(rs) > 0 {
		t.Fatal(rs)
	}
	if c.State != "CX" || c.Office.Name == "" || !strings.Contains(c.Office.Address, "\n") {
		t.Errorf("the template's office did not arrive: %+v", c.Office)
	}
	for _, f := range Spec() {
		_, leaf, nested := strings.Cut(f.Key, ".")
		if !nested {
			leaf = f.Key
		}
		if !regexp.MustCompile(`(?m)^ *(# )?` + leaf + `:`).Match(Template()) {
			t.Errorf("the template does not show %s", f.Key)
		}
	}
}

// What the template shows commented out must be true: with every comment mark
// before a setting taken away it must load and change nothing.
func TestTemplateShowsTheDefaults(t *testing.T) {
	environment(t)
	commented := regexp.MustCompile(`(?m)^( *)# ([a-z_]+: .*)$`)
	text := commented.ReplaceAll(TemplateFor(Office{}, "", []Folder{{Path: "inbox"}}), []byte("$1$2"))
	c, rs := build("office", parseFile(text), nil)
	if len(rs) > 0 {
		t.Fatalf("%v\n%s", rs, text)
	}
	d, _ := build("office", parseFile(nil), nil)
	if !reflect.DeepEqual(c.written, d.written) {
		t.Errorf("got %v\nwant %v", c.written, d.written)
	}
	for _, f := range Spec() {
		if c.From(f.Key).String() == "default" {
			t.Errorf("%s is not in the template", f.Key)
		}
	}
}

func TestTemplateGolden(t *testing.T) { golden(t, "template.yaml", string(Template())) }

func TestReferenceGolden(t *testing.T) { golden(t, "reference.md.golden", Reference()) }

func TestCheckJSON(t *testing.T) {
	environment(t, "WINDROW_WORKERS=2")
	c, rs := build("/office", parseFile([]byte("office:\n  name: Reed & Sons <soil>\ndataset_key_file: hunter2\n")), nil)
	if len(rs) > 0 {
		t.Fatal(rs)
	}
	var b bytes.Buffer
	if err := c.CheckJSON(&b); err != nil {
		t.Fatal(err)
	}
	if !json.Valid(b.Bytes()) || strings.Contains(b.String(), "hunter2") {
		t.Error("not JSON, or a secret in it")
	}
	golden(t, "check.json", b.String())
}

func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s: got\n%s\nwant\n%s", name, got, want)
	}
}

func TestFlags(t *testing.T) {
	environment(t)
	fs := pflag.NewFlagSet("f", pflag.ContinueOnError)
	AddFlags(fs, "workers", "dataset_key_file")
	err := fs.Parse([]string{"--workers", "many"})
	if err == nil || !strings.Contains(err.Error(), "a whole number from 0 to 256") {
		t.Errorf("got %v", err)
	}
	// A flag of the same name that no one gave through AddFlags sets nothing.
	fs = pflag.NewFlagSet("g", pflag.ContinueOnError)
	fs.String("mappings", "", "")
	if err := fs.Parse([]string{"--mappings", "elsewhere"}); err != nil {
		t.Fatal(err)
	}
	c, rs := build("/o", parseFile(nil), fs)
	if len(rs) > 0 || c.Mappings != "/o/mappings" {
		t.Errorf("got %v %v", c, rs)
	}
	defer func() {
		if recover() == nil {
			t.Error("a flag for a setting that does not exist")
		}
	}()
	AddFlags(fs, "no.such")
}

func TestCheckLandUses(t *testing.T) {
	environment(t)
	c, rs := build("/o", parseFile([]byte("state: CX\nfolders:\n  - path: a\n    land_use: lawns\n  - path: b\n    land_use: lawn\n  - path: c\n")), nil)
	if len(rs) > 0 {
		t.Fatal(rs)
	}
	got := c.CheckLandUses([]string{"lawn", "vegetable garden"})
	if len(got) != 1 {
		t.Fatalf("got %v", got)
	}
	golden(t, "land-use.txt", got[0].Error()+"\n")
}

func TestUnreadableFiles(t *testing.T) {
	environment(t)
	for name, make := range map[string]func(path string) error{
		"folder": func(p string) error { return os.Mkdir(p, 0o700) },
		"large":  func(p string) error { return os.WriteFile(p, bytes.Repeat([]byte("#\n"), maxFile), 0o600) },
		"binary": func(p string) error { return os.WriteFile(p, []byte("state: \xff\n"), 0o600) },
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			if err := make(filepath.Join(dir, FileName)); err != nil {
				t.Fatal(err)
			}
			c, rs := load(dir, nil)
			if c != nil || len(rs) != 1 || rs[0].Code != "settings-unreadable" {
				t.Fatalf("got %v %v", c, rs)
			}
			golden(t, "unreadable-"+name+".txt", rs[0].Error()+"\n")
		})
	}
}

// No file that is small enough to be read keeps the program busy.
func TestHostileFilesEndSoon(t *testing.T) {
	environment(t)
	deep := ""
	for i := range 350 {
		deep += strings.Repeat(" ", i) + "k:\n"
	}
	for _, s := range []string{strings.Repeat("[", maxFile), "a: " + strings.Repeat("[", maxBrackets), strings.Repeat("{a: ", maxFile/4),
		strings.Repeat("- ", maxFile/4), strings.Repeat("? ", maxFile/2), strings.Repeat("&a ", maxFile/3), strings.Repeat("a: 1\n", maxFile/5),
		"state: \"" + strings.Repeat("x", maxFile-10) + "\"\n", deep} {
		began := time.Now()
		c, rs := build("/office", parseFile([]byte(s)), nil)
		if c != nil || len(rs) == 0 {
			t.Errorf("%.10q…: taken", s)
		}
		// Wide enough for a slow machine with the race detector on; the
		// bounds above take it to well under a second on any other.
		if took := time.Since(began); took > 20*time.Second {
			t.Errorf("%.10q…: took %s", s, took)
		}
		for _, r := range rs {
			if len(r.Error()) > 1000 {
				t.Errorf("%.10q…: a reason of %d characters", s, len(r.Error()))
			}
		}
	}
}

func TestNear(t *testing.T) {
	for _, x := range []struct{ in, want string }{
		{"workrs", "workers"}, {"wrokers", "workers"}, {"Rule-Set", "rule_set"}, {"archives", "archive"}, {"zzz", ""}, {"", ""},
	} {
		if got := near(x.in, []string{"workers", "rule_set", "archive", "office"}); got != x.want {
			t.Errorf("%q: got %q, want %q", x.in, got, x.want)
		}
	}
}

// FuzzParse: no text panics; whatever is taken is shown again as it was taken.
func FuzzParse(f *testing.F) {
	f.Add("state: CX\nworkers: 3\n")
	f.Add(string(Template()))
	f.Add("folders:\n  - path: a\n    county: b\n")
	f.Add("a: &a [*a]\n")
	f.Add("? x\n: y\n")
	f.Fuzz(func(t *testing.T, text string) {
		if len(text) > 4096 {
			return
		}
		done := make(chan *fileValues, 1)
		go func() { done <- parseFile([]byte(text)) }()
		var fv *fileValues
		select {
		case fv = <-done:
		case <-time.After(3 * time.Second):
			t.Fatal("the file is read for ever")
		}
		c, rs := build("/office", fv, nil)
		if (c == nil) == (len(rs) == 0) {
			t.Fatalf("a config %v and reasons %v", c, rs)
		}
		if c == nil {
			return
		}
		again, rs := build("/office", parseFile(TemplateFor(c.Office, c.State, c.written["folders"].([]Folder))), nil)
		if len(rs) > 0 {
			t.Fatalf("what was taken is refused when written again: %v", rs)
		}
		if again.State != c.State || !reflect.DeepEqual(again.Folders, c.Folders) || again.Office.Name != c.Office.Name {
			t.Fatalf("got %+v, want %+v", again, c)
		}
	})
}

// A password or a key in an address is refused and never repeated, and so is
// half an engine.
func TestEngineSettings(t *testing.T) {
	for yaml, want := range map[string]string{
		"database: postgres://windrow@db/windrow\n  store: s3://soil":                 "",
		"database: postgres://windrow:Sesame41@db/windrow\n  store: s3://soil":        "PGPASSWORD",
		"database: \"postgres://windrow@db/w?password=Sesame41\"\n  store: s3://soil": "PGPASSWORD",
		"database: postgres://windrow@db/windrow\n  store: s3://key:Sesame41@soil":    "AWS_SECRET_ACCESS_KEY",
		"database: mysql://windrow:Sesame41@db/windrow\n  store: s3://soil":           "correct the address",
		"database: postgres://windrow@db/windrow\n  store: file:///archive/Sesame41":  "correct the address",
		"database: postgres://windrow@db/windrow":                                     "set both",
		"store: s3://soil": "set both",
		"database: \"postgres://a:Sesame41@[::1/x\"\n  store: s3://soil": "correct the address",
	} {
		environment(t)
		c, rs := build("office", parseFile([]byte("engine:\n  "+yaml+"\n")), nil)
		if len(rs) == 0 {
			rs = c.CheckEngine()
		}
		said := ""
		for _, r := range rs {
			said += r.Error()
		}
		if want == "" && said != "" || want != "" && !strings.Contains(said, want) || strings.Contains(said, "Sesame41") {
			t.Errorf("%s: %q, want %q", yaml, said, want)
		}
		if want == "" && (!c.Engine.Used() || c.Index != c.Engine.Database) {
			t.Errorf("%s: the engine is not used", yaml)
		}
	}
}
