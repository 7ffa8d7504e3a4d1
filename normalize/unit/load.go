package unit

import (
	"fmt"
	"io/fs"
	"math/big"
	"strings"

	"example.org/windrow/normalize/internal/table"
)

// Backing is what a row of these tables rests on, and whether it may be used.
type Backing struct {
	Source     string   // key in the bibliography
	Provenance string   // seen, computed, definition, common practice, from memory
	Active     bool     // conversions use it; an inactive row is known, so that what is printed by it is refused with its reason
	Reason     string   // why it is not active; "" for an active row
	Customary  string   // the rounded factor that the trade uses, for comparison only
	Checks     []string // rows of the published and recorded tables that fail when this row is wrong
	Note       string
}

// MayConvert are the kinds of provenance on which a value may be converted.
// What is known from memory or common practice alone is listed and not used.
var MayConvert = map[string]bool{"seen": true, "computed": true, "definition": true}

// loader reads the tables. known reports whether the bibliography has a key;
// where it is nil the keys are left to the caller.
type loader struct {
	t     *Table
	fsys  fs.FS
	known func(key string) bool
}

// Load reads units.csv, weights.csv, bases.csv, lime-materials.csv and
// conversions.csv. It refuses a row without source or provenance, a source
// that is not known, an active row whose provenance does not allow it, an
// inactive one without reason, a bad factor or formula, an unknown dimension,
// a dimension without canonical unit, and a spelling that two rows claim. A
// nil known leaves the keys to the caller.
func Load(fsys fs.FS, known func(key string) bool) (*Table, error) {
	l := &loader{fsys: fsys, known: known, t: &Table{Weights: map[string]*Weight{}, unitExact: map[string]*Unit{}, unitFold: map[string]*Unit{},
		basisExact: map[string]*Basis{}, basisFold: map[string]*Basis{}}}
	for _, step := range []func() error{l.weights, l.units, l.bases, l.lime, l.conversions} {
		if err := step(); err != nil {
			return nil, err
		}
	}
	return l.t, nil
}

// rows reads one table and gives each row with what it rests on.
func (l *loader) rows(name string, row func(where string, r map[string]string, b Backing) error) error {
	return table.Rows(l.fsys, name, func(where string, r map[string]string) error {
		b := Backing{Source: r["source"], Provenance: r["provenance"], Active: r["active"] == "yes", Reason: r["reason"], Customary: r["customary"],
			Checks: strings.Fields(r["checks"]), Note: r["note"]}
		switch {
		case r["active"] != "yes" && r["active"] != "no":
			return fmt.Errorf("%s: active is %q, not yes or no", where, r["active"])
		case l.known != nil && !l.known(b.Source):
			return fmt.Errorf("%s: the bibliography has no source %q", where, b.Source)
		case b.Active && !MayConvert[b.Provenance]:
			return fmt.Errorf("%s: a row whose provenance is %q can't be active: a value is converted only by what was seen, computed or is so by definition", where, b.Provenance)
		case b.Active && b.Reason != "":
			return fmt.Errorf("%s: an active row has a reason why it is not: %q", where, b.Reason)
		case !b.Active && b.Reason == "":
			return fmt.Errorf("%s: an inactive row needs its reason", where)
		}
		return row(where, r, b)
	})
}

func (l *loader) weights() error {
	return l.rows("weights.csv", func(where string, r map[string]string, b Backing) error {
		w, err := positive(where, "weight", r["weight"])
		if err != nil {
			return err
		}
		c := 0
		if s := r["charge"]; s != "" {
			if len(s) != 1 || s[0] < '1' || s[0] > '4' {
				return fmt.Errorf("%s: charge %q is not 1 to 4", where, s)
			}
			c = int(s[0] - '0')
		}
		if !b.Active {
			return fmt.Errorf("%s: an atomic weight can't be inactive: formulas rest on it", where)
		}
		l.t.Weights[r["symbol"]] = &Weight{r["symbol"], w, c, b}
		return nil
	})
}

func positive(where, what, text string) (*big.Rat, error) {
	f, ok := new(big.Rat).SetString(text)
	if !ok || f.Sign() <= 0 {
		return nil, fmt.Errorf("%s: %s %q is not a positive number", where, what, text)
	}
	return f, nil
}

func (l *loader) units() error {
	t, canon := l.t, map[Dimension]bool{}
	err := l.rows("units.csv", func(where string, r map[string]string, b Backing) error {
		f, err := positive(where, "factor", r["factor"])
		if err != nil {
			return err
		}
		u := &Unit{r["id"], r["name"], Dimension(r["dimension"]), f, r["ucum"], table.Split(r["spellings"]), b}
		if !dimensions[u.Dimension] {
			return fmt.Errorf("%s: unknown dimension %q", where, u.Dimension)
		}
		if u.UCUM == "" {
			return fmt.Errorf("%s: no UCUM code", where)
		}
		if f.Cmp(one) == 0 {
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

func (l *loader) bases() error {
	t := l.t
	return l.rows("bases.csv", func(where string, r map[string]string, b Backing) error {
		f, err := t.share(r["element"], r["formula"])
		if err != nil {
			return fmt.Errorf("%s: %w", where, err)
		}
		x := &Basis{r["id"], r["element"], r["formula"], f, table.Split(r["spellings"]), b}
		t.Bases = append(t.Bases, x)
		return table.Index(where, x, x.ID, x.Spellings, t.basisExact, t.basisFold)
	})
}

func (l *loader) lime() error {
	return l.rows("lime-materials.csv", func(where string, r map[string]string, b Backing) error {
		f, err := l.t.neutralizing(r["formula"])
		if err != nil {
			return fmt.Errorf("%s: %w", where, err)
		}
		l.t.Lime = append(l.t.Lime, &LimeMaterial{r["id"], r["name"], r["formula"], f, b})
		return nil
	})
}

func (l *loader) conversions() error {
	seen := map[string]bool{}
	return l.rows("conversions.csv", func(where string, r map[string]string, b Backing) error {
		c := &Conversion{ID: r["id"], Name: r["name"], From: r["from"], To: r["to"], Equation: r["equation"], FactorText: r["factor"], Needs: r["needs"], Backing: b}
		if c.ID == "" || c.Equation == "" || seen[c.ID] {
			return fmt.Errorf("%s: %q needs an id of its own and an equation", where, c.ID)
		}
		seen[c.ID] = true
		if c.FactorText != "" {
			f, err := l.t.massRatio(c.FactorText)
			if err != nil {
				return fmt.Errorf("%s: factor %q: %w", where, c.FactorText, err)
			}
			c.Factor = f
		}
		l.t.Conversions = append(l.t.Conversions, c)
		return nil
	})
}
