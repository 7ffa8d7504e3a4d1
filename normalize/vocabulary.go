package normalize

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"io/fs"
	"slices"
	"sort"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"unicode/utf8"

	"example.org/windrow/mappings"
	"example.org/windrow/mappings/strict"
	"example.org/windrow/normalize/check"
	"example.org/windrow/normalize/estimate"
	"example.org/windrow/normalize/internal/table"
	"example.org/windrow/normalize/method"
	"example.org/windrow/normalize/unit"
)

//go:embed landuses.csv ratings.csv
var wordFiles embed.FS

// A RatingClass is one word of our scale of ratings. Classes of a higher
// rank mean more of the thing rated, on whichever of the three scales: of an
// amount, of sufficiency, or of reaction (too acid to too alkaline).
type RatingClass struct {
	ID    string
	Scale string // amount, sufficiency, reaction
	Rank  int    // 1 to 7
}

type words struct {
	landExact, landFold map[string]*string
	rateExact, rateFold map[string]*RatingClass
	landUses            []string
	classes             []*RatingClass
	spellings           map[mappings.WordKind][]string
}

func loadWords(fsys fs.FS) (*words, error) {
	w := &words{landExact: map[string]*string{}, landFold: map[string]*string{}, rateExact: map[string]*RatingClass{}, rateFold: map[string]*RatingClass{},
		spellings: map[mappings.WordKind][]string{}}
	err := table.Rows(fsys, "landuses.csv", func(where string, r map[string]string) error {
		id := r["id"]
		w.landUses = append(w.landUses, id)
		sp := table.Split(r["spellings"])
		w.spellings[mappings.LandUseWord] = append(append(w.spellings[mappings.LandUseWord], id), sp...)
		return table.Index(where, &id, id, sp, w.landExact, w.landFold)
	})
	if err != nil {
		return nil, err
	}
	err = table.Rows(fsys, "ratings.csv", func(where string, r map[string]string) error {
		n, err := strconv.Atoi(r["rank"])
		if err != nil || n < 1 || n > 7 {
			return fmt.Errorf("%s: rank %q is not 1 to 7", where, r["rank"])
		}
		c := &RatingClass{r["id"], r["scale"], n}
		w.classes = append(w.classes, c)
		sp := table.Split(r["spellings"])
		w.spellings[mappings.RatingWord] = append(append(w.spellings[mappings.RatingWord], c.ID), sp...)
		return table.Index(where, c, c.ID, sp, w.rateExact, w.rateFold)
	})
	if err != nil {
		return nil, err
	}
	w.spellings[mappings.UnitWord] = unit.Standard().UnitSpellings()
	for _, b := range unit.Standard().Bases {
		w.spellings[mappings.BasisWord] = append(append(w.spellings[mappings.BasisWord], b.ID), b.Spellings...)
	}
	for s := range unit.Standard().Weights {
		w.spellings[mappings.BasisWord] = append(w.spellings[mappings.BasisWord], s)
	}
	w.spellings[mappings.BasisWord] = append(w.spellings[mappings.BasisWord], IndexBasis, UnstatedBasis)
	for _, s := range Equations().Scales {
		if s.Active {
			w.spellings[mappings.ScaleWord] = append(w.spellings[mappings.ScaleWord], s.ID)
		}
	}
	for _, m := range method.Standard().Methods {
		w.spellings[mappings.MethodWord] = append(append(w.spellings[mappings.MethodWord], m.ID, m.Name), m.Spellings...)
	}
	for _, a := range method.Standard().Analytes {
		w.spellings[mappings.AnalyteWord] = append(append(w.spellings[mappings.AnalyteWord], a.ID), a.Spellings...)
	}
	for k := range w.spellings {
		sort.Strings(w.spellings[k])
		w.spellings[k] = slices.Compact(w.spellings[k])
	}
	return w, nil
}

var standardWords = sync.OnceValue(func() *words {
	w, err := loadWords(wordFiles)
	if err != nil {
		// Embedded and loaded by the tests: no user can meet this.
		panic("normalize: word tables: " + err.Error())
	}
	return w
})

// Words that a mapping may give as a basis besides elements and oxides.
const (
	IndexBasis    = "index"      // a laboratory's own scale and no amount
	UnstatedBasis = "not stated" // element or oxide, the report doesn't say: never converted
)

type vocabulary struct{}

// Vocabulary is the words that a mapping may use, from the tables of units,
// methods, analytes, bases, land uses and rating classes.
func Vocabulary() mappings.Vocabulary { return vocabulary{} }

// Resolve gives the id of a word or spelling, and whether it is known. Every
// word of every sentence of a report is asked for, and reports say the same
// again and again, so that what they mean is remembered.
func (vocabulary) Resolve(kind mappings.WordKind, text string) (string, bool) {
	if len(text) > longestKept {
		return resolve(kind, text)
	}
	by := asking{kind, text}
	if a, ok := meanings.Load(by); ok {
		m := a.(meaning)
		return m.id, m.known
	}
	id, known := resolve(kind, text)
	if asked.Add(1) > mostMeanings {
		meanings.Clear()
		asked.Store(1)
	}
	by.text = strings.Clone(text) // not the page that it is a part of
	meanings.Store(by, meaning{id, known})
	return id, known
}

// The meanings that are remembered, a few megabytes at most.
const (
	longestKept  = 60 // bytes; longer than any spelling of the tables
	mostMeanings = 20_000
)

type (
	asking struct {
		kind mappings.WordKind
		text string
	}
	meaning struct {
		id    string
		known bool
	}
)

var (
	meanings sync.Map // asking to meaning
	asked    atomic.Int64
)

func resolve(kind mappings.WordKind, text string) (string, bool) {
	switch kind {
	case mappings.UnitWord:
		if u, ok := unit.Standard().Unit(text); ok {
			return u.ID, true
		}
	case mappings.MethodWord:
		if m, ok := method.Standard().Method(text); ok {
			return m.ID, true
		}
	case mappings.AnalyteWord:
		if a, ok := method.Standard().Analyte(text); ok {
			return a.ID, true
		}
	case mappings.BasisWord:
		return resolveBasis(text)
	case mappings.LandUseWord:
		if s, ok := standardWords().landExact[table.Squeeze(text)]; ok {
			return *s, true
		}
		if s, ok := standardWords().landFold[table.Fold(text)]; ok {
			return *s, true
		}
	case mappings.RatingWord:
		if c, ok := Rating(text); ok {
			return c.ID, true
		}
	case mappings.ScaleWord:
		if s, ok := Equations().Scale(text); ok && s.Active {
			return s.ID, true
		}
	}
	return "", false
}

func resolveBasis(text string) (string, bool) {
	t := table.Squeeze(text)
	switch table.Fold(t) {
	case table.Fold(UnstatedBasis):
		return UnstatedBasis, true
	case "index", "fertilityindex":
		return IndexBasis, true
	}
	if _, ok := unit.Standard().Weights[t]; ok {
		return t, true
	}
	if a, ok := method.Standard().Analyte(t); ok && a.ID == t {
		return a.ID, true // NO3-N, OM: the analyte itself
	}
	if b, ok := unit.Standard().Basis(t); ok {
		return b.ID, true
	}
	return "", false
}

// Near lists known spellings close to an unknown one, best first, at most
// five.
func (vocabulary) Near(kind mappings.WordKind, text string) []string {
	type scored struct {
		s string
		d int
	}
	want := table.Fold(text)
	limit := max(1, min(3, utf8.RuneCountInString(want)/3))
	var found []scored
	for _, s := range standardWords().spellings[kind] {
		if d := strict.Distance(want, table.Fold(s)); d <= limit {
			found = append(found, scored{s, d})
		}
	}
	sort.SliceStable(found, func(i, j int) bool { return found[i].d < found[j].d })
	var out []string
	for _, f := range found {
		if len(out) < 5 && !slices.Contains(out, f.s) {
			out = append(out, f.s)
		}
	}
	return out
}

// Rating finds a rating class by its id or a spelling.
func Rating(text string) (RatingClass, bool) {
	if c, ok := standardWords().rateExact[table.Squeeze(text)]; ok {
		return *c, true
	}
	if c, ok := standardWords().rateFold[table.Fold(text)]; ok {
		return *c, true
	}
	return RatingClass{}, false
}

// LandUses lists the ids of the land uses, in the order of the table.
func LandUses() []string { return slices.Clone(standardWords().landUses) }

// TablesHash is the SHA-256 of every table that a record rests on: units,
// bases, weights, methods, analytes, conversions between methods, scales, words,
// checks and bibliography.
func TablesHash() string { return tablesHash() }

var tablesHash = sync.OnceValue(func() string {
	bibliography() // which holds the keys of the tables against it
	h := sha256.New()
	h.Write(unit.Raw())
	h.Write(method.Raw())
	h.Write(estimate.Raw())
	for _, n := range []string{"landuses.csv", "ratings.csv"} {
		if b, err := wordFiles.ReadFile(n); err == nil {
			h.Write(b)
		}
	}
	h.Write(check.Raw())
	h.Write(sourcesYAML)
	return hex.EncodeToString(h.Sum(nil))
})
