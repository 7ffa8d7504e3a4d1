package normalize

import (
	"bytes"
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// traced is the trace of the first of some readings, on one line.
func traced(t *testing.T, density *mappings.Reading, rds ...mappings.Reading) (*Result, string) {
	t.Helper()
	rep := Build(&mappings.Extract{Mapping: mappings.Ref{File: "quarry.yaml"}, Samples: []*mappings.SampleExtract{{Density: density, Readings: rds}}}, Options{})
	var b bytes.Buffer
	Trace(&b, rep, rep.Records[0], rep.Records[0].Results[0])
	return rep.Records[0].Results[0], strings.Join(strings.Fields(b.String()), " ")
}

// An amount per hectare by volume goes back to an acre by its own depth and
// density: 100 kg/ha are 100 / 1.12085 = 89.218 lb/acre, whatever the soil weighs
// (kilogram, pound, hectare and acre by definition, NIST SP 811).
func TestPerAcreByItsOwnDepthAndDensity(t *testing.T) {
	density := mappings.Reading{Analyte: "density", Printed: "1.34", Number: "1.34", Unit: "g/cm3"}
	res, text := traced(t, &density, mappings.Reading{Analyte: "K", Printed: "100.0", Number: "100.0", Unit: "kg/ha", PrintedUnit: "kg/ha", Per: "volume", Area: &mappings.AreaBasis{DepthCm: "15", ByVolume: true, Source: "report"}})
	f := res.Forms.LbAc
	if f == nil || f.Source != "report" || f.DepthIn != "5.906" || f.Value != "89.218" {
		t.Fatalf("%+v", f)
	}
	if !strings.Contains(text, "in soil 5.906 in deep (printed in the report) weighing 1,793,") {
		t.Error(text)
	}
}

// A limit is a limit in every form, and the sign says where it stands.
func TestFormsOfALimit(t *testing.T) {
	_, text := traced(t, nil, mappings.Reading{Analyte: "Cu", Printed: "0.100", Number: "0.100", Censor: "<", Unit: "mg/kg", PrintedUnit: "mg/kg", Place: ingest.Place{Line: 4, Col: 7}, SignPlace: ingest.Place{Line: 4, Col: 6}})
	for _, want := range []string{"also < 0.100 ppm", "also < 0.200 lb/acre", "limit the “<” stands at ", "value < 0.100 mg/kg"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in %s", want, text)
		}
	}
}

// The words of a refusal are those of what is printed.
func TestWordsOfWhatIsPrinted(t *testing.T) {
	scooped := mappings.Reading{Analyte: "K", Printed: "120", Number: "120", Unit: "mg/dm3", PrintedUnit: "mg/dm3"}
	limit := mappings.Reading{Analyte: "density", Printed: "<1.22", Number: "1.22", Censor: "<", Unit: "g/cm3"}
	if res, _ := traced(t, &limit, scooped); !strings.Contains(res.Why, "only a limit of it, “<1.22”") {
		t.Error(res.Why)
	}
	if res, _ := traced(t, nil, scooped); !strings.Contains(res.Why, "prints none") {
		t.Error(res.Why)
	}
	if res, _ := traced(t, nil, mappings.Reading{Analyte: "K", Printed: "12", Number: "12", PrintedUnit: "gr/kg"}); !strings.Contains(res.Why, "“gr/kg”") {
		t.Error(res.Why)
	}
	if res, _ := traced(t, nil, mappings.Reading{Analyte: "K", Printed: "12", Number: "12"}); strings.Contains(res.Why, "“”") || res.Why == "" {
		t.Error(res.Why)
	}
	area := &mappings.AreaBasis{DepthIn: "8", LbPerAcre: "2400000", Source: "mapping"}
	res, text := traced(t, nil, mappings.Reading{Analyte: "P", Printed: "60", Number: "60", Unit: "lb/acre", PrintedUnit: "lb/A", Area: area})
	if res.Value != "25" || res.Steps[len(res.Steps)-1].Source != "mapping-statement" {
		t.Errorf("%+v", res.Steps)
	}
	for _, want := range []string{"2,400,000 lb of soil are 300,000 an inch × 8", "key mapping-statement", "weighing 2,400,000 lb an acre (stated by the mapping quarry.yaml)"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in %s", want, text)
		}
	}
	res, _ = traced(t, nil, mappings.Reading{Analyte: "Mg", Printed: "1.9", Number: "1.9", Unit: "cmol(+)/kg", PrintedUnit: "meq/100g"})
	for _, s := range res.Steps {
		if strings.HasPrefix(s.Rule, "charge/") && !strings.Contains(s.What, "atomic weight 24.305 ") {
			t.Error(s.What)
		}
	}
	_, text = traced(t, nil, mappings.Reading{Analyte: "base_sat_K", Printed: "2.3", Number: "2.3", Full: "2.3199", Unit: "%", PrintedUnit: "%"})
	if !strings.Contains(text, "(held by the cell of the report, which shows fewer digits)") {
		t.Error(text)
	}
}

// A depth that is printed and gives no layer is not called missing.
func TestWordsOfAPrintedDepth(t *testing.T) {
	rd := mappings.Reading{Analyte: "P", Printed: "60", Number: "60", Unit: "lb/acre", PrintedUnit: "lb/A"}
	for depth, want := range map[string]string{"": "neither report nor mapping states it", "<6 in": "the printed depth “<6 in” does not give one"} {
		s := &mappings.SampleExtract{Readings: []mappings.Reading{rd}}
		if depth != "" {
			s.Fields = map[mappings.FieldID]mappings.Field{mappings.Depth: {Printed: depth}}
		}
		res := Build(&mappings.Extract{Samples: []*mappings.SampleExtract{s}}, Options{}).Records[0].Results[0]
		if res.Value != "" || !strings.Contains(res.Why, want) {
			t.Errorf("%q: %s", depth, res.Why)
		}
	}
}
