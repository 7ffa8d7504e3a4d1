package interpret

// A SulfurRule lowers the pH to To with elemental sulfur. Either PerTenth
// lb/1000 sq ft are given for each 0.1 of pH, times the factor of the texture;
// or Steps tell the amount for a span of pH in the columns of Columns, and a
// part of a span takes that part of its amount. Above OnceOver only FirstPart
// is put on before the pH is measured again. Where it is Hopeless it is not
// tried.
type SulfurRule struct {
	Spot
	ID         string       `yaml:"id" rule:"required"`
	For        []string     `yaml:"for" rule:"required"`
	To         Num          `yaml:"to" rule:"required"`
	PerTenth   Num          `yaml:"lb_per_1000_sq_ft_per_tenth"`
	Factors    []Factor     `yaml:"texture_factors"`
	Columns    []Column     `yaml:"columns"`
	Steps      []Step       `yaml:"steps"`
	OnceOver   Num          `yaml:"split_over_lb_per_1000_sq_ft" rule:"required"`
	FirstPart  Num          `yaml:"first_part" rule:"required"`
	Months     int          `yaml:"months_apart" rule:"required"`
	Split      *SplitRow    `yaml:"split"` // what the splitting rests on, where that is another publication
	Others     []AcidSource `yaml:"instead"`
	Hopeless   Hopeless     `yaml:"not_above" rule:"required"`
	Source     string       `yaml:"source" rule:"required"`
	Provenance Provenance   `yaml:"provenance" rule:"required"`
}

// A SplitRow is what a rule of splitting rests on.
type SplitRow struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	Source     string     `yaml:"source" rule:"required"`
	Provenance Provenance `yaml:"provenance" rule:"required"`
}

// An AcidSource is another material that makes a soil acid: PerLb pounds of it
// do what a pound of sulfur does.
type AcidSource struct {
	Spot
	ID         string     `yaml:"id" rule:"required"`
	Name       string     `yaml:"name" rule:"required"`
	PerLb      Num        `yaml:"per_lb_of_sulfur" rule:"required"`
	Note       string     `yaml:"note" rule:"required"`
	Source     string     `yaml:"source" rule:"required"`
	Provenance Provenance `yaml:"provenance" rule:"required"`
}

// Hopeless is the pH above which lowering it is not tried, and what to do
// instead. It is not tried at any pH where the report says that the soil holds
// lime of its own.
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

// A Column names the textures that a column of a table of sulfur is for.
type Column struct {
	Spot
	Textures []string `yaml:"textures" rule:"required"`
}

// A Step is one line of a table of sulfur: lb/1000 sq ft to go from one pH down
// to another, by column.
type Step struct {
	Spot
	From  Num   `yaml:"from" rule:"required"`
	To    Num   `yaml:"to" rule:"required"`
	Rates []Num `yaml:"lb_per_1000_sq_ft" rule:"required"`
}
