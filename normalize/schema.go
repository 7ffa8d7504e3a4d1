package normalize

import (
	"bytes"
	_ "embed"
	"errors"
	"slices"
	"strings"
	"sync"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"example.org/windrow/ingest"
)

//go:embed schema/report.schema.json
var schemaJSON []byte

// Schema is the JSON Schema (2020-12) of a Report.
func Schema() []byte { return bytes.Clone(schemaJSON) }

var compiled = sync.OnceValue(func() *jsonschema.Schema {
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(schemaJSON))
	if err == nil {
		c := jsonschema.NewCompiler()
		c.DefaultDraft(jsonschema.Draft2020)
		const name = "report.schema.json"
		if err = c.AddResource(name, doc); err == nil {
			var s *jsonschema.Schema
			if s, err = c.Compile(name); err == nil {
				return s
			}
		}
	}
	// Embedded and compiled by the tests: no user can meet this.
	panic("normalize: report.schema.json: " + err.Error())
})

// Validate tests the bytes of a record against the schema. The error is an
// *ingest.Reason that names the first field at fault.
func Validate(b []byte) error {
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(b))
	if err != nil {
		return &ingest.Reason{Code: "record-not-json", Severity: ingest.Fail, What: "this is not the JSON of a record", Expected: "a JSON document of schema " + SchemaVersion, Found: err.Error(),
			Next: "take the record from the archive again; if the archived file is like this, run “windrow archive verify”"}
	}
	err = compiled().Validate(doc)
	if err == nil {
		return nil
	}
	where, found := "", err.Error()
	var ve *jsonschema.ValidationError
	if errors.As(err, &ve) {
		where, found = deepest(ve)
	}
	return &ingest.Reason{Code: "record-not-valid", Severity: ingest.Fail, What: "the record does not have the shape that its schema describes, at " + where, Expected: "a document of schema " + SchemaVersion,
		Found: found, Next: "the record was changed after it was written, or by another version: rebuild it with “windrow replay”"}
}

// deepest is the place and text of the innermost failure, the first of them
// in the order of the document's paths.
func deepest(v *jsonschema.ValidationError) (where, what string) {
	for len(v.Causes) > 0 {
		next := slices.MinFunc(v.Causes, func(a, b *jsonschema.ValidationError) int {
			return strings.Compare(strings.Join(a.InstanceLocation, "/"), strings.Join(b.InstanceLocation, "/"))
		})
		v = next
	}
	lines := strings.Split(strings.TrimSpace(v.Error()), "\n")
	last := strings.TrimSpace(lines[len(lines)-1])
	if i := strings.Index(last, "': "); i >= 0 {
		last = last[i+3:]
	}
	return "/" + strings.Join(v.InstanceLocation, "/"), last
}
