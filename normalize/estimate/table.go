package estimate

import (
	"embed"
	"fmt"
	"io/fs"
	"slices"
	"strings"

	"example.org/windrow/normalize/internal/table"
)

//go:embed conversions.csv scales.csv derived.csv
var files embed.FS

// Embedded is the tables that this program carries: conversions.csv,
// scales.csv and derived.csv.
func Embedded() fs.FS { return files }

// Raw is the bytes of the tables that records are made with, for a hash of what
// was in force. What is derived is worked out when it is shown, and no record
// holds it.
func Raw() []byte {
	var b []byte
	for _, n := range []string{"conversions.csv", "scales.csv"} {
		if c, err := files.ReadFile(n); err == nil {
			b = append(b, c...)
		}
	}
	return b
}

// A Verdict is what a conversion between two methods is worth. It is about the
// conversion: where a sample lies as to its limits is a [Standing].
type Verdict string

// The verdicts, from the firmest.
const (
	Exact        Verdict = "exact"                   // by definition
	Equal        Verdict = "equal"                   // published as equal
	WithLimits   Verdict = "an equation with limits" // a published regression or ratio, for the soils it was made from
	EstimateOnly Verdict = "estimate only"           // a ratio of means, a convention, an equation turned round
	DoNotConvert Verdict = "do not convert"
)

var verdicts = []Verdict{Exact, Equal, WithLimits, EstimateOnly, DoNotConvert}

// The provenances of a row.
const (
	seen     = "seen"
	computed = "computed"
)

var provenances = []string{seen, computed, "coefficients not seen", "inferred", "from memory"}

// A Row is one published conversion of what one method finds to what another
// would find.
type Row struct {
	ID         string
	Analytes   []string // what it is for
	From       []string // ids of the methods of the number converted
	ToAnalyte  string   // of the outcome; "" for the same as converted
	To         []string // ids of the methods whose outcome it estimates; empty where that is none of the table's
	Equation   *Expr    // nil where none is published or none was read
	Unit       string   // of x
	ToUnit     string   // of the outcome
	Inputs     []Need   // what the equation needs besides x
	Domain     []Condition
	N          string // number of samples, as published
	R2         string // as published
	Error      string // of single samples, as published, in words
	Interval   Spread // by which an interval is made; the zero Spread makes none
	Verdict    Verdict
	Sources    []string // keys in the bibliography
	Provenance string   // seen, computed, coefficients not seen, inferred, from memory
	Active     bool     // makes estimates
	Inactive   string   // why it makes none
	Note       string
}

// Target is the analyte of the outcome for a number of an analyte.
func (r *Row) Target(analyte string) string {
	if r.ToAnalyte != "" {
		return r.ToAnalyte
	}
	return analyte
}

// A Need is a measured value besides x that an equation needs.
type Need struct {
	Name    string // in the equation, and the id of the analyte
	Analyte string
	Method  string // the only method that will do; "" for any, or for pH any in water
	Unit    string
}

// The units that needs are taken in; everything else is mg/kg.
var needUnits = map[string]string{"pH": "pH", "clay": "%", "EC": "dS/m", "CEC": "cmol(+)/kg", "SAR": "ratio", "acidity": "cmol(+)/kg"}

func needOf(analyte, methodID string) Need {
	n := Need{Name: analyte, Analyte: analyte, Method: methodID, Unit: needUnits[analyte]}
	if n.Unit == "" {
		n.Unit = "mg/kg"
	}
	return n
}

// Known tells which ids exist outside this package, so that loading can
// refuse the others.
type Known struct {
	Analyte func(id string) bool
	Method  func(id, analyte string) bool // the method exists and is used for the analyte
	Source  func(key string) bool
}

// A Table is the conversions, scales and derived quantities, with what works on a method indexed.
type Table struct {
	Rows    []*Row
	Scales  []*Scale
	Derived []*Derivation

	by     map[[2]string][]*Row // analyte and method converted
	counts map[[2]string]bool   // analyte and method, "" for any, that an active row asks about
}

// Asks reports whether a number of an analyte by a method makes any
// difference: whether an active row converts it, needs it, bounds it, or
// estimates what it is a measurement of.
func (t *Table) Asks(analyte, methodID string) bool {
	return t.counts[[2]string{analyte, methodID}] || t.counts[[2]string{analyte}]
}

// note remembers what an active row asks about.
func (t *Table) note(r *Row) {
	for _, n := range r.Inputs {
		t.counts[[2]string{n.Analyte}] = true
	}
	for _, c := range r.Domain {
		t.counts[[2]string{c.What}] = true
	}
	for _, a := range r.Analytes {
		for _, m := range r.From {
			t.counts[[2]string{a, m}] = true
		}
		for _, m := range r.To {
			t.counts[[2]string{r.Target(a), m}] = true
		}
	}
}

// From is every row, active or not, that is about an analyte by a method, in
// the order of the table.
func (t *Table) From(analyte, methodID string) []*Row { return t.by[[2]string{analyte, methodID}] }

// Row is the row with an id.
func (t *Table) Row(id string) (*Row, bool) {
	i := slices.IndexFunc(t.Rows, func(r *Row) bool { return r.ID == id })
	if i < 0 {
		return nil, false
	}
	return t.Rows[i], true
}

// Load reads conversions.csv, scales.csv and derived.csv. It refuses a row without source,
// with an unknown source, method, analyte, verdict or provenance, with an
// equation, domain or interval that doesn't parse, with an input that the
// equation doesn't use or the other way round, and a row that is active though
// its equation was not read, is not there, or says that nothing should be
// converted; and one that is inactive and does not say why.
func Load(fsys fs.FS, known Known) (*Table, error) {
	t := &Table{by: map[[2]string][]*Row{}, counts: map[[2]string]bool{}}
	ids := map[string]bool{}
	err := table.Rows(fsys, "conversions.csv", func(where string, c map[string]string) error {
		r, err := parseRow(c)
		if err == nil {
			err = r.check(known)
		}
		if err == nil && (r.ID == "" || ids[r.ID]) {
			err = fmt.Errorf("id %q is empty or given twice", r.ID)
		}
		if err != nil {
			return fmt.Errorf("%s: %w", where, err)
		}
		ids[r.ID] = true
		t.Rows = append(t.Rows, r)
		if r.Active {
			t.note(r)
		}
		for _, a := range r.Analytes {
			for _, m := range r.From {
				t.by[[2]string{a, m}] = append(t.by[[2]string{a, m}], r)
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	if err := t.loadScales(fsys, known); err != nil {
		return nil, err
	}
	return t, t.loadDerived(fsys, known)
}

func parseRow(c map[string]string) (*Row, error) {
	r := &Row{ID: c["id"], Analytes: strings.Fields(c["analyte"]), From: strings.Fields(c["from"]), ToAnalyte: c["to_analyte"], To: strings.Fields(c["to"]),
		Unit: c["unit"], ToUnit: c["to_unit"], N: c["n"], R2: c["r2"], Error: c["error"], Verdict: Verdict(c["verdict"]), Sources: strings.Fields(c["source"]),
		Provenance: c["provenance"], Active: c["active"] == "yes", Inactive: c["inactive"], Note: c["note"]}
	if c["active"] != "yes" && c["active"] != "no" {
		return nil, fmt.Errorf("active is %q, neither yes nor no", c["active"])
	}
	var err error
	if c["equation"] != "" {
		if r.Equation, err = Parse(c["equation"]); err != nil {
			return nil, err
		}
	}
	for _, f := range strings.Fields(c["inputs"]) {
		a, m, _ := strings.Cut(f, "@")
		r.Inputs = append(r.Inputs, needOf(a, m))
	}
	if r.Domain, err = parseDomain(c["domain"]); err != nil {
		return nil, err
	}
	r.Interval, err = parseSpread(c["interval"])
	return r, err
}

func (r *Row) check(known Known) error {
	for _, k := range r.Sources {
		if !known.Source(k) {
			return fmt.Errorf("source %q is not in the bibliography", k)
		}
	}
	if !slices.Contains(verdicts, r.Verdict) {
		return fmt.Errorf("unknown verdict %q", r.Verdict)
	}
	if !slices.Contains(provenances, r.Provenance) {
		return fmt.Errorf("unknown provenance %q", r.Provenance)
	}
	if len(r.Analytes) == 0 {
		return fmt.Errorf("no analyte")
	}
	if r.ToAnalyte != "" && !known.Analyte(r.ToAnalyte) {
		return fmt.Errorf("unknown analyte %q", r.ToAnalyte)
	}
	for _, a := range r.Analytes {
		if !known.Analyte(a) {
			return fmt.Errorf("unknown analyte %q", a)
		}
		for _, m := range r.From {
			if !known.Method(m, a) {
				return fmt.Errorf("method %q is not known for %s", m, a)
			}
		}
		for _, m := range r.To {
			// What refuses a conversion may name several analytes and methods
			// at once of which not all go together.
			if a := r.Target(a); !known.Method(m, a) && (r.Active || !known.Method(m, "")) {
				return fmt.Errorf("method %q is not known for %s", m, a)
			}
		}
	}
	for _, n := range r.Inputs {
		if !known.Analyte(n.Analyte) || n.Method != "" && !known.Method(n.Method, n.Analyte) {
			return fmt.Errorf("input %q is not known", n.Name)
		}
	}
	if r.Active {
		return r.checkActive()
	}
	if r.Inactive == "" {
		return fmt.Errorf("the row is inactive and does not say why")
	}
	return nil
}

func (r *Row) checkActive() error {
	switch {
	case r.Inactive != "":
		return fmt.Errorf("the row is active and has a reason not to be: %s", r.Inactive)
	case r.Provenance != seen && r.Provenance != computed:
		return fmt.Errorf("the row is active with the provenance %q: only what was read or computed may be", r.Provenance)
	case r.Equation == nil:
		return fmt.Errorf("the row is active and has no equation")
	case r.Verdict == DoNotConvert:
		return fmt.Errorf("the row is active and says that nothing should be converted")
	case len(r.From) == 0 || len(r.To) != 1 || r.Unit == "" || r.ToUnit == "":
		return fmt.Errorf("an active row needs methods to convert from, one to convert to, and both units")
	}
	need := []string{"x"}
	for _, n := range r.Inputs {
		need = append(need, n.Name)
	}
	slices.Sort(need)
	if !slices.Equal(need, r.Equation.Names()) {
		return fmt.Errorf("the equation %s uses %s, and the row gives %s", r.Equation, strings.Join(r.Equation.Names(), " "), strings.Join(need, " "))
	}
	return nil
}
