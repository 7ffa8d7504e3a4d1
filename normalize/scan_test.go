package normalize

import (
	"strings"
	"testing"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

func scanned(analyte, unit, number string, agree bool) mappings.Reading {
	method := ""
	if analyte == "CEC" {
		method = "summation"
	}
	return mappings.Reading{Analyte: analyte, Method: method, Printed: number, Number: number, Unit: unit, PrintedUnit: unit, OCR: &ingest.OCR{Confidence: 96, Second: number, Agree: agree}}
}

// Numbers from a picture wait for a person unless each was read alike twice
// and the report's own sums bear it out. The cations are a worked example of
// common practice, no source: Ca 1002 mg/kg is 5 cmol(+)/kg, Mg 243 is 2, K
// 391 is 1, and with 2 of acidity the CEC is 10.
func TestScansWait(t *testing.T) {
	sums := []mappings.Reading{scanned("Ca", "mg/kg", "1002", true), scanned("Mg", "mg/kg", "243", true), scanned("K", "mg/kg", "391", true),
		scanned("acidity", "cmol(+)/kg", "2.0", true), scanned("CEC", "cmol(+)/kg", "10.0", true)}
	build := func(rs []mappings.Reading) *Report {
		return Build(&mappings.Extract{Source: ingest.SourceRef{Name: "a.pdf", SHA256: strings.Repeat("0", 64)}, Mapping: mappings.Ref{ID: "x", Lab: "X"},
			Samples: []*mappings.SampleExtract{{Fields: map[mappings.FieldID]mappings.Field{mappings.LabSampleID: {Value: "1", Printed: "1"}}, Readings: rs}}}, Options{})
	}
	if rep := build(sums); rep.Status != OK {
		t.Errorf("sums that bear each other out: %s %v", rep.Status, rep.Reasons)
	}
	for name, rs := range map[string][]mappings.Reading{
		"a number that no sum bears out": append(append([]mappings.Reading{}, sums...), scanned("P", "mg/kg", "40", true)),
		"two readings that differ":       append(append([]mappings.Reading{}, sums[:4]...), scanned("CEC", "cmol(+)/kg", "10.0", false)),
		"a lost decimal point":           append(append([]mappings.Reading{}, sums[:4]...), scanned("CEC", "cmol(+)/kg", "100", true)),
		"a sum without its acidity":      append(append([]mappings.Reading{}, sums[:3]...), sums[4]),
	} {
		rep := build(rs)
		if rep.Status != Held {
			t.Errorf("%s: %s", name, rep.Status)
		}
		found := false
		for _, r := range rep.Reasons {
			found = found || r.Code == "scan-unconfirmed"
		}
		if !found {
			t.Errorf("%s: no reason says so: %v", name, rep.Reasons)
		}
	}
}
