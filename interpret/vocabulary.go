package interpret

import "slices"

// The ids of normalize/method that a rule file may name; anything else in one
// is a slip. A test compares the list with the method table.
var methodIDs = []string{
	"mehlich-3-icp", "mehlich-3-colorimetric", "mehlich-3-aa", "mehlich-3", "mehlich-3-screen",
	"mehlich-2", "mehlich-1-icp", "mehlich-1-colorimetric", "mehlich-1", "bray-p1", "bray-p2",
	"olsen", "colwell", "morgan", "modified-morgan", "modified-morgan-screen", "ammonium-acetate",
	"ammonium-acetate-8", "dtpa", "ab-dtpa", "hcl-0.1", "edta", "hot-water", "kcl-2m", "kcl-1m",
	"nitrate-electrode", "cadmium-reduction", "calcium-phosphate", "kcl-40", "lactate-cal",
	"lactate-dl", "lactate-al", "water-extract", "h3a", "resin", "cacl2-extract", "ammonium-oxalate",
	"total-digestion", "total-digestion-3051", "aqua-regia", "xrf", "ph-water-1-1", "ph-water-1-2",
	"ph-water-1-2.5", "ph-water-1-5", "ph-water", "ph-cacl2", "ph-cacl2-1-1", "ph-cacl2-1-2",
	"ph-cacl2-1-5", "ph-kcl", "saturated-paste", "mehlich-buffer", "modified-mehlich-buffer",
	"smp-buffer", "sikora-buffer", "moore-sikora-buffer", "adams-evans-buffer", "woodruff-buffer",
	"bacl2-tea", "loi", "loi-360", "loi-550", "walkley-black", "humic-matter", "combustion",
	"kjeldahl", "summation", "from-cec", "calculated-sar", "hydrometer", "pipette", "laser",
	"texture-feel", "scoop-weight", "bulk-density-core", "oven-dry", "fertility-index",
}

func knownMethods() []string { return methodIDs }

// Analytes that a rating table may be about, with the unit that the record
// gives each in.
var unitOfAnalyte = map[string]string{
	"P": "mg/kg", "K": "mg/kg", "Ca": "mg/kg", "Mg": "mg/kg", "S": "mg/kg", "Na": "mg/kg",
	"B": "mg/kg", "Zn": "mg/kg", "Mn": "mg/kg", "Cu": "mg/kg", "Fe": "mg/kg", "Al": "mg/kg",
	"NO3-N": "mg/kg", "Pb": "mg/kg", "As": "mg/kg", "Cd": "mg/kg", "OM": "%", "EC": "dS/m", "pH": "pH",
	"buffer_pH": "pH", "acidity": "cmol(+)/kg", "CEC": "cmol(+)/kg",
}

// Classes from the lowest: the words that ratings are told in, whatever word
// a publication uses.
const (
	VeryLow   = "very low"
	Low       = "low"
	Medium    = "medium"
	Optimum   = "optimum"
	High      = "above optimum"
	Excessive = "excessive"
)

var classOrder = []string{VeryLow, Low, Medium, Optimum, High, Excessive}

// rank is the place of a class from 0, or -1 for none of ours.
func rank(class string) int { return slices.Index(classOrder, class) }

// Nutrients that amounts are given of.
var knownNutrients = []string{"N", "P2O5", "K2O", "Mg", "Zn"}

// soilNames are the names of the texture classes by their usual letters (USDA
// Soil Survey Manual, texture classes; from memory).
var soilNames = map[string]string{"s": "sand", "ls": "loamy sand", "sl": "sandy loam", "l": "loam", "sil": "silt loam", "si": "silt", "scl": "sandy clay loam",
	"cl": "clay loam", "sicl": "silty clay loam", "sc": "sandy clay", "sic": "silty clay", "c": "clay"}

// soilName is a texture in words, as far as it is known.
func soilName(texture string) string {
	if n, ok := soilNames[fold(texture)]; ok {
		return n
	}
	return texture
}
