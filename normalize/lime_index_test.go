package normalize

import (
	"testing"

	"example.org/windrow/mappings"
)

// A lime index is ten times the buffer pH it stands for: 66 is 6.6 (common
// practice, no source). A buffer pH printed as such stays as it is.
func TestLimeIndexIsTenfoldBufferPH(t *testing.T) {
	for _, c := range []struct{ number, unit, value string }{
		{"66", "lime-index", "6.6"}, {"60", "lime-index", "6"}, {"71.5", "lime-index", "7.15"}, {"6.6", "pH", "6.6"},
	} {
		r := built(t, mappings.Reading{Analyte: "buffer_pH", Number: c.number, Unit: c.unit}, "")
		if valueOf(t, r.Value) != valueOf(t, Decimal(c.value)) || r.Unit != "pH" {
			t.Errorf("%s %s: got %s %s, want %s pH", c.number, c.unit, r.Value, r.Unit, c.value)
		}
		if c.unit == "lime-index" && (len(r.Steps) == 0 || string(r.Printed.Number) != c.number) {
			t.Errorf("%s: the printed number or the step is lost: %+v", c.number, r)
		}
	}
	// A number that is neither is not passed on as a buffer pH without a word.
	for _, c := range []struct{ number, unit string }{{"66", "pH"}, {"6.6", "lime-index"}} {
		r := built(t, mappings.Reading{Analyte: "buffer_pH", Number: c.number, Unit: c.unit}, "")
		if r.Status == OK {
			t.Errorf("%s %s was taken for %s %s without a word", c.number, c.unit, r.Value, r.Unit)
		}
	}
}
