package interpret

// A Provenance says what a figure rests on.
type Provenance string

// The kinds of provenance, from the firmest.
const (
	Seen      Provenance = "seen"            // read in the source named
	Computed  Provenance = "computed"        // arithmetic on a figure that was read, or a definition
	Secondary Provenance = "secondary"       // another publication quotes the source
	Common    Provenance = "common-practice" // trade custom; no publication
	Inferred  Provenance = "inferred"        // our own conclusion from figures that were read
	Memory    Provenance = "memory"          // recalled, not checked
	Office    Provenance = "office"          // set by the office itself, in its file of overrides
)

// Provenances lists the kinds in order.
var Provenances = []Provenance{Seen, Computed, Secondary, Common, Inferred, Memory, Office}

// Firm reports whether the figure was read or computed, or was set by the
// office that answers for it. The rest may answer only where nothing firm
// does.
func (p Provenance) Firm() bool { return p == Seen || p == Computed || p == Office }

// Published reports whether the figure is that of a publication. Every use of
// one that is not is told.
func (p Provenance) Published() bool { return p == Seen || p == Computed }

// Words is the provenance as a reader is told it.
func (p Provenance) Words() string {
	switch p {
	case Seen:
		return "read in the source"
	case Computed:
		return "computed from the source"
	case Secondary:
		return "quoted from the source by another publication"
	case Common:
		return "common practice, no published source"
	case Inferred:
		return "our own conclusion from published figures"
	case Memory:
		return "from memory, not checked"
	case Office:
		return "a figure that this office has set itself"
	}
	return "not known"
}

// Rests is the provenance as the end of a sentence: the advice rests on it.
func (p Provenance) Rests() string {
	if p == Secondary {
		return "figures that another publication quotes from the source"
	}
	return p.Words()
}

// A RuleSet is the tables by which a record is read: what counts as low or
// high, what to add, what to warn of. It is data, read from one YAML file,
// and is not changed after it has been loaded.
type RuleSet struct {
	Spot
	Format       string          `yaml:"rules" rule:"required"` // windrow-rules/1
	ID           string          `yaml:"id" rule:"required"`
	Title        string          `yaml:"title" rule:"required"`
	Region       string          `yaml:"region" rule:"required"` // where its publications are meant for, in words
	About        string          `yaml:"about"`
	Takes        []Take          `yaml:"takes"`                        // parts of other rule sets
	Publications []string        `yaml:"publications" rule:"required"` // source keys
	InForce      Period          `yaml:"in_force" rule:"required"`
	StaleYears   int             `yaml:"sample_good_for_years" rule:"required"`
	Retest       Retest          `yaml:"retest"`
	LandUses     []LandUse       `yaml:"land_uses"`
	PH           []PHTarget      `yaml:"ph"`
	AskPH        string          `yaml:"ask_ph"` // what to ask where a use has no pH of its own
	Ratings      []RatingTable   `yaml:"ratings"`
	Lime         Lime            `yaml:"lime"`
	Sulfur       []SulfurRule    `yaml:"sulfur"`
	Nutrients    []NutrientTable `yaml:"nutrients"`
	Plants       []PlantTable    `yaml:"plants"`
	NoRate       *NoRate         `yaml:"no_rate"` // for uses without a table of amounts
	Organic      []OrganicRule   `yaml:"organic_matter"`
	Lead         Lead            `yaml:"lead"`
	Metals       []Metals        `yaml:"metals"`
	Watch        []Watch         `yaml:"watch"` // what stands out whatever grows
	Cautions     []Caution       `yaml:"cautions"`
	Examples     []Example       `yaml:"examples" rule:"required"`

	File       string             // name of the file it was read from
	SHA256     string             // of the bytes of all files it was read from
	Rows       map[Provenance]int // how many rows rest on what
	Sources    map[string]Source  // by key, those of sources.yaml
	Overridden []Overridden       // what the office has changed
	Products   *ProductList       // what amounts are told in; nil for none
	Laws       *Laws              // what amounts are held to; nil for none
}

// A NoRate is what is said about a nutrient for which a publication that rates
// the soil was not seen to print an amount: nothing where the soil has enough,
// and a question where it has not.
type NoRate struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	Ask        string     `yaml:"ask" rule:"required"`
	Source     string     `yaml:"source" rule:"required"`
	Provenance Provenance `yaml:"provenance" rule:"required"`
}

// A Period is the dates between which a rule set is in force, YYYY-MM-DD;
// no Until means until further notice.
type Period struct {
	Spot
	From  string `yaml:"from" rule:"required"`
	Until string `yaml:"until"`
}

// A Retest says when to sample again.
type Retest struct {
	Spot
	Years          int        `yaml:"years" rule:"required"`
	YearsAfterLime int        `yaml:"years_after_lime" rule:"required"`
	WeeksAfter     int        `yaml:"weeks_after_treatment"` // how long after lime, fertilizer or manure a sample tells nothing; none: not judged
	ID             string     `yaml:"id" rule:"required"`
	Source         string     `yaml:"source" rule:"required"`
	Provenance     Provenance `yaml:"provenance" rule:"required"`
}

// A LandUse is a use of the land that the tables know, with the words of
// records that mean it.
type LandUse struct {
	Spot
	ID          string   `yaml:"id" rule:"required"`
	Name        string   `yaml:"name" rule:"required"`
	Covers      []string `yaml:"covers" rule:"required"`
	Established bool     `yaml:"established"` // growing, so that nothing can be dug in
	Food        bool     `yaml:"food"`        // eaten from
	Turf        bool     `yaml:"turf"`        // a lawn in the sense of fertilizer laws
	LimeHow     string   `yaml:"lime_how"`    // how to put lime on, where not as dug in or spread on grass
	Per         []int    `yaml:"per_sq_ft" rule:"required"`
}

// A PHTarget is the pH that a land use wants. LimeBelow absent means that
// lime is never advised, AcidifyAbove absent that sulfur never is.
type PHTarget struct {
	Spot
	ID           string     `yaml:"id" rule:"required"`
	For          []string   `yaml:"for" rule:"required"`
	Methods      []string   `yaml:"methods" rule:"required"`
	Target       Num        `yaml:"target"`
	Low          Num        `yaml:"low" rule:"required"`
	High         Num        `yaml:"high"` // none where the publication prints a target alone
	LimeBelow    Num        `yaml:"lime_below"`
	AcidifyAbove Num        `yaml:"acidify_above"`
	Above        string     `yaml:"advice_above" rule:"required"` // what to say above the range
	Below        string     `yaml:"advice_below"`                 // what to say below it where lime is not advised
	AskBelow     string     `yaml:"ask_below"`                    // what to ask below it where no target is known
	Source       string     `yaml:"source" rule:"required"`
	Provenance   Provenance `yaml:"provenance" rule:"required"`
}

// A RatingTable turns a value into a class, for the extraction methods and
// uses of the land that it is calibrated for.
type RatingTable struct {
	Spot
	ID       string   `yaml:"id" rule:"required"`
	Analyte  string   `yaml:"analyte" rule:"required"`
	Methods  []string `yaml:"methods" rule:"required"`
	Unit     string   `yaml:"unit" rule:"required"`
	For      []string `yaml:"for"`       // none means every use, as of salts
	Textures []string `yaml:"textures"`  // names and codes of the soils it is for; none means all
	CECFrom  Num      `yaml:"cec_from"`  // least cation exchange capacity in cmol(+)/kg it is for
	CECBelow Num      `yaml:"cec_below"` // and the one from which it no longer is
	Index    *Index   `yaml:"index"`     // the classes are of an index of value and pH, not of the value
	// FromEstimates are the ids of conversions whose estimates the table may
	// rate where the report has no result by one of its methods. Without it an
	// estimate is never rated.
	FromEstimates []string   `yaml:"from_estimates"`
	Source        string     `yaml:"source"`
	Provenance    Provenance `yaml:"provenance"`
	Classes       []Class    `yaml:"classes" rule:"required"`
}

// An Index is constant + per_value x value + per_ph x pH in water, as where
// what a plant finds of a metal goes by the pH too.
type Index struct {
	Spot
	Constant Num `yaml:"constant" rule:"required"`
	PerValue Num `yaml:"per_value" rule:"required"`
	PerPH    Num `yaml:"per_ph" rule:"required"`
}

// A Class is one band of a rating table: from From up to, but not including,
// Below. The highest class has no Below.
type Class struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	Class      string     `yaml:"class" rule:"required"` // one of ours
	Word       string     `yaml:"word"`                  // the publication's, where it differs
	From       Num        `yaml:"from" rule:"required"`
	Below      Num        `yaml:"below"`
	Source     string     `yaml:"source"`
	Provenance Provenance `yaml:"provenance"`
}

// A NutrientTable is the amounts of one nutrient for uses of the land: one
// for all soils, or one for each class of the analyte By.
type NutrientTable struct {
	Spot
	ID          string        `yaml:"id" rule:"required"`
	For         []string      `yaml:"for" rule:"required"`
	Nutrient    string        `yaml:"nutrient" rule:"required"` // N, P2O5, K2O, Mg or Zn
	By          string        `yaml:"by"`                       // analyte; none means by use alone
	Unit        string        `yaml:"unit" rule:"required"`     // lb/1000 sq ft
	Use         string        `yaml:"use" rule:"required"`      // always, or only-where-nothing-better
	Maintenance Num           `yaml:"maintenance"`              // most that a soil at or above optimum gets
	Rows        []NutrientRow `yaml:"rows"`
	Shortfall   *Shortfall    `yaml:"shortfall"` // in place of rows: the amount goes by the value itself
	OnceMost    *Bound        `yaml:"once_most"` // lb/1000 sq ft at one time
	When        string        `yaml:"when" rule:"required"`
	Months      []int         `yaml:"months"` // those that When means, 1 to 12, so that it is told from when on where the law has it wait
	Note        string        `yaml:"note"`
	Material    *Material     `yaml:"material"`
	Source      string        `yaml:"source"`
	Provenance  Provenance    `yaml:"provenance"`
}

// A NutrientRow is the rate for a class, or for all where Class is absent.
// Ask set means that no rate is known and the client is to ask.
type NutrientRow struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	Class      string     `yaml:"class"`
	Rate       Num        `yaml:"rate"`
	Ask        string     `yaml:"ask"`
	Source     string     `yaml:"source"`
	Provenance Provenance `yaml:"provenance"`

	working string // how a rate by shortfall came about
}

// A Bound is a limit with its source.
type Bound struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	Most       Num        `yaml:"most" rule:"required"`
	Source     string     `yaml:"source" rule:"required"`
	Provenance Provenance `yaml:"provenance" rule:"required"`
}

// A Material is a product in whose weight an amount is told, by the numbers
// on its label.
type Material struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	Name       string     `yaml:"name" rule:"required"`
	Percent    Num        `yaml:"percent" rule:"required"`
	Source     string     `yaml:"source" rule:"required"`
	Provenance Provenance `yaml:"provenance" rule:"required"`
}

// An OrganicRule says what to do about organic matter of some classes.
type OrganicRule struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	For        []string   `yaml:"for" rule:"required"`
	Classes    []string   `yaml:"classes" rule:"required"`
	Advice     string     `yaml:"advice" rule:"required"`
	NotIfHighP string     `yaml:"instead_if_p_above_optimum"` // said instead where phosphorus is above optimum
	Source     string     `yaml:"source" rule:"required"`
	Provenance Provenance `yaml:"provenance" rule:"required"`
}

// Lead is how lead is read. Tiers and history are of total lead only; a
// Screen is for an extract, and leads to nothing but a request for a test of
// total lead.
type Lead struct {
	Spot
	TotalMethods []string      `yaml:"total_methods" rule:"required"`
	Unit         string        `yaml:"unit" rule:"required"`
	Tiers        []LeadTier    `yaml:"tiers" rule:"required"`
	History      []LeadFigure  `yaml:"history" rule:"required"`
	Screens      []LeadScreen  `yaml:"screens" rule:"required"`
	Unknown      LeadStatement `yaml:"not_a_total_test" rule:"required"`
}

// A LeadTier is a band of total lead with what to do.
type LeadTier struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	Name       string     `yaml:"name" rule:"required"`
	From       Num        `yaml:"from" rule:"required"`
	Below      Num        `yaml:"below"`
	NoFood     bool       `yaml:"no_food"`
	CallFirst  bool       `yaml:"call_first"` // before this soil is dug, limed or fed
	Refer      string     `yaml:"refer"`      // whom to call, "" for nobody
	Do         []string   `yaml:"do" rule:"required"`
	Source     string     `yaml:"source" rule:"required"`
	Provenance Provenance `yaml:"provenance" rule:"required"`
}

// A LeadFigure is one of the limits that moved, with its dates.
type LeadFigure struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	Date       string     `yaml:"date" rule:"required"` // in force from
	Until      string     `yaml:"until"`                // in force until, where a later one replaced it
	Figure     Num        `yaml:"figure" rule:"required"`
	What       string     `yaml:"what" rule:"required"`
	Now        string     `yaml:"now" rule:"required"`
	Source     string     `yaml:"source" rule:"required"`
	Provenance Provenance `yaml:"provenance" rule:"required"`
}

// A LeadScreen is a published relation, total = Slope x extract + Intercept,
// used only to decide whether to ask for a test of total lead.
type LeadScreen struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	Methods    []string   `yaml:"methods" rule:"required"`
	Slope      Num        `yaml:"slope" rule:"required"`
	Intercept  Num        `yaml:"intercept" rule:"required"`
	AskAt      Num        `yaml:"ask_for_total_test_at" rule:"required"`
	Source     string     `yaml:"source" rule:"required"`
	Provenance Provenance `yaml:"provenance" rule:"required"`
}

// A LeadStatement is what to say where no lead result is of total lead.
type LeadStatement struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	Text       string     `yaml:"text" rule:"required"`
	Source     string     `yaml:"source" rule:"required"`
	Provenance Provenance `yaml:"provenance" rule:"required"`
}

// A Caution is a warning that is printed when it applies.
type Caution struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	When       []string   `yaml:"when" rule:"required"` // always, lime, sulfur, fertilizer, high-p, lead-screen, lead-total
	For        []string   `yaml:"for"`                  // land uses; none means all
	Text       string     `yaml:"text" rule:"required"`
	Source     string     `yaml:"source" rule:"required"`
	Provenance Provenance `yaml:"provenance" rule:"required"`
}

// A Source is one entry of the bibliography.
type Source struct {
	Spot
	Key  string `yaml:"key" rule:"required" json:"key"`
	Text string `yaml:"text" rule:"required" json:"text"`
	Link string `yaml:"link" json:"link,omitempty"`
}
