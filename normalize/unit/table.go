package unit

import (
	"embed"
	"fmt"
	"io/fs"
	"math/big"
	"sort"
	"strings"
	"sync"

	"example.org/windrow/normalize/internal/table"
)

//go:embed units.csv bases.csv weights.csv
var files embed.FS

// A Dimension is what a unit measures. Units of one dimension convert by a
// factor alone; between dimensions something else must be known.
type Dimension string

// The dimensions. Each has a canonical unit, whose factor is 1, except that
// mass fraction has mg/kg and is also used for percent.
const (
	MassFraction   Dimension = "mass fraction"   // mg/kg
	SoilVolume     Dimension = "soil volume"     // mg/dm3 of scooped soil
	Solution       Dimension = "solution"        // mg/L of a solution or extract
	SolutionCharge Dimension = "solution charge" // meq/L
	AreaMass       Dimension = "area mass"       // lb/acre
	Charge         Dimension = "charge"          // cmol(+)/kg
	ChargeVolume   Dimension = "charge volume"   // cmol(+)/dm3 of scooped soil
	Conductivity   Dimension = "conductivity"    // dS/m
	PH             Dimension = "pH"
	Index          Dimension = "index"
	Class          Dimension = "class"
	Ratio          Dimension = "ratio"
	Density        Dimension = "density" // g/cm3
	Length         Dimension = "length"  // in
)

// A Unit is one row of the table of units.
type Unit struct {
	ID         string    // as this program writes it, such as mg/kg
	Name       string    // in words
	Dimension  Dimension // what it measures
	Factor     *big.Rat  // canonical units of the dimension in one of these, exact
	UCUM       string    // code of the Unified Code for Units of Measure
	Spellings  []string  // other ways laboratories write it
	Source     string    // key in the bibliography
	Provenance string    // seen, computed, definition, from memory
	Note       string
}

// A Basis is one form that an element's amount may be expressed as.
type Basis struct {
	ID         string   // the formula, such as P2O5
	Element    string   // symbol of the element
	Factor     *big.Rat // mass of the element in one of the form, exact from the atomic weights
	Customary  string   // the rounded factor that the trade uses, for comparison only
	Spellings  []string
	Source     string
	Provenance string
	Note       string
}

// A Weight is the standard atomic weight of an element, and the charge, for
// each of its atoms, of the ion that soil laboratories mean by it: Ca as
// Ca++, N as nitrate or ammonium, S as sulfate.
type Weight struct {
	Symbol     string
	Weight     *big.Rat // g/mol
	Charge     int      // of the ion; 0 where an amount of charge has no one meaning
	Source     string
	Provenance string
}

// A Table is the units, bases and weights with their spellings indexed.
type Table struct {
	Units   []*Unit
	Bases   []*Basis
	Weights map[string]*Weight

	unitExact, unitFold   map[string]*Unit
	basisExact, basisFold map[string]*Basis
}

var standard = sync.OnceValue(func() *Table {
	t, err := Load(files)
	if err != nil {
		// The embedded tables are part of the program and are loaded by its
		// tests, so this cannot be met by a user.
		panic("unit: embedded table: " + err.Error())
	}
	return t
})

// Standard is the table that this program carries. It is shared and must not
// be changed.
func Standard() *Table { return standard() }

// Raw is the bytes of the tables, for a hash of what was in force.
func Raw() []byte {
	var b []byte
	for _, n := range []string{"units.csv", "bases.csv", "weights.csv"} {
		c, err := files.ReadFile(n)
		if err == nil {
			b = append(b, c...)
		}
	}
	return b
}

// Load reads units.csv, bases.csv and weights.csv. It refuses a row without
// a source or provenance, a bad factor, an unknown dimension, a dimension
// without canonical unit, and a spelling that two rows claim.
func Load(fsys fs.FS) (*Table, error) {
	t := &Table{Weights: map[string]*Weight{}, unitExact: map[string]*Unit{}, unitFold: map[string]*Unit{},
		basisExact: map[string]*Basis{}, basisFold: map[string]*Basis{}}
	if err := t.loadWeights(fsys); err != nil {
		return nil, err
	}
	if err := t.loadUnits(fsys); err != nil {
		return nil, err
	}
	return t, t.loadBases(fsys)
}

func (t *Table) loadWeights(fsys fs.FS) error {
	return table.Rows(fsys, "weights.csv", func(where string, r map[string]string) error {
		w, ok := new(big.Rat).SetString(r["weight"])
		if !ok || w.Sign() <= 0 {
			return fmt.Errorf("%s: weight %q is not a positive number", where, r["weight"])
		}
		c := 0
		if s := r["charge"]; s != "" {
			if len(s) != 1 || s[0] < '1' || s[0] > '4' {
				return fmt.Errorf("%s: charge %q is not 1 to 4", where, s)
			}
			c = int(s[0] - '0')
		}
		t.Weights[r["symbol"]] = &Weight{r["symbol"], w, c, r["source"], r["provenance"]}
		return nil
	})
}

var dimensions = map[Dimension]bool{MassFraction: true, SoilVolume: true, Solution: true, SolutionCharge: true, AreaMass: true, Charge: true,
	ChargeVolume: true, Conductivity: true, PH: true, Index: true, Class: true, Ratio: true, Density: true, Length: true}

func (t *Table) loadUnits(fsys fs.FS) error {
	canon := map[Dimension]bool{}
	err := table.Rows(fsys, "units.csv", func(where string, r map[string]string) error {
		f, ok := new(big.Rat).SetString(r["factor"])
		if !ok || f.Sign() <= 0 {
			return fmt.Errorf("%s: factor %q is not a positive rational", where, r["factor"])
		}
		u := &Unit{r["id"], r["name"], Dimension(r["dimension"]), f, r["ucum"], table.Split(r["spellings"]), r["source"], r["provenance"], r["note"]}
		if !dimensions[u.Dimension] {
			return fmt.Errorf("%s: unknown dimension %q", where, u.Dimension)
		}
		if u.UCUM == "" {
			return fmt.Errorf("%s: no UCUM code", where)
		}
		if f.Cmp(big.NewRat(1, 1)) == 0 {
			canon[u.Dimension] = true
		}
		t.Units = append(t.Units, u)
		return table.Index(where, u, u.ID, u.Spellings, t.unitExact, t.unitFold)
	})
	if err != nil {
		return err
	}
	for d := range dimensions {
		if !canon[d] {
			return fmt.Errorf("units.csv: dimension %q has no unit with factor 1", d)
		}
	}
	return nil
}

func (t *Table) loadBases(fsys fs.FS) error {
	return table.Rows(fsys, "bases.csv", func(where string, r map[string]string) error {
		f, err := t.share(r["element"], r["formula"])
		if err != nil {
			return fmt.Errorf("%s: %w", where, err)
		}
		b := &Basis{r["id"], r["element"], f, r["customary"], table.Split(r["spellings"]), r["source"], r["provenance"], r["note"]}
		t.Bases = append(t.Bases, b)
		return table.Index(where, b, b.ID, b.Spellings, t.basisExact, t.basisFold)
	})
}

// share is the mass fraction of an element in a compound.
func (t *Table) share(element, formula string) (*big.Rat, error) {
	total, part := new(big.Rat), new(big.Rat)
	for i := 0; i < len(formula); {
		j := i + 1
		for j < len(formula) && formula[j] >= 'a' && formula[j] <= 'z' {
			j++
		}
		sym := formula[i:j]
		n := int64(0)
		for j < len(formula) && formula[j] >= '0' && formula[j] <= '9' {
			n, j = n*10+int64(formula[j]-'0'), j+1
		}
		if n == 0 {
			n = 1
		}
		w, ok := t.Weights[sym]
		if !ok {
			return nil, fmt.Errorf("formula %q: no atomic weight of %q", formula, sym)
		}
		m := new(big.Rat).Mul(w.Weight, new(big.Rat).SetInt64(n))
		total.Add(total, m)
		if sym == element {
			part.Add(part, m)
		}
		i = j
	}
	if part.Sign() == 0 {
		return nil, fmt.Errorf("formula %q has no %s", formula, element)
	}
	return part.Quo(part, total), nil
}

// Unit finds a unit by its id or a spelling. Letter case, spaces, commas,
// points and superscripts do not matter, except where they tell two units
// apart.
func (t *Table) Unit(text string) (*Unit, bool) {
	if u, ok := t.unitExact[text]; ok {
		return u, true
	}
	if u, ok := t.unitExact[table.Squeeze(text)]; ok {
		return u, true
	}
	u, ok := t.unitFold[table.Fold(text)]
	return u, ok
}

// Basis finds a basis by its formula or a spelling.
func (t *Table) Basis(text string) (*Basis, bool) {
	if text == "" {
		return nil, false
	}
	if b, ok := t.basisExact[table.Squeeze(text)]; ok {
		return b, true
	}
	b, ok := t.basisFold[table.Fold(text)]
	return b, ok
}

// Canonical is the unit of a dimension whose factor is 1.
func (t *Table) Canonical(d Dimension) *Unit {
	one := big.NewRat(1, 1)
	for _, u := range t.Units {
		if u.Dimension == d && u.Factor.Cmp(one) == 0 {
			return u
		}
	}
	return nil
}

// PerCharge is the mg/kg of an element in one cmol(+)/kg of its ion: ten
// times its atomic weight over its charge. It is false for an element whose
// ion has no one charge.
func (t *Table) PerCharge(element string) (*big.Rat, bool) {
	w, ok := t.Weights[element]
	if !ok || w.Charge == 0 {
		return nil, false
	}
	return new(big.Rat).Mul(w.Weight, big.NewRat(10, int64(w.Charge))), true
}

// UnitSpellings lists every id and spelling of units, sorted.
func (t *Table) UnitSpellings() []string {
	var out []string
	for _, u := range t.Units {
		out = append(out, u.ID)
		for _, s := range u.Spellings {
			out = append(out, strings.TrimPrefix(s, "="))
		}
	}
	sort.Strings(out)
	return out
}
