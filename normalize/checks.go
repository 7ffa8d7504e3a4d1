package normalize

import (
	"math"
	"strconv"
	"strings"
	"sync"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize/check"
	"example.org/windrow/normalize/method"
	"example.org/windrow/normalize/unit"
)

// runChecks cross-examines a report and writes what was found beside the
// results or records concerned. No value is changed. A finding that holds the
// report is also one of its reasons, so that whoever opens it reads why.
func runChecks(rep *Report, known [][]check.Result, opt Options) {
	cr := checkReport(rep, known, opt)
	all := check.All()
	found := make([][]check.Found, len(all))
	run := func(i int) { all[i].Run(cr, func(f check.Found) { found[i] = append(found[i], f) }) }
	at := 1 // of a long list, each check by itself
	if len(rep.Records) <= atOnce {
		at = len(all)
	}
	inParts(len(all), at, func() func(from, to int) {
		return func(from, to int) {
			for i := from; i < to; i++ {
				run(i)
			}
		}
	})
	for i, c := range all {
		for _, f := range found[i] {
			rec := rep.Records[f.Sample]
			fd := Finding{Check: c.Code, Severity: c.Severity, What: f.What, Expected: f.Expected, Found: f.Found, Source: c.Source}
			where := rec.Place
			if len(f.Results) == 0 {
				rec.Checks = append(rec.Checks, fd)
			} else {
				where = rec.Results[f.Results[0]].Printed.Place
			}
			for _, i := range f.Results {
				rec.Results[i].Findings = append(rec.Results[i].Findings, fd)
			}
			if c.Severity == ingest.Hold {
				if where.File == "" {
					where.File = title(rep.Source)
				}
				rep.Reasons = append(rep.Reasons, &ingest.Reason{Code: c.Code, Severity: ingest.Hold, Where: where, What: f.What, Expected: f.Expected, Found: f.Found,
					Next: "compare with the report itself: if the laboratory printed it so, ask the laboratory; if not, correct the mapping"})
			}
		}
	}
}

// title is the source's name to show, with its member.
func title(src ingest.SourceRef) string {
	return (&ingest.Source{Name: src.Name, Member: src.Member}).Title()
}

// checkReport gives the checks the plain facts of a report.
func checkReport(rep *Report, known [][]check.Result, opt Options) *check.Report {
	cr := &check.Report{Lab: rep.Lab.ID, Number: rep.Number, Arrived: opt.Arrived, Samples: make([]check.Sample, 0, len(rep.Records))}
	if opt.Earlier != nil {
		var one sync.Mutex // a history need not bear several questions at once
		cr.Earlier = func(s *check.Sample) []check.Earlier {
			one.Lock()
			defer one.Unlock()
			return opt.Earlier.Earlier(rep.ID, rep.Lab.ID, s)
		}
	}
	for i, rec := range rep.Records {
		s := rec.Sample.facts()
		s.Results = known[i]
		cr.Samples = append(cr.Samples, s)
	}
	return cr
}

// facts are those of a sample without its results.
func (s *Sample) facts() check.Sample {
	top, bottom := s.LayerCm()
	return check.Sample{LabID: s.LabID, Label: s.ClientLabel, LandUse: s.LandUse, Sampled: s.Sampled, Received: s.Received, Reported: s.Reported, Top: top, Depth: bottom}
}

func checkResult(res *Result, f facts) check.Result {
	x := check.Result{Analyte: res.Analyte, Name: f.analyte.Name, Detail: res.Detail, Method: res.Method, Basis: res.Basis, Unit: res.Unit, Printed: res.Printed.Text,
		PrintedUnit: res.Printed.Unit, Written: string(res.Value), Has: f.has, Value: f.value, Half: f.half, Censored: res.Censored, Rating: res.Printed.Rating, Class: res.Class, MethodFits: true}
	x.Per = perSoil(res, f)
	if v, err := strconv.ParseFloat(string(res.Printed.Number), 64); err == nil {
		x.Number = v
		_, decimals, _ := strings.Cut(string(res.Printed.Number), ".")
		x.Places = len(decimals)
	}
	if b := f.band; b != nil && res.Printed.Number != "" {
		x.Band = &check.Band{Low: decimal(b.Low, math.Inf(-1)), High: decimal(b.High, math.Inf(1))}
	}
	if f.analyte.Unit == res.Unit {
		if p := f.analyte.Possible; p != nil {
			x.PossibleLow, _ = p.Low.Float64()
			x.PossibleHigh, _ = p.High.Float64()
		}
		if p := f.analyte.Usual; p != nil {
			x.UsualLow, _ = p.Low.Float64()
			x.UsualHigh, _ = p.High.Float64()
		}
	}
	if k, ok := unit.Standard().PerCharge(f.analyte.Element); ok && res.Unit == "mg/kg" {
		x.PerCharge, _ = k.Float64()
	}
	if m, ok := method.Standard().Method(res.Method); ok {
		x.MethodKind = string(m.Kind)
		x.MethodFits = m.Applies(res.Analyte) || f.analyte.Kind == method.Index
	}
	if c, ok := Rating(res.Printed.Class); ok && res.Printed.Class != "" {
		x.Rank = c.Rank
	}
	return x
}

// perSoil is whether an amount is taken to be of a mass or a volume of soil; ""
// for what is of neither.
func perSoil(res *Result, f facts) string {
	u, ok := unit.Standard().Unit(res.Printed.UnitID)
	if !ok || f.analyte.Kind != method.Element && f.analyte.Kind != method.ChargeKind && f.analyte.Kind != method.ShareOfMass {
		return ""
	}
	switch u.Dimension {
	case unit.SoilVolume, unit.ChargeVolume:
		return check.PerVolume
	case unit.MassFraction, unit.Charge, unit.Amount, unit.AmountOrCharge:
		if res.Volumetric != nil {
			return check.PerVolume // as the mapping says
		}
		return check.PerMass
	case unit.Solution:
		if res.Volumetric != nil {
			return check.PerVolume
		}
	}
	return ""
}

// decimal is a plain decimal as a float, or what stands for an empty one.
func decimal(s string, open float64) float64 {
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		return open
	}
	return v
}
