package normalize

import (
	"fmt"
	"math/big"

	"example.org/windrow/mappings"
	"example.org/windrow/normalize/method"
	"example.org/windrow/normalize/unit"
)

// area turns an amount per area into an amount per mass or volume of soil by
// what the laboratory means by it, and by nothing else.
func (cv *converter) area(res *Result, c *chain, rd *mappings.Reading, a *method.Analyte, u *unit.Unit) *refusal {
	if rd.Area == nil && cv.depth != "" {
		return &refusal{fmt.Sprintf("depth and weight of soil unknown: an amount per area stands for a layer of soil, and the printed depth “%s” does not give one with a weight", cv.depth), true}
	}
	if rd.Area == nil {
		return &refusal{"depth and weight of soil unknown: an amount per area stands for a layer of soil, and neither report nor mapping states it", true}
	}
	t := unit.Standard()
	if rd.Area.ByVolume || rd.Per == "volume" {
		cm, in, err := depthOf(rd.Area)
		if err != nil {
			return &refusal{"depth unknown: the depth that the amount per area stands for can't be used (" + err.Error() + ")", true}
		}
		ha, _ := t.Unit("kg/ha")
		cv.units(c, rd, u, ha)
		c.apply(link{"area/by-volume", "kg/ha of scooped soil to mg/dm3: 10 ÷ depth in centimetres", new(big.Rat).Quo(big.NewRat(10, 1), cm), "mg/dm3" + oxideSuffix(rd), "rayment-lyons-2011",
			[]Input{depthInput(rd.Area, cm, in)}})
		return cv.volumetric(res, c, rd, a)
	}
	if rd.Area.BulkDensity != "" {
		return cv.byBulkDensity(c, rd, a, u)
	}
	soil, err := unit.ParseRational(rd.Area.LbPerAcre)
	if err != nil || soil.Sign() <= 0 {
		return &refusal{"weight of soil unknown: an amount per area stands for a weight of soil, and neither report nor mapping states it", true}
	}
	cm, in, err := depthOf(rd.Area)
	if err != nil {
		return &refusal{"depth unknown: a weight of soil is that of a layer, and its depth can't be used (" + err.Error() + ")", true}
	}
	cv.units(c, rd, u, t.Canonical(unit.AreaMass))
	inputs := []Input{soilInput(rd.Area, "soil per acre", Decimal(unit.Format(soil, 7)), "lb/acre"), depthInput(rd.Area, cm, in)}
	c.apply(link{"area/by-mass", "lb per acre to parts per million of the soil's weight: 1,000,000 ÷ lb of soil per acre" + eachInch(soil, in), new(big.Rat).Quo(big.NewRat(1_000_000, 1), soil),
		"mg/kg" + oxideSuffix(rd), soilSource(rd.Area), inputs})
	return cv.basis(c, rd, a, "mg/kg")
}

// byBulkDensity goes by the weight that a layer of soil has as it lies.
func (cv *converter) byBulkDensity(c *chain, rd *mappings.Reading, a *method.Analyte, u *unit.Unit) *refusal {
	cm, in, err := depthOf(rd.Area)
	if err != nil {
		return &refusal{"depth unknown: a bulk density gives no weight of soil without the depth (" + err.Error() + ")", true}
	}
	bd, err := bulkDensityOf(rd.Area)
	if err != nil {
		return &refusal{"density unknown: the bulk density that the amount per area stands for can't be used (" + err.Error() + ")", true}
	}
	ha, _ := unit.Standard().Unit("kg/ha")
	cv.units(c, rd, u, ha)
	c.apply(link{"area/by-bulk-density", "kg/ha to parts per million of the soil's weight: 10 ÷ (bulk density × depth in centimetres)",
		new(big.Rat).Quo(big.NewRat(10, 1), new(big.Rat).Mul(bd, cm)), "mg/kg" + oxideSuffix(rd), "rayment-lyons-2011",
		[]Input{soilInput(rd.Area, "bulk density", Decimal(rd.Area.BulkDensity), "g/cm3"), depthInput(rd.Area, cm, in)}})
	return cv.basis(c, rd, a, "mg/kg")
}

// bulkDensityOf is the density of an area basis in g/cm3.
func bulkDensityOf(ab *mappings.AreaBasis) (*big.Rat, error) {
	n, err := unit.ParseNumber(ab.BulkDensity)
	if err != nil {
		return nil, err
	}
	if n.Rat.Sign() <= 0 {
		return nil, fmt.Errorf("a density of zero")
	}
	return n.Rat, nil
}

// acreInch is the pounds that an acre of soil weighs for each inch of depth at
// 1 g/cm3.
var acreInch = mappings.AcreInch()

// sliceOf is the layer of soil that an area basis stands for; nil where it
// states none that can be used.
func sliceOf(ab *mappings.AreaBasis) *soilSlice {
	if ab == nil || ab.ByVolume {
		return nil
	}
	_, in, err := depthOf(ab)
	if err != nil {
		return nil
	}
	if ab.BulkDensity != "" {
		bd, err := bulkDensityOf(ab)
		if err != nil {
			return nil
		}
		return newSoilSlice(bd.Mul(bd, in).Mul(bd, acreInch), in)
	}
	soil, err := unit.ParseRational(ab.LbPerAcre)
	if err != nil || soil.Sign() <= 0 {
		return nil
	}
	return newSoilSlice(soil, in)
}

// soilSource is the source of a step by the weight of soil: that one million
// parts are a million is a definition, what the soil weighs is not.
func soilSource(ab *mappings.AreaBasis) string {
	if soilOrigin(ab) == "report" {
		return "report"
	}
	return "mapping-statement"
}

// eachInch says what the soil weighs for each inch, where that is a whole
// number of pounds: 2,400,000 lb to 8 inches are 300,000 an inch.
func eachInch(soil, in *big.Rat) string {
	k := new(big.Rat).Quo(soil, in)
	whole := new(big.Int).Quo(in.Num(), in.Denom())
	inches := whole.String()
	if rest := new(big.Rat).Sub(in, new(big.Rat).SetInt(whole)); rest.Sign() != 0 {
		inches += " " + rest.RatString()
	}
	if !k.IsInt() || in.Denom().Cmp(big.NewInt(8)) > 0 {
		return ""
	}
	return fmt.Sprintf("; %s lb of soil are %s an inch × %s", grouped(Decimal(unit.Format(soil, 7))), grouped(Decimal(k.Num().String())), inches)
}

// sliceByDensity is the layer of an amount that was determined by volume: its
// depth, at the density of the sample's scooped soil; nil where one of them is
// not known.
func sliceByDensity(ab *mappings.AreaBasis, density *big.Rat) *soilSlice {
	if ab == nil || density == nil {
		return nil
	}
	_, in, err := depthOf(ab)
	if err != nil {
		return nil
	}
	soil := new(big.Rat).Mul(density, in)
	return newSoilSlice(soil.Mul(soil, acreInch), in)
}

// soilOrigin is where the weight of soil comes from.
func soilOrigin(ab *mappings.AreaBasis) string {
	if ab.SoilSource != "" {
		return origin(&mappings.AreaBasis{Source: ab.SoilSource})
	}
	return origin(ab)
}

// depthOf is the depth of an area basis in centimetres and inches.
func depthOf(ab *mappings.AreaBasis) (cm, in *big.Rat, err error) {
	perInch := big.NewRat(254, 100)
	if ab.DepthIn != "" {
		in, err = unit.ParseRational(ab.DepthIn)
		if err == nil {
			cm = new(big.Rat).Mul(in, perInch)
		}
	} else {
		cm, err = unit.ParseRational(ab.DepthCm)
		if err == nil {
			in = new(big.Rat).Quo(cm, perInch)
		}
	}
	if err != nil {
		return nil, nil, fmt.Errorf("the depth is no number")
	}
	if cm.Sign() <= 0 {
		return nil, nil, fmt.Errorf("a depth of zero")
	}
	return cm, in, nil
}

// origin is where an area basis comes from: the mapping, unless it says that
// the page states it.
func origin(ab *mappings.AreaBasis) string {
	if ab.Source == "report" {
		return "report"
	}
	return "mapping"
}

// soilInput is what an area basis says that the soil weighs.
func soilInput(ab *mappings.AreaBasis, name string, value Decimal, unit string) Input {
	in := Input{Name: name, Value: value, Unit: unit, Origin: soilOrigin(ab)}
	if in.Origin == "mapping" {
		in.Rule = ab.Rule
	}
	return in
}

func depthInput(ab *mappings.AreaBasis, cm, in *big.Rat) Input {
	out := Input{Name: "depth", Value: Decimal(unit.Format(cm, 3)), Unit: "cm", Origin: origin(ab)}
	if ab.DepthIn != "" {
		out.Value, out.Unit = Decimal(unit.Format(in, 3)), "in"
	}
	if out.Origin == "mapping" {
		out.Rule = ab.Rule
	}
	return out
}
