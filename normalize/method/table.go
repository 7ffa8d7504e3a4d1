package method

import (
	"embed"
	"fmt"
	"io/fs"
	"math/big"
	"strings"
	"sync"

	"example.org/windrow/normalize/internal/table"
)

//go:embed methods.csv analytes.csv determinations.csv
var files embed.FS

// A Kind is what a method does.
type Kind string

// The kinds of method.
const (
	Extraction    Kind = "extraction"
	Determination Kind = "determination"
	Total         Kind = "total"
	PHKind        Kind = "pH"
	Solution      Kind = "solution" // an extract whose own concentration is reported
	Buffer        Kind = "buffer"
	OrganicMatter Kind = "organic matter"
	Calculated    Kind = "calculated"
	ParticleSize  Kind = "particle size"
	Physical      Kind = "physical"
	IndexKind     Kind = "index"
)

// A Method is one way of extracting or determining.
type Method struct {
	ID         string // stable, such as mehlich-3-icp
	Name       string // as the trade calls it, such as Mehlich-3 (ICP)
	Kind       Kind
	Analytes   []string // ids of what it is used for; empty means any
	Spellings  []string
	Source     string // key in the bibliography
	Provenance string
	Note       string
}

// Applies reports whether the method is used for the analyte.
func (m *Method) Applies(analyte string) bool {
	for _, a := range m.Analytes {
		if a == analyte {
			return true
		}
	}
	return len(m.Analytes) == 0
}

// An AnalyteKind says how a printed amount of an analyte can be expressed.
type AnalyteKind string

// The kinds of analyte.
const (
	Element       AnalyteKind = "element"       // mg/kg of the element
	ShareOfMass   AnalyteKind = "share of mass" // % of the soil
	ShareOfCharge AnalyteKind = "share of charge"
	ChargeKind    AnalyteKind = "charge" // cmol(+)/kg
	PH            AnalyteKind = "pH"
	Conductivity  AnalyteKind = "conductivity"
	Ratio         AnalyteKind = "ratio"
	Class         AnalyteKind = "class"
	Density       AnalyteKind = "density"
	Index         AnalyteKind = "index"
)

// An Analyte is one thing that is measured.
type Analyte struct {
	ID         string // as in the plain results table
	Name       string // in words
	Element    string // symbol of the element that the value is mass of, "" for none
	Unit       string // id of the unit of its values
	Kind       AnalyteKind
	Possible   *Range // outside it a value cannot be true; nil when not limited
	Usual      *Range // outside it a value is worth a look; nil when not limited
	Spellings  []string
	Source     string // of the ranges; key in the bibliography
	Provenance string
	Note       string
}

// A Range is a closed range in the analyte's unit.
type Range struct{ Low, High *big.Rat }

// Holds reports whether v is in the range.
func (r *Range) Holds(v *big.Rat) bool { return r == nil || v.Cmp(r.Low) >= 0 && v.Cmp(r.High) <= 0 }

// A Table is the methods and analytes with their spellings indexed.
type Table struct {
	Methods  []*Method
	Analytes []*Analyte

	methodExact, methodFold   map[string]*Method
	analyteExact, analyteFold map[string]*Analyte
	determinations            []determination
}

// A determination is one spelling of a way to measure an extract.
type determination struct{ id, text string }

var standard = sync.OnceValue(func() *Table {
	t, err := Load(files)
	if err != nil {
		// The embedded tables are part of the program and are loaded by its
		// tests, so this cannot be met by a user.
		panic("method: embedded table: " + err.Error())
	}
	return t
})

// Standard is the table that this program carries. It is shared and must not
// be changed.
func Standard() *Table { return standard() }

// Raw is the bytes of the tables, for a hash of what was in force.
func Raw() []byte {
	var b []byte
	for _, n := range []string{"methods.csv", "analytes.csv", "determinations.csv"} {
		if c, err := files.ReadFile(n); err == nil {
			b = append(b, c...)
		}
	}
	return b
}

var kinds = map[Kind]bool{Extraction: true, Determination: true, Total: true, PHKind: true, Solution: true, Buffer: true, OrganicMatter: true,
	Calculated: true, ParticleSize: true, Physical: true, IndexKind: true}

var analyteKinds = map[AnalyteKind]bool{Element: true, ShareOfMass: true, ShareOfCharge: true, ChargeKind: true, PH: true, Conductivity: true,
	Ratio: true, Class: true, Density: true, Index: true}

// Load reads methods.csv, analytes.csv and determinations.csv. It refuses a row
// without source or provenance, an unknown kind or analyte, a bad range, and a
// spelling that two rows claim. An extraction that is listed without the way
// in which its extract was measured is there a second time with each of the
// determinations, such as DTPA (ICP): what was measured how is part of a
// method, and no value of the one is taken for a value of the other.
func Load(fsys fs.FS) (*Table, error) {
	t := &Table{methodExact: map[string]*Method{}, methodFold: map[string]*Method{},
		analyteExact: map[string]*Analyte{}, analyteFold: map[string]*Analyte{}}
	err := table.Rows(fsys, "analytes.csv", func(where string, r map[string]string) error {
		a := &Analyte{ID: r["id"], Name: r["name"], Element: r["element"], Unit: r["unit"], Kind: AnalyteKind(r["kind"]),
			Spellings: table.Split(r["spellings"]), Source: r["source"], Provenance: r["provenance"], Note: r["note"]}
		if !analyteKinds[a.Kind] {
			return fmt.Errorf("%s: unknown kind %q", where, a.Kind)
		}
		if (a.Kind == Element) != (a.Element != "" && a.Unit == "mg/kg") {
			return fmt.Errorf("%s: an element needs a symbol and mg/kg, and nothing else has mg/kg", where)
		}
		var err error
		if a.Possible, err = parseRange(r["possible_low"], r["possible_high"]); err != nil {
			return fmt.Errorf("%s: %w", where, err)
		}
		if a.Usual, err = parseRange(r["usual_low"], r["usual_high"]); err != nil {
			return fmt.Errorf("%s: %w", where, err)
		}
		t.Analytes = append(t.Analytes, a)
		return table.Index(where, a, a.ID, a.Spellings, t.analyteExact, t.analyteFold)
	})
	if err != nil {
		return nil, err
	}
	err = table.Rows(fsys, "methods.csv", func(where string, r map[string]string) error {
		m := &Method{r["id"], r["name"], Kind(r["kind"]), strings.Fields(r["analytes"]), table.Split(r["spellings"]), r["source"], r["provenance"], r["note"]}
		if !kinds[m.Kind] {
			return fmt.Errorf("%s: unknown kind %q", where, m.Kind)
		}
		for _, a := range m.Analytes {
			if _, ok := t.Analyte(a); !ok {
				return fmt.Errorf("%s: unknown analyte %q", where, a)
			}
		}
		t.Methods = append(t.Methods, m)
		return table.Index(where, m, m.ID, append([]string{m.Name}, m.Spellings...), t.methodExact, t.methodFold)
	})
	if err != nil {
		return nil, err
	}
	listed := t.Methods
	return t, table.Rows(fsys, "determinations.csv", func(where string, r map[string]string) error {
		for _, d := range append([]string{r["name"]}, table.Split(r["spellings"])...) {
			t.determinations = append(t.determinations, determination{r["id"], strings.ToLower(d)})
		}
		for _, base := range listed {
			if base.Kind == Extraction && !strings.Contains(base.Name, "(") && !strings.HasSuffix(base.ID, "-screen") {
				if err := t.measured(where, base, r); err != nil {
					return err
				}
			}
		}
		return nil
	})
}

// measured adds an extraction with a determination, unless it is listed.
func (t *Table) measured(where string, base *Method, r map[string]string) error {
	m := &Method{ID: base.ID + "-" + r["id"], Name: base.Name + " (" + r["name"] + ")", Kind: Extraction, Analytes: base.Analytes, Source: r["source"], Provenance: r["provenance"], Note: r["note"]}
	if _, there := t.methodExact[m.ID]; there {
		return nil
	}
	t.Methods = append(t.Methods, m)
	return table.Index(where, m, m.ID, append([]string{m.Name}, m.Spellings...), t.methodExact, t.methodFold)
}

func parseRange(lo, hi string) (*Range, error) {
	if lo == "" && hi == "" {
		return nil, nil
	}
	l, ok1 := new(big.Rat).SetString(lo)
	h, ok2 := new(big.Rat).SetString(hi)
	if !ok1 || !ok2 || l.Cmp(h) >= 0 {
		return nil, fmt.Errorf("range %q to %q", lo, hi)
	}
	return &Range{l, h}, nil
}

// Method finds a method by its id, trade name or a spelling.
func (t *Table) Method(text string) (*Method, bool) {
	if m, ok := t.methodExact[text]; ok {
		return m, true
	}
	if m, ok := t.methodExact[table.Squeeze(text)]; ok {
		return m, true
	}
	if m, ok := t.methodFold[table.Fold(text)]; ok {
		return m, true
	}
	return t.withDetermination(text)
}

// withDetermination finds an extraction that is spelled with the way its
// extract was measured: DTPA ICP, DTPA (ICP), DTPA by ICP-OES, DTPA/ICP.
func (t *Table) withDetermination(text string) (*Method, bool) {
	low := strings.TrimRight(strings.ToLower(table.Squeeze(text)), ") ")
	for _, d := range t.determinations {
		base, found := strings.CutSuffix(low, d.text)
		if !found || base == low {
			continue
		}
		base = strings.TrimRight(base, " (,-/")
		base = strings.TrimSuffix(base, " by")
		m, ok := t.methodFold[table.Fold(base)]
		if !ok {
			continue
		}
		if m, ok = t.methodExact[m.ID+"-"+d.id]; ok {
			return m, true
		}
	}
	return nil, false
}

// ScorePrefix begins the id of a laboratory's own score, such as
// score:soil-health: a number with a meaning only in that laboratory.
const ScorePrefix = "score:"

// Analyte finds an analyte by its id or a spelling. An id that begins with
// score: is always known: it is a laboratory's own score under its own name,
// an index without range or conversion.
func (t *Table) Analyte(text string) (*Analyte, bool) {
	if a, ok := t.analyteExact[text]; ok {
		return a, true
	}
	if a, ok := t.analyteExact[table.Squeeze(text)]; ok {
		return a, true
	}
	if a, ok := t.analyteFold[table.Fold(text)]; ok {
		return a, true
	}
	if len(text) > len(ScorePrefix) && strings.EqualFold(text[:len(ScorePrefix)], ScorePrefix) {
		words := strings.FieldsFunc(strings.ToLower(text[len(ScorePrefix):]), func(r rune) bool { return r == ' ' || r == '-' || r == '_' })
		if name := strings.Join(words, "-"); name != "" {
			return &Analyte{ID: ScorePrefix + name, Name: strings.Join(words, " "), Unit: "index", Kind: Index, Source: "definition", Provenance: "definition",
				Note: "the laboratory's own score"}, true
		}
	}
	return nil, false
}
