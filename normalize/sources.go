package normalize

import (
	_ "embed"
	"fmt"
	"maps"
	"sync"

	"github.com/goccy/go-yaml"

	"example.org/windrow/normalize/unit"
)

//go:embed sources.yaml
var sourcesYAML []byte

// A Source is one entry of the bibliography that steps, table rows and
// findings name by its key.
type Source struct {
	Key        string `yaml:"key" json:"key"`
	Text       string `yaml:"text" json:"text"`             // the citation, in full
	Provenance string `yaml:"provenance" json:"provenance"` // seen, computed, definition, common practice, from memory
}

var provenances = map[string]bool{"seen": true, "computed": true, "definition": true, "common practice": true, "from memory": true}

// parseSources reads the bibliography; it refuses an entry without text, an
// unknown provenance, an unknown field and a key given twice.
func parseSources(b []byte) (map[string]Source, error) {
	var list []Source
	if err := yaml.UnmarshalWithOptions(b, &list, yaml.Strict()); err != nil {
		return nil, err
	}
	m := make(map[string]Source, len(list))
	for _, s := range list {
		if s.Key == "" || s.Text == "" || !provenances[s.Provenance] {
			return nil, fmt.Errorf("source %q: needs a key, a text and a known provenance, not %q", s.Key, s.Provenance)
		}
		if _, twice := m[s.Key]; twice {
			return nil, fmt.Errorf("source %q is given twice", s.Key)
		}
		m[s.Key] = s
	}
	return m, nil
}

var bibliography = sync.OnceValue(func() map[string]Source {
	m, err := parseSources(sourcesYAML)
	if err != nil {
		// Embedded and loaded by the tests: no user can meet this.
		panic("normalize: sources.yaml: " + err.Error())
	}
	// The table of units can't see the bibliography, so its keys are held
	// against it here, before anything is converted.
	if _, err := unit.Load(unit.Files(), func(key string) bool { _, ok := m[key]; return ok }); err != nil {
		panic("normalize: embedded table: " + err.Error())
	}
	return m
})

// knownSource reports whether the bibliography has a key.
func knownSource(key string) bool { _, ok := bibliography()[key]; return ok }

// Sources is the bibliography by key. The map is the caller's to change.
func Sources() map[string]Source { return maps.Clone(bibliography()) }
