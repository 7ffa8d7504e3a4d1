package normalize

import (
	"bytes"
	"encoding/json"
	"errors"
	"reflect"
	"strings"
	"testing"

	"example.org/windrow/ingest"
)

// Every archived shape comes from Build, so the records of all truth files
// are the widest test of the schema there is.
func TestRecordsValidateAndRepeat(t *testing.T) {
	n := 0
	for _, f := range truths(t) {
		a, err := Build(f.extract(t), Options{Version: "test", Office: "Finch"}).JSON()
		if err != nil {
			t.Fatal(err)
		}
		b, _ := Build(f.extract(t), Options{Version: "test", Office: "Finch"}).JSON()
		if !bytes.Equal(a, b) {
			t.Errorf("%s: two runs differ", f.path)
		}
		if err := Validate(a); err != nil {
			t.Errorf("%s: %v", f.path, err)
		}
		var back Report
		if err := json.Unmarshal(a, &back); err != nil {
			t.Errorf("%s: %v", f.path, err)
		}
		if again, _ := back.JSON(); !bytes.Equal(a, again) {
			t.Errorf("%s: reading and writing again changes the bytes", f.path)
		}
		n++
	}
	held, err := HeldReport(ingest.SourceRef{Name: "a.pdf", SHA256: strings.Repeat("a", 64)}, Lab{}, []*ingest.Reason{{Code: "no-mapping", Severity: ingest.Hold, What: "x"}, nil}, Options{}).JSON()
	if err != nil {
		t.Fatal(err)
	}
	if err := Validate(held); err != nil {
		t.Error(err)
	}
	t.Logf("%d reports validated", n)
}

func TestValidateRefuses(t *testing.T) {
	good, _ := Build(truths(t)[0].extract(t), Options{Version: "test"}).JSON()
	for _, c := range []struct{ name, old, new, code string }{
		{"an unknown field", `"schema":`, `"scheme": 1, "schema":`, "record-not-valid"},
		{"an exponent", `"number": "`, `"number": "1e`, "record-not-valid"},
		{"a status", `"status": "ok"`, `"status": "fine"`, "record-not-valid"},
		{"a step without source", `"source": "rayment-lyons-2011"`, `"source": ""`, "record-not-valid"},
		{"half a file", good2(good), "", "record-not-json"},
	} {
		bad := strings.Replace(string(good), c.old, c.new, 1)
		if bad == string(good) {
			t.Fatalf("%s: nothing was changed", c.name)
		}
		err := Validate([]byte(bad))
		var r *ingest.Reason
		if !errors.As(err, &r) || r.Code != c.code || r.Next == "" {
			t.Errorf("%s: got %v, want a %s", c.name, err, c.code)
		}
	}
}

func good2(b []byte) string { return string(b[len(b)/2:]) }

// TestSchemaKnowsEveryField walks the Go types and the schema together: a
// field that one has and the other has not is a mistake in either direction.
func TestSchemaKnowsEveryField(t *testing.T) {
	var doc map[string]any
	if err := json.Unmarshal(Schema(), &doc); err != nil {
		t.Fatal(err)
	}
	defs := doc["$defs"].(map[string]any)
	fields := 0
	var walk func(path string, typ reflect.Type, sch map[string]any)
	seen := map[reflect.Type]bool{}
	walk = func(path string, typ reflect.Type, sch map[string]any) {
		for typ.Kind() == reflect.Pointer || typ.Kind() == reflect.Slice {
			if typ.Kind() == reflect.Slice {
				sch, _ = sch["items"].(map[string]any)
			}
			typ = typ.Elem()
		}
		if r, ok := sch["$ref"].(string); ok {
			sch = defs[strings.TrimPrefix(r, "#/$defs/")].(map[string]any)
		}
		if typ.Kind() != reflect.Struct || seen[typ] {
			return
		}
		seen[typ] = true
		props, ok := sch["properties"].(map[string]any)
		if !ok || sch["additionalProperties"] != false {
			t.Errorf("%s: the schema has no closed object for %s", path, typ)
			return
		}
		left := map[string]bool{}
		for k := range props {
			left[k] = true
		}
		for i := range typ.NumField() {
			f := typ.Field(i)
			name, opts, _ := strings.Cut(f.Tag.Get("json"), ",")
			if f.Tag.Get("json") == "-" {
				continue // kept out of every record on purpose
			}
			if name == "" {
				t.Errorf("%s.%s has no JSON name", typ, f.Name)
				continue
			}
			p, ok := props[name].(map[string]any)
			if !ok {
				t.Errorf("%s/%s: not in the schema", path, name)
				continue
			}
			fields++
			delete(left, name)
			required := false
			for _, r := range sch["required"].([]any) {
				required = required || r == name
			}
			if required == strings.Contains(opts, "omit") {
				t.Errorf("%s/%s: required in the schema is %v, JSON options are %q", path, name, required, opts)
			}
			walk(path+"/"+name, f.Type, p)
		}
		for k := range left {
			t.Errorf("%s/%s: in the schema but not in %s", path, k, typ)
		}
	}
	walk("", reflect.TypeFor[Report](), doc)
	t.Logf("%d fields of %d types", fields, len(seen))
	if fields < 90 {
		t.Errorf("only %d fields were seen", fields)
	}
}
