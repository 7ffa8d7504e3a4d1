package dataset

// A Column is a column of results.csv.
type Column struct {
	Name  string `json:"name"`
	Type  string `json:"type"`  // text, number, integer, code
	Group string `json:"group"` // where, measured, printed, derived, quality
	About string `json:"about"`
}

// The positions of the columns that code speaks of.
const (
	colSample = iota
	colReport
	colLab
	colCounty
	colLandUse
	colPeriod
	colDepth
	colAnalyte
	colDetail
	colMethod
	colMethodName
	colValue
	colUnit
	colUCUM
	colValueIs
	colCensored
	colMissing
	colClass
	colVolume
	colVolumeUnit
	colPrinted
	colPrintedNumber
	colPrintedUnit
	colBasis
	colRating
	colRatingClass
	colIndex
	colArea
	colAreaDepth
	colAreaSoil
	colAreaSource
	colConversion
	colSources
	colStatus
	colFindings
	colWithheld
	numColumns
)

// Columns are the columns of results.csv, in order.
func Columns() []Column { return append([]Column(nil), columns[:]...) }

var columns = [numColumns]Column{
	colSample: {"sample", "code", "where", "Stands for one soil sample: 20 hexadecimal digits made from laboratory, report and sample number with the office's secret key (HMAC-SHA-256). Rows with the same code are of one sample. It can't be turned back without the key."},
	colReport: {"report", "integer", "where", "Which report of the sample the row is from: 1, or 2 and so on where the laboratory reported the sample again under the same numbers. Don't count such a sample twice. It says nothing of which samples were reported together."},
	colLab:    {"lab", "code", "where", "The laboratory that made the analysis. suppressed: withheld, so that nobody is singled out; see disclosure.md."},
	colCounty: {"county", "text", "where", "County that the sample came from, as reported or as set for the office's folder. Empty: not known. suppressed: withheld."},
	colLandUse: {"land_use", "code", "where",
		"What grows or is to grow there, in Windrow's words; or the class of such uses, with (class) behind it. Empty: not known, or said in words that no mapping knows. suppressed: withheld."},
	colPeriod:     {"period", "code", "where", "When the sample was taken: the month, YYYY-MM, the quarter, such as 2026-Q2, or the year. Empty: not reported. suppressed: withheld. The day is left out on purpose."},
	colDepth:      {"depth_in", "number", "where", "Depth of sampling in inches (UCUM [in_i]). Empty: neither report nor mapping states it. suppressed: withheld."},
	colAnalyte:    {"analyte", "code", "measured", "What was determined: an element's symbol stands for the element (P, not P2O5)."},
	colDetail:     {"detail", "text", "measured", "Tells two tests of one analyte apart, such as pH in water and in calcium chloride."},
	colMethod:     {"method", "code", "measured", "Method of extraction or determination. Empty: not stated. Values by different methods are not comparable."},
	colMethodName: {"method_name", "text", "measured", "The method as the trade calls it."},
	colValue: {"value", "number", "measured",
		"The measured value, in unit. Its own method's; never an estimate for another method. A converted value may have more digits than were measured: printed_number has the digits that were."},
	colUnit: {"unit", "code", "measured", "Unit of value: mg/kg for nutrients and metals, cmol(+)/kg for exchange capacity and acidity, % for organic matter and saturations, dS/m for salts. index and class are no amounts."},
	colUCUM: {"ucum", "code", "measured", "The unit as a code of the Unified Code for Units of Measure. Empty: the unit is none (an index or class)."},
	colValueIs: {"value_is", "code", "measured",
		"printed: value is the printed number itself. converted: value was worked out from it, exactly, as conversion says. estimated: a step of it is not exact. rounded: either, rounded to three significant digits, or to the places that all laboratories of its group give but not to fewer than two digits, and a limit to the widest of its group, since print is withheld. Empty: there is no value; see missing."},
	colCensored:      {"censored", "code", "measured", "< : the true value is below value (a limit of detection or reporting). > : above it. Empty: value is the value."},
	colMissing:       {"missing", "code", "measured", "Why there is no value. not-measured: the report says so. not-converted: a number was printed that can't be put in the common unit without assuming something; see volume_value, printed_number, printed_unit. words: the result is a class; see class. none-printed: nothing was printed."},
	colClass:         {"class", "text", "measured", "A result in words, such as a texture class."},
	colVolume:        {"volume_value", "number", "measured", "The amount per volume of scooped soil, where the laboratory measures by volume."},
	colVolumeUnit:    {"volume_unit", "code", "measured", "Unit of volume_value; also its UCUM code."},
	colPrinted:       {"printed_text", "text", "printed", "The result exactly as it stands in the report."},
	colPrintedNumber: {"printed_number", "number", "printed", "The number in it; its digits are the ones the laboratory gave."},
	colPrintedUnit:   {"printed_unit", "text", "printed", "The unit as it stands in the report. Empty: none is printed."},
	colBasis:         {"printed_basis", "code", "printed", "What the printed number was expressed as: the element, an oxide such as P2O5, an index."},
	colRating:        {"printed_rating", "text", "printed", "The laboratory's own word for the level. Ratings of two laboratories are not comparable."},
	colRatingClass:   {"printed_rating_class", "code", "printed", "That word in Windrow's classes, where the laboratory's mapping says which."},
	colIndex:         {"printed_index", "text", "printed", "An index printed beside the value."},
	colArea:          {"lb_per_acre", "number", "derived", "Worked out from value: pounds per acre (UCUM [lb_av]/[acr_us]) to the depth and for the weight of soil of the next columns. Not measured. Empty: depth or weight of soil is not known."},
	colAreaDepth:     {"lb_per_acre_depth_in", "number", "derived", "Depth in inches that lb_per_acre stands for."},
	colAreaSoil:      {"lb_per_acre_soil_lb", "number", "derived", "Pounds of soil in an acre to that depth."},
	colAreaSource:    {"lb_per_acre_basis", "code", "derived", "Where that weight of soil comes from: report, mapping or convention."},
	colConversion:    {"conversion", "code", "quality", "The steps from printed_number to value, in order, divided by semicolons. Empty: none was needed."},
	colSources:       {"conversion_source", "code", "quality", "The source of each of those steps, in the same order; the codebook lists them."},
	colStatus:        {"status", "code", "quality", "ok, or flagged: a check found something that a person should know; the value stands."},
	colFindings:      {"findings", "code", "quality", "What the checks found about the result, its sample or its report, divided by semicolons. What was found of the sample or report as a whole is left out where not every sample of its group has it."},
	colWithheld:      {"withheld", "code", "quality", "print: the columns volume_value to printed_index, lb_per_acre to lb_per_acre_basis, conversion, conversion_source and findings are empty, and value has at most three significant digits, since they would give away the laboratory or the depth. Empty: nothing of the row is withheld but what says suppressed."},
}
