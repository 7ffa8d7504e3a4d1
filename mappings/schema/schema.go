// Package schema holds the JSON Schema of mapping files, for editors that
// complete and check YAML as it is written. The decoder in package mappings is
// the judge; the schema follows it, which a test holds.
//
// It holds a file and no code; it is a leaf.
package schema

import _ "embed"

// Mapping is the schema of a mapping file, JSON Schema 2020-12.
//
//go:embed mapping.schema.json
var Mapping []byte
