package interpret

import (
	"math/big"
	"slices"

	"example.org/windrow/normalize"
)

// need is an amount of pure material in lb/1000 sq ft with how it came about.
type need struct {
	rate    *big.Rat
	working string
	basis   []Basis
	depth   string // of soil that the amount is for, in inches
}

// limeNeed finds the amount of pure calcium carbonate. It uses the first rate
// whose land use and buffer fit and whose inputs the record has. The question
// is nil when there is an amount.
func (rs *RuleSet) limeNeed(use string, ph span, target *PHTarget, buffer, acidity *normalize.Result) (*need, *Question) {
	var asked *Question
	any := false
	for i := range rs.Lime.Rates {
		r := &rs.Lime.Rates[i]
		if r.Inactive != "" || !slices.Contains(r.For, use) {
			continue
		}
		any = true
		if r.Kind == kindTable {
			if n := r.fromTable(acidity, target); n != nil {
				return n, nil
			}
			continue
		}
		n, q := r.fromBuffer(use, ph, target, buffer)
		if n != nil {
			return n, nil
		}
		if q != nil {
			asked = q
		}
	}
	switch {
	case !any:
		return nil, &Question{Code: "lime-not-in-tables", Blocks: "lime", Text: "Your soil needs lime. " + rs.Lime.AskBuffers + " Please ask the laboratory for its own lime rate, and send it to us."}
	case buffer == nil:
		return nil, &Question{Code: "buffer-missing", Blocks: "lime", Text: "Your soil needs lime, but the report gives no buffer pH, and the amount depends on it. Please ask the laboratory for a buffer pH, or send us its own lime rate."}
	case asked != nil:
		return nil, asked
	case buffer.Method == "":
		return nil, &Question{Code: "buffer-kind-unknown", Blocks: "lime", Text: "Your soil needs lime. The report gives a buffer pH but not which buffer was used. Please ask the laboratory which one it was, and what lime rate it advises."}
	}
	return nil, &Question{Code: "buffer-other", Blocks: "lime", Text: "Your soil needs lime. The laboratory used the " + buffer.MethodName + ". " + rs.Lime.AskBuffers + " Please ask the laboratory for its own lime rate, and send it to us."}
}

// fromTable looks the laboratory's buffer acidity up in the table, at the
// nearest line at or below it, so that no more is advised than the table has
// for that much acidity.
func (r *LimeRate) fromTable(acidity *normalize.Result, target *PHTarget) *need {
	if acidity == nil || !usable(acidity) || acidity.Unit != unitOfAnalyte["acidity"] || !slices.Contains(r.Methods, acidity.Method) {
		return nil
	}
	s, ok := spanOf(acidity)
	if !ok || s.value == nil {
		return nil
	}
	goal := r.goal(target)
	last := r.Rows[len(r.Rows)-1].Acidity.rat()
	if goal < 0 || s.value.Cmp(add(last, rat(1, 1))) > 0 {
		return nil // beyond the table
	}
	var row *LimeRow
	for i := range r.Rows {
		if r.Rows[i].Acidity.rat().Cmp(s.value) <= 0 {
			row = &r.Rows[i]
		}
	}
	if row == nil {
		return nil
	}
	rate := row.Rates[goal].rat()
	working := "table, acidity " + string(row.Acidity) + " cmol(+)/kg and goal pH " + string(r.Goals[goal]) + ": " + string(row.Rates[goal]) + " " + r.Unit
	if r.Unit == unitTonsAcre {
		rate = mul(rate, tonsAcre)
	}
	return &need{rate: rate, working: working, basis: []Basis{basis(row.ID, r.Source, r.Provenance, row.At)}}
}

// A buffer that starts at its ceiling and is drawn down by an acid soil cannot
// end below the soil's own pH by more than the noise of the two readings.
// That follows from what a buffer is; half a unit for the noise is common
// practice, no source.
var bufferSlack = rat(1, 2)

// oddBuffer asks about a buffer pH that cannot be true beside the soil's.
func oddBuffer(says string) *Question {
	return &Question{Code: "buffer-odd", Blocks: "lime", Text: says + " Please ask the laboratory to check both."}
}

// fromBuffer works a rate from the buffer pH; see LimeRate for the kinds.
func (r *LimeRate) fromBuffer(use string, ph span, target *PHTarget, buffer *normalize.Result) (*need, *Question) {
	if buffer == nil || !usable(buffer) || !slices.Contains(r.Methods, buffer.Method) {
		return nil, nil
	}
	s, ok := spanOf(buffer)
	if !ok || s.value == nil {
		return nil, nil
	}
	goal := target.Target.rat()
	if ph.value.Cmp(goal) >= 0 || s.value.Cmp(sub(ph.value, bufferSlack)) < 0 {
		return nil, oddBuffer("The buffer pH and the soil pH on the report do not fit together.")
	}
	var n *need
	var q *Question
	if r.Kind == kindBufferTable {
		n, q = r.bufferRow(s.value, target)
	} else {
		n, q = r.bufferFormula(ph, s.value, target, string(buffer.Value))
	}
	if n == nil {
		return nil, q
	}
	n.depth = string(r.DepthIn)
	if r.OfPercent != "" {
		n.rate = quo(mul(n.rate, r.OfPercent.rat()), rat(100, 1))
		n.working += "; x " + string(r.OfPercent) + "/100 as pure lime"
	}
	for i := range r.Scale {
		if k := &r.Scale[i]; slices.Contains(k.For, use) {
			by := string(k.By)
			if by == "" {
				by = string(k.DepthIn) + "/" + n.depth
				n.rate = LimeRateAtDepth(n.rate, r.DepthIn.rat(), k.DepthIn.rat())
			} else {
				n.rate = mul(n.rate, k.By.rat())
			}
			n.working += "; x " + by + " for " + string(k.DepthIn) + " inches of soil instead of " + n.depth
			n.depth = string(k.DepthIn)
			n.basis = append(n.basis, basis(k.ID, k.Source, k.Provenance, k.At))
		}
	}
	if r.Unit == unitTonsAcre {
		n.rate = mul(n.rate, tonsAcre)
		n.working += "; x 45.914 = " + plain(n.rate, 1) + " " + unitPerThousand
	}
	return n, nil
}

// bufferFormula works the kinds that are a formula. The rate is in the unit of
// the rule.
func (r *LimeRate) bufferFormula(ph span, bufferPH *big.Rat, target *PHTarget, printed string) (*need, *Question) {
	ceiling, goal := r.Ceiling.rat(), target.Target.rat()
	acidity := mul(r.K.rat(), sub(ceiling, bufferPH))
	if acidity.Sign() <= 0 {
		return nil, oddBuffer("The soil pH says that lime is needed, but the buffer pH says that none is.")
	}
	rate := acidity
	working := string(r.K) + " x (" + string(r.Ceiling) + " - " + printed + ")"
	switch r.Kind {
	case kindEquation:
		if goal.Cmp(ceiling) >= 0 {
			return nil, oddBuffer("The buffer pH and the soil pH on the report do not fit together.")
		}
		rate = quo(mul(acidity, sub(goal, ph.value)), sub(ceiling, ph.value))
		working += " x (" + string(target.Target) + " - " + plain(ph.value, 2) + ") / (" + string(r.Ceiling) + " - " + plain(ph.value, 2) + ")"
	case kindHydrogen:
		now, then := hydrogenShare(ph.value), hydrogenShare(goal)
		if now == nil || then == nil || now.Sign() <= 0 {
			return nil, oddBuffer("The soil pH lies outside the curve that this buffer's lime rate goes by.")
		}
		rate = quo(mul(acidity, sub(now, then)), now)
		working += " x (" + plain(now, 4) + " - " + plain(then, 4) + ") / " + plain(now, 4)
	}
	working += " = " + plain(rate, 3) + " " + r.Unit
	return &need{rate: rate, working: working, basis: []Basis{basis(r.ID, r.Source, r.Provenance, r.At)}}, nil
}

// hydrogenShare is the share h of hydrogen on the soil's exchange sites at a
// pH, from pH = 7.79 - 5.55 h + 2.27 h^2 (Adams and Evans's curve for
// Ultisols, as SERA-6 gives it; from memory), to twelve decimals; nil where
// the curve has no such point.
func hydrogenShare(ph *big.Rat) *big.Rat {
	a, b := rat(227, 100), rat(555, 100)
	root := sub(mul(b, b), mul(mul(rat(4, 1), a), sub(rat(779, 100), ph)))
	if root.Sign() < 0 {
		return nil
	}
	f := new(big.Float).SetPrec(200).SetRat(root)
	sq, _ := new(big.Float).SetPrec(200).Sqrt(f).Rat(nil)
	h := quo(sub(b, sq), mul(rat(2, 1), a))
	out, _ := new(big.Rat).SetString(h.FloatString(12))
	if out.Sign() < 0 || out.Cmp(rat(1, 1)) > 0 {
		return nil
	}
	return out
}

// bufferRow looks the buffer pH up, at the nearest line at or above it, so
// that no more is advised than the table has for a buffer so little drawn
// down. Beyond either end of the table there is no rate.
func (r *LimeRate) bufferRow(bufferPH *big.Rat, target *PHTarget) (*need, *Question) {
	goal := r.goal(target)
	var row *LimeRow
	for i := range r.Rows { // from the highest buffer pH to the lowest
		if r.Rows[i].Buffer.rat().Cmp(bufferPH) >= 0 {
			row = &r.Rows[i]
		}
	}
	if goal < 0 || row == nil || bufferPH.Cmp(sub(r.Rows[len(r.Rows)-1].Buffer.rat(), rat(1, 10))) < 0 {
		return nil, &Question{Code: "buffer-beyond-table", Blocks: "lime", Text: "Your soil needs lime, but its buffer pH lies outside the table of lime rates that we use. Please ask the laboratory for its own lime rate, and send it to us."}
	}
	working := "table, buffer pH " + string(row.Buffer) + " and goal pH " + string(r.Goals[goal]) + ": " + string(row.Rates[goal]) + " " + r.Unit
	return &need{rate: row.Rates[goal].rat(), working: working, basis: []Basis{basis(row.ID, r.Source, r.Provenance, row.At)}}, nil
}

// goal is the column of a table for a target, or -1.
func (r *LimeRate) goal(target *PHTarget) int {
	for i, g := range r.Goals {
		if g.rat().Cmp(target.Target.rat()) == 0 {
			return i
		}
	}
	return -1
}

// ProductRate is the weight of a product that holds rate of what is wanted,
// in the same unit, from its share in percent: the number on a fertilizer's
// label, or the calcium carbonate equivalent of a liming material.
func ProductRate(rate, percent *big.Rat) *big.Rat {
	return quo(mul(rate, rat(100, 1)), percent)
}

// LimeRateAtDepth is the rate that sweetens the soil to a depth, from the rate
// to another depth, in the same unit: it goes by the depth. Both depths are
// above 0 and in the same unit. Vitosh, Johnson and Mengel 1995, E-2567: the
// top 4 inches take half of what 8 inches take.
func LimeRateAtDepth(rate, from, to *big.Rat) *big.Rat {
	return quo(mul(rate, to), from)
}

// limeParts cuts an amount of limestone by the strictest cap that bites.
func (rs *RuleSet) limeParts(use string, rate *big.Rat) (parts []*big.Rat, months int, b []Basis) {
	parts = []*big.Rat{rate}
	for i := range rs.Lime.Caps {
		k := &rs.Lime.Caps[i]
		if !slices.Contains(k.For, use) || rate.Cmp(k.Over.rat()) <= 0 {
			continue
		}
		p := splitEqual(rate, max(k.Parts, 1))
		if k.Most != "" {
			p = splitMost(rate, k.Most.rat())
			if last := p[len(p)-1]; last.Cmp(mul(k.Most.rat(), rat(1, 2))) < 0 {
				p = splitEqual(rate, len(p)) // not worth a walk over the lawn for a handful
			}
		}
		if len(p) > len(parts) {
			parts, months, b = p, k.Apart, []Basis{basis(k.ID, k.Source, k.Provenance, k.At)}
		}
	}
	return parts, months, b
}

// limeLine is the advice on lime for a need above nothing.
func (rs *RuleSet) limeLine(use UseRef, n *need, a areas, classes map[string]string) Line {
	b := append([]Basis{}, n.basis...)
	name, magnesium := rs.Lime.Material.Name, ""
	chosen := []Basis{}
	for i := range rs.Lime.Choices {
		if c := &rs.Lime.Choices[i]; slices.Contains(c.Classes, classes[c.Analyte]) {
			name, magnesium = c.Use, c.Magnesium
			chosen = append(chosen, basis(c.ID, c.Source, c.Provenance, c.At))
			break
		}
	}
	share, label, material := rs.limestone(magnesium)
	if label != "" {
		name = label
	}
	product := ProductRate(n.rate, share)
	parts, months, capBasis := rs.limeParts(use.ID, product)
	b = append(append(append(b, material), chosen...), capBasis...)
	cup := rs.Lime.Cup.LbPerCup.rat()
	b = append(b, basis(rs.Lime.Cup.ID, rs.Lime.Cup.Source, rs.Lime.Cup.Provenance, rs.Lime.Cup.At))
	l := Line{ID: "lime", When: First, Working: n.working, Need: plain(n.rate, 6), Basis: b}
	l.Product = a.amount(name, product, false, cup)
	l.Product.Per100, l.Product.TonsAcre = plain(quo(product, rat(10, 1)), 2), plain(quo(product, tonsAcre), 2)
	l.Amount = a.amount("pure lime", n.rate, false, nil)
	for i, p := range parts {
		if i > 2 {
			break // nobody can plan past the next pH test
		}
		l.Parts = append(l.Parts, Part{Months: i * months, PerArea: a.spread(p, len(parts) > 1, cup), Retest: i == 2})
	}
	how := "Dig it in " + depthWords(n.depth) + "deep."
	if use.Established {
		how = "Spread it evenly and water it in. Do not dig it in."
	}
	if use.LimeHow != "" {
		how = use.LimeHow
	}
	l.How = how
	l.What = "Spread " + name + ". " + how
	if len(parts) > 1 {
		l.What = "Spread " + name + " in " + itoa(len(parts)) + " parts, " + itoa(months) + " months apart. " + how
	}
	l.Note = "For limestone with a calcium carbonate equivalent (CCE) of " + plain(share, 1) + ". If the label says less, you need more: multiply by 100 and divide by that number."
	if len(parts) > 3 {
		l.Note += " In all it may take " + itoa(len(parts)) + " parts. Test the pH again before each one after the second."
	}
	return l
}

// limestone is the effective share in percent of the limestone that amounts are
// told in: the office's own of the kind that is wanted, where its list has one,
// else the rule set's. magnesium is "with", "without" or "" for either.
func (rs *RuleSet) limestone(magnesium string) (share *big.Rat, name string, b Basis) {
	m := rs.Lime.Material
	share, b = m.CCE.rat(), basis(m.ID, m.Source, m.Provenance, m.At)
	if rs.Products == nil {
		return share, "", b
	}
	for i := range rs.Products.Limestones {
		l := &rs.Products.Limestones[i]
		if magnesium == "" || l.Magnesium == (magnesium == withMagnesium) {
			return l.Effective(), l.Name, basis(l.ID, l.Source, l.Provenance, l.At)
		}
	}
	return share, "", b
}

func depthWords(in string) string {
	if in == "" {
		return ""
	}
	return "6 to " + in + " inches "
}
