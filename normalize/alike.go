package normalize

import (
	"slices"

	"example.org/windrow/mappings"
	"example.org/windrow/normalize/check"
)

// An alike keeps what readings became, so that a number that stands in a long
// list many times is worked out once: most of a list are numbers of two or
// three digits. What is kept is shared by the results made of it and is never
// changed. It is for one goroutine.
type alike struct {
	made  map[like]outcome // nil once it turned out not to be worth its memory
	asked int
}

func newAlike() *alike { return &alike{made: map[like]outcome{}} }

// A like is all that a result is made of, but for where it stands.
type like struct {
	analyte, detail, method, basis, per                         string
	printed, number, full, censor, missing, mark, words         string
	unit, printedUnit, rating, ratingClass, index, scale, depth string
	band                                                        mappings.Band
	area                                                        mappings.AreaBasis
	density                                                     [6]string // of the sample, empty where it has none
	has                                                         [2]bool   // a band, an area
}

type outcome struct {
	res   Result
	facts check.Result
}

// mostAlike bounds what is kept; beyond it nothing new is.
const mostAlike = 1 << 14

// worthAlike is how many readings are looked at before it is judged whether
// remembering is worth its memory: where three of four are new, as in a long
// list whose every amount is divided by the density of its sample, it is not.
const worthAlike = 2_000

// result is the result of a reading with its forms, and what the checks need
// to know of it.
func (a *alike) result(cv *converter, rd *mappings.Reading) (*Result, check.Result) {
	if a.asked++; a.asked == worthAlike && len(a.made) > worthAlike*3/4 {
		a.made = nil
	}
	if a.made == nil || rd.OCR != nil || len(rd.Doubts) > 0 {
		return cv.formed(rd) // made of more than a like holds
	}
	k := like{analyte: rd.Analyte, detail: rd.Detail, method: rd.Method, basis: rd.Basis, per: rd.Per,
		printed: rd.Printed, number: rd.Number, full: rd.Full, censor: rd.Censor, missing: rd.Missing, mark: rd.Mark, words: rd.Words,
		unit: rd.Unit, printedUnit: rd.PrintedUnit, rating: rd.Rating, ratingClass: rd.RatingClass, index: rd.Index, scale: rd.Scale, depth: cv.depth}
	if d := cv.density; d != nil {
		k.density = [...]string{"a density", d.Printed, d.Number, d.Full, d.Unit, d.Censor}
	}
	if rd.Band != nil {
		k.band, k.has[0] = *rd.Band, true
	}
	if rd.Area != nil {
		k.area, k.has[1] = *rd.Area, true
	}
	o, ok := a.made[k]
	if !ok {
		res, f := cv.formed(rd)
		o = outcome{*res, f}
		o.res.Findings = slices.Clip(o.res.Findings) // what is added is each result's own
		if len(a.made) < mostAlike {
			a.made[k] = o
		}
	}
	res := o.res
	res.Printed.Place, res.Printed.SignPlace, res.Printed.Rule, res.Printed.Label = rd.Place, rd.SignPlace, rd.Rule, rd.Label
	res.Printed.Method = rd.PrintedMethod
	return &res, o.facts
}

// formed is the result of a reading with its forms, worked out.
func (cv *converter) formed(rd *mappings.Reading) (*Result, check.Result) {
	res, f := cv.result(rd)
	forms(res, f, rd)
	indexForm(res, rd)
	if res.Steps == nil {
		res.Steps = []Step{}
	}
	return res, checkResult(res, f)
}
