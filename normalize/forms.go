package normalize

import (
	"math/big"

	"example.org/windrow/mappings"
	"example.org/windrow/normalize/unit"
)

// The customary slice of soil, for the lb/acre form of a result whose report
// names no depth and weight. It is a convention and labelled so.
var (
	conventionSoil  = big.NewRat(2_000_000, 1) // lb per acre
	conventionDepth = big.NewRat(20, 3)        // inches
	convention      = newSoilSlice(conventionSoil, conventionDepth)
)

// A soilSlice is a weight of soil per area to a depth, as the lb/acre form and
// its step show it.
type soilSlice struct {
	factor              *big.Rat // from parts per million to lb per acre
	factorText          string
	depthText, soilText Decimal // in inches, in lb per acre
}

func newSoilSlice(soil, depth *big.Rat) *soilSlice {
	k := new(big.Rat).Quo(soil, big.NewRat(1_000_000, 1))
	return &soilSlice{k, k.RatString(), Decimal(unit.Format(depth, 3)), Decimal(unit.Format(soil, 7))}
}

// forms fills the units that people ask for beside mg/kg.
func forms(res *Result, f facts, rd *mappings.Reading) {
	if !f.byMass {
		if f.analyte.Element != "" && f.chain != nil && res.Unit != "index" && f.analyte.Unit == "mg/kg" {
			res.Forms.NoLb = "there is no amount per mass of soil to start from"
		}
		return
	}
	res.Forms.PPM = &Quantity{res.Value, "ppm"}
	res.FormSteps = append(make([]Step, 0, 2), Step{Rule: "form/ppm", What: "mg/kg is parts per million by mass", From: Quantity{res.Value, "mg/kg"}, Factor: "1",
		To: *res.Forms.PPM, Source: "rayment-lyons-2011", Exact: true})
	sl, source, soilFrom := convention, "convention", "definition"
	if own := sliceOf(rd.Area); own != nil {
		sl, source, soilFrom = own, origin(rd.Area), soilOrigin(rd.Area)
	}
	what := "parts per million of the soil's weight to lb per acre: lb of soil per acre ÷ 1,000,000"
	if own := sliceByDensity(rd.Area, f.chain.density); own != nil {
		sl, source, soilFrom = own, origin(rd.Area), "report"
		what += "; the soil weighs what a layer of that depth does at the density printed for the sample"
	}
	v := new(big.Rat).Mul(f.chain.cur, sl.factor)
	a := &AreaForm{Value: Decimal(unit.Format(v, f.chain.printed.Sig)), DepthIn: sl.depthText, SoilLb: sl.soilText, Source: source}
	if rd.Unit == "lb/acre" && source != "convention" && f.oxideFree(rd) && rd.Full == "" {
		a.Value = Decimal(rd.Number) // it was printed so: its own digits
	}
	res.Forms.LbAc = a
	from, key := source, "definition"
	if source == "convention" {
		from, key = "definition", "furrow-slice-convention"
	}
	inputs := []Input{{Name: "soil per acre", Value: a.SoilLb, Unit: "lb/acre", Origin: soilFrom}, {Name: "depth", Value: a.DepthIn, Unit: "in", Origin: from}}
	for i := range inputs {
		if inputs[i].Origin == "mapping" && rd.Area != nil {
			inputs[i].Rule = rd.Area.Rule
		}
	}
	res.FormSteps = append(res.FormSteps, Step{Rule: "form/lb-per-acre", What: what,
		From: Quantity{res.Value, "mg/kg"}, Factor: sl.factorText, Inputs: inputs,
		To: Quantity{a.Value, "lb/acre"}, Source: key, Exact: true})
}

func (f facts) oxideFree(rd *mappings.Reading) bool {
	_, oxide := unit.Standard().Basis(rd.Basis)
	return !oxide
}
