package normalize

import (
	"fmt"
	"math/big"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
	"example.org/windrow/normalize/method"
	"example.org/windrow/normalize/unit"
)

// facts is what the checks and forms need to know of a result beyond what
// the record keeps.
type facts struct {
	analyte     *method.Analyte
	chain       *chain // nil when there is no number
	value, half float64
	has         bool           // value is set, in the result's unit
	band        *mappings.Band // what the printed rating stands for, by the laboratory's own scale
	byMass      bool           // the value is an amount per mass of soil, so that it has a per-area form
}

// A refusal says why a printed number did not become a value; flag is set
// when that is something a person should look at and not a known limit.
type refusal struct {
	why  string
	flag bool
}

// converter turns one reading into one result. It holds what the sample
// offers to all of its readings.
type converter struct {
	density *mappings.Reading
	depth   string // the sample's depth as printed, "" where none is
}

// result puts a reading on the common schema. It converts what can be
// converted exactly; where something is missing it says so in Why.
func (cv *converter) result(rd *mappings.Reading) (*Result, facts) {
	a, known := method.Standard().Analyte(rd.Analyte)
	if !known {
		a = &method.Analyte{ID: rd.Analyte, Name: rd.Analyte, Kind: method.Index}
	}
	u, unitKnown := unit.Standard().Unit(rd.Unit)
	res := &Result{Analyte: a.ID, Detail: rd.Detail, Method: rd.Method, MethodName: "not stated", Basis: rd.Basis, Status: OK, Censored: rd.Censor, Missing: rd.Missing,
		Printed: Printed{Text: rd.Printed, Number: Decimal(rd.Number), Unit: rd.PrintedUnit, Method: rd.PrintedMethod, UnitID: rd.Unit, Rating: rd.Rating, Class: rd.RatingClass,
			Index: rd.Index, Mark: rd.Mark, OCR: rd.OCR, Place: rd.Place, SignPlace: rd.SignPlace, Rule: rd.Rule, Label: rd.Label}}
	for _, d := range rd.Doubts {
		res.Findings = append(res.Findings, Finding{Check: d.Code, Severity: d.Severity, What: d.What, Expected: d.Expected, Found: d.Found, Source: "definition"})
	}
	if m, ok := method.Standard().Method(rd.Method); ok {
		res.Method, res.MethodName = m.ID, m.Name
	} else if rd.Method != "" {
		res.MethodName = rd.Method
	}
	if res.Basis == "" {
		res.Basis = a.ID
	}
	if res.Analyte == "" {
		res.Analyte, res.Basis = "unknown", "unknown"
	}
	f := facts{analyte: a, band: rd.Band}
	isIndex := rd.Unit == "index" || rd.Basis == IndexBasis
	setUnit(res, target(a, u, isIndex))
	switch {
	case rd.Words != "":
		res.Class = rd.Words
		setUnit(res, "class")
		return res, f
	case rd.Number == "":
		return res, f
	}
	n, err := unit.ParseNumber(rd.Number)
	if err != nil {
		res.Printed.Number = "" // the record holds plain decimals only; the text as printed is kept
		return cv.refuse(res, refusal{fmt.Sprintf("“%s” is not a plain number", rd.Number), true}), f
	}
	c := newChain(n, unitWithBasis(rd, u))
	f.chain = c
	if rd.Full != "" {
		cv.stored(res, c, n, rd.Full)
	}
	switch {
	case isIndex:
		c.unit = "index"
	case !known:
		return cv.refuse(res, refusal{fmt.Sprintf("the test “%s” is not in the table of analytes", rd.Analyte), true}), f
	case !unitKnown:
		return cv.refuse(res, refusal{unknownUnit(rd), true}), f
	case !u.Active:
		return cv.refuse(res, refusal{fmt.Sprintf("%s is not converted: %s", u.Name, u.Reason), true}), f
	default:
		if r := cv.convert(res, c, rd, a, u); r != nil {
			res.Steps = c.close()
			return cv.refuse(res, *r), f
		}
	}
	res.Value, res.Steps = c.value(), c.close()
	f.value, f.half = c.interval()
	f.has, f.byMass = true, a.Kind == method.Element && res.Unit == "mg/kg"
	return res, f
}

func (cv *converter) refuse(res *Result, r refusal) *Result {
	res.Why, res.Value = r.why, ""
	if r.flag {
		res.Findings = append(res.Findings, Finding{Check: "not-converted", Severity: ingest.Flag, What: "the printed number could not be put in our unit: " + r.why,
			Found: res.Printed.Text, Source: "definition"})
	}
	return res
}

func unknownUnit(rd *mappings.Reading) string {
	u := rd.Unit
	if u == "" {
		u = rd.PrintedUnit
	}
	if u == "" {
		return "unit unknown: neither report nor mapping states one"
	}
	return fmt.Sprintf("the unit “%s” is not in the table of units", u)
}

// plainWeight is an atomic weight with the digits that the table has.
func plainWeight(w *big.Rat) string {
	return strings.TrimSuffix(strings.TrimRight(w.FloatString(6), "0"), ".")
}

func setUnit(res *Result, id string) {
	res.Unit, res.UCUM = id, ""
	if u, ok := unit.Standard().Unit(id); ok {
		res.UCUM = u.UCUM
	}
}

// target is the unit that values of an analyte have, given the printed one.
func target(a *method.Analyte, u *unit.Unit, isIndex bool) string {
	switch {
	case isIndex:
		return "index"
	case a.Kind == method.Index && u != nil:
		return u.ID // a laboratory's own score keeps its unit
	case a.Unit == "":
		return "index"
	}
	return a.Unit
}

func unitWithBasis(rd *mappings.Reading, u *unit.Unit) string {
	s := rd.Unit
	if u != nil {
		s = u.ID
	}
	if _, oxide := unit.Standard().Basis(rd.Basis); oxide {
		s += " as " + rd.Basis
	}
	return s
}

// stored takes the number that a cell holds, unless what it shows is not a
// rounding of it: then the shown number stands and a finding says so.
func (cv *converter) stored(res *Result, c *chain, shown unit.Number, full string) {
	f, err := unit.ParseNumber(full)
	if err == nil {
		d := new(big.Rat).Sub(f.Rat, shown.Rat)
		limit := new(big.Rat).Mul(shown.Half(), big.NewRat(1_000_001, 1_000_000)) // binary floats sit just off a tie
		if d.Abs(d).Cmp(limit) <= 0 {
			c.stored(f, full)
			return
		}
	}
	res.Findings = append(res.Findings, Finding{Check: "cell-differs", Severity: ingest.Flag, What: "what the cell shows is not a rounding of the number it holds; the number shown was taken",
		Expected: string(res.Printed.Number), Found: full, Source: "arithmetic"})
}

// convert applies the steps from the printed unit to the analyte's own.
func (cv *converter) convert(res *Result, c *chain, rd *mappings.Reading, a *method.Analyte, u *unit.Unit) *refusal {
	mismatch := &refusal{fmt.Sprintf("%s is never given in %s", a.Name, u.ID), true}
	switch a.Kind {
	case method.Index:
		return nil
	case method.Element:
		return cv.element(res, c, rd, a, u)
	case method.ChargeKind:
		return cv.charge(res, c, a, u)
	case method.ShareOfCharge:
		if u.ID != "%" {
			return mismatch
		}
		return nil
	case method.ShareOfMass:
		if rd.Basis != "" && rd.Basis != a.ID {
			return &refusal{fmt.Sprintf("%s given as %s has no exact conversion", a.Name, rd.Basis), true}
		}
		if u.Dimension != unit.MassFraction {
			return mismatch
		}
	default:
		if u.Dimension != unit.Dimension(a.Kind) {
			return mismatch
		}
	}
	own, _ := unit.Standard().Unit(a.Unit)
	cv.units(c, rd, u, own)
	return nil
}

// units converts within one dimension. A unit printed in other letters is a
// step too, with factor 1, so that the lineage says what they were taken for.
func (cv *converter) units(c *chain, rd *mappings.Reading, from, to *unit.Unit) {
	suffix := ""
	if _, oxide := unit.Standard().Basis(rd.Basis); oxide {
		suffix = " as " + rd.Basis
	}
	if from.ID == to.ID {
		if rd.PrintedUnit != "" && rd.PrintedUnit != from.ID {
			c.unit = rd.PrintedUnit + suffix
			c.apply(link{"unit/same", fmt.Sprintf("%s is another way to write %s", rd.PrintedUnit, from.ID), big.NewRat(1, 1), from.ID + suffix, from.Source, nil})
		}
		return
	}
	source := from.Source
	if to.Factor.Cmp(big.NewRat(1, 1)) != 0 {
		source = "si-ucum"
	}
	f := new(big.Rat).Quo(from.Factor, to.Factor)
	c.apply(link{"unit/" + from.ID + "-to-" + to.ID, fmt.Sprintf("%s to %s", from.Name, to.Name), f, to.ID + suffix, source, nil})
}

func (cv *converter) charge(res *Result, c *chain, a *method.Analyte, u *unit.Unit) *refusal {
	rd := &mappings.Reading{PrintedUnit: res.Printed.Unit}
	switch u.Dimension {
	case unit.Charge:
		cv.units(c, rd, u, unit.Standard().Canonical(unit.Charge))
		return nil
	case unit.ChargeVolume:
		cv.units(c, rd, u, unit.Standard().Canonical(unit.ChargeVolume))
		res.Volumetric = &Quantity{c.value(), "cmol(+)/dm3"}
		return cv.perMass(c, "cmol(+)/kg")
	case unit.AmountOrCharge: // a capacity is an amount of charge and of nothing else
		cv.units(c, rd, u, unit.Standard().Canonical(unit.AmountOrCharge))
		c.apply(link{"charge/moles-of-charge", a.Name + " is an amount of charge: mmol of charge per kg to cmol", big.NewRat(1, 10), "cmol(+)/kg", "rayment-lyons-2011", nil})
		return nil
	}
	return &refusal{fmt.Sprintf("%s is never given in %s", a.Name, u.ID), true}
}

func (cv *converter) element(res *Result, c *chain, rd *mappings.Reading, a *method.Analyte, u *unit.Unit) *refusal {
	t := unit.Standard()
	m, _ := method.Standard().Method(rd.Method)
	volume := rd.Per == "volume"
	switch u.Dimension {
	case unit.MassFraction:
		if volume { // ppm of scooped soil: the same digits per volume
			cv.units(c, rd, u, t.Canonical(unit.MassFraction))
			c.apply(link{"volume/parts-of-scooped-soil", "the laboratory scoops by volume: parts per million are mg per dm3 of soil", big.NewRat(1, 1), "mg/dm3" + oxideSuffix(rd), "nc-agronomic", nil})
			return cv.volumetric(res, c, rd, a)
		}
		cv.units(c, rd, u, t.Canonical(unit.MassFraction))
		return cv.basis(c, rd, a, "mg/kg")
	case unit.SoilVolume:
		cv.units(c, rd, u, t.Canonical(unit.SoilVolume))
		return cv.volumetric(res, c, rd, a)
	case unit.Solution:
		if volume {
			c.apply(link{"volume/litre", "a litre of soil is a cubic decimetre", u.Factor, "mg/dm3" + oxideSuffix(rd), u.Source, nil})
			return cv.volumetric(res, c, rd, a)
		}
		if m == nil || m.Kind != method.Solution {
			return &refusal{"basis unknown: mg/L may be of soil or of an extract, and neither report nor mapping says which; an extract needs its ratio to soil", true}
		}
		cv.units(c, rd, u, t.Canonical(unit.Solution))
		setUnit(res, "mg/L")
		return cv.basis(c, rd, a, "mg/L")
	case unit.SolutionCharge:
		if m == nil || m.Kind != method.Solution {
			return &refusal{"meq/L is an amount in a solution, and the method is not an extract whose own solution is reported", true}
		}
		cv.units(c, rd, u, t.Canonical(unit.SolutionCharge))
		setUnit(res, "meq/L")
		return nil
	case unit.Charge, unit.ChargeVolume:
		return cv.ions(res, c, rd, a, u)
	case unit.Amount, unit.AmountOrCharge:
		return cv.moles(c, rd, a, u)
	case unit.AreaMass:
		return cv.area(res, c, rd, a, u)
	}
	return &refusal{fmt.Sprintf("%s is never given in %s", a.Name, u.ID), true}
}

func oxideSuffix(rd *mappings.Reading) string {
	if _, oxide := unit.Standard().Basis(rd.Basis); oxide {
		return " as " + rd.Basis
	}
	return ""
}

// ions turns an amount of charge into mass of the element.
func (cv *converter) ions(res *Result, c *chain, rd *mappings.Reading, a *method.Analyte, u *unit.Unit) *refusal {
	k, ok := unit.Standard().PerCharge(a.Element)
	if !ok {
		return &refusal{fmt.Sprintf("an amount of charge of %s has no one meaning", a.Name), true}
	}
	if _, oxide := unit.Standard().Basis(rd.Basis); oxide {
		return &refusal{fmt.Sprintf("an amount of charge can't be given as %s", rd.Basis), true}
	}
	canon, to := unit.Standard().Canonical(u.Dimension), "mg/kg"
	if u.Dimension == unit.ChargeVolume {
		to = "mg/dm3"
	}
	cv.units(c, rd, u, canon)
	w := unit.Standard().Weights[a.Element]
	c.apply(link{"charge/" + a.Element, fmt.Sprintf("charge of %s to its mass: 10 × atomic weight %s ÷ charge %d", a.Element, plainWeight(w.Weight), w.Charge), k, to, "iupac-weights", nil})
	if u.Dimension == unit.ChargeVolume {
		return cv.volumetric(res, c, &mappings.Reading{Basis: ""}, a)
	}
	return nil
}

// moles turns moles of an element into its mass. Where the unit doesn't say
// whether atoms or their charge were counted, that is asked for, unless both
// are the same number.
func (cv *converter) moles(c *chain, rd *mappings.Reading, a *method.Analyte, u *unit.Unit) *refusal {
	t := unit.Standard()
	w, ok := t.Weights[a.Element]
	if !ok {
		return &refusal{fmt.Sprintf("the atomic weight of %s is not in the table", a.Name), true}
	}
	if _, form := t.Basis(rd.Basis); form {
		return &refusal{fmt.Sprintf("an amount in moles can't be given as %s", rd.Basis), true}
	}
	if rd.Basis == UnstatedBasis {
		return unstatedBasis()
	}
	if u.Dimension == unit.AmountOrCharge && w.Charge != 1 {
		return &refusal{fmt.Sprintf("%s may count atoms of %s or their charge, and neither report nor mapping says which; the mapping says it with mmol(el)/kg, cmol(el)/kg or cmol(+)/kg", u.ID, a.Name), true}
	}
	cv.units(c, rd, u, t.Canonical(u.Dimension))
	c.apply(link{"amount/" + a.Element, fmt.Sprintf("millimoles of %s to its mass: × atomic weight %s", a.Element, plainWeight(w.Weight)), w.Weight, "mg/kg", "iupac-weights", nil})
	return nil
}

func unstatedBasis() *refusal {
	return &refusal{"basis unknown: the report doesn't say whether the number is of the element or of an oxide", true}
}

// volumetric goes on from mg/dm3: to the element, which is kept as the
// volumetric value, and by the sample's density to mg/kg.
func (cv *converter) volumetric(res *Result, c *chain, rd *mappings.Reading, a *method.Analyte) *refusal {
	if r := cv.basis(c, rd, a, "mg/dm3"); r != nil {
		return r
	}
	res.Volumetric = &Quantity{c.value(), "mg/dm3"}
	return cv.perMass(c, "mg/kg")
}

// perMass divides by the density of the scooped soil of this very sample.
func (cv *converter) perMass(c *chain, to string) *refusal {
	d := cv.density
	if d != nil && d.Censor != "" {
		return &refusal{fmt.Sprintf("density unknown: an amount per volume needs this sample's density to become an amount per mass, and the report prints only a limit of it, “%s”", strings.TrimSpace(d.Printed)), false}
	}
	if d == nil || d.Number == "" {
		return &refusal{"density unknown: an amount per volume needs this sample's density to become an amount per mass, and the report prints none", false}
	}
	text := d.Number
	if d.Full != "" {
		text = d.Full
	}
	n, err := unit.ParseNumber(text)
	u, ok := unit.Standard().Unit(d.Unit)
	if err != nil || !ok || u.Dimension != unit.Density || n.Rat.Sign() <= 0 {
		return &refusal{fmt.Sprintf("the printed density “%s” can't be used", d.Printed), true}
	}
	g := new(big.Rat).Mul(n.Rat, u.Factor)
	c.density = g
	c.apply(link{"volume/by-density", "per volume to per mass: divided by the density of the scooped soil", new(big.Rat).Inv(g), to, "rayment-lyons-2011",
		[]Input{{Name: "density of the scooped soil", Value: Decimal(unit.Format(g, n.Sig)), Unit: "g/cm3", Origin: "report"}}})
	return nil
}

// basis turns an oxide or ion into the element.
func (cv *converter) basis(c *chain, rd *mappings.Reading, a *method.Analyte, u string) *refusal {
	switch rd.Basis {
	case "", a.ID, a.Element:
		return nil
	case UnstatedBasis:
		return unstatedBasis()
	}
	b, ok := unit.Standard().Basis(rd.Basis)
	if !ok || b.Element != a.Element {
		return &refusal{fmt.Sprintf("%s can't be given as %s", a.Name, rd.Basis), true}
	}
	if !b.Active {
		return &refusal{fmt.Sprintf("%s is not converted: %s", b.ID, b.Reason), true}
	}
	c.apply(link{"basis/" + b.ID + "-to-" + b.Element, fmt.Sprintf("%s to %s by atomic weights (the trade rounds the factor to %s)", b.ID, b.Element, b.Customary), b.Factor, u, b.Source, nil})
	return nil
}
