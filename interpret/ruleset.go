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
)

// Provenances lists the kinds in order.
var Provenances = []Provenance{Seen, Computed, Secondary, Common, Inferred, Memory}

// Firm reports whether the figure was read or computed. The rest may answer
// only where nothing firm does, and every use of one is told.
func (p Provenance) Firm() bool { return p == Seen || p == Computed }

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
	}
	return "not known"
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
	Publications []string        `yaml:"publications" rule:"required"` // source keys
	InForce      Period          `yaml:"in_force" rule:"required"`
	StaleYears   int             `yaml:"sample_good_for_years" rule:"required"`
	Retest       Retest          `yaml:"retest" rule:"required"`
	LandUses     []LandUse       `yaml:"land_uses" rule:"required"`
	PH           []PHTarget      `yaml:"ph" rule:"required"`
	Ratings      []RatingTable   `yaml:"ratings" rule:"required"`
	Lime         Lime            `yaml:"lime" rule:"required"`
	Sulfur       []SulfurRule    `yaml:"sulfur"`
	Nutrients    []NutrientTable `yaml:"nutrients" rule:"required"`
	Organic      []OrganicRule   `yaml:"organic_matter"`
	Lead         Lead            `yaml:"lead" rule:"required"`
	Cautions     []Caution       `yaml:"cautions" rule:"required"`
	Examples     []Example       `yaml:"examples" rule:"required"`

	File    string             // name of the file it was read from
	SHA256  string             // of the file's bytes
	Rows    map[Provenance]int // how many rows rest on what
	Sources map[string]Source  // by key, those of sources.yaml
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
	High         Num        `yaml:"high" rule:"required"`
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
	For      []string `yaml:"for" rule:"required"`
	Textures []string `yaml:"textures"` // names and codes of the soils it is for; none means all
	// FromEstimates are the ids of conversions whose estimates the table may
	// rate where the report has no result by one of its methods. Without it an
	// estimate is never rated.
	FromEstimates []string   `yaml:"from_estimates"`
	Source        string     `yaml:"source"`
	Provenance    Provenance `yaml:"provenance"`
	Classes       []Class    `yaml:"classes" rule:"required"`
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

// Lime is everything about lime: how much, at once, of what.
type Lime struct {
	Spot
	Rates      []LimeRate   `yaml:"rates" rule:"required"`
	Caps       []LimeCap    `yaml:"caps" rule:"required"`
	Material   LimeMaterial `yaml:"material" rule:"required"`
	Choices    []LimeChoice `yaml:"choices"`
	Cup        Density      `yaml:"cup" rule:"required"`
	AskBuffers string       `yaml:"other_buffers" rule:"required"` // what to tell a client whose laboratory ran a buffer that no rate is for
}

// A LimeRate is one way to the amount of lime. Kind "buffer-equation" is
// acidity = k x (ceiling - buffer pH), rate = acidity x (target - pH) /
// (ceiling - pH); kind "acidity-table" looks the laboratory's own buffer
// acidity up. Rates are of pure calcium carbonate.
type LimeRate struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	For        []string   `yaml:"for" rule:"required"`
	Kind       string     `yaml:"kind" rule:"required"`
	Methods    []string   `yaml:"methods" rule:"required"` // of buffer pH or acidity
	Unit       string     `yaml:"unit" rule:"required"`    // tons/acre or lb/1000 sq ft
	K          Num        `yaml:"k"`
	Ceiling    Num        `yaml:"ceiling"`
	DepthIn    Num        `yaml:"depth_in"` // depth of soil that the rate sweetens
	Scale      []Scale    `yaml:"scale"`    // for shallower soil
	Goals      []Num      `yaml:"goals"`
	Rows       []LimeRow  `yaml:"rows"`
	Source     string     `yaml:"source" rule:"required"`
	Provenance Provenance `yaml:"provenance" rule:"required"`
}

// A Scale reduces a lime rate for a land use where less soil is reached.
type Scale struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	For        []string   `yaml:"for" rule:"required"`
	By         Num        `yaml:"by" rule:"required"`
	DepthIn    Num        `yaml:"depth_in" rule:"required"`
	Source     string     `yaml:"source" rule:"required"`
	Provenance Provenance `yaml:"provenance" rule:"required"`
}

// A LimeRow is one line of an acidity table: the rate for each of the table's
// goals.
type LimeRow struct {
	Spot
	ID      string `yaml:"id" rule:"required"`
	Acidity Num    `yaml:"acidity" rule:"required"`
	Rates   []Num  `yaml:"rates" rule:"required"`
}

// A LimeCap limits what is put on at once. Over is the whole amount, in
// lb/1000 sq ft, above which the cap bites; then either no application is
// more than Most, or the amount goes on in Parts equal ones.
type LimeCap struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	For        []string   `yaml:"for" rule:"required"`
	Over       Num        `yaml:"over_lb_per_1000_sq_ft" rule:"required"`
	Most       Num        `yaml:"most_lb_per_1000_sq_ft"`
	Parts      int        `yaml:"parts"`
	Apart      int        `yaml:"months_apart" rule:"required"`
	Source     string     `yaml:"source" rule:"required"`
	Provenance Provenance `yaml:"provenance" rule:"required"`
}

// A LimeMaterial is the limestone that amounts are told in: CCE is its
// calcium carbonate equivalent in percent.
type LimeMaterial struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	Name       string     `yaml:"name" rule:"required"`
	CCE        Num        `yaml:"cce_percent" rule:"required"`
	Source     string     `yaml:"source" rule:"required"`
	Provenance Provenance `yaml:"provenance" rule:"required"`
}

// A LimeChoice picks the kind of limestone by the class of an analyte.
type LimeChoice struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	Analyte    string     `yaml:"analyte" rule:"required"`
	Classes    []string   `yaml:"classes" rule:"required"`
	Use        string     `yaml:"use" rule:"required"`
	Source     string     `yaml:"source" rule:"required"`
	Provenance Provenance `yaml:"provenance" rule:"required"`
}

// A Density is the weight of a kitchen cup.
type Density struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	LbPerCup   Num        `yaml:"lb_per_cup" rule:"required"`
	Source     string     `yaml:"source" rule:"required"`
	Provenance Provenance `yaml:"provenance" rule:"required"`
}

// A SulfurRule lowers the pH: PerTenth lb/1000 sq ft of sulfur for each 0.1
// above To, times the factor of the texture; above OnceOver only FirstPart is
// put on before the pH is measured again. Where it is Hopeless it is not
// tried.
type SulfurRule struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	For        []string   `yaml:"for" rule:"required"`
	To         Num        `yaml:"to" rule:"required"`
	PerTenth   Num        `yaml:"lb_per_1000_sq_ft_per_tenth" rule:"required"`
	Factors    []Factor   `yaml:"texture_factors" rule:"required"`
	OnceOver   Num        `yaml:"split_over_lb_per_1000_sq_ft" rule:"required"`
	FirstPart  Num        `yaml:"first_part" rule:"required"`
	Months     int        `yaml:"months_apart" rule:"required"`
	Hopeless   Hopeless   `yaml:"not_above" rule:"required"`
	Source     string     `yaml:"source" rule:"required"`
	Provenance Provenance `yaml:"provenance" rule:"required"`
}

// Hopeless is the pH above which lowering it is not tried, and what to do
// instead.
type Hopeless struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	PH         Num        `yaml:"ph" rule:"required"`
	Advice     string     `yaml:"advice" rule:"required"`
	Source     string     `yaml:"source" rule:"required"`
	Provenance Provenance `yaml:"provenance" rule:"required"`
}

// A Factor is what a rate is multiplied by for a texture of soil.
type Factor struct {
	Spot
	Textures []string `yaml:"textures" rule:"required"`
	By       Num      `yaml:"by" rule:"required"`
}

// A NutrientTable is the amounts of one nutrient for uses of the land: one
// for all soils, or one for each class of the analyte By.
type NutrientTable struct {
	Spot
	ID          string        `yaml:"id" rule:"required"`
	For         []string      `yaml:"for" rule:"required"`
	Nutrient    string        `yaml:"nutrient" rule:"required"` // N, P2O5, K2O or Mg
	By          string        `yaml:"by"`                       // analyte; none means by use alone
	Unit        string        `yaml:"unit" rule:"required"`     // lb/1000 sq ft
	Use         string        `yaml:"use" rule:"required"`      // always, or only-where-nothing-better
	Maintenance Num           `yaml:"maintenance"`              // most that a soil at or above optimum gets
	Rows        []NutrientRow `yaml:"rows" rule:"required"`
	OnceMost    *Bound        `yaml:"once_most"` // lb/1000 sq ft at one time
	When        string        `yaml:"when" rule:"required"`
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
	Refer      string     `yaml:"refer"` // whom to call, "" for nobody
	Do         []string   `yaml:"do" rule:"required"`
	Source     string     `yaml:"source" rule:"required"`
	Provenance Provenance `yaml:"provenance" rule:"required"`
}

// A LeadFigure is one of the limits that moved, with its dates.
type LeadFigure struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	Date       string     `yaml:"date" rule:"required"`
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
