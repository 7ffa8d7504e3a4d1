package mappings

import (
	"fmt"
	"math/big"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings/strict"
)

// AcreInch is the pounds that an acre of soil weighs for each inch of depth at
// 1 g/cm3, exactly: 4046.8564224 m2 × 0.0254 m × 1000 kg/m3 ÷ 0.45359237 kg,
// by the international acre, inch and pound.
func AcreInch() *big.Rat {
	return new(big.Rat).Quo(new(big.Rat).Mul(big.NewRat(40468564224, 10_000_000), big.NewRat(254, 10)), big.NewRat(45359237, 100_000_000))
}

// The bulk densities, in g/cm3, between which a layer of soil as it is
// sampled lies: peat at the one end, a compacted sand at the other. Common
// practice, no source.
var leastDensity, mostDensity = big.NewRat(2, 10), big.NewRat(2, 1)

// soilWeight complains of a weight of soil that no soil of its depth has: a
// digit of one of the two is wrong, and so would be every amount per area.
func (d *decoder) soilWeight(n strict.Node, u UnitNote) {
	lb, layer, key := u.PerInch, big.NewRat(1, 1), "soil per inch"
	if a := u.Area; a != nil && a.LbPerAcre != "" {
		lb, key = a.LbPerAcre, "soil"
		if layer = a.inches(); layer == nil {
			return // said already
		}
	}
	soil, ok := new(big.Rat).SetString(lb)
	if !ok || layer.Sign() <= 0 {
		return // said already
	}
	atOne := layer.Mul(layer, AcreInch())
	density := new(big.Rat).Quo(soil, atOne)
	if density.Cmp(leastDensity) >= 0 && density.Cmp(mostDensity) <= 0 {
		return
	}
	what := "a layer of that depth"
	if key == "soil per inch" {
		what = "an inch of soil"
	}
	whole := func(d *big.Rat) string { return new(big.Rat).Mul(d, atOne).FloatString(0) }
	n.Get(key).Complain(fmt.Sprintf("the weight of soil and the depth do not belong together: %s would have a bulk density of %s g/cm3", what, density.FloatString(2)),
		fmt.Sprintf("0.2 to 2 g/cm3: for %s %s to %s lb/acre", what, whole(leastDensity), whole(mostDensity)), n.Get(key).Text(),
		"correct the one that is wrong by the laboratory's guide; 2000000 lb/acre goes with 6 2/3 in")
}

// apart reports whether two depths in inches are different layers, and not one
// that is rounded otherwise, as 6 2/3 and 6.7 inches or 6 inches and 15 cm are.
func apart(a, b *big.Rat) bool {
	d := new(big.Rat).Sub(a, b)
	return d.Abs(d).Cmp(big.NewRat(1, 10)) > 0
}

// depthDiffers flags a report that prints another depth than the mapping
// states as the laboratory's practice. It gives the field that holds: what is
// printed.
func (r *reader) depthDiffers(a, b Field) Field {
	stated, printed := a, b
	if !a.Place.IsZero() {
		stated, printed = b, a
	}
	r.reason(&ingest.Reason{Code: "depth-differs", Severity: ingest.Flag, Where: printed.Place, Rule: stated.Rule, What: "the report prints another depth than the mapping states as the laboratory's practice; the printed one was used",
		Expected: stated.Printed, Found: printed.Printed, Next: "compare with the laboratory's guide; if it samples or reports to the printed depth now, correct the mapping"})
	return printed
}

// otherLayer notes that an amount per area stands for another layer, by the
// mapping, than the one that was sampled. Many laboratories give pounds to the
// same slice of soil whatever the depth; where one does not, the amount per
// mass of soil would be wrong by the ratio of the two.
func (r *reader) otherLayer(s *SampleExtract, rd *Reading, note UnitNote) {
	f := s.Fields[Depth]
	in := note.Area.inches()
	if f.depth == nil || f.Place.IsZero() || in == nil || !apart(in, layerOf(s).thickness()) {
		return
	}
	stated, unit := note.Area.DepthIn, " in"
	if stated == "" {
		stated, unit = note.Area.DepthCm, " cm"
	}
	r.reason(&ingest.Reason{Code: "layer-differs", Severity: ingest.Note, Where: f.Place, Rule: note.Place, What: fmt.Sprintf("the amounts in %s stand for a layer of another depth, by the mapping, than the one that was sampled", rd.PrintedUnit),
		Expected: mixed(stated) + unit, Found: f.Printed, Next: "nothing, if the laboratory's guide says that the amounts are always for that layer; if they follow the sampled depth, write soil per inch in the mapping"})
}

// inches is the depth of an area basis in inches; nil where it has none.
func (a *AreaBasis) inches() *big.Rat {
	if cm, ok := new(big.Rat).SetString(a.DepthCm); ok {
		return cm.Mul(cm, big.NewRat(100, 254))
	}
	if in, ok := new(big.Rat).SetString(a.DepthIn); ok {
		return in
	}
	return nil
}

// mixed is a fraction as people write a depth: 6 2/3 for 20/3.
func mixed(text string) string {
	r, ok := new(big.Rat).SetString(text)
	if !ok || r.IsInt() {
		return text
	}
	whole := new(big.Int).Quo(r.Num(), r.Denom())
	if whole.Sign() == 0 {
		return text
	}
	return whole.String() + " " + r.Sub(r, new(big.Rat).SetInt(whole)).RatString()
}
