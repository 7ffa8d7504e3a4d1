package audit

import (
	"encoding/json"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
	"example.org/windrow/normalize"
)

// sound is a report with one result for each way of converting.
func sound(t testing.TB) *normalize.Report {
	t.Helper()
	area := &mappings.AreaBasis{DepthIn: "6 2/3", LbPerAcre: "2000000", Source: "mapping"}
	at := func(line int) ingest.Place { return ingest.Place{Line: line, Col: 3} }
	density := mappings.Reading{Analyte: "density", Printed: "1.22", Number: "1.22", Unit: "g/cm3", PrintedUnit: "g/cm3", Place: at(9)}
	ex := &mappings.Extract{
		Source:  ingest.SourceRef{Name: "report.csv", SHA256: strings.Repeat("0", 64)},
		Mapping: mappings.Ref{Lab: "Quarry Bench", ID: "quarry-bench", Layout: "list", File: "quarry.yaml", SHA256: strings.Repeat("1", 64)},
		Samples: []*mappings.SampleExtract{{
			Fields:  map[mappings.FieldID]mappings.Field{mappings.LabSampleID: {Printed: "Q1", Value: "Q1"}},
			Density: &density,
			Readings: []mappings.Reading{
				{Analyte: "P", Method: "mehlich-3-icp", Basis: "P2O5", Printed: "255", Number: "255", Unit: "lb/acre", PrintedUnit: "lb/A", Area: area, Place: at(2)},
				{Analyte: "K", Printed: "1,120", Number: "1120", Unit: "mg/dm3", PrintedUnit: "mg/dm3", Per: "volume", Place: at(3)},
				{Analyte: "base_sat_K", Printed: "2.3", Number: "2.3", Full: "2.3199573778164986", Unit: "%", PrintedUnit: "%", Place: at(4)},
				{Analyte: "Mg", Printed: "1.9", Number: "1.9", Unit: "cmol(+)/kg", PrintedUnit: "meq/100g", Place: at(5)},
				{Analyte: "pH", Method: "ph-water-1-1", Printed: "6.50", Number: "6.50", Unit: "pH", Place: at(6)},
				{Analyte: "Cu", Printed: "<0.50", Number: "0.50", Censor: "<", Unit: "mg/kg", PrintedUnit: "ppm", Place: at(7)},
				{Analyte: "NO3-N", Printed: "ND", Missing: "ND", Unit: "mg/kg", PrintedUnit: "ppm", Place: at(8)},
				density,
				{Analyte: "P", Detail: "2", Basis: normalize.UnstatedBasis, Printed: "41", Number: "41", Unit: "mg/kg", PrintedUnit: "ppm", Place: at(10)},
				{Analyte: "P", Detail: "3", Basis: "P2O5", Printed: "12", Number: "12", Unit: "mg/kg", PrintedUnit: "ppm", Place: at(11)},
				{Analyte: "Ca", Printed: "900", Number: "900", Unit: "kg/ha", PrintedUnit: "kg/ha", Per: "volume", Area: &mappings.AreaBasis{DepthCm: "15", ByVolume: true, Source: "report"}, Place: at(12)},
			},
		}},
	}
	return normalize.Build(ex, normalize.Options{})
}

func clone(t testing.TB, rep *normalize.Report) *normalize.Report {
	t.Helper()
	b, err := rep.JSON()
	if err != nil {
		t.Fatal(err)
	}
	out := &normalize.Report{}
	if err := json.Unmarshal(b, out); err != nil {
		t.Fatal(err)
	}
	return out
}

func codes(found []Difference) string {
	var out []string
	for _, d := range found {
		out = append(out, d.Code)
	}
	return strings.Join(out, " ")
}

func TestASoundReportAgrees(t *testing.T) {
	c := NewChecker(normalize.Sources())
	for _, d := range c.Report(sound(t), 1) {
		t.Error(d)
	}
	n := c.Tally()
	if n.Values != 9 || n.Converted < 5 || n.Refused != 1 || n.NoNumber != 1 || n.Steps < 12 || n.Forms < 8 || n.Estimates < 3 {
		t.Errorf("recomputed %+v", n)
	}
}

// Each damage is done to one number or word of a sound report, and has to be
// told, with the record, the result and what was expected.
func TestEachDamageIsCaught(t *testing.T) {
	rep := sound(t)
	res := func(r *normalize.Report, analyte, detail string) *normalize.Result {
		for _, x := range r.Records[0].Results {
			if x.Analyte == analyte && x.Detail == detail {
				return x
			}
		}
		t.Fatalf("no %s %s", analyte, detail)
		return nil
	}
	step := func(r *normalize.Report, analyte, rule string) *normalize.Step {
		x := res(r, analyte, "")
		for _, list := range [][]normalize.Step{x.Steps, x.FormSteps} {
			for i := range list {
				if strings.HasPrefix(list[i].Rule, rule) {
					return &list[i]
				}
			}
		}
		t.Fatalf("no step %s of %s", rule, analyte)
		return nil
	}
	estimateOf := func(r *normalize.Report, analyte, id string) *normalize.Estimate {
		x := res(r, analyte, "")
		for i := range x.Estimates {
			if x.Estimates[i].Equation == id {
				return &x.Estimates[i]
			}
		}
		t.Fatalf("no estimate %s among %v", id, x.Estimates)
		return nil
	}
	estimate := func(r *normalize.Report, id string) *normalize.Estimate { return estimateOf(r, "P", id) }
	for _, x := range []struct {
		name, code string
		damage     func(r *normalize.Report)
	}{
		{"a factor by a tenth of a percent", CodeStep, func(r *normalize.Report) { step(r, "P", "basis/").Factor = "15502367880/35485630999" }},
		{"a factor by one in a hundred million", CodeFactor, func(r *normalize.Report) { step(r, "P", "basis/").Factor = "0.4364268174" }},
		{"a factor with inputs", CodeStep, func(r *normalize.Report) { step(r, "P", "area/").Factor = "1/3" }},
		{"a factor of a form", CodeStep, func(r *normalize.Report) { step(r, "Mg", "form/lb").Factor = "3" }},
		{"a factor that is none", CodeEquation, func(r *normalize.Report) { step(r, "P", "basis/").Factor = "1/0" }},
		{"the outcome of a step", CodeStep, func(r *normalize.Report) { step(r, "P", "area/").To.Value = "127.6" }},
		{"the outcome of a step and the next one's beginning", CodeStep, func(r *normalize.Report) {
			step(r, "P", "area/").To.Value, step(r, "P", "basis/").From.Value = "127.6", "127.6"
		}},
		{"a value in its last digit", CodeEnd, func(r *normalize.Report) { res(r, "P", "").Value = "55.65" }},
		{"a value and the last step", CodeStep, func(r *normalize.Report) { res(r, "P", "").Value, step(r, "P", "basis/").To.Value = "55.65", "55.65" }},
		{"a value without steps", CodeValue, func(r *normalize.Report) { res(r, "pH", "").Value = "6.05" }},
		{"a value with more digits than it may have", CodeDigits, func(r *normalize.Report) {
			res(r, "P", "").Value, step(r, "P", "basis/").To.Value = "55.6444", "55.6444"
		}},
		{"the unit of a value", CodeEnd, func(r *normalize.Report) { res(r, "P", "").Unit = "%" }},
		{"the unit of a value without steps", CodeEnd, func(r *normalize.Report) { res(r, "density", "").Unit = "%" }},
		{"a value where none is printed", CodeNothing, func(r *normalize.Report) { res(r, "NO3-N", "").Value = "3" }},
		{"a value that is gone", CodeValue, func(r *normalize.Report) { res(r, "pH", "").Value = "" }},
		{"the printed number", CodeStart, func(r *normalize.Report) { res(r, "P", "").Printed.Number = "256" }},
		{"the printed unit", CodeStart, func(r *normalize.Report) {
			res(r, "P", "").Printed.UnitID, res(r, "P", "").Printed.Unit = "kg/ha", "kg/ha"
		}},
		{"a link, in its number", CodeLink, func(r *normalize.Report) { step(r, "P", "basis/").From.Value = "127" }},
		{"a link, in its unit", CodeLink, func(r *normalize.Report) { step(r, "P", "basis/").From.Unit = "mg/kg" }},
		{"the first steps gone", CodeStart, func(r *normalize.Report) { x := res(r, "P", ""); x.Steps = x.Steps[len(x.Steps)-1:] }},
		{"a step in the middle gone", CodeLink, func(r *normalize.Report) { x := res(r, "P", ""); x.Steps = append(x.Steps[:1:1], x.Steps[2:]...) }},
		{"the last step gone", CodeEnd, func(r *normalize.Report) { x := res(r, "P", ""); x.Steps = x.Steps[:len(x.Steps)-1] }},
		{"soil per acre", CodeInput, func(r *normalize.Report) { step(r, "P", "area/").Inputs[0].Value = "2100000" }},
		{"soil per acre by a tenth of a percent", CodeInput, func(r *normalize.Report) { step(r, "P", "area/").Inputs[0].Value = "2002000" }},
		{"a depth that the factor rests on", CodeInput, func(r *normalize.Report) { step(r, "Ca", "area/by-volume").Inputs[0].Value = "15.1" }},
		{"the unit of a depth", CodeInput, func(r *normalize.Report) { step(r, "Ca", "area/by-volume").Inputs[0].Unit = "m" }},
		{"a density", CodeInput, func(r *normalize.Report) { step(r, "K", "volume/by-density").Inputs[0].Value = "1.23" }},
		{"a density and its factor", CodeStep, func(r *normalize.Report) {
			s := step(r, "K", "volume/by-density")
			s.Inputs[0].Value, s.Factor = "1.25", "4/5"
		}},
		{"the number that a cell holds", CodeStep, func(r *normalize.Report) { step(r, "base_sat_K", "cell/").Inputs[0].Value = "2.3399573778164986" }},
		{"the number that a cell holds, far from what it shows", CodeInput, func(r *normalize.Report) {
			s := step(r, "base_sat_K", "cell/")
			s.Inputs[0].Value, s.To.Value, res(r, "base_sat_K", "").Value = "3.32", "3.32", "3.32"
		}},
		{"an input that is no number", CodeEquation, func(r *normalize.Report) { step(r, "P", "area/").Inputs[0].Value = "two million" }},
		{"an input too many", CodeUnused, func(r *normalize.Report) {
			s := step(r, "P", "area/")
			s.Inputs = append(s.Inputs, normalize.Input{Name: "moisture", Value: "3", Unit: "%", Origin: "report"})
		}},
		{"the source of a step", CodeSource, func(r *normalize.Report) { step(r, "P", "basis/").Source = "iupac-wieghts" }},
		{"the source of a form", CodeSource, func(r *normalize.Report) { step(r, "P", "form/lb").Source = "" }},
		{"the source of a finding", CodeSource, func(r *normalize.Report) { res(r, "P", "2").Findings[0].Source = "hearsay" }},
		{"the source of a scale", CodeSource, func(r *normalize.Report) {
			res(r, "P", "").Forms.Index = &normalize.IndexForm{Scale: "S1", Index: "2", Unit: "mg/kg", Source: "hearsay"}
		}},
		{"a form", CodeForm, func(r *normalize.Report) { res(r, "Mg", "").Forms.LbAc.Value = "470" }},
		{"a form's ppm", CodeForm, func(r *normalize.Report) { res(r, "Mg", "").Forms.PPM.Value = "47" }},
		{"a form's soil", CodeForm, func(r *normalize.Report) { res(r, "Mg", "").Forms.LbAc.SoilLb = "1800000" }},
		{"a form's depth", CodeForm, func(r *normalize.Report) { res(r, "Mg", "").Forms.LbAc.DepthIn = "8" }},
		{"where a form begins", CodeLink, func(r *normalize.Report) { step(r, "Mg", "form/lb").From.Value = "1" }},
		{"a form without a step", CodeForm, func(r *normalize.Report) { res(r, "Mg", "").FormSteps = nil }},
		{"a value by volume", CodeForm, func(r *normalize.Report) { res(r, "K", "").Volumetric.Value = "1121" }},
		{"an estimate", CodeEstimate, func(r *normalize.Report) {
			e := estimate(r, "F001")
			e.Value, e.Steps[0].To.Value = "38.3", "38.3"
		}},
		{"an estimate apart from its step", CodeEnd, func(r *normalize.Report) { estimate(r, "F001").Value = "38.3" }},
		{"a coefficient of an estimate", CodeEstimate, func(r *normalize.Report) { estimate(r, "F001").Steps[0].Equation = "0.823*x - 8.08" }},
		{"a coefficient of an estimate, too little to show in it", CodeFactor, func(r *normalize.Report) { estimate(r, "F001").Steps[0].Equation = "0.83201*x - 8.08" }},
		{"an equation that is none", CodeEquation, func(r *normalize.Report) { estimate(r, "F001").Steps[0].Equation = "0.832 x - 8.08" }},
		{"what an estimate begins at", CodeLink, func(r *normalize.Report) { estimate(r, "F001").Steps[0].From.Value = "55.63" }},
		{"the source of an estimate", CodeSource, func(r *normalize.Report) { estimate(r, "F001").Source = "hearsay" }},
		{"an interval beside its estimate", CodeEstimate, func(r *normalize.Report) {
			estimate(r, "F001").Interval = &normalize.Interval{Low: "40", High: "50", Percent: 90}
		}},
		{"a bound of an interval", CodeInterval, func(r *normalize.Report) { estimateOf(r, "pH", "P001").Interval.Low = "5.5" }},
		{"the error of an interval", CodeInterval, func(r *normalize.Report) { estimateOf(r, "pH", "P001").Interval.Error = "0.54" }},
		{"the multiplier of an interval", CodeInterval, func(r *normalize.Report) { estimateOf(r, "pH", "P001").Interval.Times = "1" }},
		{"the kind of an interval", CodeInterval, func(r *normalize.Report) { estimateOf(r, "pH", "P001").Interval.Kind = "log10" }},
		{"an interval without its error", CodeInterval, func(r *normalize.Report) {
			i := estimateOf(r, "pH", "P001").Interval
			i.Kind, i.Error, i.Times = "", "", ""
		}},
		{"an estimate outside its domain, with a number", CodeEstimate, func(r *normalize.Report) { estimate(r, "F001").InDomain = "outside" }},
		{"an estimate without a step", CodeEstimate, func(r *normalize.Report) { estimate(r, "F001").Steps = nil }},
		{"an input of an estimate that nobody measured", CodeInput, func(r *normalize.Report) {
			s := &estimate(r, "F001").Steps[0]
			s.Equation, s.Inputs = "0.832*x - 8.08 + 0*pH", []normalize.Input{{Name: "pH", Value: "7.1", Unit: "pH", Origin: "report"}}
		}},
		{"a result that is flagged, called ok", CodeStatus, func(r *normalize.Report) { res(r, "P", "2").Status = normalize.OK }},
		{"a held finding, and the status ok", CodeStatus, func(r *normalize.Report) {
			x := res(r, "Mg", "")
			x.Findings = append(x.Findings, normalize.Finding{Check: "odd", Severity: "hold", What: "odd", Source: "definition"})
		}},
		{"a sign of a limit that the text has not", CodePrinted, func(r *normalize.Report) { res(r, "Mg", "").Censored = "<" }},
		{"a limit that is none any more", CodePrinted, func(r *normalize.Report) { res(r, "Cu", "").Censored = "" }},
		{"a limit turned round", CodePrinted, func(r *normalize.Report) { res(r, "Cu", "").Censored = ">" }},
		{"a number that the text has not", CodePrinted, func(r *normalize.Report) {
			x := res(r, "pH", "")
			x.Printed.Number, x.Value, x.Estimates = "7.50", "7.50", nil
		}},
		{"a class without a rating", CodeRating, func(r *normalize.Report) { res(r, "Mg", "").Printed.Class = "high" }},
		{"one rating, two classes", CodeRating, func(r *normalize.Report) {
			p, twin := res(r, "P", ""), *res(r, "P", "")
			p.Printed.Rating, p.Printed.Class = "Sufficient", "medium"
			twin.Printed.Rating, twin.Printed.Class = "sufficient", "high"
			r.Records[0].Results = append(r.Records[0].Results, &twin)
		}},
		{"another depth than that of the sample", CodeInput, func(r *normalize.Report) {
			s := &r.Records[0].Sample
			s.DepthIn, s.DepthSource = "8", "report"
		}},
		{"a valid source, and not that of the step", CodeSource, func(r *normalize.Report) { step(r, "P", "basis/").Source = "nist-sp811" }},
		{"a valid source, and not that of a form", CodeSource, func(r *normalize.Report) { step(r, "Mg", "form/lb").Source = "usda-triangle" }},
		{"a valid source, and not that of the estimate", CodeSource, func(r *normalize.Report) { estimate(r, "F001").Source = "culman-2019" }},
		{"a valid source, and not that of the equation", CodeSource, func(r *normalize.Report) { estimate(r, "F001").Steps[0].Source = "culman-2019" }},
		{"an estimate that claims to be inside", CodeDomain, func(r *normalize.Report) { estimate(r, "F001").InDomain = "inside" }},
		{"an estimate that claims to be inside, and knows of nothing else", CodeDomain, func(r *normalize.Report) {
			estimate(r, "F001").InDomain, estimate(r, "F001").Unknown = "inside", nil
		}},
		{"what an equation is worth", CodeEstimate, func(r *normalize.Report) { estimate(r, "F001").Verdict = "exact" }},
		{"an interval and its error alike", CodeInterval, func(r *normalize.Report) {
			*estimateOf(r, "pH", "P001").Interval = normalize.Interval{Low: "6.22", High: "6.54", Percent: 90, Kind: "rmse", Error: "0.10", Times: "1.644854"}
		}},
		{"factor and equation gone", CodeEquation, func(r *normalize.Report) { step(r, "P", "basis/").Factor = "" }},
		{"an equation that says something else than the factor", CodeStep, func(r *normalize.Report) { step(r, "Mg", "charge/").Equation = "x*121" }},
	} {
		t.Run(x.name, func(t *testing.T) {
			c := NewChecker(normalize.Sources())
			if found := c.Report(rep, 1); len(found) > 0 {
				t.Fatal("the sound report differs: ", found)
			}
			bad := clone(t, rep)
			x.damage(bad)
			found := c.Report(bad, 7)
			if !strings.Contains(" "+codes(found)+" ", " "+x.code+" ") {
				t.Fatalf("told %q, want %s\n%v", codes(found), x.code, found)
			}
			for _, d := range found {
				if d.Report != rep.ID || d.Version != 7 || d.Record != rep.ID+"-1" && d.Code != CodeStatus || d.Lab != "quarry-bench" || d.Result == "" && d.Code != CodeStatus || d.What == "" || d.Expected == "" && d.Found == "" {
					t.Errorf("the difference does not say where, what was expected and what was found: %+v", d)
				}
			}
		})
	}
}

// No value of four digits can be changed in its last digit unseen, whatever
// was printed: the value that is the sound one is the only one that passes.
func TestEveryChangedDigitShows(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		n := rapid.StringMatching(`[1-9][0-9]{0,3}(\.[0-9]{1,2})?`).Draw(r, "printed")
		ex := &mappings.Extract{Samples: []*mappings.SampleExtract{{Readings: []mappings.Reading{
			{Analyte: "P", Basis: "P2O5", Printed: n, Number: n, Unit: "lb/acre", PrintedUnit: "lb/A", Area: &mappings.AreaBasis{DepthIn: "7", LbPerAcre: "2100000", Source: "report"}}}}}}
		rep := normalize.Build(ex, normalize.Options{})
		c := NewChecker(normalize.Sources())
		if found := c.Report(rep, 1); len(found) > 0 {
			r.Fatal(found)
		}
		res := rep.Records[0].Results[0]
		v := []byte(res.Value)
		at := rapid.IntRange(0, len(v)-1).Draw(r, "digit")
		if v[at] == '.' {
			return
		}
		v[at] = '0' + (v[at]-'0'+byte(rapid.IntRange(1, 9).Draw(r, "by")))%10
		res.Value, res.Steps[len(res.Steps)-1].To.Value = normalize.Decimal(v), normalize.Decimal(v)
		if found := c.Report(rep, 1); !strings.Contains(codes(found), CodeStep) {
			r.Fatalf("%s printed, %s passes", n, v)
		}
	})
}

// What is measured is the second path alone, without reading the archive.
func BenchmarkRecompute(b *testing.B) {
	rep := sound(b)
	c := NewChecker(normalize.Sources())
	for b.Loop() {
		if found := c.Report(rep, 1); len(found) > 0 {
			b.Fatal(found)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/1000/float64(c.Tally().Values), "µs/value")
}
