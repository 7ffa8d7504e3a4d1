package interpret

import (
	"math/big"
	"slices"

	"example.org/windrow/normalize"
)

// calcareous reports whether a report says that the soil holds carbonate of
// lime: any amount above nothing, or a fizz.
func calcareous(r *normalize.Result) bool {
	if r == nil || r.Missing != "" {
		return false
	}
	if v, ok := ratOf(r.Value); ok {
		return v.Sign() > 0 && r.Censored != "<"
	}
	return slices.Contains([]string{"slight", "moderate", "strong", "yes", "present", "low", "medium", "high", "very high"}, fold(r.Class))
}

// sulfurLine is the advice to lower the pH, or a question. It is only asked
// for where the target says so. limy says that the soil holds free lime.
func (rs *RuleSet) sulfurLine(use UseRef, ph span, texture string, limy bool, a areas) (*Line, *Question) {
	for i := range rs.Sulfur {
		r := &rs.Sulfur[i]
		if !slices.Contains(r.For, use.ID) {
			continue
		}
		b := []Basis{basis(r.ID, r.Source, r.Provenance, r.At)}
		if h := &r.Hopeless; limy || ph.value.Cmp(h.PH.rat()) > 0 {
			return &Line{ID: "sulfur", When: Not, What: h.Advice, Basis: append(b, basis(h.ID, h.Source, h.Provenance, h.At)), Need: "0"}, nil
		}
		if ph.value.Cmp(r.To.rat()) <= 0 {
			return nil, nil
		}
		rate, working := r.rate(ph.value, texture)
		if rate == nil {
			return nil, r.ask(use, ph.value, texture)
		}
		return r.line(rate, working, b, a), nil
	}
	return nil, nil
}

// rate is the amount in lb/1000 sq ft from a pH down to To, nil where the rule
// has none for the texture or the pH.
func (r *SulfurRule) rate(ph *big.Rat, texture string) (*big.Rat, string) {
	for j := range r.Factors {
		if f := &r.Factors[j]; slices.Contains(fold2(f.Textures), fold(texture)) {
			tenths := mul(sub(ph, r.To.rat()), rat(10, 1))
			rate := mul(mul(tenths, r.PerTenth.rat()), f.By.rat())
			return rate, plain(tenths, 1) + " tenths x " + string(r.PerTenth) + " x " + string(f.By) + " = " + plain(rate, 1) + " " + unitPerThousand
		}
	}
	for j := range r.Columns {
		if !slices.Contains(fold2(r.Columns[j].Textures), fold(texture)) {
			continue
		}
		total, working := new(big.Rat), ""
		left := sub(ph, r.To.rat()) // of the way down
		for k := range r.Steps {
			s := &r.Steps[k]
			top, foot := minRat(ph, s.From.rat()), maxRat(r.To.rat(), s.To.rat())
			part := sub(top, foot)
			if part.Sign() <= 0 {
				continue
			}
			left = sub(left, part)
			share := quo(part, sub(s.From.rat(), s.To.rat()))
			total = add(total, mul(share, s.Rates[j].rat()))
			if working != "" {
				working += " + "
			}
			working += plain(share, 3) + " x " + string(s.Rates[j])
		}
		if left.Sign() != 0 {
			return nil, "" // part of the way is not in the table
		}
		return total, working + " = " + plain(total, 1) + " " + unitPerThousand
	}
	return nil, ""
}

func minRat(a, b *big.Rat) *big.Rat {
	if a.Cmp(b) < 0 {
		return a
	}
	return b
}

func maxRat(a, b *big.Rat) *big.Rat {
	if a.Cmp(b) > 0 {
		return a
	}
	return b
}

// ask is what is asked where there is no amount.
func (r *SulfurRule) ask(use UseRef, ph *big.Rat, texture string) *Question {
	known := slices.ContainsFunc(r.soils(), func(t string) bool {
		rate, _ := r.rate(add(r.To.rat(), rat(1, 10)), texture)
		return rate != nil
	})
	switch {
	case texture == "":
		return &Question{Code: "texture-missing", Blocks: "ph", Text: "The pH is too high for what you grow. How much sulfur it takes depends on how much sand or clay is in the soil. Please tell us, or ask the laboratory for a texture test."}
	case known:
		return &Question{Code: "sulfur-beyond-table", Blocks: "ph", Text: "The pH is too high for a " + use.Name + ". The table of sulfur that we have read does not reach to a pH of " + plain(ph, 2) + ". Please call us before you add any."}
	}
	return &Question{Code: "texture-not-in-table", Blocks: "ph", Text: "The pH is too high for a " + use.Name + ". The table of sulfur that we have read has amounts for " + list(r.soils()) + ", and the laboratory calls your soil “" + soilName(texture) + "”. Please call us before you add any."}
}

// line tells an amount of sulfur, in parts where it is more than goes on at
// once, and what other materials would take.
func (r *SulfurRule) line(rate *big.Rat, working string, b []Basis, a areas) *Line {
	l := &Line{ID: "sulfur", When: First, Basis: b, Need: plain(rate, 6), Working: working}
	l.Product = a.amount("elemental sulfur", rate, true, nil)
	// The rule is for soil that is made ready; roots that stand in it
	// already could be hurt.
	l.How = "Only in a bed that is not planted yet: dig it in before planting."
	l.What = "Dig elemental sulfur in before planting, only in a bed that is not planted yet."
	if rate.Cmp(r.OnceOver.rat()) > 0 {
		first := mul(rate, r.FirstPart.rat())
		l.Parts = []Part{{PerArea: a.spread(first, true, nil)}, {Months: r.Months, PerArea: a.spread(sub(rate, first), true, nil), Retest: true}}
		l.What += " Give the first part now. Test the pH again after " + itoa(r.Months) + " months before you give the rest."
		if s := r.Split; s != nil {
			l.Basis = append(l.Basis, basis(s.ID, s.Source, s.Provenance, s.At))
		}
	}
	for i := range r.Others {
		o := &r.Others[i]
		l.Instead = append(l.Instead, Instead{Amount: *a.amount(o.Name, mul(rate, o.PerLb.rat()), true, nil), Note: o.Note, Basis: []Basis{basis(o.ID, o.Source, o.Provenance, o.At)}})
	}
	return l
}

// soils are the textures that the rule has amounts for, by their first names.
func (r *SulfurRule) soils() []string {
	var out []string
	for i := range r.Factors {
		out = append(out, r.Factors[i].Textures[0])
	}
	for i := range r.Columns {
		out = append(out, r.Columns[i].Textures[0])
	}
	return out
}
