package dataset_test

import (
	"encoding/json"
	"os"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"example.org/windrow/normalize"
	"example.org/windrow/normalize/dataset"
)

// publishedSchema is the JSON Schema that the standard publishes; see
// testdata/data-package-1/README.md.
func publishedSchema(t *testing.T) *jsonschema.Schema {
	t.Helper()
	const file = "testdata/data-package-1/tabular-data-package.json"
	f, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	doc, err := jsonschema.UnmarshalJSON(f)
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	c.AssertFormat()
	if err := c.AddResource(file, doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile(file)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func descriptorOf(t *testing.T, text string) any {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	return doc
}

// The descriptor is valid by the JSON Schema that the standard publishes, with
// every table, with none of their rows, and after disclosure control.
func TestPublishedSchemaOfDataPackage(t *testing.T) {
	s := publishedSchema(t)
	reports, _ := inventedArchive(40)
	for name, c := range map[string]struct {
		opt dataset.Options
		rs  []*normalize.Report
	}{
		"every table": {dataset.Options{Title: "Finch, 2026", Office: "Finch office", Licence: "CC BY 4.0", Version: "1.0"}, []*normalize.Report{report(1), inEachTable(3)}},
		"a link":      {dataset.Options{Licence: "https://example.org/terms"}, []*normalize.Report{inEachTable(3)}},
		"no rows":     {dataset.Options{}, nil},
		"protected":   {dataset.Options{MinGroup: 5}, reports},
	} {
		got, _ := write(t, c.opt, c.rs...)
		if err := s.Validate(descriptorOf(t, got[dataset.PackageFile])); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// The schema refuses what is wrong, so that the test above can fail.
func TestPublishedSchemaRefuses(t *testing.T) {
	s := publishedSchema(t)
	good, _ := write(t, dataset.Options{Licence: "CC BY 4.0", Office: "o"}, inEachTable(3))
	text := good[dataset.PackageFile]
	for _, slip := range [][2]string{
		{`"name": "soil-test-results"`, `"name": "Soil Test"`},
		{`"profile": "tabular-data-package"`, `"profile": "other"`},
		{`"type": "integer"`, `"type": "whole"`},
		{`"path": "results.csv"`, `"paths": "results.csv"`},
		{`"hash": "sha256:`, `"hash": "sha256 `},
		{`"name": "CC-BY-4.0"`, `"name": "CC BY"`},
		{`"resources": [`, `"resource": [`},
		{`"required": true`, `"required": "yes"`},
	} {
		bad := strings.Replace(text, slip[0], slip[1], 1)
		if bad == text || !json.Valid([]byte(bad)) {
			t.Errorf("%q is not in the descriptor", slip[0])
			continue
		}
		if s.Validate(descriptorOf(t, bad)) == nil {
			t.Errorf("%q in place of %q is valid", slip[1], slip[0])
		}
	}
}
