package interpret

import (
	"slices"
	"strings"

	"example.org/windrow/normalize"
)

// Names of nutrients and analytes in plain words.
var plainName = map[string]string{
	"N": "nitrogen", "P2O5": "phosphate", "K2O": "potash", "Mg": "magnesium",
	"P": "phosphorus", "K": "potassium", "Ca": "calcium", "OM": "organic matter", "pH": "pH", "Pb": "lead", "As": "arsenic", "Cd": "cadmium",
	"buffer_pH": "buffer pH", "Zn": "zinc", "Cu": "copper", "Mn": "manganese", "Fe": "iron", "B": "boron", "S": "sulfur",
	"EC": "salts", "salts": "salts", "OM-much": "organic matter", "stop": "what to do first", "lime-kind": "lime",
	"acidity": "acidity", "CEC": "cation exchange capacity", "texture": "texture",
}

// PlainName is an analyte or nutrient in plain words, or its symbol.
func PlainName(id string) string {
	if n, ok := plainName[id]; ok {
		return n
	}
	return id
}

// table finds the table for a nutrient: one that is always used before one
// that may answer only where nothing better does.
func (rs *RuleSet) table(use, nutrient string) *NutrientTable {
	for _, when := range []string{useAlways, useLast} {
		for i := range rs.Nutrients {
			t := &rs.Nutrients[i]
			if t.Use == when && t.Nutrient == nutrient && slices.Contains(t.For, use) {
				return t
			}
		}
	}
	return nil
}

// nutrientLine is the advice on one nutrient. classes holds the class of each
// analyte that was rated. Without a class that the table needs there is
// neither a line nor a question: the analyte's own question says why. A table
// by shortfall goes by what was measured.
// Amounts are cut to what held allows.
func (rs *RuleSet) nutrientLine(use UseRef, nutrient string, classes map[string]string, a areas, held heldTo, measured ...*normalize.Result) (*Line, *Question) {
	t := rs.table(use.ID, nutrient)
	if t == nil {
		return nil, nil
	}
	var row *NutrientRow
	for i := range t.Rows {
		if t.By == "" || t.Rows[i].Class == classes[t.By] && classes[t.By] != "" {
			row = &t.Rows[i]
		}
	}
	if t.Shortfall != nil {
		row = t.Shortfall.row(measured, t.By)
	}
	if row == nil {
		return nil, nil
	}
	name := PlainName(nutrient)
	if row.Ask != "" {
		return nil, &Question{Code: "ask-us-" + nutrient, Blocks: nutrient, Text: row.Ask}
	}
	rate := row.Rate.rat()
	if most := t.Maintenance.rat(); t.Shortfall != nil && rank(classes[t.By]) >= rank(Optimum) && rate.Cmp(most) > 0 {
		rate = most
	}
	l := &Line{ID: nutrient, When: Season, Need: plain(rate, 6), Basis: []Basis{basis(row.ID, row.Source, row.Provenance, row.At)}}
	if rate.Sign() == 0 {
		l.When = Not
		l.What = "Add no " + name + "."
		if t.By != "" {
			l.What = "Add no " + name + ". Your soil has enough " + PlainName(t.By) + "."
			if rank(classes[t.By]) < rank(Optimum) {
				l.What = "Add no " + name + ". This planting does well without it."
			}
		}
		return l, nil
	}
	l.Working = plain(rate, 3) + " " + t.Unit
	if row.working != "" {
		l.Working = row.working + " " + t.Unit
	} else if t.By != "" {
		l.Working += " where " + PlainName(t.By) + " is " + row.Class
	}
	l.Note = t.Note
	if held.year != nil && rate.Cmp(held.year) > 0 {
		rate = held.year
		l.Need = plain(rate, 6)
		l.Working += ", cut to " + plain(rate, 3) + " by law"
		l.Note = strings.TrimSpace(l.Note + " The law of your state allows no more than this in a year.")
		l.Basis = append(l.Basis, held.yearBy)
	}
	l.Amount = a.amount(name, rate, held.year != nil || held.once != nil, nil)
	l.How = t.When
	l.What = "Add " + name + ". " + t.When
	if t.By != "" && rank(row.Class) >= rank(Optimum) {
		l.Note = strings.TrimSpace("Your soil has enough. This small amount only makes up for what the plants take. " + l.Note)
	}
	product := rate
	once, bases := held.once, held.onceBy
	if t.OnceMost != nil && (once == nil || t.OnceMost.Most.rat().Cmp(once) <= 0) {
		once, bases = t.OnceMost.Most.rat(), []Basis{basis(t.OnceMost.ID, t.OnceMost.Source, t.OnceMost.Provenance, t.OnceMost.At)}
	}
	if t.Material != nil {
		product = ProductRate(rate, t.Material.Percent.rat())
		l.Product = a.amount(t.Material.Name, product, once != nil, nil)
		l.Basis = append(l.Basis, basis(t.Material.ID, t.Material.Source, t.Material.Provenance, t.Material.At))
	}
	if once != nil {
		n := partsUnder(rate, once)
		l.Basis = append(l.Basis, bases...)
		for range n {
			l.Parts = append(l.Parts, Part{PerArea: a.spread(quo(product, rat(int64(n), 1)), true, nil)})
		}
		l.Working += ", in " + itoa(n) + " feedings of at most " + plain(once, 3) + " lb each"
	}
	return l, nil
}
