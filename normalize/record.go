package normalize

import (
	"strconv"
	"strings"

	"example.org/windrow/ingest"
	"example.org/windrow/mappings"
)

// SchemaVersion is the version of the record format that this code writes.
const SchemaVersion = "windrow-report/1"

// A Decimal is a number as plain decimal digits, such as 6.50 or -0.4. Empty
// means there is no number. A printed number has exactly its printed digits; a
// converted one has guard digits beyond them (see unit.Digits), so how many
// digits are significant is for the printed number to say.
type Decimal string

// A Report is what the archive keeps of one report: who made it, how it was
// read, and a record for each sample.
type Report struct {
	Schema  string           `json:"schema"`
	ID      string           `json:"id"` // of the report: "R" and 16 hex digits of a hash of source, member and schema; stable for the same bytes
	Status  Status           `json:"status"`
	Lab     Lab              `json:"lab"`
	Number  string           `json:"report_no,omitempty"`
	Source  ingest.SourceRef `json:"source"`
	Mapping MappingRef       `json:"mapping"`
	Version string           `json:"software"` // version of Windrow
	Tables  string           `json:"tables"`   // hash of the unit, method and check tables used
	Office  string           `json:"office,omitempty"`
	Records []*Record        `json:"records"`
	Reasons []*ingest.Reason `json:"reasons,omitempty"` // about the report as a whole
}

// A Status is the outcome for a report, a record or a result.
type Status string

// The outcomes, from best to worst.
const (
	OK      Status = "ok"
	Flagged Status = "flagged"
	Held    Status = "held"
)

// A Lab is the laboratory that made a report.
type Lab struct {
	ID   string `json:"id"`
	Name string `json:"name"`
}

// A MappingRef names the mapping that read the report, and its exact bytes.
type MappingRef struct {
	ID     string `json:"id"`
	Layout string `json:"layout"`
	File   string `json:"file"`
	SHA256 string `json:"sha256"`
}

// A Record is all results of one sample in one report.
type Record struct {
	ID      string       `json:"id"` // the report's id, a hyphen and the sample's ordinal from 1, such as R0123456789abcdef-3
	Status  Status       `json:"status"`
	Sample  Sample       `json:"sample"`
	Client  *Client      `json:"client,omitempty"`
	Results []*Result    `json:"results"`
	Checks  []Finding    `json:"checks"` // what the checks found about the record as a whole
	Place   ingest.Place `json:"place,omitzero"`
}

// A Sample is what is known of the soil that was tested, without its owner.
type Sample struct {
	LabID        string   `json:"lab_sample_id"`
	ClientLabel  string   `json:"client_sample_id,omitempty"`
	County       string   `json:"county,omitempty"`
	Sampled      string   `json:"date_sampled,omitempty"` // YYYY-MM-DD
	Received     string   `json:"date_received,omitempty"`
	Reported     string   `json:"date_reported,omitempty"`
	LandUse      string   `json:"land_use,omitempty"`         // in our words where the mapping or vocabulary knows the lab's word
	LandUseText  string   `json:"land_use_printed,omitempty"` // as printed
	DepthIn      Decimal  `json:"depth_in,omitempty"`         // depth in inches at which the layer ends that was sampled
	DepthTopIn   Decimal  `json:"depth_top_in,omitempty"`     // at which it begins; "" where that is the surface, or not known
	DepthText    string   `json:"depth_printed,omitempty"`
	DepthSource  string   `json:"depth_source,omitempty"`  // "report" or "mapping"
	DefaultsUsed []string `json:"defaults_used,omitempty"` // fields that came from the folder's settings, or from the office's register, and not from the report
	// Register is the row of the office's register that a default came from;
	// nil where none did.
	Register *RegisterRef `json:"register,omitempty"`
}

// Layer is the layer of soil in inches, such as 6, or 6-24 for one that begins
// below the surface; "" where no depth is known.
func (s Sample) Layer() string {
	if s.DepthTopIn == "" {
		return string(s.DepthIn)
	}
	return string(s.DepthTopIn) + "-" + string(s.DepthIn)
}

// LayerCm is where the layer begins and ends in centimetres; 0 and 0 where no
// depth is known.
func (s Sample) LayerCm() (top, bottom float64) {
	bottom, err := strconv.ParseFloat(string(s.DepthIn), 64)
	if err != nil {
		return 0, 0
	}
	if s.DepthTopIn != "" {
		if top, err = strconv.ParseFloat(string(s.DepthTopIn), 64); err != nil {
			return 0, 0
		}
	}
	return top * 2.54, bottom * 2.54
}

// A RegisterRef names a row of the office's register, and how sure it is that
// it is about the sample. Nothing else of the register is in a record.
type RegisterRef struct {
	Row        string `json:"row"`        // "G" and ten hex digits, and an ordinal where rows are alike
	Confidence string `json:"confidence"` // "exact" or "likely"
}

// A Client is personal data, apart from everything else so that it can be
// erased.
type Client struct {
	Name    string `json:"name,omitempty"`
	Address string `json:"address,omitempty"`
	Email   string `json:"email,omitempty"`
	Phone   string `json:"phone,omitempty"`
}

// A Result is one reading on the common schema.
type Result struct {
	Analyte    string    `json:"analyte"`
	Detail     string    `json:"detail,omitempty"`
	Method     string    `json:"method"`      // id, "" when not stated
	MethodName string    `json:"method_name"` // as the trade calls it; "not stated" when not stated
	Basis      string    `json:"basis"`       // what the printed number was expressed as: the analyte's own symbol, an oxide, "index", ...
	Status     Status    `json:"status"`
	Printed    Printed   `json:"printed"`
	Censored   string    `json:"censored,omitempty"`   // "<" or ">": Value is a limit
	Missing    string    `json:"missing,omitempty"`    // the printed word for no value
	Value      Decimal   `json:"value,omitempty"`      // in Unit
	Unit       string    `json:"unit"`                 // mg/kg, %, pH, dS/m, cmol(+)/kg, index, class, g/cm3, meq/L
	UCUM       string    `json:"ucum,omitempty"`       // the unit as a UCUM code
	Class      string    `json:"class,omitempty"`      // a value in words (texture)
	Volumetric *Quantity `json:"volumetric,omitempty"` // per volume of scooped soil, in mg/dm3, where that was printed
	Forms      Forms     `json:"forms"`
	Why        string    `json:"not_converted,omitempty"` // why Value is empty although a number was printed
	Steps      []Step    `json:"steps"`                   // from the printed number to Value, in order
	FormSteps  []Step    `json:"form_steps,omitempty"`    // from Value to each of Forms
	Findings   []Finding `json:"findings,omitempty"`
	// Restates says that the report prints this test of the sample in another
	// unit or basis as well, and that the other result is the one that counts:
	// see [Record.Once].
	Restates bool `json:"restates,omitempty"`
	// Estimates are what other methods would find, by published equations:
	// beside Value, never in its place.
	Estimates []Estimate `json:"estimates,omitempty"`
}

// Form is the oxide or ion that the printed amount is of, such as P2O5, and ""
// where it is of the analyte itself, as Value always is.
func (r *Result) Form() string {
	for _, s := range r.Steps {
		if strings.HasPrefix(s.Rule, "basis/") {
			return r.Basis
		}
	}
	return ""
}

// Printed is what stood on the page.
type Printed struct {
	Text   string       `json:"text"`
	Number Decimal      `json:"number,omitempty"`
	Unit   string       `json:"unit"`             // as printed, "" when none
	Method string       `json:"method,omitempty"` // the method or extract as printed beside the result; "" when none is, and in records of earlier versions
	UnitID string       `json:"unit_id"`          // in our table
	Rating string       `json:"rating,omitempty"`
	Class  string       `json:"rating_class,omitempty"` // the lab's word in our classes
	Index  string       `json:"index,omitempty"`
	Mark   string       `json:"mark,omitempty"`
	OCR    *ingest.OCR  `json:"ocr,omitempty"` // how it was read from a picture; nil for text
	Place  ingest.Place `json:"place"`
	// Label is the heading or label under which the value is printed; results
	// of one column share one. Records of earlier versions have none.
	Label *mappings.PrintedLabel `json:"label,omitempty"`
	// SignPlace is where the < or > of a limit stands, where that is apart from
	// the number; the sign itself is the result's Censored.
	SignPlace ingest.Place `json:"sign_place,omitzero"`
	Rule      ingest.Place `json:"rule,omitzero"` // line of the mapping
}

// A Quantity is a number with its unit.
type Quantity struct {
	Value Decimal `json:"value"`
	Unit  string  `json:"unit"`
}

// Forms are the same value in the units that people ask for. A form is nil
// where it would rest on something that neither report nor mapping states.
type Forms struct {
	PPM  *Quantity `json:"ppm,omitempty"`
	LbAc *AreaForm `json:"lb_per_acre,omitempty"`
	NoLb string    `json:"lb_per_acre_not,omitempty"` // why there is no lb/acre form
	// Index is the place on the published scale that the mapping names; nil
	// where it names none.
	Index *IndexForm `json:"index,omitempty"`
}

// An IndexForm is a value on a published scale of index or class: the index
// of a measured amount, or the amounts that a printed index stands for.
type IndexForm struct {
	Scale  string  `json:"scale"`           // id of the scale
	Index  string  `json:"index,omitempty"` // as the publication writes it; "" where the amount has none
	Low    Decimal `json:"low,omitempty"`   // least amount of the class, in Unit
	High   Decimal `json:"high,omitempty"`  // most; "" for no limit
	Unit   string  `json:"unit"`
	Source string  `json:"source"`              // key in the bibliography
	Not    string  `json:"not_given,omitempty"` // why there is no index
}

// An AreaForm is an amount per area, with the soil it stands for.
type AreaForm struct {
	Value   Decimal `json:"value"`
	DepthIn Decimal `json:"depth_in"`
	SoilLb  Decimal `json:"soil_lb_per_acre"` // pounds of soil per acre to that depth
	Source  string  `json:"source"`           // "report", "mapping" or "convention"
}

// A Step is one link of a result's lineage. Steps are recomputable by hand:
// To = From x Factor + Offset, or To = Equation with the named inputs.
type Step struct {
	Rule     string    `json:"rule"` // stable id of the conversion, such as unit/lb-acre-to-mg-kg
	What     string    `json:"what"` // in words
	From     Quantity  `json:"from"`
	Factor   string    `json:"factor,omitempty"`   // exact rational such as 1/2 or 0.4364, applied by multiplication
	Equation string    `json:"equation,omitempty"` // where a factor is not enough; x is From
	Inputs   []Input   `json:"inputs,omitempty"`   // depth, density, soil mass used
	To       Quantity  `json:"to"`
	Source   string    `json:"source"` // key in the bibliography; never empty
	Exact    bool      `json:"exact"`
	Interval *Interval `json:"interval,omitempty"` // set for an estimate
}

// An Input is a value that a step needed besides the number.
type Input struct {
	Name   string  `json:"name"`
	Value  Decimal `json:"value"`
	Unit   string  `json:"unit"`
	Origin string  `json:"origin"` // "report", "mapping", "definition"
	// Rule is the line of the mapping that states it; nil where the origin is
	// another, and in records of earlier versions.
	Rule *ingest.Place `json:"rule,omitempty"`
}

// An Interval is the range of an estimate, with what it was made of, so that
// it can be made again: both bounds are rounded outwards to the digits of the
// estimate, and none is below zero. Records of earlier versions lack Kind and
// what follows it.
type Interval struct {
	Low     Decimal `json:"low"`
	High    Decimal `json:"high"`
	Percent int     `json:"percent"` // of values expected inside
	// Kind is rmse (y ± Times × Error), log10 (y × and ÷ 10^(Times × Error)), or
	// ratio (x × LeastRatio and x × MostRatio), for an estimate y of x.
	Kind       string  `json:"kind,omitempty"`
	Error      Decimal `json:"error,omitempty"`
	Times      Decimal `json:"times,omitempty"`
	LeastRatio Decimal `json:"least_ratio,omitempty"`
	MostRatio  Decimal `json:"most_ratio,omitempty"`
}

// An Estimate is what one published equation says that another method would
// find. Where several equations say different things each has its own. Outside
// the domain of its equation it has no value and no step: it is there for an
// audit, which lists where an equation was asked beyond its domain.
type Estimate struct {
	Analyte    string    `json:"analyte"` // what is estimated: another one than measured where organic matter gives carbon, or a buffer pH acidity
	Method     string    `json:"method"`  // id of the method whose outcome it estimates
	Value      Decimal   `json:"value,omitempty"`
	Unit       string    `json:"unit"`
	Interval   *Interval `json:"interval,omitempty"`
	NoInterval string    `json:"no_interval,omitempty"` // why there is none
	Equation   string    `json:"equation"`              // id in the table of conversions, such as F001
	InDomain   string    `json:"in_domain"`             // inside, outside, unknown
	Outside    []string  `json:"outside,omitempty"`     // conditions of the domain that fail, each with what was found
	Unknown    []string  `json:"unknown,omitempty"`     // conditions that nothing tells of
	Verdict    string    `json:"verdict"`               // exact, equal, an equation with limits, estimate only; says nothing of the sample, as InDomain does
	Steps      []Step    `json:"steps"`                 // from Value of the result to this value
	Source     string    `json:"source"`                // key in the bibliography
	Provenance string    `json:"provenance"`            // seen, computed
}

// A Finding is what a check found.
type Finding struct {
	Check    string          `json:"check"`    // stable code, such as saturations-sum
	Severity ingest.Severity `json:"severity"` // note, flag or hold
	What     string          `json:"what"`     // one sentence for a clerk
	Expected string          `json:"expected,omitempty"`
	Found    string          `json:"found,omitempty"`
	Source   string          `json:"source"` // key in the bibliography
}
