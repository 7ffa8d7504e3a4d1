package interpret

import (
	"bytes"
	"flag"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"

	"example.org/windrow/interpret/rules"
	"example.org/windrow/normalize/method"
	"github.com/goccy/go-yaml"
	"github.com/santhosh-tekuri/jsonschema/v6"
)

var update = flag.Bool("update", false, "write the golden files anew")

const ruleFile = "mehlich-3-home.yaml"

func TestBuiltInRulesLoad(t *testing.T) {
	rs := loaded(t)
	total := 0
	for _, p := range Provenances {
		t.Logf("%3d rows %s", rs.Rows[p], p.Words())
		total += rs.Rows[p]
	}
	if total < 100 {
		t.Errorf("only %d rows were counted", total)
	}
	if rs.Rows[Memory] != 0 {
		t.Error("a row from memory is in the default rule set")
	}
}

// Every method that a rule file may name is one of the method table, and the
// other way round.
func TestMethodsAreThoseOfTheTable(t *testing.T) {
	for _, id := range methodIDs {
		if m, ok := method.Standard().Method(id); !ok || m.ID != id {
			t.Errorf("the method table has no %s", id)
		}
	}
	if n := bytes.Count(bytes.TrimSpace(method.Raw()), []byte("\n")); n < len(methodIDs) {
		t.Errorf("the method table has %d lines for %d methods", n, len(methodIDs))
	}
}

// faulty are single slips in the built-in rule file: what is replaced, by
// what. Each gives the golden text beside its name.
var faulty = []struct{ name, old, new string }{
	{"unknown-key", "    analyte: P\n", "    anlayte: P\n"},
	{"wrong-unit", "    unit: mg/kg\n    for: [vegetable-garden, lawn, native-bed, flower-bed, blueberry, strawberry, fruit-tree, field-crop]\n    source: rutgers-levels\n    provenance: computed", "    unit: lb/acre\n    for: [vegetable-garden, lawn, native-bed, flower-bed, blueberry, strawberry, fruit-tree, field-crop]\n    source: rutgers-levels\n    provenance: computed"},
	{"no-source", "    source: umass-vegetables\n    provenance: seen\n    rows:\n", "    provenance: seen\n    rows:\n"},
	{"unknown-source", "source: ncda-buffer\n      provenance: seen\n      scale", "source: ncda-bufer\n      provenance: seen\n      scale"},
	{"unknown-method", "methods: [mehlich-3-icp, mehlich-3]", "methods: [mehlich-3-ipc, mehlich-3]"},
	{"unknown-class", "{id: R006, class: very low,", "{id: R006, class: very lwo,"},
	{"bands-gap", "from: 12.5, below: 23}", "from: 12.5, below: 22}"},
	{"not-a-number", "from: 36, below: 69}", "from: 36, below: 6.9e1}"},
	{"anchor", "ph:\n  - id: T01\n", "ph:\n  - &t01\n    id: T01\n"},
	{"not-firm", "use: only-where-nothing-better\n    maintenance: 1", "use: always\n    maintenance: 1"},
	{"over-maintenance", "class: optimum, rate: 1}", "class: optimum, rate: 2}"},
	{"example-differs", "lime_lb_per_1000_sq_ft: 67.3", "lime_lb_per_1000_sq_ft: 76.3"},
	{"lime-over-target", "lime_below: 6.0\n    advice_above: Add no lime and", "lime_below: 6.6\n    advice_above: Add no lime and"},
	{"not-yaml", "lime:\n  rates:\n", "lime: [\n  rates:\n"},
	{"row-twice", "{id: R007,", "{id: R006,"},
	{"no-value", "    target: 6.5\n    low: 6.0\n    high: 6.8", "    target:\n    low: 6.0\n    high: 6.8"},
	{"key-twice", "    target: 6.5\n    low: 6.0\n    high: 6.8", "    target: 6.5\n    target: 6.4\n    low: 6.0\n    high: 6.8"},
	{"missing-key", "    low: 6.0\n", ""},
	{"nothing-below", "    ask_below: The soil is too acid for strawberries. The table that we have read gives no amount of lime for them. Please call us before you plant or lime.\n", ""},
	{"no-sulfur-rule", "  - id: L204\n    for: [blueberry]", "  - id: L204\n    for: [strawberry]"},
	{"sulfur-unclear", "{textures: [clay, C], by: 4/3}", "{textures: [clay, C, SiL], by: 4/3}"},
	{"unknown-land-use", "    for: [lawn]\n    methods", "    for: [lawns]\n    methods"},
}

func TestFaultyRuleFiles(t *testing.T) {
	good, err := fs.ReadFile(rules.FS, ruleFile)
	if err != nil {
		t.Fatal(err)
	}
	sources, err := fs.ReadFile(rules.FS, SourcesFile)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range faulty {
		t.Run(f.name, func(t *testing.T) {
			if !strings.Contains(string(good), f.old) {
				t.Fatal("the text to spoil is not in the rule file")
			}
			bad := strings.Replace(string(good), f.old, f.new, 1)
			sets, faults := LoadRules(fstest.MapFS{ruleFile: {Data: []byte(bad)}, SourcesFile: {Data: sources}})
			if len(sets) != 0 || len(faults) == 0 {
				t.Fatalf("%d rule sets and %d faults", len(sets), len(faults))
			}
			var b strings.Builder
			for _, x := range faults {
				if x.Rule.Line == 0 {
					t.Errorf("no line: %s", x)
				}
				b.WriteString(x.Error() + "\n")
			}
			golden(t, filepath.Join("testdata", "faults", f.name+".txt"), []byte(b.String()))
		})
	}
}

func golden(t *testing.T, file string, got []byte) {
	t.Helper()
	if *update {
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s differs; got:\n%s", file, got)
	}
}

func TestTooLargeRuleFile(t *testing.T) {
	_, faults := ReadRules("big.yaml", bytes.Repeat([]byte("#"), MaxRuleFile+1), nil)
	if len(faults) != 1 || faults[0].Code != "too-large" {
		t.Error(faults)
	}
}

func TestMissingSources(t *testing.T) {
	_, faults := LoadRules(fstest.MapFS{})
	if len(faults) != 1 || faults[0].Code != "sources-missing" {
		t.Error(faults)
	}
}

// The schema for editors accepts the built-in file and refuses the slips
// that a schema can see.
func TestSchemaAgreesWithTheLoader(t *testing.T) {
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(RulesSchema()))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("rules.json", doc); err != nil {
		t.Fatal(err)
	}
	sch, err := c.Compile("rules.json")
	if err != nil {
		t.Fatal(err)
	}
	good, err := fs.ReadFile(rules.FS, ruleFile)
	if err != nil {
		t.Fatal(err)
	}
	valid := func(b []byte) error {
		j, err := yaml.YAMLToJSON(b)
		if err != nil {
			return err
		}
		v, err := jsonschema.UnmarshalJSON(bytes.NewReader(j))
		if err != nil {
			return err
		}
		return sch.Validate(v)
	}
	if err := valid(good); err != nil {
		t.Error(err)
	}
	for _, name := range []string{"unknown-key", "unknown-class", "missing-key"} {
		for _, f := range faulty {
			if f.name == name && valid([]byte(strings.Replace(string(good), f.old, f.new, 1))) == nil {
				t.Errorf("the schema accepts %s", name)
			}
		}
	}
	golden(t, filepath.Join("rules", "rules.schema.json"), RulesSchema())
}

func FuzzReadRules(f *testing.F) {
	good, err := fs.ReadFile(rules.FS, ruleFile)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(good[:2000])
	f.Add([]byte("rules: windrow-rules/1\nph: [{for: [a], target: 6}]\n"))
	f.Add([]byte("a: &x [*x, *x]\n"))
	f.Fuzz(func(t *testing.T, b []byte) {
		rs, faults := ReadRules("fuzz.yaml", b, map[string]Source{"trade": {Key: "trade"}})
		if (rs == nil) == (len(faults) == 0) {
			t.Error("neither a rule set nor a fault, or both")
		}
	})
}
