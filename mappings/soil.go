package mappings

import (
	"fmt"
	"math/big"

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
		in, ok := new(big.Rat).SetString(a.DepthIn)
		if cm, metric := new(big.Rat).SetString(a.DepthCm); metric {
			in, ok = cm.Mul(cm, big.NewRat(100, 254)), true
		}
		if !ok {
			return
		}
		layer = in
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
