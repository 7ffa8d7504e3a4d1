package mappings

import (
	"math/big"

	"example.org/windrow/ingest"
)

// A FieldID names something a report says about itself or a sample, other
// than a result.
type FieldID string

// The fields that a mapping can read.
const (
	ReportNo       FieldID = "report_no"
	LabSampleID    FieldID = "lab_sample_id"
	ClientSampleID FieldID = "client_sample_id"
	ClientName     FieldID = "client_name"
	ClientAddress  FieldID = "client_address"
	ClientEmail    FieldID = "client_email"
	ClientPhone    FieldID = "client_phone"
	County         FieldID = "county"
	DateSampled    FieldID = "date_sampled"
	DateReceived   FieldID = "date_received"
	DateReported   FieldID = "date_reported"
	LandUse        FieldID = "land_use"
	Depth          FieldID = "depth"     // to which the layer reaches that was sampled
	DepthTop       FieldID = "depth_top" // at which it begins; no field where that is the surface
)

// A Field is a field as printed and as understood.
type Field struct {
	Printed string       `json:"printed"`
	Value   string       `json:"value"` // dates as YYYY-MM-DD, depth as decimal inches, land use in our words; "" when the report says it is not known
	Place   ingest.Place `json:"place,omitzero"`
	Rule    ingest.Place `json:"rule,omitzero"` // the line of the mapping that read it

	depth *big.Rat // exact depth in inches, of Depth and DepthTop
}

// A Reading is one value as printed, with everything the report and the
// mapping say about it. Nothing has been converted.
type Reading struct {
	Analyte string `json:"analyte"`          // id of the vocabulary, such as P or base_sat_K
	Detail  string `json:"detail,omitempty"` // what tells two tests of one analyte apart, such as water 1:1
	Method  string `json:"method"`           // id of the vocabulary; "" when neither report nor mapping states it
	Basis   string `json:"basis,omitempty"`  // element, oxide or form that the number is expressed as: "" for the analyte itself, or P2O5, K2O, ...
	Per     string `json:"per,omitempty"`    // "volume" when the amount is per volume of scooped soil although the unit does not say so (such as kg/ha from mg/dm3)

	Printed string `json:"printed"`           // the text of the value, as on the page
	Number  string `json:"number,omitempty"`  // the number in it as plain decimal digits, "" when missing; digits are kept, so 6.50 stays 6.50
	Full    string `json:"full,omitempty"`    // the stored number of a sheet cell where it has more digits than are shown
	Censor  string `json:"censor,omitempty"`  // "<" or ">" when the number is a limit
	Missing string `json:"missing,omitempty"` // the printed word for "no value"
	Mark    string `json:"mark,omitempty"`    // a footnote mark on the number
	Words   string `json:"words,omitempty"`   // a value in words (a texture class); Number is then ""

	Unit        string `json:"unit"`         // id of the vocabulary
	PrintedUnit string `json:"printed_unit"` // as on the page, "" when the page prints none
	// PrintedMethod is the method or extract as the report prints it beside this
	// result, "" when it prints none there.
	PrintedMethod string `json:"printed_method,omitempty"`
	Rating        string `json:"rating,omitempty"`
	RatingClass   string `json:"rating_class,omitempty"` // the lab's word in our classes, when the mapping says so
	Band          *Band  `json:"band,omitempty"`         // the numbers that the rating stands for, when the mapping says so
	Index         string `json:"index,omitempty"`        // a printed index beside the value
	Scale         string `json:"scale,omitempty"`        // id of the published scale of index that the mapping names for the test

	OCR    *ingest.OCR      `json:"ocr,omitempty"`    // how it was read, when it stands in a picture
	Doubts []*ingest.Reason `json:"doubts,omitempty"` // what flags this reading alone

	Area *AreaBasis `json:"area,omitempty"` // what a per-area unit stands for; nil when neither report nor mapping states it

	Label *PrintedLabel `json:"label,omitempty"` // the heading or label under which it is printed

	Place     ingest.Place `json:"place"`
	UnitPlace ingest.Place `json:"unit_place,omitzero"`
	SignPlace ingest.Place `json:"sign_place,omitzero"` // of the < or > that makes a limit, where it stands apart from the number
	Rule      ingest.Place `json:"rule"`                // the line of the mapping that read it
}

// An AreaBasis is what a laboratory means by an amount per area: the depth
// of soil, and either the mass of soil per area or that the amount came from
// a volume.
type AreaBasis struct {
	DepthIn   string `json:"depth_in,omitempty"`    // inches, as a decimal or a fraction such as 20/3
	DepthCm   string `json:"depth_cm,omitempty"`    // centimetres; exactly one of the two is set
	LbPerAcre string `json:"lb_per_acre,omitempty"` // pounds of soil per acre to that depth; "" when by volume or by bulk density
	ByVolume  bool   `json:"by_volume,omitempty"`   // amount per volume of scooped soil times depth
	// BulkDensity is that of the soil as it lies, in g/cm3 as a plain decimal:
	// with the depth it gives the weight of soil. "" where the weight is stated.
	BulkDensity string `json:"bulk_density,omitempty"`
	Source      string `json:"source"` // "report" when the page states it, "mapping" when it is the lab's stated practice
	// SoilSource is who states the weight of soil, where that is not who states
	// the depth: a laboratory's weight per inch goes with a report's depth.
	SoilSource string `json:"soil_source,omitempty"`
	// Rule is the line of the mapping that states what the mapping states of
	// it; nil where it states nothing.
	Rule *ingest.Place `json:"rule,omitempty"`
}

// A SampleExtract is one sample of a report.
type SampleExtract struct {
	Fields   map[FieldID]Field `json:"fields"`
	Readings []Reading         `json:"readings"`
	Density  *Reading          `json:"density,omitempty"` // density of the scooped soil, when printed; it is also among the readings
	Place    ingest.Place      `json:"place,omitzero"`    // where the sample begins
}

// An Extract is all that a mapping read from one document.
type Extract struct {
	Source  ingest.SourceRef `json:"source"`
	Mapping Ref              `json:"mapping"`
	Samples []*SampleExtract `json:"samples"`
	Reasons []*ingest.Reason `json:"reasons,omitempty"` // any with severity hold holds the whole report
	Marks   []Mark           `json:"marks,omitempty"`   // every number of the document and what became of it
}

// Held reports whether a reason holds the report.
func (e *Extract) Held() bool {
	for _, r := range e.Reasons {
		if r.Severity == ingest.Hold || r.Severity == ingest.Fail {
			return true
		}
	}
	return false
}

// A Ref names the mapping and the layout that read a report.
type Ref struct {
	Lab    string `json:"lab"`    // name of the laboratory
	ID     string `json:"id"`     // of the mapping
	Layout string `json:"layout"` // of the layout in it
	File   string `json:"file"`   // base name of the mapping file
	SHA256 string `json:"sha256"` // of the mapping file
}

// A Mark says what became of one number of a document.
type Mark struct {
	Text  string       `json:"text"`
	Place ingest.Place `json:"place"`
	As    string       `json:"as"`             // "result", "field", "heading", "declared" or "unaccounted"
	Note  string       `json:"note,omitempty"` // which result or field, or why it was declared not a result
	Rule  ingest.Place `json:"rule,omitzero"`
}

// A Vocabulary knows the words of the trade that a mapping may use. It is
// declared here and supplied from outside, since the tables of units and
// methods belong to a later stage.
type Vocabulary interface {
	// Resolve gives the id of a word or spelling, such as "mg/kg" for
	// (unit, "ppm"), and whether it is known.
	Resolve(kind WordKind, text string) (id string, known bool)
	// Near lists known spellings close to an unknown one, best first.
	Near(kind WordKind, text string) []string
}

// A WordKind is one of the vocabularies.
type WordKind string

// The kinds of word.
const (
	AnalyteWord WordKind = "analyte"
	UnitWord    WordKind = "unit"
	MethodWord  WordKind = "method"
	BasisWord   WordKind = "basis"
	LandUseWord WordKind = "land use"
	RatingWord  WordKind = "rating class"
	ScaleWord   WordKind = "published scale"
)
