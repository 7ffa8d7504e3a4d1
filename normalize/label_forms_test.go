package normalize_test

import (
	"strings"
	"testing"

	"example.org/windrow/mappings"
	"example.org/windrow/normalize"
)

// decodeTest decodes a mapping of one test, and gives what is said of it.
func decodeTest(t *testing.T, test string) string {
	t.Helper()
	m, reasons := mappings.Decode("x.yaml", []byte(`windrow mapping: 1
lab: Test Laboratory
id: test
recognise: [LAB]
dates: YYYY-MM-DD
tests:
  `+test+`
layouts:
  - name: letter
    format: pdf
    one sample each: page
    sample: [{after: "No.", reads: lab_sample_id}]
    sentences: [{text: "The number is {result}.", test: T}]
`), normalize.Vocabulary())
	if m != nil {
		return ""
	}
	var out []string
	for _, r := range reasons {
		out = append(out, r.Error())
	}
	return strings.Join(out, "\n")
}

// Labels of an oxide or ion must say which of the two their numbers are of;
// labels of the element need not. The labels are those that laboratories
// print; common practice, no source. What the forms are worth is in the table
// of bases, from the atomic weights.
func TestLabelsOfOxidesNeedTheirBasis(t *testing.T) {
	for _, c := range []struct{ analyte, element, form, labels string }{
		{"P", "P", "P2O5", "P2O5|p2o5|P₂O₅|P2 O5|P.2O5|P205|Phosphate|phosphate (Olsen)|Available phosphate|Phosphoric acid|available phosphoric acid|Phosphorus (P2O5)|P as P2O5|P (as phosphate)|Phosphate (P)"},
		{"P", "P", "PO4", "PO4|PO₄|PO₄³⁻|PO43-|orthophosphate|P as PO4"},
		{"K", "K", "K2O", "K2O|K₂O|k2o|K 2 O|Potash|potash (K2O)|POTASH|Exchangeable potash|K20"},
		{"Ca", "Ca", "CaO", "CaO|cao|lime (CaO)|Calcium oxide|Calcium (CaO)"},
		{"Ca", "Ca", "CaCO3", "CaCO3|calcium carbonate"},
		{"Mg", "Mg", "MgO", "MgO|Magnesium oxide|Magnesium, as MgO"},
		{"Na", "Na", "Na2O", "Na2O"},
		{"S", "S", "SO4", "SO4|Sulfate|Sulphate|SO₄²⁻|Sulfur as SO4|Sulfate (S)"},
		{"S", "S", "SO3", "SO3"},
		{"NO3-N", "N", "NO3", "NO3|Nitrate|NO₃⁻|Nitrate (NO3)|nitrate, ppm|NO3-"},
		{"NH4-N", "N", "NH4", "NH4|Ammonium|NH4+|NH₄⁺"},
		{"B", "B", "B2O3", "B2O3"},
		{"Mn", "Mn", "MnO", "MnO"},
		{"Fe", "Fe", "Fe2O3", "Fe2O3"},
		{"Zn", "Zn", "ZnO", "ZnO"},
	} {
		for _, l := range strings.Split(c.labels, "|") {
			said := decodeTest(t, `"`+l+`": {analyte: `+c.analyte+`, unit not printed: ppm, also: [T]}`)
			if !strings.Contains(said, "x.yaml:7:3: not read") || !strings.Contains(said, `"`+l+`" names `+c.form+", and nothing says whether the numbers are of "+c.form+" or of "+c.element) ||
				!strings.Contains(said, "expected  basis: "+c.form+", or basis: "+c.element+" where the laboratory's guide says") || !strings.Contains(said, "next  ") {
				t.Errorf("%s for %s: %s", l, c.analyte, said)
			}
			for _, basis := range []string{c.element, c.form, "not stated", "index"} {
				if said := decodeTest(t, `"`+l+`": {analyte: `+c.analyte+`, unit not printed: ppm, also: [T], basis: `+basis+`}`); said != "" {
					t.Errorf("%s with basis %s: %s", l, basis, said)
				}
			}
		}
	}
	for _, c := range []struct{ analyte, labels string }{
		{"P", "P|Phosphorus|Phosphorus (P)|phosphate-P|PO4-P|PO4 - P|PO₄-P|phosphate as P|P-PO4|Phosphate phosphorus|P, Olsen|P, calcium acetate lactate|Bray P|elemental P (not P2O5)"},
		{"K", "K|Potassium|K (ammonium acetate)|K, NH4OAc|Potash as K|K, calcium chloride"},
		{"Ca", "Ca|Calcium|Ca, ammonium acetate|Ca no. 2|Ca (lime test)"},
		{"S", "S|Sulfur|SO4-S|SO4 - S|SO₄-S|SO4S|sulfate-S|Sulfate S|sulphate sulphur|sulfate sulfur|S-SO4|S, monocalcium phosphate|Sulfate-S (SO4)|SO42- - S"},
		{"NO3-N", "NO3-N|NO3 - N|NO3–N|NO₃-N|NO3N|Nitrate-N|nitrate nitrogen|Nitrate Nitrogen (NO3-N)|N-NO3|N (nitrate)|nitrate as N|NO3- - N|Nitrate-N, ammonium chloride|NO3-N, 0-24 in"},
		{"NH4-N", "NH4-N|Ammonium-N|ammonium nitrogen|NH4+-N|NH₄⁺-N|N-NH4"},
		{"TN", "Total N|Kjeldahl N (with nitrate)"},
		{"OM", "Organic matter (NO3)"},
		{"base_sat_K", "% K2O"},
	} {
		for _, l := range strings.Split(c.labels, "|") {
			if said := decodeTest(t, `"`+l+`": {analyte: `+c.analyte+`, unit not printed: "%", also: [T]}`); said != "" {
				t.Errorf("%s for %s: %s", l, c.analyte, said)
			}
		}
	}
}

// A unit that names an oxide denies a test of the element, whatever else the
// mapping says.
func TestUnitsOfOxides(t *testing.T) {
	for _, c := range []struct{ test, said string }{
		{`T: {analyte: P, unit: mg/kg P2O5}`, `"mg/kg P2O5" names P2O5, and nothing says whether`},
		{`T: {analyte: P, basis: P, unit: mg/kg P2O5}`, `"mg/kg P2O5" names P2O5, and the basis of the test is P`},
		{`T: {analyte: P, basis: PO4, unit: mg/kg P2O5}`, `"mg/kg P2O5" names P2O5, and the basis of the test is PO4`},
	} {
		if said := decodeTest(t, c.test); !strings.Contains(said, c.said) {
			t.Errorf("%s: %s", c.test, said)
		}
	}
	if said := decodeTest(t, `T: {analyte: P, basis: P2O5, unit: mg/kg P2O5}`); strings.Contains(said, "names P2O5") {
		t.Error(said)
	}
}
