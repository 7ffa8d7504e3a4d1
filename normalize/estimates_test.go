package normalize

import (
	"bytes"
	"math"
	"strconv"
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
	"example.org/windrow/normalize/estimate"
)

// estimated is the results of one sample with these readings.
func estimated(t *testing.T, land string, rds ...mappings.Reading) []*Result {
	t.Helper()
	for i := range rds {
		if rds[i].Printed == "" {
			rds[i].Printed = rds[i].Number + rds[i].Words
		}
	}
	s := &mappings.SampleExtract{Readings: rds}
	rep := Build(&mappings.Extract{Source: ingest.SourceRef{Name: "a", SHA256: strings.Repeat("0", 64)}, Samples: []*mappings.SampleExtract{s}}, Options{DefaultLandUse: land})
	b, err := rep.JSON()
	if err != nil {
		t.Fatal(err)
	}
	if err := Validate(b); err != nil {
		t.Error(err)
	}
	return rep.Records[0].Results
}

func estimateBy(res *Result, id string) *Estimate {
	for i := range res.Estimates {
		if res.Estimates[i].Equation == id {
			return &res.Estimates[i]
		}
	}
	return nil
}

func phosphorus(n string) mappings.Reading {
	return mappings.Reading{Analyte: "P", Number: n, Unit: "mg/kg", Method: "mehlich-3-icp"}
}

func waterPH(n string) mappings.Reading {
	return mappings.Reading{Analyte: "pH", Number: n, Unit: "pH", Method: "ph-water-1-1"}
}

// R-F001 of the published checks: 22 mg/kg by Mehlich-3 (ICP) is 10 by Bray.
func TestEstimatesInTheRecord(t *testing.T) {
	p := estimated(t, "", phosphorus("22"), waterPH("6.2"))[0]
	e := estimateBy(p, "F001")
	if e == nil || e.Value != "10" || e.Method != "bray-p1-colorimetric" || e.InDomain != "unknown" || e.NoInterval == "" || e.Source != "ohio-p-faq" || e.Provenance != "seen" {
		t.Fatalf("%+v", e)
	}
	if p.Value != "22" || len(p.Steps) != 0 || p.Method != "mehlich-3-icp" {
		t.Errorf("the measured value was touched: %+v", p)
	}
	if estimateBy(p, "F003") == nil {
		t.Error("two equations disagree and only one is shown")
	}
	if e := estimateBy(estimated(t, "", phosphorus("22"), waterPH("7.8"))[0], "F001"); e == nil || e.InDomain != "outside" || e.Value != "" || len(e.Steps) != 0 || len(e.Outside) != 1 {
		t.Errorf("outside the domain: %+v", e)
	}
	turf := estimated(t, "lawn", phosphorus("60.0"), waterPH("7.6"))[0]
	if e := estimateBy(turf, "F054"); e == nil || e.Interval == nil || e.Interval.Percent != 90 || e.NoInterval != "" {
		t.Errorf("F054 on a lawn: %+v", e)
	}
	if e := estimateBy(estimated(t, "vegetable garden", phosphorus("60.0"), waterPH("7.6"))[0], "F054"); e != nil {
		t.Errorf("a line for turf was asked of a garden: %+v", e)
	}
}

func TestNoEstimateFromWhatWasNotMeasured(t *testing.T) {
	for name, rd := range map[string]mappings.Reading{
		"a limit":              {Analyte: "P", Number: "22", Unit: "mg/kg", Method: "mehlich-3-icp", Censor: "<"},
		"an index":             {Analyte: "P", Number: "22", Unit: "index", Basis: IndexBasis, Method: "mehlich-3-icp"},
		"no number":            {Analyte: "P", Missing: "ND", Unit: "mg/kg", Method: "mehlich-3-icp"},
		"no method":            {Analyte: "P", Number: "22", Unit: "mg/kg"},
		"a doubt that holds":   {Analyte: "P", Number: "22", Unit: "mg/kg", Method: "mehlich-3-icp", Doubts: []*ingest.Reason{{Code: "x", Severity: ingest.Hold, What: "x"}}},
		"per volume, unknown":  {Analyte: "P", Number: "22", Unit: "mg/dm3", Method: "mehlich-3-icp"},
		"another extractant":   {Analyte: "P", Number: "22", Unit: "mg/kg", Method: "h3a"},
		"another test of it":   {Analyte: "Mn", Number: "22", Unit: "mg/kg", Method: "mehlich-3-icp"},
		"a result in words":    {Analyte: "P", Words: "high", Method: "mehlich-3-icp"},
		"an unstated oxide":    {Analyte: "P", Number: "22", Unit: "mg/kg", Basis: UnstatedBasis, Method: "mehlich-3-icp"},
		"an unknown unit":      {Analyte: "P", Number: "22", Unit: "spoons", Method: "mehlich-3-icp"},
		"an unreadable number": {Analyte: "P", Number: "2e2", Unit: "mg/kg", Method: "mehlich-3-icp"},
	} {
		res := estimated(t, "", rd)[0]
		for _, e := range res.Estimates {
			if len(e.Steps) > 0 && !(name == "per volume, unknown" && e.Steps[0].From.Unit == "mg/dm3") {
				t.Errorf("%s: %+v", name, e)
			}
		}
	}
	// A pH that is held is no input of a domain, and a measurement stands for itself.
	held := waterPH("7.9")
	held.Doubts = []*ingest.Reason{{Code: "x", Severity: ingest.Hold, What: "x"}}
	if e := estimateBy(estimated(t, "", phosphorus("22"), held)[0], "F001"); e == nil || e.InDomain != "unknown" {
		t.Errorf("a held pH decided a domain: %+v", e)
	}
	if e := estimateBy(estimated(t, "", phosphorus("22"), mappings.Reading{Analyte: "P", Number: "14", Unit: "mg/kg", Method: "bray-p1-colorimetric"})[0], "F001"); e != nil {
		t.Errorf("an estimate of what was measured: %+v", e)
	}
}

// The domain of an equation per volume is met by the volume of soil alone: the
// published check F046, 20 mg/dm3 with 20 % clay is 16.94915.
func TestEstimateByVolumeAndClay(t *testing.T) {
	res := estimated(t, "", mappings.Reading{Analyte: "P", Number: "20.0", Unit: "mg/dm3", Method: "mehlich-3-icp"}, mappings.Reading{Analyte: "clay", Number: "20", Unit: "%", Method: "hydrometer"}, waterPH("5.5"))[0]
	e := estimateBy(res, "F046")
	if e == nil || e.Value != "16.9" || e.Unit != "mg/dm3" || len(e.Steps[0].Inputs) != 1 || e.Steps[0].Inputs[0].Name != "clay" {
		t.Errorf("%+v", e)
	}
	if res.Value != "" {
		t.Errorf("an amount per volume became %s", res.Value)
	}
}

func TestEstimateByTexture(t *testing.T) {
	ec := mappings.Reading{Analyte: "EC", Number: "1.0", Unit: "dS/m", Method: "ph-water-1-1"}
	for words, want := range map[string]string{"Sand": "E001", "SiL": "E002", "clay": "E003"} {
		res := estimated(t, "", ec, mappings.Reading{Analyte: "texture", Words: words, Method: "texture-feel"})[0]
		for _, id := range []string{"E001", "E002", "E003"} {
			if (estimateBy(res, id) != nil) != (id == want) {
				t.Errorf("%s: %s is %v", words, id, estimateBy(res, id))
			}
		}
	}
}

// Whoever has the steps can recompute every estimate: from the printed form of
// its inputs alone, within half a unit of its last digit; and no equation ever
// starts from another estimate.
func TestEstimatesRecomputeFromTheirSteps(t *testing.T) {
	n := 0
	for _, f := range truths(t) {
		for _, rec := range Build(f.extract(t), Options{}).Records {
			values := map[string]bool{}
			for _, res := range rec.Results {
				values[string(res.Value)+" "+res.Unit] = true
				if res.Volumetric != nil {
					values[string(res.Volumetric.Value)+" "+res.Volumetric.Unit] = true
				}
			}
			for _, res := range rec.Results {
				for _, e := range res.Estimates {
					if e.InDomain == "outside" {
						if e.Value != "" || len(e.Outside) == 0 {
							t.Errorf("%s: %+v", f.path, e)
						}
						continue
					}
					if len(e.Steps) != 1 || e.Steps[0].To != (Quantity{e.Value, e.Unit}) {
						t.Fatalf("%s: %+v", f.path, e)
					}
					s := e.Steps[0]
					eq, err := estimate.Parse(s.Equation)
					if err != nil {
						t.Fatal(err)
					}
					in := map[string]float64{"x": valueOf(t, s.From.Value)}
					if !values[string(s.From.Value)+" "+s.From.Unit] {
						t.Errorf("%s: %s starts from %v, which no result measured", f.path, e.Equation, s.From)
					}
					for _, i := range s.Inputs {
						in[i.Name] = valueOf(t, i.Value)
						if !values[string(i.Value)+" "+i.Unit] {
							t.Errorf("%s: %s takes %v, which no result measured", f.path, e.Equation, i)
						}
					}
					y, err := eq.Eval(in)
					_, frac, _ := strings.Cut(string(e.Value), ".")
					if err != nil || math.Abs(y-valueOf(t, e.Value)) > 0.5000001*math.Pow(10, -float64(len(frac))) {
						t.Errorf("%s: %s gives %v (%v), the record %s", f.path, e.Equation, y, err, e.Value)
					}
					if i := e.Interval; i != nil && !(valueOf(t, i.Low) <= valueOf(t, e.Value) && valueOf(t, e.Value) <= valueOf(t, i.High)) {
						t.Errorf("%s: %s lies outside its own interval: %+v", f.path, e.Equation, e)
					}
					n++
				}
			}
		}
	}
	t.Log(strconv.Itoa(n) + " estimates")
	if n < 1000 {
		t.Errorf("only %d estimates", n)
	}
}

// An interval can be made again from the record alone: the error and the
// multiplier stand in it, and the trace prints them. P001 is Libohova 2014, whose
// error is 0.44: 6.5 gives 6.38, and 1.645 times the error lies on each side.
func TestIntervalSaysWhatItWasMadeOf(t *testing.T) {
	res := estimated(t, "", waterPH("6.50"))[0]
	e := estimateBy(res, "P001")
	if e == nil || e.Interval == nil || *e.Interval != (Interval{Low: "5.65", High: "7.11", Percent: 90, Kind: "rmse", Error: "0.44", Times: "1.644854"}) || e.Value != "6.38" {
		t.Fatalf("%+v", e)
	}
	ratio := estimateBy(estimated(t, "lawn", phosphorus("40"), waterPH("6.5"))[0], "F055")
	if ratio == nil || ratio.Interval == nil || ratio.Interval.Kind != "ratio" || ratio.Interval.LeastRatio != "0.120" || ratio.Interval.MostRatio != "0.467" {
		t.Fatalf("%+v", ratio)
	}
	if want := "by a line fitted here to the open data of Woods MS, Stowell LJ, Gelernter WD 2016"; !strings.HasSuffix(ratio.Steps[0].What, want) {
		t.Errorf("%q", ratio.Steps[0].What)
	}
	var b bytes.Buffer
	Trace(&b, &Report{}, &Record{}, res)
	text := strings.Join(strings.Fields(b.String()), " ")
	for _, want := range []string{"90 % of soils between 5.65 and 7.11 (the estimate ± 1.644854 × the RMSE 0.44, rounded outwards)", "conversion P001: an equation with limits; this sample: not known to be within its limits", "note: The error is nearly half a unit", "by a published equation"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in\n%s", want, b.String())
		}
	}
}

// On request the trace says what is refused.
func TestTraceMethods(t *testing.T) {
	res := estimated(t, "", phosphorus("22"), waterPH("7.8"))[0]
	var b bytes.Buffer
	TraceMethods(&b, res)
	for _, want := range []string{"outside   Bray-P1 (colorimetric): no estimate by F001: pH < 7.4: pH is 7.8", "refused   to Mehlich-3 (colorimetric): do not convert", "(conversion F005)", "coefficients not seen"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("no %q in\n%s", want, b.String())
		}
	}
	b.Reset()
	Trace(&b, &Report{}, &Record{}, res)
	if strings.Contains(b.String(), "F001") || !strings.Contains(b.String(), "estimate  Olsen: 8.8 mg/kg, no interval") {
		t.Errorf("%s", b.String())
	}
}
