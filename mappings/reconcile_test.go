package mappings

import (
	"strings"
	"testing"

	"example.org/windrow/ingest"
)

func oneSample(member, id string, rs ...Reading) *Extract {
	return &Extract{Source: ingest.SourceRef{Name: "a.eml", Member: member}, Mapping: Ref{ID: "lab"},
		Samples: []*SampleExtract{{Fields: map[FieldID]Field{LabSampleID: {Printed: id, Value: id}}, Readings: rs}}}
}

func value(analyte, number string) Reading {
	return Reading{Analyte: analyte, Number: number, Printed: number, Unit: "mg/kg"}
}

func TestReconcile(t *testing.T) {
	// The same results twice are kept once, with what either adds.
	a := oneSample("a.pdf", "1", value("P", "12"), value("K", "140"))
	b := oneSample("a.csv", "1", Reading{Analyte: "P", Number: "12", Printed: "12", Unit: "mg/kg", Rating: "low"}, value("Ca", "900"))
	Reconcile([]*Extract{a, b})
	if a.Held() || b.Held() || len(b.Samples) != 0 || len(a.Samples[0].Readings) != 3 || a.Samples[0].Readings[0].Rating != "low" {
		t.Errorf("got %s and %s", summary(a), summary(b))
	}
	// Layers of one number are compared each with its own.
	layers := func(member string, depths ...string) *Extract {
		x := oneSample(member, "1")
		x.Samples = nil
		for i, d := range depths {
			s := oneSample(member, "1", value("P", string(rune('1'+i)))).Samples[0]
			if d != "" {
				top, bottom, _, err := parseDepth(d, "in")
				if err != nil {
					t.Fatal(err)
				}
				s.Fields[Depth] = Field{Printed: d, Value: inches(bottom, "in"), depth: bottom}
				s.Fields[DepthTop] = Field{Printed: d, Value: inches(top, "in"), depth: top}
			}
			x.Samples = append(x.Samples, s)
		}
		return x
	}
	a, b = layers("a.pdf", "0-6", "6-24"), layers("a.csv", "0-6", "6-24")
	Reconcile([]*Extract{a, b})
	if a.Held() || b.Held() || len(a.Samples) != 2 || len(b.Samples) != 0 {
		t.Errorf("two layers twice: %s and %s", summary(a), summary(b))
	}
	a, b = layers("0.pdf", "0-6"), layers("6.pdf", "6-24")
	Reconcile([]*Extract{a, b})
	if a.Held() || b.Held() || len(a.Samples) != 1 || len(b.Samples) != 1 {
		t.Errorf("a file for each layer: %s and %s", summary(a), summary(b))
	}
	a, b = layers("a.pdf", "0-6", "6-24"), layers("a.csv", "")
	Reconcile([]*Extract{a, b})
	if a.Held() || !b.Held() {
		t.Errorf("a layer that is not told: %s and %s", summary(a), summary(b))
	}
	// A contradiction holds both.
	a, b = oneSample("a.pdf", "1", value("P", "12")), oneSample("a.csv", "1", value("P", "21"))
	Reconcile([]*Extract{a, b})
	if !a.Held() || !b.Held() || !strings.Contains(a.Reasons[0].Found, "12") || !strings.Contains(a.Reasons[0].Found, "21") {
		t.Errorf("a contradiction was accepted: %s and %s", summary(a), summary(b))
	}
	// A value in one and "not run" in the other is a contradiction too.
	a, b = oneSample("a.pdf", "1", value("P", "12")), oneSample("a.csv", "1", Reading{Analyte: "P", Missing: "--", Unit: "mg/kg"})
	Reconcile([]*Extract{a, b})
	if !a.Held() {
		t.Error("a value and a missing value were taken for the same")
	}
	// A table that leaves out the method repeats what the page says with it,
	// and the other way about.
	by := func(r Reading, method string) Reading { r.Method = method; return r }
	a, b = oneSample("a.pdf", "1", by(value("K", "140"), "DTPA")), oneSample("a.csv", "1", value("K", "140"))
	Reconcile([]*Extract{a, b})
	if a.Held() || len(b.Samples) != 0 || len(a.Samples[0].Readings) != 1 || a.Samples[0].Readings[0].Method != "DTPA" {
		t.Errorf("one result became %s and %s", summary(a), summary(b))
	}
	a, b = oneSample("a.csv", "1", value("K", "140")), oneSample("a.pdf", "1", by(value("K", "140"), "DTPA"))
	Reconcile([]*Extract{a, b})
	if a.Held() || len(a.Samples[0].Readings) != 1 || a.Samples[0].Readings[0].Method != "DTPA" {
		t.Errorf("one result became %s and %s", summary(a), summary(b))
	}
	a, b = oneSample("a.pdf", "1", by(value("K", "140"), "DTPA")), oneSample("a.csv", "1", value("K", "141"))
	Reconcile([]*Extract{a, b})
	if !a.Held() {
		t.Error("another number without a method was taken for another test")
	}
	// Which of two tests it repeats is not guessed.
	a, b = oneSample("a.pdf", "1", by(value("P", "26"), "Bray-P1"), by(value("P", "14"), "Olsen")), oneSample("a.csv", "1", value("P", "26"))
	Reconcile([]*Extract{a, b})
	if !a.Held() || !b.Held() || !strings.Contains(a.Reasons[0].Found, "without its method") {
		t.Errorf("a result without its method was given to one of two tests: %s and %s", summary(a), summary(b))
	}
	// Two tests that both files tell apart stay two.
	a, b = oneSample("a.pdf", "1", by(value("P", "26"), "Bray-P1"), by(value("P", "14"), "Olsen")), oneSample("a.csv", "1", by(value("P", "14"), "Olsen"), by(value("P", "26"), "Bray-P1"))
	Reconcile([]*Extract{a, b})
	if a.Held() || len(a.Samples[0].Readings) != 2 {
		t.Errorf("two tests became %s and %s", summary(a), summary(b))
	}
	// A test in two units in the one and in one of them in the other is said again;
	// with another number it is a contradiction.
	per := func(r Reading, unit string) Reading { r.Unit, r.PrintedUnit = unit, unit; return r }
	a, b = oneSample("a.pdf", "1", value("P", "12"), per(value("P", "24"), "lb/acre")), oneSample("a.csv", "1", per(value("P", "24"), "lb/acre"))
	Reconcile([]*Extract{a, b})
	if a.Held() || len(b.Samples) != 0 || len(a.Samples[0].Readings) != 2 {
		t.Errorf("two units became %s and %s", summary(a), summary(b))
	}
	a, b = oneSample("a.csv", "1", per(value("P", "24"), "lb/acre")), oneSample("a.pdf", "1", value("P", "12"), per(value("P", "24"), "lb/acre"))
	Reconcile([]*Extract{a, b})
	if a.Held() || len(b.Samples) != 0 || len(a.Samples[0].Readings) != 2 {
		t.Errorf("two units became %s and %s", summary(a), summary(b))
	}
	a, b = oneSample("a.pdf", "1", value("P", "12"), per(value("P", "24"), "lb/acre")), oneSample("a.csv", "1", per(value("P", "42"), "lb/acre"))
	Reconcile([]*Extract{a, b})
	if !a.Held() {
		t.Error("another number in one of two units was accepted")
	}
	// Other samples stay where they are.
	a, b = oneSample("a.pdf", "1", value("P", "12")), oneSample("a.csv", "2", value("P", "21"))
	Reconcile([]*Extract{a, b})
	if a.Held() || b.Held() || len(a.Samples) != 1 || len(b.Samples) != 1 {
		t.Errorf("got %s and %s", summary(a), summary(b))
	}
}
