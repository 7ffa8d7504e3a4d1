package normalize

import (
	"math/big"
	"strings"

	"example.org/windrow/mappings"
	"example.org/windrow/normalize/estimate"
	"example.org/windrow/normalize/unit"
)

// indexForm puts a result on the published scale that the mapping names: an
// amount gets its index, a printed index the amounts that it stands for. It
// does so only for the analyte and methods that the scale is made for.
func indexForm(res *Result, rd *mappings.Reading) {
	s, ok := equations().Scale(rd.Scale)
	if !ok {
		return
	}
	x := &IndexForm{Scale: s.ID, Unit: s.Unit, Source: s.Source}
	res.Forms.Index = x
	switch {
	case res.Missing != "":
		x.Not = "the report gives no result"
	case !s.Calibrated(res.Analyte, res.Method):
		x.Not = "the scale is made for another method than " + res.MethodName
	case res.Unit == "index" || res.Unit == "class":
		x.stands(s, res)
	default:
		x.amount(s, res)
	}
}

// stands gives the amounts that a printed index stands for.
func (x *IndexForm) stands(s *estimate.Scale, res *Result) {
	for _, printed := range []string{string(res.Printed.Number), res.Class, strings.TrimSpace(res.Printed.Text)} {
		if c, ok := s.ClassOf(printed); ok {
			x.Index, x.Low, x.High = c.Index, Decimal(c.Low), Decimal(c.High)
			return
		}
	}
	x.Not = "“" + res.Printed.Text + "” is no index of the scale"
}

// amount gives the index of a measured amount.
func (x *IndexForm) amount(s *estimate.Scale, res *Result) {
	var d Decimal
	switch {
	case res.Unit == s.Unit:
		d = res.Value
	case s.Unit == "mg/dm3" && res.Volumetric != nil:
		d = res.Volumetric.Value
	case s.Unit == "lb/acre" && res.Forms.LbAc != nil && res.Forms.LbAc.SoilLb == convention.soilText:
		d = res.Forms.LbAc.Value
	}
	n, err := unit.ParseNumber(string(d))
	switch {
	case err != nil:
		x.Not = "there is no amount in " + s.Unit + ", which the scale is in"
	case res.Censored != "":
		x.Not = "the result is a limit and no amount"
	default:
		x.of(s, n.Rat)
	}
}

func (x *IndexForm) of(s *estimate.Scale, v *big.Rat) {
	c, why := s.IndexOf(v)
	if c == nil {
		x.Not = why
		return
	}
	x.Index, x.Low, x.High = c.Index, Decimal(c.Low), Decimal(c.High)
}
