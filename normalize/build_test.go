package normalize

import (
	"math/big"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
	"example.org/windrow/normalize/method"
	"example.org/windrow/normalize/unit"
)

// A person with a pocket calculator follows the steps of every result of
// every truth file: each step's factor takes its From to its To within the
// digits shown, one step begins where the last ended, and the last one ends
// at the value.
func TestStepsRecomputeByHand(t *testing.T) {
	steps := 0
	near := func(a, b *big.Rat) bool { // both are rounded to four digits, each by up to 1 part in 2,000
		d := new(big.Rat).Sub(a, b)
		return d.Abs(d).Cmp(new(big.Rat).Mul(new(big.Rat).Abs(b), big.NewRat(1, 1000))) <= 0
	}
	rat := func(d Decimal) *big.Rat {
		r, ok := new(big.Rat).SetString(string(d))
		if !ok {
			t.Fatalf("%q is no number", d)
		}
		return r
	}
	for _, f := range truths(t) {
		for _, rec := range Build(f.extract(t), Options{}).Records {
			for _, res := range rec.Results {
				for i, s := range append(append([]Step{}, res.Steps...), res.FormSteps...) {
					steps++
					if s.Factor != "" {
						if k, _ := new(big.Rat).SetString(s.Factor); !near(new(big.Rat).Mul(rat(s.From.Value), k), rat(s.To.Value)) {
							t.Errorf("%s %s: %s × %s is not %s", f.path, res.Analyte, s.From.Value, s.Factor, s.To.Value)
						}
					} else if s.Equation == "" || len(s.Inputs) == 0 {
						t.Errorf("%s %s: step %s has neither factor nor equation", f.path, res.Analyte, s.Rule)
					}
					if i > 0 && i < len(res.Steps) && res.Steps[i-1].To != s.From {
						t.Errorf("%s %s: step %d begins at %v, the one before ended at %v", f.path, res.Analyte, i+1, s.From, res.Steps[i-1].To)
					}
				}
				if n := len(res.Steps); n > 0 && res.Value != "" && res.Steps[n-1].To != (Quantity{res.Value, res.Unit}) {
					t.Errorf("%s %s: the steps end at %v, the value is %s %s", f.path, res.Analyte, res.Steps[n-1].To, res.Value, res.Unit)
				} else if n == 0 && res.Value != "" && res.Value != res.Printed.Number {
					t.Errorf("%s %s: no steps from %s to %s", f.path, res.Analyte, res.Printed.Number, res.Value)
				}
			}
		}
	}
	t.Logf("%d steps recomputed", steps)
	if steps < 10_000 {
		t.Errorf("only %d steps", steps)
	}
}

// Whatever a mapping hands over, Build neither panics nor loses what was
// printed, its record is valid, and a value always has the analyte's unit.
func TestBuildOfAnything(t *testing.T) {
	var units, methods, analytes []string
	for _, u := range unit.Standard().Units {
		units = append(units, u.ID)
	}
	for _, m := range method.Standard().Methods {
		methods = append(methods, m.ID)
	}
	for _, a := range method.Standard().Analytes {
		analytes = append(analytes, a.ID)
	}
	units, methods, analytes = append(units, "", "furlong"), append(methods, "", "spit"), append(analytes, "", "gold", "score:x")
	number := rapid.SampledFrom([]string{"", "0", "0.00", "6.5", "-3", "65", "1e9", "99999999999999999999", "0.000001", "2/3", "nan"})
	rational := rapid.SampledFrom([]string{"", "0", "6", "20/3", "6 2/3", "x", "-1", "2000000"})
	rapid.Check(t, func(t *rapid.T) {
		ex := &mappings.Extract{Source: ingest.SourceRef{Name: "x", SHA256: strings.Repeat("0", 64)}}
		for range rapid.IntRange(0, 3).Draw(t, "samples") {
			s := &mappings.SampleExtract{Fields: map[mappings.FieldID]mappings.Field{mappings.Depth: {Value: rational.Draw(t, "depth")}}}
			for range rapid.IntRange(0, 8).Draw(t, "readings") {
				n := number.Draw(t, "number")
				rd := mappings.Reading{Analyte: rapid.SampledFrom(analytes).Draw(t, "analyte"), Unit: rapid.SampledFrom(units).Draw(t, "unit"), Method: rapid.SampledFrom(methods).Draw(t, "method"),
					Basis: rapid.SampledFrom([]string{"", "P2O5", "K2O", "index", "not stated", "?"}).Draw(t, "basis"), Per: rapid.SampledFrom([]string{"", "volume"}).Draw(t, "per"),
					Number: n, Printed: "«" + n + "»", Full: number.Draw(t, "full"), Censor: rapid.SampledFrom([]string{"", "<", ">"}).Draw(t, "censor")}
				if rapid.Bool().Draw(t, "has area") {
					rd.Area = &mappings.AreaBasis{DepthIn: rational.Draw(t, "in"), DepthCm: rational.Draw(t, "cm"), LbPerAcre: rational.Draw(t, "lb"), BulkDensity: rational.Draw(t, "bulk density"), ByVolume: rapid.Bool().Draw(t, "by volume"), Source: rapid.SampledFrom([]string{"", "mapping", "report"}).Draw(t, "origin")}
				}
				s.Readings = append(s.Readings, rd)
			}
			if rapid.Bool().Draw(t, "has density") {
				s.Density = &mappings.Reading{Analyte: "density", Number: number.Draw(t, "density"), Unit: rapid.SampledFrom(units).Draw(t, "density unit")}
			}
			ex.Samples = append(ex.Samples, s)
		}
		rep := Build(ex, Options{})
		for i, rec := range rep.Records {
			for j, res := range rec.Results {
				rd := ex.Samples[i].Readings[j]
				if res.Printed.Text != rd.Printed {
					t.Fatalf("printed %q became %q", rd.Printed, res.Printed.Text)
				}
				if rd.Number != "" && res.Value == "" && res.Why == "" {
					t.Fatalf("no value of %+v and no reason", rd)
				}
				if res.Value != "" && res.Unit == "mg/kg" && rd.Unit == "index" {
					t.Fatal("an index became a concentration")
				}
			}
		}
		b, err := rep.JSON()
		if err != nil {
			t.Fatal(err)
		}
		if err := Validate(b); err != nil {
			t.Fatalf("%v\n%s", err, b)
		}
	})
}

func TestBuildOfNothing(t *testing.T) {
	for _, ex := range []*mappings.Extract{nil, {}, {Samples: []*mappings.SampleExtract{nil}, Reasons: []*ingest.Reason{nil}}} {
		if rep := Build(ex, Options{}); rep == nil || rep.Status != OK || rep.Schema != SchemaVersion {
			t.Errorf("%+v", rep)
		}
	}
}

func TestDefaultsAreSaid(t *testing.T) {
	ex := &mappings.Extract{Samples: []*mappings.SampleExtract{reads("pH 6.1 pH; county:Wren"), reads("pH 6.2 pH; land_use:lawn")}}
	rep := Build(ex, Options{DefaultCounty: "Finch", DefaultLandUse: "pasture"})
	a, b := rep.Records[0].Sample, rep.Records[1].Sample
	if a.County != "Wren" || a.LandUse != "pasture" || strings.Join(a.DefaultsUsed, " ") != "land_use" {
		t.Errorf("%+v", a)
	}
	if b.County != "Finch" || b.LandUse != "lawn" || strings.Join(b.DefaultsUsed, " ") != "county" {
		t.Errorf("%+v", b)
	}
}

// A cell that shows something else than a rounding of what it holds keeps
// the number shown, with a finding.
func TestCellThatShowsSomethingElse(t *testing.T) {
	for _, c := range []struct{ shown, full, value, finding string }{
		{"11.0", "10.964", "10.96", ""}, {"2.3", "2.3199573778164986", "2.32", ""}, {"0.29", "0.285", "0.285", ""}, {"11.0", "10.94", "11.0", "cell-differs"}, {"55.3", "0.553", "55.3", "cell-differs"}, {"5.6", "5.6", "5.6", ""}, {"6", "1e3", "6", "cell-differs"},
	} {
		res := built(t, mappings.Reading{Analyte: "P", Number: c.shown, Full: c.full, Unit: "mg/kg", PrintedUnit: "mg/kg"}, "")
		got := ""
		if len(res.Findings) > 0 {
			got = res.Findings[0].Check
		}
		if string(res.Value) != c.value || got != c.finding {
			t.Errorf("%s holding %s: value %s, finding %q", c.shown, c.full, res.Value, got)
		}
	}
}

// Saturated-paste extracts stay in the solution's own unit.
func TestSaturatedPaste(t *testing.T) {
	res := built(t, mappings.Reading{Analyte: "Na", Number: "4.2", Unit: "meq/L", Method: "saturated-paste"}, "")
	if res.Value != "4.2" || res.Unit != "meq/L" || res.UCUM != "meq/L" || res.Forms.PPM != nil {
		t.Errorf("%+v", res)
	}
	if res := built(t, mappings.Reading{Analyte: "Na", Number: "4.2", Unit: "meq/L", Method: "mehlich-3-icp"}, ""); res.Value != "" || res.Status != Flagged {
		t.Errorf("meq/L of a soil extract: %+v", res)
	}
}
