package unit

import (
	"embed"
	"io/fs"
	"math/big"
	"sort"
	"strings"
	"sync"

	"example.org/windrow/normalize/internal/table"
)

//go:embed units.csv bases.csv weights.csv lime-materials.csv conversions.csv
var files embed.FS

// A Dimension is what a unit measures. Units of one dimension convert by a
// factor alone; between dimensions something else must be known.
type Dimension string

// The dimensions. Each has a canonical unit, whose factor is 1, except that
// mass fraction has mg/kg and is also used for percent.
const (
	MassFraction   Dimension = "mass fraction"    // mg/kg
	SoilVolume     Dimension = "soil volume"      // mg/dm3 of scooped soil
	Solution       Dimension = "solution"         // mg/L of a solution or extract
	SolutionCharge Dimension = "solution charge"  // meq/L
	AreaMass       Dimension = "area mass"        // lb/acre
	Charge         Dimension = "charge"           // cmol(+)/kg
	ChargeVolume   Dimension = "charge volume"    // cmol(+)/dm3 of scooped soil
	Amount         Dimension = "amount"           // mmol/kg of the element
	AmountOrCharge Dimension = "amount or charge" // mmol/kg: of the element or of its charge, which printed so is not told apart
	Conductivity   Dimension = "conductivity"     // dS/m
	PH             Dimension = "pH"
	Index          Dimension = "index"
	Class          Dimension = "class"
	Ratio          Dimension = "ratio"
	Density        Dimension = "density" // g/cm3
	Length         Dimension = "length"  // in
)

// A Unit is one row of the table of units.
type Unit struct {
	ID        string    // as this program writes it, such as mg/kg
	Name      string    // in words
	Dimension Dimension // what it measures
	Factor    *big.Rat  // canonical units of the dimension in one of these, exact
	UCUM      string    // code of the Unified Code for Units of Measure
	Spellings []string  // other ways laboratories write it
	Backing
}

// A Basis is one form that an element's amount may be expressed as.
type Basis struct {
	ID        string   // the formula, such as P2O5
	Element   string   // symbol of the element
	Formula   string   // the same, as the weights are counted
	Factor    *big.Rat // mass of the element in one of the form, exact from the atomic weights
	Spellings []string
	Backing
}

// A Weight is the standard atomic weight of an element, and the charge, for
// each of its atoms, of the ion that soil laboratories mean by it: Ca as
// Ca++, N as nitrate or ammonium, S as sulfate.
type Weight struct {
	Symbol string
	Weight *big.Rat // g/mol
	Charge int      // of the ion; 0 where an amount of charge has no one meaning
	Backing
}

// A Table is the units, bases, weights, lime materials and kinds of
// conversion, with the spellings indexed.
type Table struct {
	Units       []*Unit
	Bases       []*Basis
	Weights     map[string]*Weight
	Lime        []*LimeMaterial
	Conversions []*Conversion

	unitExact, unitFold   map[string]*Unit
	basisExact, basisFold map[string]*Basis
}

var standard = sync.OnceValue(func() *Table {
	t, err := Load(files, nil)
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

// Files are the tables that this program carries, for [Load].
func Files() fs.FS { return files }

// Raw is the bytes of the tables, for a hash of what was in force.
func Raw() []byte {
	var b []byte
	for _, n := range []string{"units.csv", "bases.csv", "weights.csv", "lime-materials.csv", "conversions.csv"} {
		c, err := files.ReadFile(n)
		if err == nil {
			b = append(b, c...)
		}
	}
	return b
}

var one = big.NewRat(1, 1) // shared, never changed

var dimensions = map[Dimension]bool{MassFraction: true, SoilVolume: true, Solution: true, SolutionCharge: true, AreaMass: true, Charge: true,
	ChargeVolume: true, Amount: true, AmountOrCharge: true, Conductivity: true, PH: true, Index: true, Class: true, Ratio: true, Density: true, Length: true}

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

// PerAmount is the mg/kg of an element in one mmol/kg of it: its atomic
// weight.
func (t *Table) PerAmount(element string) (*big.Rat, bool) {
	w, ok := t.Weights[element]
	if !ok {
		return nil, false
	}
	return w.Weight, true
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
