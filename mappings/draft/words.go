package draft

import (
	_ "embed"
	"fmt"
	"strings"
	"sync"

	"example.org/windrow/mappings"
	"github.com/goccy/go-yaml"
)

//go:embed words.yaml
var wordsYAML []byte

// wordList is what laboratories print besides the names of analytes, units
// and methods.
type wordList struct {
	Fields         map[string][]string `yaml:"fields"`
	Columns        map[string][]string `yaml:"columns"`
	ReferenceRows  []string            `yaml:"reference_rows"`
	Noise          []string            `yaml:"noise"`
	Details        []string            `yaml:"details"`
	Bases          map[string]string   `yaml:"bases"`
	Loose          map[string]string   `yaml:"loose"`
	Implied        map[string]string   `yaml:"implied"`
	UnclearMethods map[string]string   `yaml:"unclear_methods"`
	Saturation     []string            `yaml:"saturation"`
	Units          map[string]string   `yaml:"units"`
	Missing        []string            `yaml:"missing"`
	Marks          []string            `yaml:"marks"`
	Textures       []string            `yaml:"textures"`
	Dates          []string            `yaml:"dates"`
	Laboratory     []string            `yaml:"laboratory"`
	Advice         []string            `yaml:"advice"`
	OtherResults   []string            `yaml:"other_results"`
	AdviceTitles   []string            `yaml:"advice_titles"`
	ResultTitles   []string            `yaml:"result_titles"`
	CheckSamples   []string            `yaml:"check_samples"`
	OtherSheets    []string            `yaml:"other_sheets"`

	field, column, noise, detail, missing, texture, loose, unit, refRow map[string]string
}

// columnOrder settles which role a word has that stands under two of them.
var columnOrder = []string{"reference", "previous", "qualifier", "index", "rating", "method", "unit", "result", "test"}

var words = sync.OnceValue(func() *wordList {
	w := &wordList{}
	if err := yaml.UnmarshalWithOptions(wordsYAML, w, yaml.DisallowUnknownField()); err != nil {
		// Embedded and loaded by the tests: no user can meet this.
		panic(fmt.Sprintf("mappings/draft: words.yaml: %v", err))
	}
	set := func(list []string) map[string]string {
		m := map[string]string{}
		for _, s := range list {
			m[fold(s)] = s
		}
		return m
	}
	w.field, w.column = map[string]string{}, map[string]string{}
	for id, list := range w.Fields {
		for _, s := range list {
			w.field[fold(s)] = id
		}
	}
	for _, id := range columnOrder {
		for _, s := range w.Columns[id] {
			w.column[fold(s)] = id
		}
	}
	w.noise, w.detail, w.texture, w.refRow = set(w.Noise), set(w.Details), set(w.Textures), set(w.ReferenceRows)
	w.missing = map[string]string{}
	for _, s := range w.Missing {
		w.missing[fold0(s)] = s
	}
	w.loose, w.unit = map[string]string{}, map[string]string{}
	for k, v := range w.Loose {
		w.loose[fold(k)] = v
	}
	for k, v := range w.Units {
		w.unit[fold(k)] = v
	}
	return w
})

var foldSigns = strings.NewReplacer(" ", "", ".", "", ",", "", ":", "", "'", "", "_", "", ";", "", "?", "")

// fold is a text without what writers vary: capitals, spaces and stops.
func fold(s string) string { return foldSigns.Replace(strings.ToLower(mappings.Normalise(s))) }

// fieldOf is the field that a label names, or "".
func fieldOf(text string) mappings.FieldID {
	return mappings.FieldID(words().field[fold(text)])
}

// columnOf is the role that a heading names, or "". A heading of several
// words that all speak of a comparison, such as "Guide low", does too.
func columnOf(text string) string {
	w := words()
	if r := w.column[fold(text)]; r != "" {
		return r
	}
	ws := strings.Fields(text)
	for _, one := range ws {
		if w.column[fold(one)] != "reference" {
			return ""
		}
	}
	if len(ws) < 2 {
		return ""
	}
	return "reference"
}

func isMissing(text string) bool {
	_, ok := words().missing[fold0(text)]
	return ok && text != ""
}

// fold0 keeps signs: "--" and "." must not become nothing.
func fold0(s string) string {
	if f := fold(s); f != "" {
		return f
	}
	return s
}

// hasStart reports whether a text has a word that begins with one of the
// beginnings.
func hasStart(text string, starts []string) bool {
	t := " " + strings.ToLower(mappings.Normalise(text))
	for _, s := range starts {
		if strings.Contains(t, " "+s) {
			return true
		}
	}
	return false
}

var noStops = strings.NewReplacer(",", " ", ";", " ", ":", " ", "(", " ", ")", " ")

// hasAny reports whether a text holds one of the phrases, word by word.
func hasAny(text string, phrases []string) bool {
	t := " " + strings.ToLower(mappings.Normalise(noStops.Replace(text))) + " "
	for _, p := range phrases {
		if strings.Contains(t, " "+strings.ToLower(mappings.Normalise(noStops.Replace(p)))+" ") || strings.ContainsAny(p, "%.") && strings.Contains(t, strings.ToLower(p)) {
			return true
		}
	}
	return false
}
