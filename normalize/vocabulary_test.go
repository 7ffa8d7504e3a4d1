package normalize

import (
	"slices"
	"testing"

	"example.org/windrow/mappings"
)

func TestVocabularyResolves(t *testing.T) {
	v := Vocabulary()
	for _, c := range []struct {
		kind     mappings.WordKind
		text, id string
	}{
		{mappings.UnitWord, "ppm", "mg/kg"}, {mappings.UnitWord, "mg kg-1", "mg/kg"}, {mappings.UnitWord, "mg kg⁻¹", "mg/kg"}, {mappings.UnitWord, "µg/g", "mg/kg"}, {mappings.UnitWord, "ug/g", "mg/kg"},
		{mappings.UnitWord, "ppb", "ug/kg"}, {mappings.UnitWord, "lb/acre", "lb/acre"}, {mappings.UnitWord, "lb/ac", "lb/acre"}, {mappings.UnitWord, "lbs/A", "lb/acre"}, {mappings.UnitWord, "lb/A", "lb/acre"},
		{mappings.UnitWord, "#/acre", "lb/acre"}, {mappings.UnitWord, "Pounds per Acre", "lb/acre"}, {mappings.UnitWord, "lb/1000 sq ft", "lb/1000ft2"}, {mappings.UnitWord, "lb/1,000 sq. ft.", "lb/1000ft2"},
		{mappings.UnitWord, "lbs/M", "lb/1000ft2"}, {mappings.UnitWord, "mg/100 cm3", "mg/100cm3"}, {mappings.UnitWord, "meq/100g", "cmol(+)/kg"}, {mappings.UnitWord, "me/100 g", "cmol(+)/kg"},
		{mappings.UnitWord, "meq/100 cm3", "cmol(+)/dm3"}, {mappings.UnitWord, "cmolc/kg", "cmol(+)/kg"}, {mappings.UnitWord, "mmol(c)/kg", "mmol(+)/kg"}, {mappings.UnitWord, "mmhos/cm", "dS/m"},
		{mappings.UnitWord, "uS/cm", "uS/cm"}, {mappings.UnitWord, "mS/m", "mS/m"}, {mappings.UnitWord, "mS/cm", "dS/m"}, {mappings.UnitWord, "kg/dm3", "g/cm3"}, {mappings.UnitWord, "g/mL", "g/cm3"},
		{mappings.UnitWord, "Mg/m3", "g/cm3"}, {mappings.UnitWord, "meq/L", "meq/L"}, {mappings.UnitWord, "ton/acre", "ton/acre"}, {mappings.UnitWord, "Mg/ha", "t/ha"}, {mappings.UnitWord, "percent", "%"},
		{mappings.MethodWord, "Mehlich III (ICP)", "mehlich-3-icp"}, {mappings.MethodWord, "Modified Morgan", "modified-morgan"}, {mappings.MethodWord, "Morgan", "morgan"}, {mappings.MethodWord, "NH4OAc", "ammonium-acetate"},
		{mappings.MethodWord, "Sat. paste", "saturated-paste"}, {mappings.MethodWord, "SMP", "smp-buffer"},
		{mappings.AnalyteWord, "Phosphorus", "P"}, {mappings.AnalyteWord, "Buf. pH", "buffer_pH"}, {mappings.AnalyteWord, "score: Soil Health", "score:soil-health"}, {mappings.AnalyteWord, "H + Al", "acidity"},
		{mappings.BasisWord, "P2O5", "P2O5"}, {mappings.BasisWord, "potash", "K2O"}, {mappings.BasisWord, "P", "P"}, {mappings.BasisWord, "NO3-N", "NO3-N"}, {mappings.BasisWord, "not stated", UnstatedBasis},
		{mappings.LandUseWord, "Vegetables", "vegetable garden"}, {mappings.LandUseWord, "Corn", "field corn"}, {mappings.LandUseWord, "Blueberries", "blueberry"},
		{mappings.RatingWord, "VL", "very low"}, {mappings.RatingWord, "Above Optimum", "high"}, {mappings.RatingWord, "Too acid", "too acid"},
	} {
		if id, ok := v.Resolve(c.kind, c.text); !ok || id != c.id {
			t.Errorf("%s %q: %q %v, want %q", c.kind, c.text, id, ok, c.id)
		}
	}
	// cmol/kg may be moles of element or of charge: it is a unit of its own.
	if id, ok := v.Resolve(mappings.UnitWord, "cmol/kg"); !ok || id != "cmol/kg" {
		t.Errorf("cmol/kg was taken for %q, %v", id, ok)
	}
	// What would be a guess is not known: mg/m3 is no density, an oxide's name
	// is no analyte.
	for _, c := range []struct {
		kind mappings.WordKind
		text string
	}{{mappings.UnitWord, "mg/m3"}, {mappings.UnitWord, ""}, {mappings.AnalyteWord, "P2O5"}, {mappings.AnalyteWord, "potash"}, {mappings.AnalyteWord, "score:"}, {mappings.BasisWord, "P3O9"},
		{mappings.MethodWord, "Mehlich"[:4]}, {mappings.LandUseWord, "moon base"}, {mappings.RatingWord, "so-so"}, {"colour", "red"}} {
		if id, ok := v.Resolve(c.kind, c.text); ok {
			t.Errorf("%s %q was taken for %q", c.kind, c.text, id)
		}
	}
}

func TestVocabularySuggests(t *testing.T) {
	v := Vocabulary()
	for _, c := range []struct {
		kind       mappings.WordKind
		text, want string
	}{{mappings.UnitWord, "lb/arce", "lb/acre"}, {mappings.UnitWord, "mg/gk", "mg/kg"}, {mappings.AnalyteWord, "phosphorous", "phosphorus"}, {mappings.MethodWord, "Melich-3 (ICP)", "Mehlich-3 (ICP)"},
		{mappings.LandUseWord, "vegtable garden", "vegetable garden"}, {mappings.BasisWord, "P205", "P2O5"}, {mappings.RatingWord, "vrey low", "very low"}} {
		near := v.Near(c.kind, c.text)
		if !slices.Contains(near, c.want) {
			t.Errorf("%s %q: near are %q, want %q among them", c.kind, c.text, near, c.want)
		}
		if len(near) > 5 || !slices.Equal(near, v.Near(c.kind, c.text)) {
			t.Errorf("%s %q: %d suggestions, or not the same twice", c.kind, c.text, len(near))
		}
	}
	if near := v.Near(mappings.LandUseWord, "qqqqqqqqqqqq"); len(near) != 0 {
		t.Errorf("suggested %q for nonsense", near)
	}
}

// The words of the laboratories' families must survive in our method names,
// or nobody could tell the methods apart in the plain results table.
func TestMethodNamesKeepTheirFamily(t *testing.T) {
	for id, want := range map[string]string{"mehlich-3-icp": "Mehlich-3 (ICP)", "mehlich-1-icp": "Mehlich-1 (ICP)", "mehlich-3-colorimetric": "Mehlich-3 (colorimetric)", "bray-p1": "Bray-P1", "bray-p2": "Bray-P2", "olsen": "Olsen",
		"morgan": "Morgan", "modified-morgan": "modified Morgan", "ammonium-acetate": "1 M ammonium acetate pH 7", "dtpa": "DTPA", "ab-dtpa": "AB-DTPA", "hot-water": "hot water", "kcl-2m": "2 M KCl",
		"ph-water-1-1": "1:1 soil:water", "ph-water-1-2": "1:2 soil:water", "ph-cacl2": "0.01 M CaCl2", "saturated-paste": "saturated paste", "mehlich-buffer": "Mehlich buffer", "smp-buffer": "SMP buffer",
		"sikora-buffer": "Sikora buffer", "adams-evans-buffer": "Adams-Evans buffer", "woodruff-buffer": "Woodruff buffer", "modified-mehlich-buffer": "modified Mehlich buffer", "loi": "Loss on ignition",
		"walkley-black": "Walkley-Black", "summation": "by summation", "from-cec": "calculated from CEC", "hydrometer": "hydrometer", "calcium-phosphate": "monocalcium phosphate",
		"total-digestion": "Total (EPA 3050-type digestion)", "mehlich-3-screen": "Mehlich-3 screen"} {
		got := ""
		if r := built(t, mappings.Reading{Analyte: "P", Number: "1", Unit: "mg/kg", Method: id}, ""); r != nil {
			got = r.MethodName
		}
		if got != want {
			t.Errorf("%s is named %q, want %q", id, got, want)
		}
	}
}
