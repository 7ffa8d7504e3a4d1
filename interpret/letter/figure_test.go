package letter

import (
	"testing"

	"example.org/windrow/interpret"
	"example.org/windrow/normalize"
)

// An oxide's amount never goes by the name of the element: 255 lb of P2O5 are
// 111 lb of phosphorus (2 x 30.974/141.943, IUPAC atomic weights).
func TestOxidesAreNotElements(t *testing.T) {
	oxide := &normalize.Result{Analyte: "P", MethodName: "Mehlich-3", Basis: "P2O5", Value: "55.64", Unit: "mg/kg", Printed: normalize.Printed{Text: "255", Number: "255", Unit: "lb/acre"},
		Steps: []normalize.Step{{Rule: "basis/P2O5-to-P"}, {Rule: "unit/lb-acre-to-mg-kg"}}}
	element := &normalize.Result{Analyte: "K", MethodName: "Mehlich-3", Basis: "K", Value: "60.00", Unit: "mg/kg", Printed: normalize.Printed{Text: "120", Number: "120", Unit: "lb/acre"},
		Steps: []normalize.Step{{Rule: "unit/lb-acre-to-mg-kg"}}}
	comma := &normalize.Result{Analyte: "Ca", MethodName: "Mehlich-3", Basis: "Ca", Value: "2747", Unit: "mg/kg", Censored: ">", Printed: normalize.Printed{Text: "> 2.747", Number: "2747", Unit: "mg/kg"}}
	rec := &normalize.Record{Results: []*normalize.Result{oxide, element, comma}}
	for _, lang := range []struct {
		code Language
		of   string
	}{{English, "the laboratory printed 255 lb/acre of P2O5"}, {Spanish, "el laboratorio imprimió 255 lb/acre de P2O5"}} {
		v := &view{tongue: tongueOf(lang.code)}
		for _, c := range []struct {
			res                *normalize.Result
			number, unit, same string
		}{{oxide, "55.64", "ppm", lang.of}, {element, "120", "lb/acre", "= 60.00 ppm"}, {comma, ">2747", "mg/kg", ""}} {
			got := v.of(resultOf(rec, interpret.Rating{Analyte: c.res.Analyte, Method: "Mehlich-3", Printed: c.res.Printed.Text}))
			if want := (figure{c.number, c.unit, c.same}); got != want {
				t.Errorf("%s: %s is told as %+v, want %+v", lang.code, c.res.Analyte, got, want)
			}
		}
		if got, want := v.of(oxide).inline(), "55.64 ppm ("+lang.of+")"; got != want {
			t.Errorf("in a sentence: %q, want %q", got, want)
		}
	}
}
