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
	for i := range rs.Lime.Rates {
		r := &rs.Lime.Rates[i]
		if !slices.Contains(r.For, use) {
			continue
		}
		switch r.Kind {
		case kindTable:
			if n := r.fromTable(acidity, target); n != nil {
				return n, nil
			}
		case kindEquation:
			n, q := r.fromBuffer(use, ph, target, buffer)
			if n != nil {
				return n, nil
			}
			asked = q
		}
	}
	switch {
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
	goal := -1
	for i, g := range r.Goals {
		if g.rat().Cmp(target.Target.rat()) == 0 {
			goal = i
		}
	}
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

// fromBuffer works the equation: acidity = k x (ceiling - buffer pH); rate =
// acidity x (target - pH) / (ceiling - pH).
func (r *LimeRate) fromBuffer(use string, ph span, target *PHTarget, buffer *normalize.Result) (*need, *Question) {
	if buffer == nil || !usable(buffer) || !slices.Contains(r.Methods, buffer.Method) {
		return nil, nil
	}
	s, ok := spanOf(buffer)
	if !ok || s.value == nil {
		return nil, nil
	}
	ceiling, goal := r.Ceiling.rat(), target.Target.rat()
	if goal.Cmp(ceiling) >= 0 || ph.value.Cmp(goal) >= 0 || s.value.Cmp(sub(ph.value, bufferSlack)) < 0 {
		return nil, &Question{Code: "buffer-odd", Blocks: "lime", Text: "The buffer pH and the soil pH on the report do not fit together. Please ask the laboratory to check both."}
	}
	acidity := mul(r.K.rat(), sub(ceiling, s.value))
	if acidity.Sign() <= 0 {
		return nil, &Question{Code: "buffer-odd", Blocks: "lime", Text: "The soil pH says that lime is needed, but the buffer pH says that none is. Please ask the laboratory to check both."}
	}
	rate := quo(mul(acidity, sub(goal, ph.value)), sub(ceiling, ph.value))
	working := string(r.K) + " x (" + string(r.Ceiling) + " - " + string(buffer.Value) + ") x (" + string(target.Target) + " - " + plain(ph.value, 2) + ") / (" + string(r.Ceiling) + " - " + plain(ph.value, 2) + ") = " + plain(rate, 3) + " " + r.Unit
	b := []Basis{basis(r.ID, r.Source, r.Provenance, r.At)}
	depth := string(r.DepthIn)
	for i := range r.Scale {
		if k := &r.Scale[i]; slices.Contains(k.For, use) {
			rate = mul(rate, k.By.rat())
			working += "; x " + string(k.By) + " for " + string(k.DepthIn) + " inches of soil instead of " + depth
			depth = string(k.DepthIn)
			b = append(b, basis(k.ID, k.Source, k.Provenance, k.At))
		}
	}
	if r.Unit == unitTonsAcre {
		rate = mul(rate, tonsAcre)
		working += "; x 45.914 = " + plain(rate, 1) + " " + unitPerThousand
	}
	return &need{rate: rate, working: working, basis: b, depth: depth}, nil
}

// ProductRate is the weight of a product that holds rate of what is wanted,
// in the same unit, from its share in percent: the number on a fertilizer's
// label, or the calcium carbonate equivalent of a liming material.
func ProductRate(rate, percent *big.Rat) *big.Rat {
	return quo(mul(rate, rat(100, 1)), percent)
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
	m := &rs.Lime.Material
	product := ProductRate(n.rate, m.CCE.rat())
	parts, months, capBasis := rs.limeParts(use.ID, product)
	name := m.Name
	b := append([]Basis{}, n.basis...)
	b = append(b, basis(m.ID, m.Source, m.Provenance, m.At))
	for i := range rs.Lime.Choices {
		if c := &rs.Lime.Choices[i]; slices.Contains(c.Classes, classes[c.Analyte]) {
			name = c.Use
			b = append(b, basis(c.ID, c.Source, c.Provenance, c.At))
			break
		}
	}
	b = append(b, capBasis...)
	cup := rs.Lime.Cup.LbPerCup.rat()
	b = append(b, basis(rs.Lime.Cup.ID, rs.Lime.Cup.Source, rs.Lime.Cup.Provenance, rs.Lime.Cup.At))
	l := Line{ID: "lime", When: First, Working: n.working, Need: plain(n.rate, 6), Basis: b}
	l.Product = a.amount(name, product, false, cup)
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
	l.Note = "For limestone with a calcium carbonate equivalent (CCE) of " + string(m.CCE) + ". If the label says less, you need more: multiply by 100 and divide by that number."
	if len(parts) > 3 {
		l.Note += " In all it may take " + itoa(len(parts)) + " parts. Test the pH again before each one after the second."
	}
	return l
}

func depthWords(in string) string {
	if in == "" {
		return ""
	}
	return "6 to " + in + " inches "
}

// sulfurLine is the advice to lower the pH, or a question. It is only asked
// for where the target says so.
func (rs *RuleSet) sulfurLine(use UseRef, ph span, texture string, a areas) (*Line, *Question) {
	for i := range rs.Sulfur {
		r := &rs.Sulfur[i]
		if !slices.Contains(r.For, use.ID) {
			continue
		}
		b := []Basis{basis(r.ID, r.Source, r.Provenance, r.At)}
		if h := &r.Hopeless; ph.value.Cmp(h.PH.rat()) > 0 {
			return &Line{ID: "sulfur", When: Not, What: h.Advice, Basis: append(b, basis(h.ID, h.Source, h.Provenance, h.At)), Need: "0"}, nil
		}
		tenths := mul(sub(ph.value, r.To.rat()), rat(10, 1))
		if tenths.Sign() <= 0 {
			return nil, nil
		}
		for j := range r.Factors {
			f := &r.Factors[j]
			if !slices.Contains(fold2(f.Textures), fold(texture)) {
				continue
			}
			rate := mul(mul(tenths, r.PerTenth.rat()), f.By.rat())
			l := &Line{ID: "sulfur", When: First, Basis: b, Need: plain(rate, 6),
				Working: plain(tenths, 1) + " tenths x " + string(r.PerTenth) + " x " + string(f.By) + " = " + plain(rate, 1) + " " + unitPerThousand}
			l.Product = a.amount("elemental sulfur", rate, true, nil)
			// The rule is for soil that is made ready; roots that stand in it
			// already could be hurt.
			l.How = "Only in a bed that is not planted yet: dig it in before planting."
			l.What = "Dig elemental sulfur in before planting, only in a bed that is not planted yet."
			if rate.Cmp(r.OnceOver.rat()) > 0 {
				first := mul(rate, r.FirstPart.rat())
				l.Parts = []Part{{PerArea: a.spread(first, true, nil)}, {Months: r.Months, PerArea: a.spread(sub(rate, first), true, nil), Retest: true}}
				l.What += " Give the first part now. Test the pH again after " + itoa(r.Months) + " months before you give the rest."
			}
			return l, nil
		}
		if texture != "" {
			return nil, &Question{Code: "texture-not-in-table", Blocks: "ph", Text: "The pH is too high for a " + use.Name + ". The table of sulfur that we have read has amounts for " + list(r.soils()) + ", and the laboratory calls your soil “" + soilName(texture) + "”. Please call us before you add any."}
		}
		return nil, &Question{Code: "texture-missing", Blocks: "ph", Text: "The pH is too high for what you grow. How much sulfur it takes depends on how much sand or clay is in the soil. Please tell us, or ask the laboratory for a texture test."}
	}
	return nil, nil
}

// soils are the textures that the rule has a factor for, by their first names.
func (r *SulfurRule) soils() []string {
	var out []string
	for i := range r.Factors {
		out = append(out, r.Factors[i].Textures[0])
	}
	return out
}
