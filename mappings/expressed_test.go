package mappings

import (
	"math/big"
	"strings"
	"testing"

	"example.org/windrow/ingest"
)

const formTop = `windrow mapping: 1
lab: Test Laboratory
id: test
recognise: [LAB]
dates: YYYY-MM-DD
tests:
`

const formLabels = `layouts:
  - name: letter
    format: pdf
    one sample each: page
    sample: [{after: "No.", reads: lab_sample_id}]
    labels:
`

// A laboratory may change what a number is of and leave everything else as it
// was. Where a text of the mapping is general enough to fit both, the printed
// words decide, and a report whose words deny the mapping is held.
func TestFormChangesUnderAGeneralText(t *testing.T) {
	for _, c := range []struct{ name, tests, labels, page, found, expected string }{
		{"the label says so", "  P: {analyte: P, unit: ppm}\n", `      - {test: P, after: "Phos* (*)", reads: "{result} {unit}"}`, "LAB\nNo. 7\nPhosphorus (P2O5)  88 ppm", "Phosphorus (P2O5) ppm", "numbers of P"},
		{"it stands behind the unit", "  P: {analyte: P, unit: ppm}\n", `      - {test: P, after: Phosphorus, reads: "{result} {unit} {any}"}`, "LAB\nNo. 7\nPhosphorus 88 ppm P2O5", "Phosphorus P2O5 ppm", "numbers of P"},
		{"basis P is what the guide says, of another label", "  P: {analyte: P, basis: P, unit: ppm}\n", `      - {test: P, after: "Phos* (*)", reads: "{result} {unit}"}`, "LAB\nNo. 7\nPhosphorus (P2O5)  88 ppm", "Phosphorus (P2O5) ppm", "numbers of P"},
		{"the element where it was the oxide", "  P: {analyte: P, basis: P2O5, unit: ppm}\n", `      - {test: P, after: "Phos* (*)", reads: "{result} {unit}"}`, "LAB\nNo. 7\nPhosphate (as P)  88 ppm", "Phosphate (as P) ppm", "numbers of P2O5"},
		{"as it was", "  P: {analyte: P, unit: ppm}\n", `      - {test: P, after: "Phos* (*)", reads: "{result} {unit}"}`, "LAB\nNo. 7\nPhosphorus (P)  88 ppm", "", ""},
		{"the oxide that the mapping knows", "  P: {analyte: P, basis: P2O5, unit: ppm}\n", `      - {test: P, after: "Phos* (*)", reads: "{result} {unit}"}`, "LAB\nNo. 7\nPhosphorus (P2O5)  88 ppm", "", ""},
		{"the guide says that this very label is the element", "  P: {analyte: P, basis: P, unit: ppm}\n", `      - {test: P, after: "Phosphate (*)", reads: "{result} {unit}"}`, "LAB\nNo. 7\nPhosphate (Olsen)  88 ppm", "", ""},
		{"advice behind the number is no label", "  P: {analyte: P, unit: ppm}\n", `      - {test: P, after: Phosphorus, reads: "{result} {unit} {any}"}`, "LAB\nNo. 7\nPhosphorus 88 ppm enough; no P2O5", "", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			m, reasons := Decode("test.yaml", []byte(formTop+c.tests+formLabels+c.labels+"\n"), words{})
			if m == nil {
				t.Fatal(reasons)
			}
			x := readLayout(drawn(c.page), m.Layouts[0], words{}, true)
			var got *ingest.Reason
			for _, r := range x.Reasons {
				if r.Code == "basis-differs" {
					got = r
				} else if r.Severity == ingest.Hold && c.found == "" {
					t.Errorf("held for something else: %v", r)
				}
			}
			switch {
			case c.found == "" && got != nil:
				t.Errorf("held: %v", got)
			case c.found != "" && got == nil:
				t.Errorf("not held: %v", x.Reasons)
			case got != nil && (got.Found != c.found || got.Expected != c.expected || got.Severity != ingest.Hold || got.Where.Page != 1 || got.Where.Box == nil || got.Rule.Line == 0 || !strings.Contains(got.Next, "basis: ")):
				t.Errorf("%v", got)
			}
			if c.found == "" && (len(x.Samples) != 1 || len(x.Samples[0].Readings) != 1 || x.Samples[0].Readings[0].Number != "88") {
				t.Errorf("not read: %+v", x.Samples)
			}
		})
	}
}

// In a sheet a label is the beginning of a cell, and the rest of the cell may
// say anything.
func TestFormInTheRestOfACell(t *testing.T) {
	y := strings.Replace(formTop+"  P: {analyte: P, unit: ppm}\n"+formLabels+"      - {test: P, after: Phosphorus, reads: \"{result} {unit}\"}\n", "format: pdf", "format: workbook", 1)
	m, reasons := Decode("test.yaml", []byte(y), words{})
	if m == nil {
		t.Fatal(reasons)
	}
	x := readLayout(grid("LAB\nNo.|7\nPhosphorus as P2O5|88|ppm"), m.Layouts[0], words{}, true)
	if len(x.Reasons) != 1 || x.Reasons[0].Code != "basis-differs" || x.Reasons[0].Where.Cell != "A3" || x.Reasons[0].Found != "Phosphorus as P2O5 ppm" {
		t.Errorf("%v", x.Reasons)
	}
	if x = readLayout(grid("LAB\nNo.|7\nPhosphorus, Olsen|88|ppm"), m.Layouts[0], words{}, true); len(x.Reasons) != 0 {
		t.Errorf("%v", x.Reasons)
	}
}

// What a text says of the form of a number. The words are those of the trade;
// common practice, no source.
func TestStated(t *testing.T) {
	for _, c := range []struct {
		text, analyte, forms string
		element              bool
	}{
		{"P2O5", "P", "P2O5", false},
		{"P₂O₅ (ppm)", "P", "P2O5", false},
		{"P2 O5", "P", "P2O5", false},
		{"P. 2 O. 5", "P", "P2O5", false},
		{"P205", "P", "P2O5", false},
		{"Phosphate, P2O5", "P", "P2O5", false},
		{"mg/kg P2O5", "P", "P2O5", false},
		{"mg P2O5/100 g", "P", "P2O5", false},
		{"Phosphorus (P)", "P", "", false},
		{"phosphate-P", "P", "", true},
		{"phosphate as P", "P", "", true},
		{"PO4-P", "P", "", true},
		{"PO4 - P", "P", "", true},
		{"PO4–P", "P", "", true},
		{"PO₄³⁻-P", "P", "", true},
		{"P-PO4", "P", "", true},
		{"PO4P", "P", "", true},
		{"PO43-", "P", "PO4", false},
		{"PO4", "P", "PO4", false},
		{"PO4-P (as P2O5)", "P", "P2O5", true},
		{"phosphate", "K", "", false},
		{"potash", "K", "K2O", false},
		{"P no. 2", "P", "", false},
		{"% P2O5", "base_sat_K", "", false},
	} {
		st := stated(c.text, c.analyte, words{})
		if got := strings.Join(st.forms, " "); got != c.forms || st.element != c.element {
			t.Errorf("%q for %s: forms %q, element %v", c.text, c.analyte, got, st.element)
		}
	}
}

// An acre-inch is 3630 cubic feet by definition (NIST Handbook 44, appendix C,
// of which the foot of 0.3048 m and the pound of 0.45359237 kg are from
// memory), and an acre furrow slice of 2,000,000 lb to 6 2/3 inches is of soil
// of 1.32 g/cm3 (common practice, no source).
func TestAcreInch(t *testing.T) {
	foot := big.NewRat(3048, 1000)                                 // in decimetres
	litres := new(big.Rat).Mul(foot, new(big.Rat).Mul(foot, foot)) // of a cubic foot
	pounds := litres.Quo(litres.Mul(litres, big.NewRat(3630, 1)), big.NewRat(45359237, 100_000_000))
	if pounds.Cmp(AcreInch()) != 0 {
		t.Errorf("an acre-inch of water weighs %s lb, not %s", AcreInch().FloatString(3), pounds.FloatString(3))
	}
	slice := new(big.Rat).Quo(big.NewRat(2_000_000, 1), new(big.Rat).Mul(big.NewRat(20, 3), AcreInch()))
	if got := slice.FloatString(2); got != "1.32" {
		t.Errorf("a furrow slice has a density of %s", got)
	}
}
