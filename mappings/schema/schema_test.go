package schema_test

import (
	"bytes"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"testing"

	"example.org/windrow/mappings/labs"
	"example.org/windrow/mappings/schema"
	"github.com/goccy/go-yaml"
	"github.com/santhosh-tekuri/jsonschema/v6"
)

func compile(t *testing.T) *jsonschema.Schema {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(schema.Mapping))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("mapping.json", doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("mapping.json")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// asJSON decodes YAML into what a JSON Schema validator takes.
func asJSON(t *testing.T, b []byte) any {
	t.Helper()
	j, err := yaml.YAMLToJSON(b)
	if err != nil {
		t.Fatal(err)
	}
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(j))
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func TestShippedMappingsFit(t *testing.T) {
	s := compile(t)
	files, err := fs.Glob(labs.FS, "*.yaml")
	if err != nil || len(files) == 0 {
		t.Fatal("no mappings", err)
	}
	for _, f := range files {
		b, err := fs.ReadFile(labs.FS, f)
		if err != nil {
			t.Fatal(err)
		}
		if err := s.Validate(asJSON(t, b)); err != nil {
			t.Errorf("%s: %v", f, err)
		}
	}
}

// What the decoder refuses for its keys, the schema refuses too.
func TestUnknownKeysDoNotFit(t *testing.T) {
	s := compile(t)
	b, err := os.ReadFile(filepath.Join("..", "testdata", "errors", "unknown-key.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	if s.Validate(asJSON(t, b)) == nil {
		t.Error("an unknown key fits the schema")
	}
}

// Every key that the decoder looks for is in the schema, so that an editor
// doesn't mark as wrong what the program reads.
func TestSchemaHasTheDecodersKeys(t *testing.T) {
	files, err := filepath.Glob(filepath.Join("..", "decode*.go"))
	if err != nil {
		t.Fatal(err)
	}
	found := 0
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range regexp.MustCompile(`\.Get\("([^"]+)"\)`).FindAllSubmatch(b, -1) {
			found++
			if !bytes.Contains(schema.Mapping, fmt.Appendf(nil, "%q:", m[1])) {
				t.Errorf("%s: the key %q is not in the schema", filepath.Base(f), m[1])
			}
		}
	}
	if found < 60 {
		t.Errorf("%d keys found in the decoder; is it still written with Get?", found)
	}
}
