package interpret

import (
	"bytes"
	"encoding/json"
)

// AdviceSchema is the version of the advice format that this code writes.
const AdviceSchema = "windrow-advice/1"

// An Ask is what is asked about a record: the use of the land, the date on
// which advice is given and the area. Each may be empty; the date decides how
// old the sample is, so without it age is not judged and the advice says so.
// Laws are those that bind a householder.
type Ask struct {
	LandUse  string // in anyone's words; "" means the record's own
	On       string // YYYY-MM-DD
	AreaSqFt string // plain decimal number of square feet
	// Register is what the office's register says of the sample; nil when it
	// says nothing. It stands in for what is not asked.
	Register *Registered
	Region   string // two letters of the state whose fertilizer laws count, "" for none
	// Treated is the day on which lime, fertilizer or manure was last spread,
	// YYYY-MM-DD, "" where it is not known.
	Treated string
	// PlantAge is how many years ago trees, vines or bushes were planted, 0 for
	// this year, and Plants how many there are; both in digits, "" where it is
	// not known.
	PlantAge, Plants string
}

// An Outcome says how much advice there is.
type Outcome string

// The outcomes.
const (
	Advised Outcome = "advised" // nothing is left open
	Partly  Outcome = "partly"  // advice, and questions that hold some of it back
	AskOnly Outcome = "ask"     // the report is not fit to advise on: questions only
)

// Advice is what to do about one record for one use of the land. It holds no
// personal data. Every line of it names the rows of the rule set that it
// rests on.
type Advice struct {
	Schema     string             `json:"schema"`
	Record     string             `json:"record"`
	Report     string             `json:"report"`
	Rules      RulesRef           `json:"rules"`
	LandUse    UseRef             `json:"land_use"`
	On         string             `json:"on,omitempty"`
	AreaSqFt   string             `json:"area_sq_ft,omitempty"`
	Outcome    Outcome            `json:"outcome"`
	Alarms     []Alarm            `json:"before_all,omitempty"` // the gravest first
	Questions  []Question         `json:"questions"`
	Ratings    []Rating           `json:"ratings"`
	Lines      []Line             `json:"lines"`
	Plan       *Plan              `json:"fertilizer_plan,omitempty"`
	Cautions   []Said             `json:"cautions"`
	Lead       *LeadAdvice        `json:"lead,omitempty"`
	Again      Again              `json:"sample_again"`
	Sources    []Cited            `json:"sources"`
	Rests      map[Provenance]int `json:"rests_on"` // rows used, by provenance
	Disclosure []string           `json:"disclosure"`
	Register   *RegisterUse       `json:"register,omitempty"` // nil when the office's register has no such sample
}

// JSON is the advice as the archive keeps it: fields in the order of the
// type, two spaces a level, no HTML escaping, a newline at the end. The same
// advice gives the same bytes.
func (a *Advice) JSON() ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(a); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// A RulesRef names the rule set used, the exact bytes of all files it was read
// from, and what the office has changed in it.
type RulesRef struct {
	ID     string `json:"id"`
	Title  string `json:"title"`
	Region string `json:"region"`
	File   string `json:"file"`
	SHA256 string `json:"sha256"`
	// Overridden are the figures that are the office's own.
	Overridden []Overridden `json:"overridden,omitempty"`
}

// A UseRef is the use of the land: what was said, and which of the rule set's
// it was taken for.
type UseRef struct {
	Said        string `json:"said"`
	From        string `json:"from"` // "asked", "report", "register", "default" or ""
	ID          string `json:"id,omitempty"`
	Name        string `json:"name,omitempty"`
	Established bool   `json:"established,omitempty"`
	Food        bool   `json:"food,omitempty"`
	Turf        bool   `json:"turf,omitempty"`
	PerSqFt     []int  `json:"per_sq_ft,omitempty"`
	LimeHow     string `json:"-"`
}

// A Basis is one row that a line rests on.
type Basis struct {
	Row        string     `json:"row"`
	Source     string     `json:"source"` // key in the bibliography
	Provenance Provenance `json:"provenance"`
	At         string     `json:"at"` // file, line and column of the row
}

// A Question is asked where advice would be a guess.
type Question struct {
	Code   string `json:"code"`
	Text   string `json:"text"`   // to the client, in plain words
	Blocks string `json:"blocks"` // "all", "lime", "ph" or nutrients, with spaces between: what waits for the answer
	// Basis is the row whose figure made us ask, where there is one.
	Basis []Basis `json:"basis,omitempty"`
}

// OfLaboratory reports whether a question is about numbers of the report that
// were found doubtful: the office asks the laboratory, and not the client.
func (q *Question) OfLaboratory() bool {
	return q.Code == "record-doubtful" || q.Code == "result-doubtful"
}

// A Rating is where one value lies.
type Rating struct {
	Analyte   string  `json:"analyte"`
	Detail    string  `json:"detail,omitempty"`
	Value     string  `json:"value,omitempty"`
	Unit      string  `json:"unit,omitempty"`
	Printed   string  `json:"printed"`
	PrintUnit string  `json:"printed_unit,omitempty"`
	Censored  string  `json:"censored,omitempty"`
	Method    string  `json:"method"`
	Class     string  `json:"class,omitempty"` // one of ours, or for pH "too acid", "in range", "too alkaline"
	Word      string  `json:"word,omitempty"`  // the publication's word where it differs
	Decided   string  `json:"decided_by,omitempty"`
	ToNext    string  `json:"to_next_class,omitempty"`
	NextClass string  `json:"next_class,omitempty"`
	Close     string  `json:"close_to_bound,omitempty"` // the bound within half a unit of the last printed digit
	Bands     []Band  `json:"bands,omitempty"`
	Not       string  `json:"not_rated,omitempty"` // why there is no class
	LabWord   string  `json:"lab_rating,omitempty"`
	LabClass  string  `json:"lab_rating_class,omitempty"` // the word in the classes of the record
	Differs   string  `json:"lab_differs,omitempty"`      // why the laboratory's word may differ
	Basis     []Basis `json:"basis,omitempty"`
	// Estimate is set where the class is not that of what was measured but of
	// an estimate for a method of the tables.
	Estimate *Estimated `json:"from_estimate,omitempty"`
}

// An Estimated is the estimate that a rating was read from.
type Estimated struct {
	Equation string   `json:"equation"` // id of the conversion
	Method   string   `json:"method"`   // as the trade calls what it estimates
	Value    string   `json:"value"`
	Unit     string   `json:"unit"`
	Low      string   `json:"low,omitempty"` // interval, where there is one
	High     string   `json:"high,omitempty"`
	Unknown  []string `json:"unknown,omitempty"` // what of the equation's domain the report does not tell
	Source   string   `json:"source"`            // key in the bibliography of conversions
}

// A Band is one class of the table that rated a value, for drawing.
type Band struct {
	Class string `json:"class"`
	From  string `json:"from"`
	Below string `json:"below,omitempty"`
}

// When says in which part of the advice a line belongs.
type When string

// The parts of the advice.
const (
	First  When = "first"
	Season When = "season"
	Not    When = "not"
)

// A Line is one thing to do, or not to do.
type Line struct {
	ID      string      `json:"id"` // such as lime, N, P2O5
	When    When        `json:"when"`
	What    string      `json:"what"`
	How     string      `json:"how,omitempty"`        // the doing without the material, as a sentence
	Amount  *Amount     `json:"amount,omitempty"`     // of the nutrient, or of pure lime
	Product *Amount     `json:"product,omitempty"`    // of the material that carries it
	Each    []PlantFeed `json:"each_plant,omitempty"` // for one tree, vine or bush, where feeding goes by the plant
	Parts   []Part      `json:"parts,omitempty"`      // one for each application of the product, or of the amount
	Need    string      `json:"need,omitempty"`       // the exact amount of the nutrient or of pure lime in lb/1000 sq ft, before rounding
	Working string      `json:"working,omitempty"`    // how the amount came about, to be done again by hand
	Note    string      `json:"note,omitempty"`
	Basis   []Basis     `json:"basis"`
	// NotBefore is the first day on which the law of the region allows it,
	// YYYY-MM-DD, where that is not yet.
	NotBefore string `json:"not_before,omitempty"`
	// From is the first day from then on that lies in a month of the table,
	// where the table names months; else it is NotBefore.
	From string `json:"from,omitempty"`
	// Instead are other materials that would do the same, never added to it.
	Instead []Instead `json:"instead,omitempty"`
}

// Since is the first day to do what a line says, "" for none: From, or NotBefore
// in advice that was kept before lines had a From.
func (l *Line) Since() string {
	if l.From != "" {
		return l.From
	}
	return l.NotBefore
}

// An Instead is another material and how much of it would do the same.
type Instead struct {
	Amount
	Note  string  `json:"note"`
	Basis []Basis `json:"basis"`
}

// An Amount is a weight in pounds for given areas. Exact is lb/1000 sq ft as
// a fraction or decimal; the others are rounded by the rules of RoundLb.
type Amount struct {
	Of      string    `json:"of"`
	Exact   string    `json:"exact_lb_per_1000_sq_ft"`
	PerArea []ForArea `json:"lb"`
	// Per100 and TonsAcre are the same rate in lb/100 sq ft and in US tons an
	// acre, where the trade tells a material so.
	Per100   string `json:"lb_per_100_sq_ft,omitempty"`
	TonsAcre string `json:"tons_per_acre,omitempty"`
}

// A ForArea is pounds for a number of square feet.
type ForArea struct {
	SqFt string `json:"sq_ft"`
	Lb   string `json:"lb"`
	Cups string `json:"cups,omitempty"`
	Own  bool   `json:"asked,omitempty"` // the area that was asked for
}

// A Plan is what to buy: the fewest products of the office's list that supply
// what the soil needs, with no nutrient above its rate or a limit in law.
type Plan struct {
	Products []PlanItem        `json:"products"`
	Feedings int               `json:"feedings"`        // the amounts are given in so many equal parts
	Gives    map[string]string `json:"gives"`           // lb/1000 sq ft by nutrient
	Short    map[string]string `json:"short,omitempty"` // what no choice of products supplies, lb/1000 sq ft
	Note     string            `json:"note,omitempty"`
	Working  string            `json:"working"`
	Basis    []Basis           `json:"basis"`
	// Disclosure says in plain words what the choice rests on that is neither
	// published nor printed on a label.
	Disclosure []string `json:"disclosure,omitempty"`
}

// A PlanItem is one product of a plan. Bags is how many bags hold it for the
// area asked for, rounded up to quarters.
type PlanItem struct {
	ID    string `json:"id"`
	Grade string `json:"grade"`
	Amount
	Bags  string `json:"bags,omitempty"`
	BagLb string `json:"bag_lb,omitempty"`
	Cost  string `json:"cost,omitempty"` // in the currency of the office's list, for the area asked for
}

// A Part is one application.
type Part struct {
	Months  int       `json:"after_months"`
	PerArea []ForArea `json:"lb"`
	Retest  bool      `json:"retest_before,omitempty"`
}

// A Said is a sentence with what it rests on.
type Said struct {
	ID    string  `json:"id"`
	Text  string  `json:"text"`
	Basis []Basis `json:"basis"`
}

// LeadAdvice is what is said about lead.
type LeadAdvice struct {
	Kind   string `json:"kind"` // total, screen, open (a figure that is not settled) or none
	Value  string `json:"value,omitempty"`
	Tier   string `json:"tier,omitempty"`
	NoFood bool   `json:"no_food,omitempty"`
	// CallFirst says that nothing is to be dug, limed or fed before Refer.
	CallFirst bool     `json:"call_first,omitempty"`
	Do        []string `json:"do,omitempty"`
	Refer     string   `json:"refer,omitempty"`
	AskTest   bool     `json:"ask_total_test,omitempty"`
	Working   string   `json:"working,omitempty"`
	History   []string `json:"history,omitempty"`
	Basis     []Basis  `json:"basis"`
}

// Again is when to sample again.
type Again struct {
	Years int     `json:"years"`
	First string  `json:"first,omitempty"` // a sentence that stands in place of the years
	Year  int     `json:"year,omitempty"`
	Why   string  `json:"why"`
	Basis []Basis `json:"basis"`
}

// A Cited is one source that the advice used.
type Cited struct {
	Key        string       `json:"key"`
	Text       string       `json:"text"`
	Link       string       `json:"link,omitempty"`
	Rows       []string     `json:"rows"`
	Provenance []Provenance `json:"provenance"`
}
