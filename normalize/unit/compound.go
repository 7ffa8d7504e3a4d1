package unit

import (
	"fmt"
	"math/big"
	"strings"
)

// A LimeMaterial is one pure liming material. Its calcium carbonate
// equivalent follows from the atomic weights: each calcium or magnesium atom
// neutralizes what one formula unit of calcium carbonate does.
type LimeMaterial struct {
	ID      string // such as dolomite
	Name    string
	Formula string
	CCE     *big.Rat // percent of the neutralizing value of calcium carbonate, by mass, exact from the atomic weights
	Backing
}

// A Conversion is one kind of step that a value may take, with what it needs
// to be known, or one that is known and not taken, with the reason. Rows of
// units, forms and elements stand for the many steps of one kind.
type Conversion struct {
	ID         string // the rule of the step, or the part before its slash
	Name       string
	From, To   string
	Equation   string   // x is the amount before, y the amount after
	FactorText string   // the factor as written in the table, "" where there is no single one
	Factor     *big.Rat // its exact value; nil where there is no single one
	Needs      string   // what report or mapping must state
	Backing
}

// maxAtoms bounds what a formula may count, so that a slip in a table is an
// error and no long calculation.
const maxAtoms = 1000

// atoms counts the atoms of a formula such as CaMg(CO3)2.
func atoms(formula string) (map[string]int64, error) {
	bad := fmt.Errorf("formula %q can't be read", formula)
	stack := []map[string]int64{{}}
	for i := 0; i < len(formula); {
		c := formula[i]
		switch {
		case c == '(':
			stack, i = append(stack, map[string]int64{}), i+1
		case c == ')' && len(stack) > 1:
			n, j := count(formula, i+1)
			top := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			for s, k := range top {
				stack[len(stack)-1][s] += k * n
			}
			i = j
		case c >= 'A' && c <= 'Z':
			j := i + 1
			for j < len(formula) && formula[j] >= 'a' && formula[j] <= 'z' {
				j++
			}
			n, k := count(formula, j)
			stack[len(stack)-1][formula[i:j]] += n
			i = k
		default:
			return nil, bad
		}
	}
	if len(stack) != 1 || len(stack[0]) == 0 {
		return nil, bad
	}
	for _, n := range stack[0] {
		if n < 1 || n > maxAtoms {
			return nil, bad
		}
	}
	return stack[0], nil
}

// count reads the digits at i; none is one.
func count(s string, i int) (n int64, next int) {
	for next = i; next < len(s) && next < i+4 && s[next] >= '0' && s[next] <= '9'; next++ {
		n = n*10 + int64(s[next]-'0')
	}
	if next == i {
		return 1, i
	}
	return n, next
}

// Mass is the mass of a formula unit, such as CaMg(CO3)2, in g/mol. It is an
// error for a text that is no formula and an element without a weight here.
func (t *Table) Mass(formula string) (*big.Rat, error) {
	n, err := atoms(formula)
	if err != nil {
		return nil, err
	}
	total := new(big.Rat)
	for sym, k := range n {
		w, ok := t.Weights[sym]
		if !ok {
			return nil, fmt.Errorf("formula %q: no atomic weight of %q", formula, sym)
		}
		total.Add(total, new(big.Rat).Mul(w.Weight, new(big.Rat).SetInt64(k)))
	}
	return total, nil
}

// share is the mass fraction of an element in a compound.
func (t *Table) share(element, formula string) (*big.Rat, error) {
	total, err := t.Mass(formula)
	if err != nil {
		return nil, err
	}
	n, err := atoms(formula)
	if err != nil {
		return nil, err
	}
	if n[element] == 0 {
		return nil, fmt.Errorf("formula %q has no %s", formula, element)
	}
	part := new(big.Rat).Mul(t.Weights[element].Weight, new(big.Rat).SetInt64(n[element]))
	return part.Quo(part, total), nil
}

// neutralizing is the calcium carbonate equivalent of a compound of calcium
// and magnesium, in percent by mass.
func (t *Table) neutralizing(formula string) (*big.Rat, error) {
	n, err := atoms(formula)
	if err != nil {
		return nil, err
	}
	k := n["Ca"] + n["Mg"]
	if k == 0 {
		return nil, fmt.Errorf("formula %q has neither calcium nor magnesium", formula)
	}
	ratio, err := t.massRatio(fmt.Sprintf("%d CaCO3 / %s", 100*k, formula))
	if err != nil {
		return nil, err
	}
	return ratio, nil
}

// massRatio reads a factor of a table: a rational number such as 1/10, or
// numbers and formulas, whose masses are meant, such as CaMg(CO3)2 / 2 CO2.
func (t *Table) massRatio(text string) (*big.Rat, error) {
	if r, ok := new(big.Rat).SetString(text); ok {
		if r.Sign() <= 0 {
			return nil, fmt.Errorf("not a positive number")
		}
		return r, nil
	}
	above, below, _ := strings.Cut(text, " / ")
	out := big.NewRat(1, 1)
	for i, part := range []string{above, below} {
		for _, f := range strings.Fields(part) {
			m, ok := new(big.Rat).SetString(f)
			if !ok {
				var err error
				if m, err = t.Mass(f); err != nil {
					return nil, err
				}
			}
			if m.Sign() <= 0 {
				return nil, fmt.Errorf("not a positive number")
			}
			if i == 1 {
				m = new(big.Rat).Inv(m)
			}
			out.Mul(out, m)
		}
	}
	return out, nil
}
