package interpret

import (
	"bytes"
	"encoding/json"
	"reflect"
	"slices"
)

// RulesSchema is the JSON Schema (2020-12) of a rule file, for editors that
// complete and check while a person types. It is made from the same types
// that files are decoded into, so that the two cannot part. The loader checks
// more: see LoadRules.
func RulesSchema() []byte {
	s := schemaOf(reflect.TypeOf(RuleSet{}))
	s["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	s["title"] = "Windrow rule set, " + RulesFormat
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(s); err != nil {
		return nil // maps of strings, lists and numbers always encode
	}
	return b.Bytes()
}

// allowed are the words that a key may have, wherever a key of the name
// stands in the type.
var allowed = map[string][]string{
	"class": classOrder, "nutrient": knownNutrients, "use": {useAlways, useLast}, "kind": limeKinds, "hazard": watchKinds, "rules": {RulesFormat},
}

func schemaOf(t reflect.Type) map[string]any {
	switch t.Kind() {
	case reflect.Pointer:
		return schemaOf(t.Elem())
	case reflect.Slice:
		return map[string]any{"type": "array", "items": schemaOf(t.Elem())}
	case reflect.Map:
		return map[string]any{"type": "object", "additionalProperties": schemaOf(t.Elem())}
	case reflect.Bool:
		return map[string]any{"type": "boolean"}
	case reflect.Int:
		return map[string]any{"type": "integer", "minimum": 0}
	case reflect.Struct:
		props := map[string]any{}
		var required []string
		for i := range t.NumField() {
			f := t.Field(i)
			key := f.Tag.Get("yaml")
			if key == "" {
				continue
			}
			p := schemaOf(f.Type)
			if words, ok := allowed[key]; ok && f.Type.Kind() == reflect.String && !(key == "use" && t == reflect.TypeOf(LimeChoice{})) && t != reflect.TypeOf(ExampleResult{}) {
				p["enum"] = words
			}
			props[key] = p
			if f.Tag.Get("rule") == "required" {
				required = append(required, key)
			}
		}
		slices.Sort(required)
		s := map[string]any{"type": "object", "properties": props, "additionalProperties": false}
		if required != nil {
			s["required"] = required
		}
		return s
	}
	switch t {
	case reflect.TypeOf(Num("")):
		return map[string]any{"type": []string{"number", "string"}, "pattern": `^-?[0-9]+(\.[0-9]+)?(/[0-9]+)?$`}
	case reflect.TypeOf(Provenance("")):
		return map[string]any{"type": "string", "enum": Provenances}
	}
	return map[string]any{"type": "string"}
}
