package draft

import (
	"encoding/csv"
	"os"
	"strings"
	"sync"

	"example.org/windrow/mappings"
)

// tables is the vocabulary of these tests: the spellings of the tables that
// the later stage is built from, read as data, since nothing here may import
// that stage.
type tables map[mappings.WordKind][2]map[string]string

var vocabulary = sync.OnceValue(func() tables {
	t := tables{}
	for _, x := range []struct {
		kind mappings.WordKind
		file string
		name bool
	}{
		{mappings.UnitWord, "unit/units.csv", false},
		{mappings.BasisWord, "unit/bases.csv", false},
		{mappings.BasisWord, "unit/weights.csv", false},
		{mappings.MethodWord, "method/methods.csv", true},
		{mappings.AnalyteWord, "method/analytes.csv", false},
		{mappings.LandUseWord, "landuses.csv", false},
		{mappings.RatingWord, "ratings.csv", false},
	} {
		b, err := os.ReadFile("../../normalize/" + x.file)
		if err != nil {
			panic(err)
		}
		rows, err := csv.NewReader(strings.NewReader(string(b))).ReadAll()
		if err != nil || len(rows) < 2 {
			panic(x.file + " holds no table")
		}
		col := map[string]int{}
		for i, h := range rows[0] {
			col[h] = i
		}
		if t[x.kind][0] == nil {
			t[x.kind] = [2]map[string]string{{}, {}}
		}
		exact, loose := t[x.kind][0], t[x.kind][1]
		for _, r := range rows[1:] {
			id := r[0]
			spellings := []string{id}
			if i, ok := col["spellings"]; ok {
				spellings = append(spellings, strings.Split(r[i], "|")...)
			}
			if x.name {
				spellings = append(spellings, r[1])
			}
			for _, s := range spellings {
				s = strings.TrimSpace(s)
				if s == "" {
					continue
				}
				exact[strings.TrimPrefix(s, "=")] = id
				if !strings.HasPrefix(s, "=") && x.file != "unit/weights.csv" {
					loose[looseWord(s)] = id
				}
			}
		}
	}
	for _, s := range []string{"index", "not stated"} {
		t[mappings.BasisWord][1][looseWord(s)] = s
	}
	return t
})

var looseSigns = strings.NewReplacer("µ", "u", "μ", "u", "³", "3", "²", "2", "₂", "2", "₃", "3", "₅", "5", ".", "", ",", "", " ", "")

func looseWord(s string) string { return looseSigns.Replace(strings.ToLower(s)) }

// Resolve implements mappings.Vocabulary.
func (t tables) Resolve(kind mappings.WordKind, text string) (string, bool) {
	text = strings.Join(strings.Fields(text), " ")
	if id, ok := t[kind][0][text]; ok {
		return id, true
	}
	id, ok := t[kind][1][looseWord(text)]
	return id, ok
}

// Near implements mappings.Vocabulary.
func (t tables) Near(mappings.WordKind, string) []string { return nil }
